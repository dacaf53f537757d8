/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A whole job: slices over threads, visibilities to a file in the order of time. */
#include <whitefringe/run.h>

#include <fftw3.h>
#include <math.h>
#include <stdio.h>
#include <string.h>
#include <whitefringe/version.h>
#include <whitefringe/visibility.h>

#include "base/memory.h"
#include "base/status.h"
#include "run/calibration.h"
#include "run/exclusions.h"
#include "run/monitor.h"
#include "run/losses.h"
#include "run/parallel.h"
#include "run/session.h"
#include "run/slices.h"

enum { HISTORY_LINES_MAX = 32 };

typedef struct correlation {
    wfi_session session;
    wfi_tasks tasks;
    const wf_correlate_options *options;
    size_t n_threads;
    wf_integration *integration;
    wfi_monitor monitor;
    wfi_monitor_worker **watchers; /* [n_threads] */
    wfi_monitor_result *watched;   /* [n_places] of slices, with their first stretches */
    size_t n_places;
    wfi_monitor_result watched_slice; /* of the slice whose stretches are being added */
    wfi_sampler_counts *counts;       /* [n_streams][2] */
    wfi_flags flags;
    wf_fits_idi_writer *writer;
    wf_correlate_summary *summary;
    double *asked_samples;  /* [n_streams] */
    double *valid_samples;  /* [n_streams] */
    double *power_sum;      /* [n_streams] over valid samples */
    double *efficiency_sum; /* [n_streams] over valid samples */
} correlation;

static wf_status create_sums(correlation *run, wf_error *err)
{
    const wf_plan *plan = run->session.plan;
    const size_t n_streams = wf_plan_shape(plan)->n_streams;
    WFI_TRY(wf_integration_create(&run->integration, plan, err));
    WFI_TRY(wfi_allocate(&run->watchers, run->n_threads, sizeof *run->watchers, "workers", err));
    run->n_places = wfi_slices_places(plan, run->n_threads);
    WFI_TRY(wfi_allocate(&run->watched, run->n_places, sizeof *run->watched, "workers", err));
    WFI_TRY(wfi_monitor_result_create(&run->watched_slice, &run->monitor, err));
    WFI_TRY(wfi_allocate(&run->counts, 2 * n_streams, sizeof *run->counts, "states", err));
    WFI_TRY(wfi_allocate(&run->asked_samples, n_streams, sizeof(double), "counts", err));
    WFI_TRY(wfi_allocate(&run->valid_samples, n_streams, sizeof(double), "counts", err));
    WFI_TRY(wfi_allocate(&run->power_sum, n_streams, sizeof(double), "counts", err));
    return wfi_allocate(&run->efficiency_sum, n_streams, sizeof(double), "counts", err);
}

static void collect_bits(const wf_observation *observation, wf_recording *const *recordings,
                         unsigned *bits)
{
    for (size_t r = 0; r < observation->n_recordings; r++) {
        const wf_recording_info *info = wf_recording_describe(recordings[r]);
        unsigned *of_station = &bits[observation->recordings[r].i_station];
        for (size_t t = 0; t < info->n_threads; t++) {
            const unsigned found = info->threads[t].format.bits;
            *of_station = found > *of_station ? found : *of_station;
        }
    }
}

static size_t write_history(char *text, size_t capacity, const char *plan,
                            const char *lines[HISTORY_LINES_MAX])
{
    snprintf(text, capacity, "whitefringe %s, transforms by %s\n%s", WF_VERSION, fftwf_version,
             plan);
    size_t n = 0;
    for (char *line = text; *line != '\0' && n < HISTORY_LINES_MAX;) {
        char *end = strchr(line, '\n');
        lines[n++] = line;
        if (end == NULL)
            break;
        *end = '\0';
        line = end + 1;
    }
    return n;
}

static wf_status create_writer(correlation *run, const char *path, wf_error *err)
{
    const wf_observation *observation = run->session.observation;
    char text[sizeof run->summary->plan + 256];
    const char *lines[HISTORY_LINES_MAX] = {NULL};
    unsigned *bits = NULL;
    WFI_TRY(wfi_allocate(&bits, observation->n_stations, sizeof *bits, "sample widths", err));
    collect_bits(observation, run->session.recordings, bits);
    const wf_fits_idi_options options = {
        .tracks = (const wf_track *const *)run->session.tracks,
        .bits = bits,
        .history = lines,
        .n_tones = run->monitor.n_band_tones,
        .n_history = write_history(text, sizeof text, run->summary->plan, lines),
    };
    const wf_status status =
        wf_fits_idi_create(&run->writer, path, observation, run->session.model, &options, err);
    wfi_free(bits);
    return status;
}

