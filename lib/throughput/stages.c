/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Where one thread's time goes. */
#include "throughput/stages.h"

#include <math.h>
#include <whitefringe/visibility.h>

#include "base/status.h"
#include "engine/plan.h"
#include "throughput/kernel_cases.h"
#include "throughput/limits.h"

enum { REPEATS = 9, LOADS = 4, LOAD_SEGMENTS = 64, INTEGRATED_SEGMENTS = 16 };

typedef struct stages {
    const wfi_session *session;
    const wf_slice *slice;
    wfi_scene_setup setup; /* its rotation as planned */
    wfi_clock now_s;
    double segment_s[WF_N_STAGES];
} stages;

static double least(double best, double t)
{
    return best == 0 || t < best ? t : best;
}

/* amount_of_a_segment: of all streams, in the kernel's units. */
static wf_status time_kernel(stages *run, wf_throughput_stage stage, wfi_kernel_kind kind,
                             double amount_of_a_segment, wf_error *err)
{
    wfi_kernel_case *made = NULL;
    double best_s = 0;
    WFI_TRY(wfi_kernel_case_create(&made, kind, &run->setup, err));
    for (int i = 0; i < REPEATS; i++) {
        const double begin = run->now_s();
        wfi_kernel_case_run(made);
        best_s = least(best_s, run->now_s() - begin);
    }
    run->segment_s[stage] = best_s / wfi_kernel_case_amount(made) * amount_of_a_segment;
    wfi_kernel_case_destroy(made);
    return WF_OK;
}

/* Batches have stages of their own, where all of the plan goes in them. */
static bool all_in_batches(const wf_plan *plan)
{
    for (size_t b = 0; b < plan->bundles.n_bundles; b++) {
        if (!plan->channelizers[b].batches)
            return false;
    }
    return true;
}

static wf_status time_channelizer(stages *run, double n_samples, double n_channels, wf_error *err)
{
    if (all_in_batches(run->session->plan)) {
        WFI_TRY(time_kernel(run, WF_STAGE_EARLY, WFI_KERNEL_EARLY, n_samples, err));
        return time_kernel(run, WF_STAGE_LATE, WFI_KERNEL_LATE, n_channels, err);
    }
    WFI_TRY(time_kernel(run, WF_STAGE_UNPACK, WFI_KERNEL_UNPACK, n_samples, err));
    WFI_TRY(time_kernel(run, WF_STAGE_TRANSFORM, WFI_KERNEL_TRANSFORM, n_samples, err));
    return time_kernel(run, WF_STAGE_PHASE, WFI_KERNEL_PHASE, n_channels, err);
}

static wf_status time_kernels(stages *run, wf_error *err)
{
    const double n_streams = (double)wfi_scene_n_streams(&run->setup);
    WFI_TRY(time_channelizer(run, n_streams * (double)wfi_scene_n_fft(&run->setup),
                             n_streams * (double)run->setup.n_channels, err));
    return time_kernel(run, WF_STAGE_CROSS, WFI_KERNEL_CROSS,
                       WFI_FLOPS_OF_A_PRODUCT * wfi_scene_products(&run->setup), err);
}

/* Seconds for a segment's samples of one recording, loads of many segments in turn. */
static wf_status time_recording(const stages *run, const wf_recording *recording, double *segment_s,
                                wf_error *err)
{
    const wf_recording_info *info = wf_recording_describe(recording);
    const double width_hz = wf_channel_width_hz(run->session->observation);
    const int64_t n = (int64_t)((double)info->sample_rate_hz / width_hz) * LOAD_SEGMENTS;
    const int64_t first = (int64_t)(wf_instant_difference_s(run->slice->start, info->origin) *
                                    (double)info->sample_rate_hz);
    wf_window *window = NULL;
    double best_s = 0;
    wf_status status = wf_window_create(&window, recording, n, err);
    for (int i = 0; i < REPEATS && status == WF_OK; i++) {
        const double begin = run->now_s();
        for (int k = 0; k < LOADS && status == WF_OK; k++)
            status = wf_window_load(window, first + k * n, n, err);
        best_s = least(best_s, run->now_s() - begin);
    }
    wf_window_destroy(window);
    *segment_s = best_s / LOADS / LOAD_SEGMENTS;
    return status;
}

static wf_status time_reading(stages *run, wf_error *err)
{
    const wf_observation *observation = run->session->observation;
    for (size_t r = 0; r < observation->n_recordings; r++) {
        double t = 0;
        if (run->slice->tracks[observation->recordings[r].i_station] != NULL)
            WFI_TRY(time_recording(run, run->session->recordings[r], &t, err));
        run->segment_s[WF_STAGE_READ] += t;
    }
    return WF_OK;
}

static wf_status time_normalising(stages *run, wf_worker *worker, wf_partial *partial,
                                  wf_integration *integration, wf_error *err)
{
    const wfi_session *session = run->session;
    wf_slice slice = *run->slice;
    slice.n_segments =
        slice.n_segments < INTEGRATED_SEGMENTS ? slice.n_segments : INTEGRATED_SEGMENTS;
    double best_s = 0;
    WFI_TRY(wf_plan_execute(session->plan, worker, &slice, 0, partial, err));
    for (int i = 0; i < REPEATS; i++) {
        const double begin = run->now_s();
        WFI_TRY(wf_integration_normalise(integration, session->plan, session->observation,
                                         session->model, &slice, partial, err));
        best_s = least(best_s, run->now_s() - begin);
    }
    run->segment_s[WF_STAGE_INTEGRATE] = best_s / (double)run->slice->n_segments;
    return WF_OK;
}

static wf_status time_integration(stages *run, wf_error *err)
{
    const wf_plan *plan = run->session->plan;
    wf_worker *worker = NULL;
    wf_partial *partial = NULL;
    wf_integration *integration = NULL;
    wf_status status = wf_worker_create(&worker, plan, err);
    if (status == WF_OK)
        status = wf_partial_create(&partial, plan, err);
    if (status == WF_OK)
        status = wf_integration_create(&integration, plan, err);
    if (status == WF_OK)
        status = time_normalising(run, worker, partial, integration, err);
    wf_integration_destroy(integration);
    wf_partial_destroy(partial);
    wf_worker_destroy(worker);
    return status;
}

wf_status wfi_stages_measure(double share[WF_N_STAGES], const wfi_session *session,
                             const wf_slice *slice, const wfi_scene_setup *setup, double segment_s,
                             wfi_clock now_s, wf_error *err)
{
    stages run = {.session = session, .slice = slice, .setup = *setup, .now_s = now_s};
    run.setup.rotation = session->plan->rotated[0] ? WF_ROTATION_BEFORE_FFT : WF_ROTATION_AFTER_FFT;
    double sum_s = 0;
    WFI_TRY(time_reading(&run, err));
    WFI_TRY(time_kernels(&run, err));
    WFI_TRY(time_integration(&run, err));
    for (int i = 0; i < WF_STAGE_OTHER; i++)
        sum_s += run.segment_s[i];
    const double whole_s = fmax(segment_s, sum_s);
    run.segment_s[WF_STAGE_OTHER] = whole_s - sum_s;
    for (int i = 0; i < WF_N_STAGES; i++)
        share[i] = whole_s > 0 ? run.segment_s[i] / whole_s : 0;
    return WF_OK;
}
