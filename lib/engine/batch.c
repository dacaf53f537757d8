/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Plans of batches: stages of a transform by decimation in frequency, in place. */
#include "engine/batch.h"

#include <math.h>

#include "base/memory.h"
#include "base/status.h"
#include "base/turns.h"

bool wfi_batch_serves(size_t n, bool rotated)
{
    const size_t least = (size_t)WFI_BATCH_POINTS_MIN * (rotated ? 2 : 1);
    return n >= least && n <= WFI_BATCH_POINTS_MAX && (n & (n - 1)) == 0;
}

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
        plan->stages[plan->n_stages++] = (wfi_batch_stage){radix, step, twiddle};
        twiddle += 2 * step * (radix - 1);
        n = step;
    }
}

/* A stage leaves bins p, p + radix, p + 2 radix, ... in its p-th part. */
static size_t place_of(const wfi_batch_plan *plan, size_t bin)
{
    size_t place = 0;
    for (size_t s = 0; s < plan->n_stages; s++) {
        place += bin % plan->stages[s].radix * plan->stages[s].step;
        bin /= plan->stages[s].radix;
    }
    return place;
}

wf_status wfi_batch_plan_create(wfi_batch_plan *plan, size_t n, wf_error *err)
{
    *plan = (wfi_batch_plan){.n = n};
    /* n of the first stage, n / 4 at most of the next, ... */
    WFI_TRY(wfi_allocate(&plan->twiddles, 4 * n, sizeof(float), "transforms", err));
    WFI_TRY(wfi_allocate(&plan->place, n + 1, sizeof(uint32_t), "transforms", err));
    fill_stages(plan);
    for (size_t k = 0; k <= n; k++)
        plan->place[k] = (uint32_t)place_of(plan, k % n);
    return WF_OK;
}

void wfi_batch_plan_destroy(wfi_batch_plan *plan)
{
    wfi_free(plan->twiddles);
    wfi_free(plan->place);
    *plan = (wfi_batch_plan){0};
}

static wf_status create_phases(wfi_batch_phases *phases, size_t n, wf_error *err)
{
    const size_t size = n / WFI_PHASE_BLOCK * WFI_BATCH_LANES_MAX;
    WFI_TRY(wfi_allocate(&phases->block_re, size, sizeof(float), "batches", err));
    return wfi_allocate(&phases->block_im, size, sizeof(float), "batches", err);
}

wf_status wfi_batch_scratch_create(wfi_batch_scratch *scratch, size_t n, size_t n_streams,
                                   wf_error *err)
{
    const size_t size = n * 2 * WFI_BATCH_LANES_MAX;
    scratch->n_streams = n_streams;
    WFI_TRY(create_phases(&scratch->rotation, n, err));
    WFI_TRY(create_phases(&scratch->phases, n, err));
    WFI_TRY(wfi_allocate(&scratch->works, n_streams, sizeof(float *), "batches", err));
    for (size_t i = 0; i < n_streams; i++)
        WFI_TRY(wfi_allocate(&scratch->works[i], size, sizeof(float), "batches", err));
    return WF_OK;
}

static void destroy_phases(wfi_batch_phases *phases)
{
    wfi_free(phases->block_re);
    wfi_free(phases->block_im);
}

void wfi_batch_scratch_destroy(wfi_batch_scratch *scratch)
{
    for (size_t i = 0; scratch->works != NULL && i < scratch->n_streams; i++)
        wfi_free(scratch->works[i]);
    wfi_free(scratch->works);
    destroy_phases(&scratch->rotation);
    destroy_phases(&scratch->phases);
    *scratch = (wfi_batch_scratch){0};
}
