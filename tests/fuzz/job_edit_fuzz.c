/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Edits of any text: a byte that says which, a path, a value and the text, each ended by a zero. */
#include <string.h>
#include <whitefringe/job_edit.h>

#include "memory_file.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static wf_status do_edit(wf_job_edit *edit, uint8_t kind, const char *path, const char *value,
                         wf_error *err)
{
    switch (kind % 4) {
    case 0:
        return wf_job_edit_set_text(edit, path, value, err);
    case 1:
        return wf_job_edit_set_yaml(edit, path, value, err);
    case 2:
        return wf_job_edit_write_out(edit, path, err);
    default:
        return wf_job_edit_remove(edit, path, err);
    }
}

/* A refused edit says why and leaves the text. */
static void edit_once(wf_job_edit *edit, uint8_t kind, const char *path, const char *value)
{
    wf_error err = WF_ERROR_INIT;
    char *before = strdup(wf_job_edit_text(edit, NULL));
    char diff[256];
    const wf_status status = do_edit(edit, kind, path, value, &err);
    if (before == NULL || (status != WF_OK && (err.message[0] == '\0' ||
                                               strcmp(before, wf_job_edit_text(edit, NULL)) != 0)))
        abort();
    (void)wf_job_edit_diff(edit, diff, sizeof diff);
    free(before);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static memory_file file;
    if (file.path[0] == '\0')
        memory_file_open(&file);
    const char *path = (const char *)data + 1;
    const uint8_t *end = size < 2 ? NULL : memchr(data + 1, 0, size - 1);
    const uint8_t *end_value =
        end == NULL ? NULL : memchr(end + 1, 0, size - (size_t)(end + 1 - data));
    if (end_value == NULL)
        return 0;
    memory_file_set(&file, end_value + 1, size - (size_t)(end_value + 1 - data));
    wf_job_edit *edit = NULL;
    wf_error err = WF_ERROR_INIT;
    if (wf_job_edit_open(&edit, file.path, &err) != WF_OK) {
        if (edit != NULL || err.message[0] == '\0')
            abort();
        return 0;
    }
    edit_once(edit, data[0], path, (const char *)end + 1);
    edit_once(edit, data[0] / 4, path, (const char *)end + 1);
    wf_job_edit_destroy(edit);
    return 0;
}
