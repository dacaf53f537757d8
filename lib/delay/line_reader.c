/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Text files of numbers, line by line. */
#include "delay/line_reader.h"

#include <errno.h>
#include <string.h>
#include <sys/stat.h>

#include "base/status.h"

/* strerror_r is not strerror: safe in threads. */
static wf_status fail_system(const char *path, const char *what, int error, wf_error *err)
{
    char text[128] = "";
    if (strerror_r(error, text, sizeof text) != 0)
        text[0] = '\0';
    const wf_status status = error == ENOENT || error == ENOTDIR ? WF_MISSING : WF_IO;
    return wfi_fail(err, status, "%s: cannot be %s: %s", path, what, text);
}

wf_status wfi_line_reader_open(wfi_line_reader *reader, const char *path, wf_error *err)
{
    *reader = (wfi_line_reader){.path = path, .file = fopen(path, "rb")};
    if (reader->file == NULL)
        return fail_system(path, "opened", errno, err);
    struct stat about;
    if (fstat(fileno(reader->file), &about) != 0)
        return fail_system(path, "examined", errno, err);
    if (S_ISDIR(about.st_mode))
        return wfi_fail(err, WF_FORMAT, "%s is a folder; expected a text file", path);
    return WF_OK;
}

void wfi_line_reader_open_memory(wfi_line_reader *reader, const char *path, const char *bytes,
                                 size_t n_bytes)
{
    *reader = (wfi_line_reader){.path = path, .bytes = bytes, .n_bytes = n_bytes};
}

static int next_byte(wfi_line_reader *reader)
{
    if (reader->file != NULL)
        return getc(reader->file);
    if (reader->n_bytes == 0)
        return EOF;
    reader->n_bytes--;
    return (unsigned char)*reader->bytes++;
}

static bool is_end_of_line(char c)
{
    return c == '\n' || c == '\r';
}

wf_status wfi_line_reader_next(wfi_line_reader *reader, wf_error *err)
{
    size_t n = 0;
    int c = EOF;
    while (n < sizeof reader->line - 1 && (c = next_byte(reader)) != EOF) {
        reader->line[n++] = (char)c;
        if (c == '\n' || c == '\0')
            break;
    }
    if (reader->file != NULL && ferror(reader->file))
        return fail_system(reader->path, "read", errno, err);
    if (n == 0)
        return WF_END;
    reader->number++;
    if (c == '\0' || n == sizeof reader->line - 1)
        return wfi_fail(err, WF_FORMAT, "%s: line %ld is no text line of at most %zu bytes",
                        reader->path, reader->number, sizeof reader->line - 2);
    while (n > 0 && is_end_of_line(reader->line[n - 1]))
        n--;
    reader->line[n] = '\0';
    reader->n = n;
    return WF_OK;
}

void wfi_line_reader_close(wfi_line_reader *reader)
{
    if (reader->file != NULL)
        fclose(reader->file);
    reader->file = NULL;
}
