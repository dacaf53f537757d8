/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Text files of numbers, line by line. */
#ifndef WFI_DELAY_LINE_READER_H
#define WFI_DELAY_LINE_READER_H

#include <stdbool.h>
#include <stdio.h>
#include <whitefringe/status.h>

enum { WFI_LINE_BYTES = 512 };

typedef struct wfi_line_reader {
    const char *path;  /* borrowed */
    FILE *file;        /* NULL: the bytes below are read */
    const char *bytes; /* borrowed */
    size_t n_bytes;
    long number; /* of the line last read, from 1 */
    size_t n;    /* its length, end of line not counted */
    char line[WFI_LINE_BYTES];
} wfi_line_reader;

/** status  OK | MISSING: no such file | FORMAT: a folder | IO */
wf_status wfi_line_reader_open(wfi_line_reader *reader, const char *path, wf_error *err);

/** Read from memory; `path` is the name that messages use. */
void wfi_line_reader_open_memory(wfi_line_reader *reader, const char *path, const char *bytes,
                                 size_t n_bytes);

/** Read the next line; the file's last one may lack its end.
 *
 *  status  OK | END | FORMAT: the line is too long, or holds a zero byte: no text | IO
 */
wf_status wfi_line_reader_next(wfi_line_reader *reader, wf_error *err);

/** Accepts a reader whose opening failed. */
void wfi_line_reader_close(wfi_line_reader *reader);

#endif
