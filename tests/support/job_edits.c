/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Edits of a job file that are read from the standard input, each of the file as it stands.
 *
 *  A line is "set PATH VALUE" (a text), "yaml PATH VALUE", "remove PATH" or "write_out PATH". Of
 * each the program writes a line "STATUS N_TEXT N_DIFF", and then that many bytes of the edited
 * text and of the difference.
 */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <whitefringe/job_edit.h>

static wf_status do_line(wf_job_edit *edit, char *line, wf_error *err)
{
    char *path = strchr(line, ' ');
    if (path == NULL)
        return WF_ARGUMENT;
    *path++ = '\0';
    if (strcmp(line, "remove") == 0)
        return wf_job_edit_remove(edit, path, err);
    if (strcmp(line, "write_out") == 0)
        return wf_job_edit_write_out(edit, path, err);
    char *value = strchr(path, ' ');
    if (value == NULL)
        return WF_ARGUMENT;
    *value++ = '\0';
    return strcmp(line, "set") == 0 ? wf_job_edit_set_text(edit, path, value, err)
                                    : wf_job_edit_set_yaml(edit, path, value, err);
}

static int put_result(const wf_job_edit *edit, wf_status status)
{
    size_t n = 0;
    const char *text = wf_job_edit_text(edit, &n);
    const size_t n_diff = wf_job_edit_diff(edit, NULL, 0);
    char *diff = malloc(n_diff + 1);
    if (diff == NULL)
        return 1;
    (void)wf_job_edit_diff(edit, diff, n_diff + 1);
    printf("%d %zu %zu\n", (int)status, n, n_diff);
    fwrite(text, 1, n, stdout);
    fwrite(diff, 1, n_diff, stdout);
    free(diff);
    return 0;
}

static int edit_line(const wf_job_edit *whole, char *line)
{
    wf_job_edit *edit = NULL;
    wf_error err = WF_ERROR_INIT;
    line[strcspn(line, "\n")] = '\0';
    if (wf_job_edit_copy(&edit, whole, &err) != WF_OK)
        return 1;
    const wf_status status = do_line(edit, line, &err);
    if (status != WF_OK)
        fprintf(stderr, "%s\n", err.message);
    const int result = put_result(edit, status);
    wf_job_edit_destroy(edit);
    return result;
}

int main(int argc, char **argv)
{
    wf_job_edit *whole = NULL;
    wf_error err = WF_ERROR_INIT;
    if (argc != 2 || wf_job_edit_open(&whole, argv[1], &err) != WF_OK) {
        fprintf(stderr, "%s\n", err.message);
        return 1;
    }
    char line[4096];
    int result = 0;
    while (result == 0 && fgets(line, sizeof line, stdin) != NULL)
        result = edit_line(whole, line);
    wf_job_edit_destroy(whole);
    return result;
}
