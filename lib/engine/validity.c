/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Which part of each segment is valid.
 *
 * Gaps are kept as fractions of the segment, so that streams of different sample rates compare.
 */
#include "engine/validity.h"

#include "base/memory.h"
#include "base/status.h"
#include "recording/invalid_runs.h"

wf_status wfi_validity_create(wfi_validity *validity, size_t n_segments, wf_error *err)
{
    *validity = (wfi_validity){0};
    WFI_TRY(wfi_allocate(&validity->fraction, n_segments, sizeof(double), "validity", err));
    return wfi_allocate(&validity->first_gap, n_segments + 1, sizeof(size_t), "validity", err);
}

void wfi_validity_destroy(wfi_validity *validity)
{
    wfi_free(validity->fraction);
    wfi_free(validity->first_gap);
    wfi_free(validity->gaps);
    *validity = (wfi_validity){0};
}

void wfi_validity_reset(wfi_validity *validity)
{
    validity->whole = true;
    validity->n_segments = 0;
    validity->first_gap[0] = 0;
}

static wf_status append_gap(wfi_validity *validity, size_t *n_gaps, wfi_gap gap, wf_error *err)
{
    WFI_TRY(wfi_array_reserve(&validity->gaps, &validity->gaps_capacity, *n_gaps + 1,
                              sizeof(wfi_gap), "gaps", err));
    validity->gaps[(*n_gaps)++] = gap;
    return WF_OK;
}

static void close_segment(wfi_validity *validity, double fraction, size_t n_gaps)
{
    validity->fraction[validity->n_segments++] = fraction;
    validity->first_gap[validity->n_segments] = n_gaps;
    if (n_gaps > 0)
        validity->whole = false;
}

wf_status wfi_validity_append(wfi_validity *validity, const wf_packed *packed, int64_t first,
                              size_t n, wf_error *err)
{
    const int64_t end = first + (int64_t)n;
    size_t n_gaps = validity->first_gap[validity->n_segments];
    int64_t n_invalid = 0;
    for (size_t i = wfi_invalid_run_after(packed, first);
         i < packed->n_invalid && packed->invalid[i].first < end; i++) {
        const wf_sample_range run = packed->invalid[i];
        const int64_t begin = run.first > first ? run.first : first;
        const int64_t stop = run.first + run.n < end ? run.first + run.n : end;
        const wfi_gap gap = {(double)(begin - first) / (double)n,
                             (double)(stop - first) / (double)n};
        WFI_TRY(append_gap(validity, &n_gaps, gap, err));
        n_invalid += stop - begin;
    }
    close_segment(validity, (double)((int64_t)n - n_invalid) / (double)n, n_gaps);
    return WF_OK;
}

static double overlap(wfi_gap a, wfi_gap b)
{
    const double begin = a.begin > b.begin ? a.begin : b.begin;
    const double end = a.end < b.end ? a.end : b.end;
    return end > begin ? end - begin : 0.0;
}

/* Valid in both = 1 - invalid in a - invalid in b + invalid in both. */
static double common_of_segment(const wfi_validity *a, const wfi_validity *b, size_t s)
{
    const size_t n_a = a->first_gap[s + 1] - a->first_gap[s];
    const size_t n_b = b->first_gap[s + 1] - b->first_gap[s];
    if (n_b == 0)
        return a->fraction[s];
    if (n_a == 0)
        return b->fraction[s];
    if (a->fraction[s] == 0.0 || b->fraction[s] == 0.0)
        return 0.0;
    double both_invalid = 0;
    for (size_t i = a->first_gap[s]; i < a->first_gap[s + 1]; i++) {
        for (size_t j = b->first_gap[s]; j < b->first_gap[s + 1]; j++)
            both_invalid += overlap(a->gaps[i], b->gaps[j]);
    }
    const double common = a->fraction[s] + b->fraction[s] - 1.0 + both_invalid;
    return common > 0.0 ? common : 0.0;
}

double wfi_validity_common(const wfi_validity *a, const wfi_validity *b)
{
    if (a->whole && b->whole)
        return (double)a->n_segments;
    double sum = 0;
    for (size_t s = 0; s < a->n_segments; s++)
        sum += common_of_segment(a, b, s);
    return sum;
}