static wf_status watch_slice(void *context, const wf_slice *slice, size_t i_worker, size_t i_place,
                             wf_error *err)
{
    correlation *run = context;
    wfi_monitor_result *out = &run->watched[i_place];
    if (run->watchers[i_worker] == NULL)
        WFI_TRY(wfi_monitor_worker_create(&run->watchers[i_worker], &run->monitor, err));
    if (out->counts == NULL)
        WFI_TRY(wfi_monitor_result_create(out, &run->monitor, err));
    WFI_TRY(wfi_monitor_slice(run->watchers[i_worker], slice, out, err));
    wfi_calibration_fit(&run->monitor, out);
    return WF_OK;
}

static void take_watched(void *context, size_t i_place)
{
    correlation *run = context;
    const wfi_monitor_result last = run->watched_slice;
    run->watched_slice = run->watched[i_place];
    run->watched[i_place] = last;
}

static void count_streams(correlation *run, const wf_slice *slice, const wf_partial *sums)
{
    const wf_observation *observation = run->session.observation;
    const wf_integration *integration = run->integration;
    size_t k = 0;
    for (size_t r = 0; r < observation->n_recordings; r++) {
        const wf_recording_entry *entry = &observation->recordings[r];
        const wf_recording_info *info = wf_recording_describe(run->session.recordings[r]);
        for (size_t i = 0; i < entry->n_streams; i++, k++) {
            const double n = sums->valid_samples[k];
            if (slice->tracks[entry->i_station] != NULL)
                run->asked_samples[k] += rint(integration->length_s * (double)info->sample_rate_hz);
            run->valid_samples[k] += n;
            run->power_sum[k] += n * integration->power[k];
            run->efficiency_sum[k] += n * integration->efficiency[k];
        }
    }
}

/* Rows that the writer keeps: baselines with anything valid. */
static int64_t count_rows(const wf_integration *integration, const wf_shape *shape)
{
    const size_t n = shape->n_bands * shape->n_products;
    int64_t n_rows = 0;
    for (size_t b = 0; b < shape->n_baselines; b++) {
        bool any = false;
        for (size_t k = 0; k < n && !any; k++)
            any = integration->weight[b * n + k] > 0.0f;
        n_rows += any;
    }
    return n_rows;
}

static wf_status report_progress(correlation *run, wf_error *err)
{
    const wf_progress progress = {
        .n_done = run->summary->n_integrations,
        .n_total = run->tasks.n_slices,
        .unit = "integrations",
        .data_seconds_done = run->summary->data_s,
    };
    if (run->options->progress != NULL && run->options->progress(run->options->context, &progress))
        return wfi_fail(err, WF_CANCELLED, "stopped on request; no output was written");
    return WF_OK;
}

static wf_status write_watched(correlation *run, const wf_slice *slice, wf_error *err)
{
    const wfi_monitor *monitor = &run->monitor;
    const wfi_monitor_result *watched = &run->watched_slice;
    WFI_TRY(wfi_calibration_write(monitor, slice, watched, run->integration, run->writer,
                                  &run->summary->n_tone_rows, err));
    WFI_TRY(wfi_flags_add(&run->flags, monitor, slice, watched, run->writer, err));
    for (size_t k = 0; k < 2 * monitor->n_streams; k++)
        wfi_sampler_add(&run->counts[k], &watched->counts[k]);
    return WF_OK;
}

static wf_status write_slice(void *context, const wf_slice *slice, const wf_partial *sums,
                             wf_error *err)
{
    correlation *run = context;
    const wf_plan *plan = run->session.plan;
    WFI_TRY(wf_integration_normalise(run->integration, plan, run->session.observation,
                                     run->session.model, slice, sums, err));
    run->summary->n_uncalibrated +=
        (int64_t)wfi_calibration_apply(&run->monitor, slice, &run->watched_slice, run->integration);
    WFI_TRY(wf_fits_idi_append(run->writer, run->integration, err));
    WFI_TRY(write_watched(run, slice, err));
    count_streams(run, slice, sums);
    run->summary->data_s += run->integration->length_s;
    run->summary->n_integrations++;
    run->summary->n_rows += count_rows(run->integration, wf_plan_shape(plan));
    return report_progress(run, err);
}

static wf_status summarise_streams(correlation *run, wf_error *err)
{
    const wf_observation *observation = run->session.observation;
    wf_correlate_summary *summary = run->summary;
    const size_t n_streams = wf_plan_shape(run->session.plan)->n_streams;
    WFI_TRY(
        wfi_allocate(&summary->streams, n_streams, sizeof *summary->streams, "the summary", err));
    summary->n_streams = n_streams;
    size_t k = 0;
    for (size_t r = 0; r < observation->n_recordings; r++) {
        for (size_t i = 0; i < observation->recordings[r].n_streams; i++, k++) {
            const double n = run->valid_samples[k];
            summary->streams[k] = (wf_stream_summary){
                .i_station = observation->recordings[r].i_station,
                .i_recording = r,
                .i_stream = i,
                .valid_fraction = run->asked_samples[k] > 0 ? n / run->asked_samples[k] : 0.0,
                .mean_power = n > 0 ? run->power_sum[k] / n : 0.0,
                .quantisation_efficiency = n > 0 ? run->efficiency_sum[k] / n : 0.0,
                .is_complex = run->monitor.streams[k].decoder.n_parts == 2,
            };
            for (size_t p = 0; p < run->monitor.streams[k].decoder.n_parts; p++)
                wfi_sampler_judge(&summary->streams[k].component[p],
                                  &run->monitor.streams[k].decoder, &run->counts[2 * k + p]);
        }
    }
    return WF_OK;
}

