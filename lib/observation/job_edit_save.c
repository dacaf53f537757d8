/* SPDX-License-Identifier: GPL-3.0-or-later */
/* An edited job goes into its file: a copy beside it first, then whole or not at all. */
#define _XOPEN_SOURCE 700 /* fchmod */
#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>
#include <whitefringe/job_edit.h>

#include "base/memory.h"
#include "base/output.h"
#include "base/status.h"
#include "base/text.h"
#include "observation/job_edit_state.h"

typedef struct content {
    const char *bytes;
    size_t n;
    mode_t mode;
} content;

static int write_bytes(int file, const content *from)
{
    for (size_t done = 0; done < from->n;) {
        const ssize_t written = write(file, from->bytes + done, from->n - done);
        if (written < 0 && errno != EINTR)
            return errno;
        done += written < 0 ? 0 : (size_t)written;
    }
    return 0;
}

/* Write a new file; what was begun is removed again where it fails. EEXIST: there is one. */
static int write_new(const char *path, const content *from)
{
    const int file = open(path, O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, S_IRUSR | S_IWUSR);
    if (file < 0)
        return errno;
    int reason = write_bytes(file, from);
    if (reason == 0 && fchmod(file, from->mode) != 0)
        reason = errno;
    if (reason == 0 && fsync(file) != 0)
        reason = errno;
    if (close(file) != 0 && reason == 0)
        reason = errno;
    if (reason != 0)
        unlink(path);
    return reason;
}

static wf_status fail_to_write(const char *path, int reason, wf_error *err)
{
    char words[WFI_ERRNO_TEXT_BYTES];
    return wfi_fail(err, WF_IO, "%s: cannot be written: %s", path, wfi_errno_text(words, reason));
}

/* PATH.1, PATH.2, ...: the first that is free. */
static wf_status write_backup(wfi_text *name, const char *path, const content *before,
                              wf_error *err)
{
    enum { BACKUPS_MAX = 10000 };
    for (int i = 1; i <= BACKUPS_MAX; i++) {
        wfi_text_release(name);
        wfi_text_append(name, "%s.%d", path, i);
        if (name->failed)
            return wfi_fail(err, WF_MEMORY, "out of memory for a file name");
        const int reason = write_new(name->bytes, before);
        if (reason == 0)
            return WF_OK;
        if (reason != EEXIST)
            return fail_to_write(name->bytes, reason, err);
    }
    return wfi_fail(err, WF_IO, "%s: has %d copies beside it: remove some", path, BACKUPS_MAX);
}

static wf_status expect_unchanged(const wf_job_edit *edit, const content *before, wf_error *err)
{
    wfi_document *now = NULL;
    size_t n = 0;
    wf_error fault = WF_ERROR_INIT;
    const char *path = wf_job_edit_path(edit);
    const wf_status status = wfi_document_open(&now, path, &fault);
    const char *bytes = status == WF_OK ? wfi_document_text(now, &n) : NULL;
    const bool same = bytes != NULL && n == before->n && memcmp(bytes, before->bytes, n) == 0;
    wfi_document_close(now);
    if (same)
        return WF_OK;
    if (status != WF_OK && status != WF_FORMAT)
        return wfi_fail(err, status, "%s", fault.message);
    return wfi_fail(err, WF_FORMAT,
                    "%s: was changed since it was read, and is left as it is: repeat the edits on "
                    "what stands there now",
                    path);
}

/* Both files: the copy first. `name` is that of the copy. */
static wf_status write_both(const wf_job_edit *edit, wfi_output *output, wfi_text *name,
                            content *before, wf_error *err)
{
    content now = {0};
    struct stat entry;
    now.bytes = wf_job_edit_text(edit, &now.n);
    if (stat(output->path, &entry) != 0)
        return wfi_fail(err, errno == ENOENT ? WF_MISSING : WF_IO, "%s: is not there any more",
                        output->path);
    now.mode = before->mode = entry.st_mode & (S_IRWXU | S_IRWXG | S_IRWXO);
    const int reason = write_new(output->temporary, &now);
    if (reason != 0)
        return fail_to_write(output->path, reason, err);
    WFI_TRY(expect_unchanged(edit, before, err));
    return write_backup(name, output->path, before, err);
}

wf_status wf_job_edit_save(wf_job_edit *edit, char *backup, size_t capacity, wf_error *err)
{
    wfi_output output = {0};
    wfi_text name = {0};
    wfi_document *saved = NULL;
    content before = {0};
    size_t n = 0;
    const char *now = wf_job_edit_text(edit, &n);
    before.bytes = wfi_document_text(edit->saved != NULL ? edit->saved : edit->opened, &before.n);
    if (backup != NULL && capacity > 0)
        backup[0] = '\0';
    if (n == before.n && memcmp(now, before.bytes, n) == 0)
        return WF_OK;
    wf_status status = wfi_document_parse(&saved, wf_job_edit_path(edit), now, n, err);
    if (status == WF_OK)
        status = wfi_output_begin(&output, wf_job_edit_path(edit), err);
    if (status == WF_OK)
        status = write_both(edit, &output, &name, &before, err);
    if (status == WF_OK)
        status = wfi_output_commit(&output, err);
    wfi_output_discard(&output);
    if (backup != NULL && capacity > 0 && name.bytes != NULL)
        snprintf(backup, capacity, "%s", name.bytes);
    if (status == WF_OK) {
        wfi_document_close(edit->saved);
        edit->saved = saved;
    } else {
        wfi_document_close(saved);
    }
    wfi_text_release(&name);
    return status;
}
