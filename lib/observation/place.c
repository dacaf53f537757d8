/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Faults in a YAML file, told with their place. */
#include "observation/place.h"

#include <stdarg.h>
#include <stdio.h>

#include "base/status.h"

wfi_place wfi_place_at(const wfi_document *document, wf_error *err, const char *format, ...)
{
    wfi_place place = {.document = document, .err = err};
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(place.path, sizeof place.path, format, arguments);
    va_end(arguments);
    return place;
}

void wfi_make_printable(char *text)
{
    for (; *text != '\0'; text++) {
        if ((unsigned char)*text < 0x20 || *text == 0x7f)
            *text = '?';
    }
}

wf_status wfi_place_fail(const wfi_place *place, const char *key, const char *format, ...)
{
    char full[2 * WFI_PLACE_BYTES];
    snprintf(full, sizeof full, "%s%s%s", place->path,
             place->path[0] != '\0' && key != NULL ? "." : "", key != NULL ? key : "");
    wf_error message = WF_ERROR_INIT;
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(message.message, sizeof message.message, format, arguments);
    va_end(arguments);
    wfi_make_printable(message.message);
    return wfi_fail(place->err, WF_FORMAT, "%s:%zu: %s%s%s", wfi_document_path(place->document),
                    wfi_document_line(place->document, full), full, full[0] != '\0' ? ": " : "",
                    message.message);
}
