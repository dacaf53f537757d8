/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A code for the program, a sentence for the human. */
#include "base/status.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

const char *wf_status_text(wf_status status)
{
    static const char *const texts[] = {
#define STATUS_TEXT(name, text) [WF_##name] = text,
        WF_STATUS_MAP(STATUS_TEXT)
#undef STATUS_TEXT
    };
    const size_t i = (size_t)status;
    return i < sizeof texts / sizeof texts[0] ? texts[i] : "no such status";
}

wf_status wfi_fail(wf_error *err, wf_status status, const char *format, ...)
{
    if (err != NULL && err->status == WF_OK) {
        va_list arguments;
        va_start(arguments, format);
        vsnprintf(err->message, sizeof err->message, format, arguments);
        va_end(arguments);
        err->status = status;
    }
    return status;
}

void wfi_prefix(wf_error *err, const char *format, ...)
{
    if (err == NULL || err->status == WF_OK)
        return;
    char message[sizeof err->message];
    memcpy(message, err->message, sizeof message);
    va_list arguments;
    va_start(arguments, format);
    const int n = vsnprintf(err->message, sizeof err->message, format, arguments);
    va_end(arguments);
    if (n >= 0 && (size_t)n < sizeof err->message)
        snprintf(err->message + n, sizeof err->message - (size_t)n, "%s", message);
}
