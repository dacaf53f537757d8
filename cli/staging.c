/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Several files that appear in a folder together, when all are whole. */
#define _XOPEN_SOURCE 700 /* mkdtemp */
#include "staging.h"

#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "base/memory.h"
#include "base/output.h"
#include "base/status.h"
#include "folder.h"

static const char TEMPLATE[] = "/.partial-XXXXXX";

static wf_status refuse(const char *path, const char *what, wf_error *err)
{
    char words[WFI_ERRNO_TEXT_BYTES];
    return wfi_fail(err, WF_IO, "%s: %s: %s", path, what, wfi_errno_text(words, errno));
}

/* "folder/name"; to be freed. */
static wf_status join(char **out, const char *folder, const char *name, wf_error *err)
{
    const size_t n = strlen(folder) + strlen(name) + 2;
    WFI_TRY(wfi_allocate(out, n, 1, "a file name", err));
    snprintf(*out, n, "%s/%s", folder, name);
    return WF_OK;
}

wf_status staging_begin(staging *s, const char *target, wf_error *err)
{
    *s = (staging){.target = target};
    WFI_TRY(folder_ensure(target, &s->target_created, err));
    const size_t n = strlen(target) + sizeof TEMPLATE;
    wf_status status = wfi_allocate(&s->folder, n, 1, "a file name", err);
    if (status == WF_OK) {
        snprintf(s->folder, n, "%s%s", target, TEMPLATE);
        if (mkdtemp(s->folder) != NULL)
            return WF_OK;
        status = refuse(target, "nothing can be written into this folder", err);
    }
    wfi_free(s->folder);
    s->folder = NULL;
    staging_end(s);
    return status;
}

wf_status staging_write(const staging *s, const char *name, const wfi_text *text, wf_error *err)
{
    char *path = NULL;
    if (text->failed)
        return wfi_fail(err, WF_MEMORY, "out of memory for %s", name);
    WFI_TRY(join(&path, s->folder, name, err));
    FILE *file = fopen(path, "w");
    bool written = file != NULL && fwrite(text->bytes, 1, text->n, file) == text->n;
    if (file != NULL && fclose(file) != 0)
        written = false;
    const wf_status status = written ? WF_OK : refuse(path, "could not be written", err);
    wfi_free(path);
    return status;
}

wf_status staging_read(const staging *s, const char *name, wfi_text *text, wf_error *err)
{
    char block[4096];
    char *path = NULL;
    WFI_TRY(join(&path, s->folder, name, err));
    FILE *file = fopen(path, "r");
    size_t n = 0;
    while (file != NULL && (n = fread(block, 1, sizeof block, file)) > 0)
        wfi_text_append(text, "%.*s", (int)n, block);
    wf_status status = WF_OK;
    if (file == NULL || ferror(file))
        status = refuse(path, "could not be read", err);
    else if (text->failed)
        status = wfi_fail(err, WF_MEMORY, "out of memory for %s", name);
    if (file != NULL)
        fclose(file);
    wfi_free(path);
    return status;
}

wf_status staging_keep(staging *s, const char *name, wf_error *err)
{
    WFI_TRY(wfi_array_reserve(&s->kept, &s->capacity, s->n_kept + 1, sizeof *s->kept,
                              "names of files", err));
    WFI_TRY(wfi_string_copy(&s->kept[s->n_kept], name, err));
    s->n_kept++;
    return WF_OK;
}

static bool sync_path(const char *path, int flags)
{
    const int file = open(path, O_RDONLY | O_CLOEXEC | flags);
    if (file < 0)
        return false;
    /* file systems that cannot sync a folder say EINVAL */
    const bool synced = fsync(file) == 0 || (errno == EINVAL && flags != 0);
    return close(file) == 0 && synced;
}

static wf_status publish(const staging *s, const char *name, wf_error *err)
{
    char *from = NULL;
    char *to = NULL;
    wf_status status = join(&from, s->folder, name, err);
    if (status == WF_OK)
        status = join(&to, s->target, name, err);
    if (status == WF_OK && (!sync_path(from, 0) || rename(from, to) != 0))
        status = refuse(to, "could not be completed", err);
    wfi_free(from);
    wfi_free(to);
    return status;
}

wf_status staging_publish(staging *s, wf_error *err)
{
    for (size_t i = 0; i < s->n_kept; i++)
        WFI_TRY(publish(s, s->kept[i], err));
    s->target_created = false;
    if (!sync_path(s->target, O_DIRECTORY))
        return refuse(s->target, "was not brought to the disk", err);
    return WF_OK;
}

static void remove_folder(const char *path)
{
    DIR *folder = opendir(path);
    if (folder == NULL)
        return;
    for (const struct dirent *entry = readdir(folder); entry != NULL; entry = readdir(folder)) {
        if (strcmp(entry->d_name, ".") != 0 && strcmp(entry->d_name, "..") != 0)
            unlinkat(dirfd(folder), entry->d_name, 0);
    }
    closedir(folder);
    rmdir(path);
}

void staging_end(staging *s)
{
    if (s->folder != NULL)
        remove_folder(s->folder);
    if (s->target_created)
        rmdir(s->target); /* only if it is empty */
    for (size_t i = 0; i < s->n_kept; i++)
        wfi_free(s->kept[i]);
    wfi_free(s->kept);
    wfi_free(s->folder);
    *s = (staging){0};
}
