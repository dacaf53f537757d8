/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Bytes that wait on the disk until they are wanted. */
#define _XOPEN_SOURCE 700 /* mkstemp */
#include "base/spool.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "base/memory.h"
#include "base/output.h"
#include "base/status.h"

static wf_status refuse(int number, const char *what, wf_error *err)
{
    char words[WFI_ERRNO_TEXT_BYTES];
    return wfi_fail(err, WF_IO, "%s: %s", what, wfi_errno_text(words, number));
}

static wf_status create(wfi_spool *spool, const char *beside, wf_error *err)
{
    static const char TEMPLATE[] = ".waiting-XXXXXX";
    const char *slash = strrchr(beside, '/');
    const size_t n_folder = slash == NULL ? 0 : (size_t)(slash - beside) + 1;
    char *path = NULL;
    WFI_TRY(wfi_allocate(&path, n_folder + sizeof TEMPLATE, 1, "a file name", err));
    memcpy(path, beside, n_folder);
    memcpy(path + n_folder, TEMPLATE, sizeof TEMPLATE);
    const int fd = mkstemp(path);
    wf_status status = WF_OK;
    if (fd < 0)
        status = refuse(errno, "no file can be made beside the output", err);
    else if (unlink(path) != 0)
        status = refuse(errno, path, err);
    if (fd >= 0 && status != WF_OK)
        close(fd);
    if (status == WF_OK)
        spool->fd_plus_1 = fd + 1;
    wfi_free(path);
    return status;
}

wf_status wfi_spool_append(wfi_spool *spool, const char *beside, const void *bytes, size_t n,
                           wf_error *err)
{
    if (spool->fd_plus_1 == 0)
        WFI_TRY(create(spool, beside, err));
    const char *from = bytes;
    while (n > 0) {
        const ssize_t done = pwrite(spool->fd_plus_1 - 1, from, n, (off_t)spool->n_bytes);
        if (done < 0 && errno == EINTR)
            continue;
        if (done <= 0)
            return refuse(done < 0 ? errno : ENOSPC,
                          "what waits beside the output cannot be written", err);
        from += done;
        n -= (size_t)done;
        spool->n_bytes += done;
    }
    return WF_OK;
}

wf_status wfi_spool_read(const wfi_spool *spool, int64_t offset, void *out, size_t n, wf_error *err)
{
    char *to = out;
    while (n > 0) {
        const ssize_t done = pread(spool->fd_plus_1 - 1, to, n, (off_t)offset);
        if (done < 0 && errno == EINTR)
            continue;
        if (done <= 0)
            return refuse(done < 0 ? errno : EIO, "what waits beside the output cannot be read",
                          err);
        to += done;
        n -= (size_t)done;
        offset += done;
    }
    return WF_OK;
}

void wfi_spool_release(wfi_spool *spool)
{
    if (spool->fd_plus_1 > 0)
        close(spool->fd_plus_1 - 1);
    *spool = (wfi_spool){0};
}
