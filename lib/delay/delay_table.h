/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A user's own delay of a station, from a text file. */
#ifndef WFI_DELAY_DELAY_TABLE_H
#define WFI_DELAY_DELAY_TABLE_H

#include <stddef.h>
#include <whitefringe/status.h>
#include <whitefringe/time.h>

typedef struct wfi_delay_row {
    wf_instant t;
    double tau_s;
} wfi_delay_row;

/** Start from {0}; release it. */
typedef struct wfi_delay_table {
    char *path;
    wfi_delay_row *rows; /* [n_rows], ascending */
    size_t n_rows;
    size_t capacity;
} wfi_delay_table;

/** Read a table; its format stands in whitefringe/delay.h.
 *
 *  status  OK | MISSING | FORMAT: file and line named | IO | MEMORY
 */
wf_status wfi_delay_table_read(wfi_delay_table *table, const char *path, wf_error *err);
void wfi_delay_table_release(wfi_delay_table *table);

/** Interpolate: between two rows the polynomial of degree 7 through the eight rows around (the
 *  nearest eight at the ends), of degree 3 through four where there are fewer than eight.
 *
 *  status  OK | RANGE: t before the first or after the last row
 */
wf_status wfi_delay_table_evaluate(const wfi_delay_table *table, wf_instant t, double *tau_s,
                                   wf_error *err);

/** Index of the last row at or before t; 0 where t lies before all. */
size_t wfi_delay_table_find(const wfi_delay_table *table, wf_instant t);

#endif
