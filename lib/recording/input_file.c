/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Positioned reads rather than a memory map: a failing disk gives an error, not a signal, and no
 * read moves a position that another thread relies on. */
#define _DEFAULT_SOURCE /* preadv */
#include "recording/input_file.h"

#include <errno.h>
#include <fcntl.h>
#include <inttypes.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/types.h>
#include <unistd.h>

#include "base/memory.h"
#include "base/status.h"

enum { SYSTEM_TEXT_BYTES = 128 };

static void system_text(char text[SYSTEM_TEXT_BYTES], int error_number)
{
    text[0] = '\0';
    if (strerror_r(error_number, text, SYSTEM_TEXT_BYTES) != 0)
        memcpy(text, "unknown error", sizeof "unknown error");
}

static wf_status refuse_open(const char *path, int error_number, wf_error *err)
{
    if (error_number == ENOENT || error_number == ENOTDIR)
        return wfi_fail(err, WF_MISSING,
                        "%s: no such file: check the path; relative ones count from the job file's "
                        "folder",
                        path);
    char text[SYSTEM_TEXT_BYTES];
    system_text(text, error_number);
    return wfi_fail(err, WF_IO, "%s: cannot be opened for reading: %s", path, text);
}

static wf_status check_kind(wfi_input_file *file, wf_error *err)
{
    struct stat status;
    if (fstat(file->fd, &status) != 0)
        return refuse_open(file->path, errno, err);
    if (S_ISDIR(status.st_mode))
        return wfi_fail(err, WF_FORMAT,
                        "%s: is a directory; name the file in it that holds samples", file->path);
    if (!S_ISREG(status.st_mode))
        return wfi_fail(
            err, WF_FORMAT,
            "%s: is a device or a pipe; samples are read from regular files: copy it to "
            "one first",
            file->path);
    if (status.st_size == 0)
        return wfi_fail(err, WF_FORMAT,
                        "%s: is empty; leave it out of the recording, or copy it again",
                        file->path);
    file->n_bytes = status.st_size;
    return WF_OK;
}

wf_status wfi_input_file_open(wfi_input_file *out, const char *path, wf_error *err)
{
    *out = (wfi_input_file){.fd = -1};
    WFI_TRY(wfi_string_copy(&out->path, path, err));
    /* not blocking: a pipe without a writer must be refused, not waited for */
    out->fd = open(path, O_RDONLY | O_CLOEXEC | O_NONBLOCK);
    if (out->fd < 0)
        return refuse_open(path, errno, err);
    return check_kind(out, err);
}

void wfi_input_file_close(wfi_input_file *file)
{
    if (file->path != NULL && file->fd >= 0)
        close(file->fd);
    wfi_free(file->path);
    *file = (wfi_input_file){.fd = -1};
}

wf_status wfi_input_file_fail(const wfi_input_file *file, int64_t offset, int error_number,
                              wf_error *err)
{
    char text[SYSTEM_TEXT_BYTES];
    system_text(text, error_number);
    return wfi_fail(err, WF_IO,
                    "%s: reading at byte %" PRId64 " of %" PRId64
                    " failed: %s; check the disk, or copy the file to a sound one",
                    file->path, offset, file->n_bytes, text);
}

/* What is left of parts of which the first n bytes are full. */
static void skip_bytes(struct iovec **parts, size_t *n_parts, size_t n)
{
    while (*n_parts > 0 && n >= (*parts)->iov_len) {
        n -= (*parts)->iov_len;
        ++*parts;
        --*n_parts;
    }
    if (n > 0) {
        (*parts)->iov_base = (uint8_t *)(*parts)->iov_base + n;
        (*parts)->iov_len -= n;
    }
}

wf_status wfi_input_file_read_parts(const wfi_input_file *file, int64_t offset, struct iovec *parts,
                                    size_t n_parts, size_t *n_read, wf_error *err)
{
    *n_read = 0;
    skip_bytes(&parts, &n_parts, 0);
    while (n_parts > 0) {
        const int64_t at = offset + (int64_t)*n_read;
        const ssize_t got = n_parts == 1
                                ? pread(file->fd, parts->iov_base, parts->iov_len, (off_t)at)
                                : preadv(file->fd, parts, (int)n_parts, (off_t)at);
        if (got < 0 && errno == EINTR)
            continue;
        if (got < 0)
            return wfi_input_file_fail(file, at, errno, err);
        if (got == 0)
            break;
        *n_read += (size_t)got;
        skip_bytes(&parts, &n_parts, (size_t)got);
    }
    return WF_OK;
}

wf_status wfi_input_file_read(const wfi_input_file *file, int64_t offset, void *out, size_t n,
                              size_t *n_read, wf_error *err)
{
    struct iovec whole = {.iov_base = out, .iov_len = n};
    return wfi_input_file_read_parts(file, offset, &whole, 1, n_read, err);
}

void wfi_input_file_will_need(const wfi_input_file *file, int64_t offset, int64_t n)
{
    enum { STEP_BYTES = 1 << 20 }; /* of more at once the system leaves out the end */
    for (int64_t done = 0; done < n; done += STEP_BYTES) {
        const int64_t step = n - done < STEP_BYTES ? n - done : STEP_BYTES;
        (void)posix_fadvise(file->fd, (off_t)(offset + done), (off_t)step, POSIX_FADV_WILLNEED);
    }
}
