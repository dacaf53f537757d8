/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Plans of batches: stages of a transform by decimation in frequency, in place. */
#include "engine/batch.h"

#include <math.h>

#include "base/memory.h"
#include "base/status.h"
#include "base/turns.h"

static const char what[] = "batches";

bool wfi_batch_serves(size_t n)
{
    return n >= WFI_BATCH_POINTS_MIN && n <= WFI_BATCH_POINTS_MAX && (n & (n - 1)) == 0;
}

/* Points this far apart share a row of the first cache (4 KB of a point's 128 bytes), which has
 * eight places for eight points of two lines. */
enum { ALIASED_POINTS = 32 };

/* Radix 8 as often as it goes, the last one or two stages being of radix 4. */
static size_t choose_radix(size_t n)
{
    return n == 4 || n == 16 ? 4 : 8;
}

static void fill_twiddles(float *twiddle, size_t radix, size_t step)
{
    const double n = (double)(radix * step);
    for (size_t j = 0; j < step; j++) {
        for (size_t p = 1; p < radix; p++, twiddle += 2) {
            const double angle = -WFI_RAD_PER_TURN * (double)(j * p) / n;
            twiddle[0] = (float)cos(angle);
            twiddle[1] = (float)sin(angle);
        }
    }
}

static void fill_stages(wfi_batch_plan *plan)
{
    float *twiddle = plan->twiddles;
    for (size_t n = plan->n; n > 1;) {
        const size_t radix = choose_radix(n);
        const size_t step = n / radix;
        fill_twiddles(twiddle, radix, step);
        plan->stages[plan->n_stages++] =
            (wfi_batch_stage){.radix = radix, .step = step, .twiddle = twiddle};
        twiddle += 2 * step * (radix - 1);
        n = step;
    }
}

/* Strides, from the last stage to the first. */
static void fill_strides(wfi_batch_plan *plan)
{
    plan->n_places = 1;
    for (size_t s = plan->n_stages; s-- > 0;) {
        wfi_batch_stage *stage = &plan->stages[s];
        const bool aliased = plan->n_places % ALIASED_POINTS == 0;
        stage->stride = plan->n_places + (aliased ? 1 : 0);
        plan->n_places = stage->stride * stage->radix;
    }
}

static void count_parts(wfi_batch_plan *plan)
{
    plan->n_early = plan->n_stages > 2 ? 2 : 1;
    plan->n_parts = 1;
    for (size_t s = 0; s < plan->n_early; s++)
        plan->n_parts *= plan->stages[s].radix;
}

/* A stage leaves bins p, p + radix, p + 2 radix, ... in its p-th part. */
static size_t place_of(const wfi_batch_plan *plan, size_t bin)
{
    size_t place = 0;
    for (size_t s = 0; s < plan->n_stages; s++) {
        place += bin % plan->stages[s].radix * plan->stages[s].stride;
        bin /= plan->stages[s].radix;
    }
    return place;
}

static void fill_roots(float *roots, size_t n)
{
    for (size_t k = 0; k < 2 * n; k++, roots += 2) {
        const double angle = -WFI_RAD_PER_TURN / 2 * (double)k / (double)n;
        roots[0] = (float)cos(angle);
        roots[1] = (float)sin(angle);
    }
}

wf_status wfi_batch_plan_create(wfi_batch_plan *plan, size_t n, wf_error *err)
{
    *plan = (wfi_batch_plan){.n = n};
    /* n of the first stage, n / 4 at most of the next, ... */
    WFI_TRY(wfi_allocate(&plan->twiddles, 4 * n, sizeof(float), what, err));
    WFI_TRY(wfi_allocate(&plan->roots, 4 * n, sizeof(float), what, err));
    WFI_TRY(wfi_allocate(&plan->place, n, sizeof(uint32_t), what, err));
    fill_stages(plan);
    fill_strides(plan);
    count_parts(plan);
    fill_roots(plan->roots, n);
    for (size_t k = 0; k < n; k++)
        plan->place[k] = (uint32_t)place_of(plan, k);
    return WF_OK;
}

void wfi_batch_plan_destroy(wfi_batch_plan *plan)
{
    wfi_free(plan->twiddles);
    wfi_free(plan->roots);
    wfi_free(plan->place);
    *plan = (wfi_batch_plan){0};
}

static wf_status create_phases(wfi_batch_phases *phases, size_t n, wf_error *err)
{
    const size_t size = n / WFI_PHASE_BLOCK * WFI_BATCH_SEGMENTS;
    WFI_TRY(wfi_allocate(&phases->block_re, size, sizeof(float), what, err));
    return wfi_allocate(&phases->block_im, size, sizeof(float), what, err);
}

wf_status wfi_batch_scratch_create(wfi_batch_scratch *scratch, const wfi_batch_plan *longest,
                                   wf_error *err)
{
    const size_t n = longest->n;
    const size_t n_words = n / WFI_BATCH_WORD_POINTS + WFI_BATCH_SEGMENTS;
    WFI_TRY(create_phases(&scratch->phases, n, err));
    WFI_TRY(wfi_allocate(&scratch->rotation.twiddles, 2 * n, sizeof(float), what, err));
    WFI_TRY(
        wfi_allocate(&scratch->words, n_words * WFI_BATCH_SEGMENTS, sizeof(uint32_t), what, err));
    for (size_t i = 0; i < 2; i++)
        WFI_TRY(wfi_allocate(&scratch->works[i], longest->n_places * 2 * WFI_BATCH_SEGMENTS,
                             sizeof(float), what, err));
    return WF_OK;
}

void wfi_batch_scratch_destroy(wfi_batch_scratch *scratch)
{
    for (size_t i = 0; i < 2; i++)
        wfi_free(scratch->works[i]);
    wfi_free(scratch->words);
    wfi_free(scratch->rotation.twiddles);
    wfi_free(scratch->phases.block_re);
    wfi_free(scratch->phases.block_im);
    *scratch = (wfi_batch_scratch){0};
}
