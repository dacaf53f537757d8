/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The grid of GPT2 over the whole Earth, in steps of 5 degrees. */
#ifndef WFI_DELAY_GPT2_GRID_H
#define WFI_DELAY_GPT2_GRID_H

#include <stddef.h>

#include "delay/gpt2.h"
#include "delay/line_reader.h"

enum { WFI_GPT2_ROWS = 36, WFI_GPT2_COLUMNS = 72 };

/** Start from {0}; release it. */
typedef struct wfi_gpt2_grid {
    wfi_gpt2_point *points; /* [WFI_GPT2_ROWS][WFI_GPT2_COLUMNS], 87.5 N first, 2.5 E first */
    size_t n_points;
} wfi_gpt2_grid;

/** Read a file: a line a point with latitude and longitude (deg) and 32 numbers as wfi_gpt2_point
 *  holds them; lines that start with % or # are comments.
 *  Longitudes of the west may be negative.
 *
 *  status  OK | MISSING: no such file | FORMAT: file and line named; a point missing or out of its
 *          place, a number short, no number, or beyond what the Earth has | IO | MEMORY
 *  source  the file gpt2_5.grd that goes with the IERS Conventions (2010) routine GPT2
 */
wf_status wfi_gpt2_grid_read(wfi_gpt2_grid *grid, const char *path, wf_error *err);

/** The same from an open reader, of a file or of memory. */
wf_status wfi_gpt2_grid_parse(wfi_gpt2_grid *grid, wfi_line_reader *reader, wf_error *err);

void wfi_gpt2_grid_release(wfi_gpt2_grid *grid);

/** The points around a place, bilinear between them; beyond the last row, 2.5 degrees from a pole,
 *  the nearest point alone, as routine GPT2 has it.
 */
wfi_gpt2 wfi_gpt2_grid_around(const wfi_gpt2_grid *grid, double longitude_rad, double latitude_rad);

#endif
