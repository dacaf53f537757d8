/* SPDX-License-Identifier: GPL-3.0-or-later */
/* CFITSIO's process-wide state behind one lock; its messages fetched where they arose. */
#include "visibility/cfitsio.h"

#include <errno.h>
#include <pthread.h>
#include <stdio.h>
#include <string.h>

#include "base/output.h"
#include "base/status.h"

static pthread_mutex_t lock = PTHREAD_MUTEX_INITIALIZER;

void wfi_cfitsio_enter(void)
{
    pthread_mutex_lock(&lock);
    fits_write_errmark();
    errno = 0; /* what the system said is read from here after a failure */
}

void wfi_cfitsio_leave(void)
{
    fits_clear_errmark();
    pthread_mutex_unlock(&lock);
}

static wf_status kind_of(int status, wf_status otherwise)
{
    switch (status) {
    case MEMORY_ALLOCATION:
        return WF_MEMORY;
    case FILE_NOT_OPENED:
    case FILE_NOT_CREATED:
    case WRITE_ERROR:
    case FILE_NOT_CLOSED:
    case READONLY_FILE:
    case SEEK_ERROR:
        return WF_IO;
    case READ_ERROR: /* without a word of the system: the file ends too early */
        return errno != 0 ? WF_IO : otherwise;
    default:
        return otherwise;
    }
}

/* The messages on the stack, oldest first, as one line; what does not fit is left out, and what
 * was said before (CFITSIO tries to flush its buffers again and again). */
static void drain_messages(char *text, size_t capacity)
{
    char message[FLEN_ERRMSG] = "";
    text[0] = '\0';
    while (fits_read_errmsg(message) != 0) {
        const size_t n = strlen(text);
        if (strstr(text, message) == NULL && n + strlen(message) + 3 < capacity)
            snprintf(text + n, capacity - n, "; %s", message);
    }
}

wf_status wfi_cfitsio_check(int status, const char *path, const char *action, wf_status otherwise,
                            wf_error *err)
{
    if (status == 0)
        return WF_OK;
    const wf_status kind = kind_of(status, otherwise);
    char system_words[WFI_ERRNO_TEXT_BYTES + 2] = "";
    if (kind == WF_IO && errno != 0) {
        char words[WFI_ERRNO_TEXT_BYTES];
        snprintf(system_words, sizeof system_words, ": %s", wfi_errno_text(words, errno));
    }
    char text[FLEN_STATUS] = "";
    fits_get_errstatus(status, text);
    char messages[600];
    drain_messages(messages, sizeof messages);
    return wfi_fail(err, kind, "%s: %s%s (FITS: %s%s)", path, action, system_words, text, messages);
}
