/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the first stage of a batch takes its points from: tables in which four bits, two samples,
 * look up what its butterflies would add up; and where samples are rotated, by how much.
 *
 *  All segments of a batch are rotated alike, or nearly. So a rotation costs little in the
 *  transform: what turns an eighth of the points as a whole is in its tables, what turns a
 * butterfly in its twiddles. Where segments are not alike, each has its eighths turned by itself.
 */
#ifndef WFI_ENGINE_BATCH_ROTATION_H
#define WFI_ENGINE_BATCH_ROTATION_H

#include <stdbool.h>
#include <stddef.h>

struct wfi_batch_plan;

/** By the codes of a sample a of the first half of the points (low bits) and of one b of the
 * second: a p + b q and a p - b q, p and q being turns of the two. Differences of the last two
 * quarters are multiplied by -i. */
typedef struct wfi_batch_table {
    float sum_re[16];
    float sum_im[16];
    float difference_re[16];
    float difference_im[16];
} wfi_batch_table;

/** Of the quarters of the first half of the points. Where samples are not rotated two are filled,
 *  of the first two quarters and of the last two, and p = q = 1 + i: real and imaginary parts are
 *  samples of their own. */
typedef struct wfi_batch_tables {
    wfi_batch_table quarters[4];
} wfi_batch_tables;

/** [eighth of the points][real, imaginary part][segment] */
typedef float wfi_batch_eighths[8][2][16];

/** Tables, or, where segments are not turned alike, turns of eighths. */
typedef struct wfi_batch_rotation {
    bool alike;
    wfi_batch_tables even;
    wfi_batch_tables odd;
    wfi_batch_eighths even_turns;
    wfi_batch_eighths odd_turns;
    float *twiddles; /* [n / 8][8][2] of the first stage: of results 1 to 7, then of result 0 */
} wfi_batch_rotation;

/** given  level  [4] of the codes: -outer, -inner, inner, outer */
void wfi_batch_tables_set(wfi_batch_tables *tables, const float level[4]);

/** Rotate sample m by m `turns`.
 *
 *  given  faster  [segments] turns from sample to sample by which each segment's eighths are turned
 *                 besides, as their middles would be about the segment's; or NULL
 */
void wfi_batch_rotation_set(wfi_batch_rotation *rotation, const struct wfi_batch_plan *plan,
                            const float level[4], double turns, const double *faster);

#endif