/* A file in which nothing was heard would look like a result. Silence is something: it was heard.
 */
static wf_status check_something_was_valid(const correlation *run, wf_error *err)
{
    const size_t n_streams = wf_plan_shape(run->session.plan)->n_streams;
    for (size_t k = 0; k < n_streams; k++) {
        if (run->valid_samples[k] > 0)
            return WF_OK;
    }
    const wf_observation *observation = run->session.observation;
    size_t s = 0;
    while (!run->session.scan_wanted[s])
        s++;
    char start[WF_INSTANT_TEXT_BYTES];
    wf_instant_format(start, observation->scans[s].start, 3);
    return wfi_fail(err, WF_RANGE,
                    "no sample of any recording is valid in the scans of the job (the first, %s, "
                    "starts at %s); compare the scans' start, the stations' clocks and the "
                    "recordings' times",
                    observation->scans[s].name, start);
}

static wf_status run_all(correlation *run, const wf_observation *observation, const char *path,
                         wf_error *err)
{
    const wf_correlate_options *options = run->options;
    const wf_plan_options plan_options = {.kernels = options->kernels};
    run->session.keep_going = options->keep_going;
    run->session.n_threads = run->n_threads;
    WFI_TRY(wfi_session_open(&run->session, observation, options->scan_name, &plan_options,
                             options->warn, options->context, err));
    wf_plan_describe(run->session.plan, run->summary->plan, sizeof run->summary->plan);
    run->summary->rotation_loss = wf_plan_rotation_loss(run->session.plan);
    WFI_TRY(wfi_tasks_create(&run->tasks, &run->session, err));
    WFI_TRY(wfi_monitor_create(&run->monitor, observation, run->session.plan,
                               run->session.recordings, err));
    WFI_TRY(create_sums(run, err));
    WFI_TRY(create_writer(run, path, err));
    const wfi_slices_sink sink = {
        .watch = watch_slice, .take = take_watched, .finish = write_slice, .context = run};
    WFI_TRY(wfi_slices_run(&run->tasks, run->n_threads, &sink, err));
    WFI_TRY(check_something_was_valid(run, err));
    WFI_TRY(wfi_exclusions_flag(&run->session, run->writer, err));
    WFI_TRY(wfi_flags_finish(&run->flags, run->writer, err));
    run->summary->n_flagged = run->flags.n_flagged;
    WFI_TRY(summarise_streams(run, err));
    WFI_TRY(wfi_summarise_losses(&run->session, run->asked_samples, run->summary, err));
    return wf_fits_idi_finish(run->writer, err);
}

static void release(correlation *run)
{
    wf_fits_idi_destroy(run->writer);
    for (size_t i = 0; run->watchers != NULL && i < run->n_threads; i++)
        wfi_monitor_worker_destroy(run->watchers[i]);
    for (size_t i = 0; run->watched != NULL && i < run->n_places; i++)
        wfi_monitor_result_release(&run->watched[i]);
    wfi_monitor_result_release(&run->watched_slice);
    wf_integration_destroy(run->integration);
    wfi_tasks_destroy(&run->tasks);
    wfi_free(run->watchers);
    wfi_free(run->watched);
    wfi_free(run->counts);
    wfi_flags_release(&run->flags);
    wfi_monitor_release(&run->monitor);
    wfi_free(run->asked_samples);
    wfi_free(run->valid_samples);
    wfi_free(run->power_sum);
    wfi_free(run->efficiency_sum);
    wfi_session_close(&run->session);
}

wf_status wf_correlate(const wf_observation *observation, const char *output_path,
                       const wf_correlate_options *options, wf_correlate_summary *summary,
                       wf_error *err)
{
    const size_t n_threads =
        options->n_threads > 0 ? (size_t)options->n_threads : wfi_parallel_cores();
    *summary = (wf_correlate_summary){.n_threads = (int)n_threads};
    correlation run = {
        .options = options,
        .n_threads = n_threads,
        .summary = summary,
    };
    const wf_status status = run_all(&run, observation, output_path, err);
    release(&run);
    if (status != WF_OK)
        wf_correlate_summary_release(summary);
    return status;
}

void wf_correlate_summary_release(wf_correlate_summary *summary)
{
    wfi_free(summary->streams);
    wfi_free(summary->recordings);
    summary->streams = NULL;
    summary->n_streams = 0;
    summary->recordings = NULL;
    summary->n_recordings = 0;
}
