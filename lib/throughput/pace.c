/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How long segments take, in the long run.
 *
 * Whole integrations of many stations may take longer than anyone waits. What a stretch costs
 * beside its segments, clearing and adding its sums above all, would weigh too much in a short
 * piece of it: a short and a long piece tell the two apart.
 */
#include "throughput/pace.h"

#include <whitefringe/visibility.h>

#include "base/memory.h"
#include "base/status.h"
#include "engine/plan.h"
#include "run/parallel.h"

enum { REPEATS = 3, BLOCKS_LEAST = 4 /* of a long piece; a short one is one block */ };

/* Medians of pieces in turn. */
typedef struct pieces {
    int64_t n_short; /* segments */
    int64_t n_long;
    double short_s;
    double long_s;
} pieces;

typedef struct pace {
    const wfi_session *session;
    wf_slice slice;
    size_t n_threads;
    wf_worker **workers;           /* [n_threads] */
    wf_partial **partials;         /* [n_threads] */
    wf_partial **totals;           /* [n_threads] */
    wf_integration **integrations; /* [n_threads] */
    wfi_clock now_s;
} pace;

static wf_status execute(void *context, size_t i_item, size_t i_worker, wf_error *err)
{
    (void)i_item;
    const pace *run = context;
    return wf_plan_execute_slice(run->session->plan, run->workers[i_worker], &run->slice,
                                 run->partials[i_worker], run->totals[i_worker], err);
}

static wf_status normalise(void *context, size_t i_item, size_t i_worker, wf_error *err)
{
    (void)i_item;
    const pace *run = context;
    const wfi_session *session = run->session;
    return wf_integration_normalise(run->integrations[i_worker], session->plan,
                                    session->observation, session->model, &run->slice,
                                    run->totals[i_worker], err);
}

/* All threads at once. */
static wf_status time_work(pace *run, wfi_parallel_item work, double *seconds, wf_error *err)
{
    const double begin = run->now_s();
    WFI_TRY(wfi_parallel_for(run->n_threads, run->n_threads, work, run, err));
    *seconds = run->now_s() - begin;
    return WF_OK;
}

static wf_status time_piece(pace *run, int64_t n_segments, double *seconds, wf_error *err)
{
    run->slice.n_segments = n_segments;
    return time_work(run, execute, seconds, err);
}

static double middle(const double t[REPEATS])
{
    const double low = t[0] < t[1] ? t[0] : t[1];
    const double high = t[0] < t[1] ? t[1] : t[0];
    return t[2] < low ? low : t[2] > high ? high : t[2];
}

static wf_status time_pieces(pace *run, pieces *p, wf_error *err)
{
    double of_short[REPEATS] = {0};
    double of_long[REPEATS] = {0};
    for (int i = 0; i < REPEATS; i++) {
        WFI_TRY(time_piece(run, p->n_short, &of_short[i], err));
        WFI_TRY(time_piece(run, p->n_long, &of_long[i], err));
    }
    p->short_s = middle(of_short);
    p->long_s = middle(of_long);
    return WF_OK;
}

/* How many segments fit the time, by what a few took. */
static int64_t choose_long(const pieces *p, int64_t n_integration, double budget_s)
{
    const double fit = budget_s / (REPEATS + 1) / (p->short_s > 0 ? p->short_s : 1e-6);
    if (fit >= (double)n_integration / (double)p->n_short)
        return n_integration;
    const int64_t n_blocks = fit > BLOCKS_LEAST ? (int64_t)fit : BLOCKS_LEAST;
    return n_blocks * p->n_short < n_integration ? n_blocks * p->n_short : n_integration;
}

static double long_run_s(const pieces *p, int64_t n_stretch)
{
    if (p->n_long < n_stretch && p->long_s > p->short_s) {
        const double marginal_s = (p->long_s - p->short_s) / (double)(p->n_long - p->n_short);
        const double fixed_s = p->short_s - marginal_s * (double)p->n_short;
        if (fixed_s > 0)
            return marginal_s + fixed_s / (double)n_stretch;
    }
    return p->long_s / (double)p->n_long;
}

static wf_status measure(pace *run, int64_t n_integration, double budget_s, double *segment_s,
                         wf_error *err)
{
    const int64_t n_plan_stretch = (int64_t)run->session->plan->stretch_segments;
    const int64_t n_stretch = n_plan_stretch < n_integration ? n_plan_stretch : n_integration;
    const int64_t n_block = (int64_t)run->session->plan->block_segments;
    pieces p = {.n_short = n_integration < n_block ? n_integration : n_block};
    double normalise_s = 0;
    /* the first warms up: memory is touched then */
    WFI_TRY(time_piece(run, p.n_short, &p.short_s, err));
    WFI_TRY(time_piece(run, p.n_short, &p.short_s, err));
    p.n_long = choose_long(&p, n_integration, budget_s);
    WFI_TRY(time_pieces(run, &p, err));
    WFI_TRY(time_work(run, normalise, &normalise_s, err));
    WFI_TRY(time_work(run, normalise, &normalise_s, err));
    *segment_s =
        (long_run_s(&p, n_stretch) + normalise_s / (double)n_integration) / (double)run->n_threads;
    return WF_OK;
}

static wf_status create_workers(pace *run, wf_error *err)
{
    WFI_TRY(wfi_allocate(&run->workers, run->n_threads, sizeof *run->workers, "workers", err));
    WFI_TRY(wfi_allocate(&run->partials, run->n_threads, sizeof *run->partials, "sums", err));
    WFI_TRY(wfi_allocate(&run->totals, run->n_threads, sizeof *run->totals, "sums", err));
    WFI_TRY(wfi_allocate(&run->integrations, run->n_threads, sizeof *run->integrations,
                         "integrations", err));
    for (size_t i = 0; i < run->n_threads; i++) {
        WFI_TRY(wf_worker_create(&run->workers[i], run->session->plan, err));
        WFI_TRY(wf_partial_create(&run->partials[i], run->session->plan, err));
        WFI_TRY(wf_partial_create(&run->totals[i], run->session->plan, err));
        WFI_TRY(wf_integration_create(&run->integrations[i], run->session->plan, err));
    }
    return WF_OK;
}

static void release(pace *run)
{
    for (size_t i = 0; run->workers != NULL && i < run->n_threads; i++)
        wf_worker_destroy(run->workers[i]);
    for (size_t i = 0; run->partials != NULL && i < run->n_threads; i++)
        wf_partial_destroy(run->partials[i]);
    for (size_t i = 0; run->totals != NULL && i < run->n_threads; i++)
        wf_partial_destroy(run->totals[i]);
    for (size_t i = 0; run->integrations != NULL && i < run->n_threads; i++)
        wf_integration_destroy(run->integrations[i]);
    wfi_free(run->workers);
    wfi_free(run->partials);
    wfi_free(run->totals);
    wfi_free(run->integrations);
}

wf_status wfi_pace_measure(double *segment_s, const wfi_session *session, const wf_slice *slice,
                           size_t n_threads, double budget_s, wfi_clock now_s, wf_error *err)
{
    pace run = {.session = session, .slice = *slice, .n_threads = n_threads, .now_s = now_s};
    wf_status status = create_workers(&run, err);
    if (status == WF_OK)
        status = measure(&run, slice->n_segments, budget_s, segment_s, err);
    release(&run);
    return status;
}
