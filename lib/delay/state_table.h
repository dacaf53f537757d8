/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A user's positions and velocities of a spacecraft, from a text file. */
#ifndef WFI_DELAY_STATE_TABLE_H
#define WFI_DELAY_STATE_TABLE_H

#include <stddef.h>
#include <whitefringe/observation.h>

typedef struct wfi_state {
    wf_instant t;
    double position_m[3];
    double velocity_m_per_s[3];
} wfi_state;

/** Start from {0}; release it. */
typedef struct wfi_state_table {
    char *path;
    wf_state_frame frame;
    wfi_state *rows; /* [n_rows], ascending */
    size_t n_rows;
    size_t capacity;
} wfi_state_table;

/** Read a table; its format stands in whitefringe/delay.h.
 *
 *  status  OK | MISSING | FORMAT: file and line named; velocities that do not fit the positions
 *          | IO | MEMORY
 */
wf_status wfi_state_table_read(wfi_state_table *table, const wf_state_table *entry, wf_error *err);
void wfi_state_table_release(wfi_state_table *table);

/** Interpolate: the polynomial of degree 7 through positions and velocities of the four rows
 *  around (the nearest four at the ends), and its derivative.
 *
 *  status  OK | RANGE: t before the first or after the last row
 */
wf_status wfi_state_table_evaluate(const wfi_state_table *table, wf_instant t, wfi_state *out,
                                   wf_error *err);

#endif
