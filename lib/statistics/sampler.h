/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Counts of a sampler's states, and what they say. */
#ifndef WFI_STATISTICS_SAMPLER_H
#define WFI_STATISTICS_SAMPLER_H

#include <whitefringe/statistics.h>

#include "statistics/decode.h"

/** Counts in the making; start from {0}. */
typedef struct wfi_sampler_counts {
    uint64_t state[WFI_CODES_MAX]; /* up to 8 bits */
    double n;                      /* beyond 8 bits */
    double sum;
    double sum_of_squares;
    double sum_of_fourths;
    double n_positive; /* above zero, and half of what is zero */
    double n_extreme;
    double lowest;
    double highest;
} wfi_sampler_counts;

/** Count every `stride`-th of the numbers. */
void wfi_sampler_count_codes(wfi_sampler_counts *counts, const uint8_t *codes, size_t n,
                             size_t stride);
void wfi_sampler_count_levels(wfi_sampler_counts *counts, const wfi_decoder *decoder,
                              const float *levels, size_t n, size_t stride);
/** total += part */
void wfi_sampler_add(wfi_sampler_counts *total, const wfi_sampler_counts *part);

/** What the counts say. */
void wfi_sampler_judge(wf_sampler_statistics *out, const wfi_decoder *decoder,
                       const wfi_sampler_counts *counts);

/** E x^4/(E x^2)^2 - 3 of the samples. */
double wfi_sampler_excess(const wfi_decoder *decoder, const wfi_sampler_counts *counts);

#endif
