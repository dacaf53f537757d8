/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The lines of a text, and which lines of another they come from. */
#ifndef WFI_OBSERVATION_EDIT_LINES_H
#define WFI_OBSERVATION_EDIT_LINES_H

#include <stddef.h>
#include <whitefringe/status.h>

typedef struct wfi_lines {
    const char *bytes; /* borrowed */
    size_t *begin;     /* [n + 1] bytes; the last is the text's length */
    size_t *origin;    /* [n] number, from 1, of the line of the first text; 0: new */
    size_t n;
} wfi_lines;

/** The first text: every line is its own origin. To be released. */
wf_status wfi_lines_split(wfi_lines *out, const char *bytes, size_t n, wf_error *err);

/** A text that differs from `before` in one place. To be released. */
wf_status wfi_lines_follow(wfi_lines *out, const wfi_lines *before, const char *bytes, size_t n,
                           wf_error *err);

void wfi_lines_release(wfi_lines *lines);

/** Number in the first text of a line, from 1, of this one; 0: new. */
size_t wfi_lines_origin(const wfi_lines *lines, size_t line);

/** A unified diff; as wf_job_edit_diff. */
size_t wfi_lines_diff(const wfi_lines *first, const wfi_lines *now, const char *path, char *text,
                      size_t capacity);

#endif
