/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Temporary name in the target's folder, fsync, rename, fsync of the folder. */
#define _XOPEN_SOURCE 700 /* realpath */
#include "base/output.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "base/memory.h"
#include "base/status.h"

const char *wfi_errno_text(char text[WFI_ERRNO_TEXT_BYTES], int number)
{
    if (strerror_r(number, text, WFI_ERRNO_TEXT_BYTES) != 0)
        snprintf(text, WFI_ERRNO_TEXT_BYTES, "system error %d", number);
    return text;
}

/* A link stays a link: the output replaces the file that it points to. */
static wf_status follow_link(char **out, const char *path, wf_error *err)
{
    struct stat entry;
    if (lstat(path, &entry) == 0 && S_ISLNK(entry.st_mode)) {
        char *target = realpath(path, NULL);
        if (target == NULL)
            return wfi_fail(err, WF_IO, "%s: a link that leads nowhere: remove it", path);
        const wf_status status = wfi_string_copy(out, target, err);
        wfi_free(target);
        return status;
    }
    return wfi_string_copy(out, path, err);
}

static wf_status check_target(const char *path, wf_error *err)
{
    struct stat entry;
    if (stat(path, &entry) != 0)
        return WF_OK;
    if (S_ISDIR(entry.st_mode))
        return wfi_fail(err, WF_IO, "%s: is a folder: name a file in it", path);
    if (!S_ISREG(entry.st_mode))
        return wfi_fail(err, WF_IO, "%s: is no regular file and will not be replaced: name another",
                        path);
    return WF_OK;
}

/* Length of the folder's part of a path, the last slash included. */
static size_t folder_length(const char *path)
{
    const char *slash = strrchr(path, '/');
    return slash == NULL ? 0 : (size_t)(slash - path) + 1;
}

static wf_status reserve_name(char *name, const char *path, wf_error *err)
{
    const int file = mkstemp(name);
    if (file >= 0) {
        close(file);
        unlink(name);
        return WF_OK;
    }
    char words[WFI_ERRNO_TEXT_BYTES];
    const int reason = errno;
    const int n_folder = (int)folder_length(path);
    if (reason == ENOENT || reason == ENOTDIR)
        return wfi_fail(err, WF_MISSING, "%s: there is no folder %.*s: create it first", path,
                        n_folder, path);
    return wfi_fail(err, WF_IO, "%s: no file can be made in its folder: %s", path,
                    wfi_errno_text(words, reason));
}

static void release(wfi_output *output)
{
    wfi_free(output->temporary);
    wfi_free(output->path);
    *output = (wfi_output){0};
}

wf_status wfi_output_begin(wfi_output *out, const char *path, wf_error *err)
{
    *out = (wfi_output){0};
    if (path[0] == '\0' || path[strlen(path) - 1] == '/')
        return wfi_fail(err, WF_IO, "\"%s\": names no file to write: give one", path);
    WFI_TRY(follow_link(&out->path, path, err));
    wf_status status = check_target(out->path, err);
    const char *target = out->path;
    const size_t n_folder = folder_length(target);
    const size_t capacity = strlen(target) + sizeof "./..partial-XXXXXX";
    if (status == WF_OK)
        status = wfi_allocate(&out->temporary, capacity, 1, "a file name", err);
    if (status == WF_OK) {
        snprintf(out->temporary, capacity, "%s%.*s.%s.partial-XXXXXX", target[0] == '/' ? "" : "./",
                 (int)n_folder, target, target + n_folder);
        status = reserve_name(out->temporary, target, err);
    }
    if (status != WF_OK)
        release(out);
    return status;
}

static int sync_path(const char *path, int flags)
{
    const int file = open(path, O_RDONLY | O_CLOEXEC | flags);
    if (file < 0)
        return errno;
    int reason = fsync(file) == 0 ? 0 : errno;
    if (close(file) != 0 && reason == 0)
        reason = errno;
    return reason;
}

/* File systems that cannot sync a folder say EINVAL; there the rename has to do. */
static int sync_folder(char *path)
{
    char *slash = strrchr(path, '/');
    *slash = '\0';
    const int reason = sync_path(path[0] == '\0' ? "/" : path, O_DIRECTORY);
    *slash = '/';
    return reason == EINVAL ? 0 : reason;
}

wf_status wfi_output_commit(wfi_output *output, wf_error *err)
{
    char words[WFI_ERRNO_TEXT_BYTES];
    int reason = sync_path(output->temporary, 0);
    if (reason == 0 && rename(output->temporary, output->path) != 0)
        reason = errno;
    if (reason != 0) {
        wfi_fail(err, WF_IO, "%s: could not be completed: %s", output->path,
                 wfi_errno_text(words, reason));
        wfi_output_discard(output);
        return WF_IO;
    }
    reason = sync_folder(output->temporary);
    if (reason != 0)
        wfi_fail(err, WF_IO, "%s: is complete, but its folder was not brought to the disk: %s",
                 output->path, wfi_errno_text(words, reason));
    release(output);
    return reason == 0 ? WF_OK : WF_IO;
}

void wfi_output_discard(wfi_output *output)
{
    if (output->temporary != NULL)
        unlink(output->temporary);
    release(output);
}
