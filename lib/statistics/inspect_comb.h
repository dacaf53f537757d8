/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Finding a comb of tones whose spacing, place and phases are not known. */
#ifndef WFI_STATISTICS_INSPECT_COMB_H
#define WFI_STATISTICS_INSPECT_COMB_H

#include <stdbool.h>
#include <whitefringe/statistics.h>

#include "statistics/inspect_stream.h"

/** A comb in the power spectrum: where every tone of it stands out, not a few.
 *
 *  given     spacing_hz  to look for; 0: of the usual ones
 *  returned  spacing_hz, offset_hz  the latter to a fraction of a bin; significance in sigma
 *  returns   in found
 */
wf_status wfi_comb_search(const wfi_stream_sums *sums, double rate_hz, double spacing_hz,
                          bool *found, wf_comb *out, wf_error *err);

/** One stream's comb over places: first its frequency is made exact, then it is summed. */
typedef struct wfi_comb_follow {
    wfi_comb_setup setup;
    wfi_comb_sums sums;
    double complex *tones;   /* [n_tones] of a place */
    double complex *aligned; /* [n_tones] sum over places, without each place's own phase */
    double complex drift;    /* sum over tones and pairs of parts of a place */
    double complex common;   /* sum over places of their phases */
    double part_s;
    double n_places;
    double n;
    double variance; /* sum over places of sigma^2 */
} wfi_comb_follow;

/** status  as wfi_comb_setup_init */
wf_status wfi_comb_follow_create(wfi_comb_follow *out, int64_t rate_hz, size_t n_parts,
                                 const wf_comb *comb, wf_error *err);
void wfi_comb_follow_release(wfi_comb_follow *follow);

/** A place's samples [n][n_parts], the first being number `first` since a whole second: how does
 *  the phase drift within it? */
void wfi_comb_follow_drift(wfi_comb_follow *follow, int64_t first, const float *x, size_t n);
/** Correct the comb's offset by the drift, to a whole kHz where that is as near as the drift is
 *  known. */
void wfi_comb_follow_correct(const wfi_comb_follow *follow, wf_comb *comb);
/** Sum a place's tones. */
void wfi_comb_follow_add(wfi_comb_follow *follow, int64_t first, const float *x, size_t n);
/** What the sums say; comb->tones is made. */
wf_status wfi_comb_follow_judge(const wfi_comb_follow *follow, wf_comb *comb, wf_error *err);

#endif
