/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A whole job: slices over threads, visibilities to a file in time order.
 *
 * A slice is one integration of one scan and is worked by one thread from its first block to its
 * last; threads only decide who takes which slice, so the file's bytes cannot depend on them.
 */
#include <whitefringe/run.h>

#include <fftw3.h>
#include <math.h>
#include <stdio.h>
#include <string.h>
#include <whitefringe/version.h>
#include <whitefringe/visibility.h>

#include "base/memory.h"
#include "base/status.h"
#include "run/parallel.h"
#include "run/session.h"

/* Slices that one thread has in hand between two writes. */
enum { SLICES_PER_THREAD = 4, HISTORY_LINES_MAX = 32 };

/** What one slice left behind. */
typedef struct result {
    wf_slice slice;
    wf_integration *integration;
    double *valid_samples; /* [n_streams] */
} result;

typedef struct correlation {
    wfi_session session;
    const wf_correlate_options *options;
    size_t n_threads;
    wf_worker **workers;   /* [n_threads] */
    wf_partial **partials; /* [n_threads] */
    result *results;       /* [n_results] */
    size_t n_results;
    size_t n_pending;
    wf_fits_idi_writer *writer;
    wf_correlate_summary *summary;
    double *asked_samples;  /* [n_streams] */
    double *valid_samples;  /* [n_streams] */
    double *power_sum;      /* [n_streams] over valid samples */
    double *efficiency_sum; /* [n_streams] over valid samples */
    int64_t n_total;
} correlation;

static int64_t segments_of_integration(const wf_observation *observation)
{
    return (int64_t)llround(observation->correlation.integration_s *
                            wf_channel_width_hz(observation));
}

/* Whole segments of a scan; the tolerance is for a duration that is one but for rounding. */
static int64_t segments_of_scan(const wf_observation *observation, const wf_scan *scan)
{
    return (int64_t)floor(scan->duration_s * wf_channel_width_hz(observation) + 1e-6);
}

static int64_t integrations_of_scan(const wf_observation *observation, const wf_scan *scan)
{
    const int64_t per_integration = segments_of_integration(observation);
    return (segments_of_scan(observation, scan) + per_integration - 1) / per_integration;
}

static int64_t count_integrations(const wfi_session *session)
{
    int64_t n = 0;
    for (size_t s = 0; s < session->observation->n_scans; s++) {
        if (session->scan_wanted[s])
            n += integrations_of_scan(session->observation, &session->observation->scans[s]);
    }
    return n;
}

static wf_status create_workers(correlation *run, wf_error *err)
{
    const wf_plan *plan = run->session.plan;
    const size_t n_streams = wf_plan_shape(plan)->n_streams;
    WFI_TRY(wfi_allocate(&run->workers, run->n_threads, sizeof *run->workers, "workers", err));
    WFI_TRY(wfi_allocate(&run->partials, run->n_threads, sizeof *run->partials, "sums", err));
    for (size_t i = 0; i < run->n_threads; i++) {
        WFI_TRY(wf_worker_create(&run->workers[i], plan, err));
        WFI_TRY(wf_partial_create(&run->partials[i], plan, err));
    }
    WFI_TRY(wfi_allocate(&run->results, run->n_results, sizeof *run->results, "results", err));
    for (size_t i = 0; i < run->n_results; i++) {
        WFI_TRY(wf_integration_create(&run->results[i].integration, plan, err));
        WFI_TRY(wfi_allocate(&run->results[i].valid_samples, n_streams, sizeof(double),
                             "sample counts", err));
    }
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
    snprintf(text, capacity, "whitefringe %s, transforms by %s (estimated plans)\n%s", WF_VERSION,
             fftwf_version, plan);
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
        .n_history = write_history(text, sizeof text, run->summary->plan, lines),
    };
    const wf_status status =
        wf_fits_idi_create(&run->writer, path, observation, run->session.model, &options, err);
    wfi_free(bits);
    return status;
}

static wf_status correlate_slice(void *context, size_t i_item, size_t i_worker, wf_error *err)
{
    correlation *run = context;
    result *made = &run->results[i_item];
    wf_partial *partial = run->partials[i_worker];
    const wf_plan *plan = run->session.plan;
    WFI_TRY(wf_plan_execute(plan, run->workers[i_worker], &made->slice, partial, err));
    memcpy(made->valid_samples, partial->valid_samples,
           wf_plan_shape(plan)->n_streams * sizeof(double));
    return wf_integration_normalise(made->integration, plan, run->session.observation,
                                    run->session.model, &made->slice, partial, err);
}

static void count_streams(correlation *run, const result *of)
{
    const wf_observation *observation = run->session.observation;
    const wf_integration *integration = of->integration;
    size_t k = 0;
    for (size_t r = 0; r < observation->n_recordings; r++) {
        const wf_recording_entry *entry = &observation->recordings[r];
        const wf_recording_info *info = wf_recording_describe(run->session.recordings[r]);
        for (size_t i = 0; i < entry->n_streams; i++, k++) {
            const double n = of->valid_samples[k];
            if (of->slice.tracks[entry->i_station] != NULL)
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
        .n_total = run->n_total,
        .unit = "integrations",
        .data_seconds_done = run->summary->data_s,
    };
    if (run->options->progress != NULL && run->options->progress(run->options->context, &progress))
        return wfi_fail(err, WF_CANCELLED, "stopped on request; no output was written");
    return WF_OK;
}

static wf_status flush(correlation *run, wf_error *err)
{
    WFI_TRY(wfi_parallel_for(run->n_pending, run->n_threads, correlate_slice, run, err));
    for (size_t i = 0; i < run->n_pending; i++) {
        WFI_TRY(wf_fits_idi_append(run->writer, run->results[i].integration, err));
        count_streams(run, &run->results[i]);
        run->summary->data_s += run->results[i].integration->length_s;
        run->summary->n_integrations++;
        run->summary->n_rows +=
            count_rows(run->results[i].integration, wf_plan_shape(run->session.plan));
    }
    run->n_pending = 0;
    return report_progress(run, err);
}

static wf_status correlate_scan(correlation *run, size_t i_scan, wf_error *err)
{
    const wf_observation *observation = run->session.observation;
    const wf_scan *scan = &observation->scans[i_scan];
    const int64_t n_segments = segments_of_scan(observation, scan);
    const int64_t per_integration = segments_of_integration(observation);
    for (int64_t k = 0; k * per_integration < n_segments; k++) {
        const int64_t left = n_segments - k * per_integration;
        run->results[run->n_pending++].slice = (wf_slice){
            .i_scan = i_scan,
            .start =
                wf_instant_add(scan->start, (double)k * observation->correlation.integration_s),
            .n_segments = left < per_integration ? left : per_integration,
            .tracks =
                (const wf_track *const *)run->session.tracks + i_scan * observation->n_stations,
        };
        if (run->n_pending == run->n_results)
            WFI_TRY(flush(run, err));
    }
    return WF_OK;
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
            };
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
    WFI_TRY(wfi_session_open(&run->session, observation, options->scan_name, options->warn,
                             options->context, err));
    wf_plan_describe(run->session.plan, run->summary->plan, sizeof run->summary->plan);
    run->summary->rotation_loss = wf_plan_rotation_loss(run->session.plan);
    run->n_total = count_integrations(&run->session);
    WFI_TRY(create_workers(run, err));
    WFI_TRY(create_writer(run, path, err));
    for (size_t s = 0; s < observation->n_scans; s++) {
        if (run->session.scan_wanted[s])
            WFI_TRY(correlate_scan(run, s, err));
    }
    WFI_TRY(flush(run, err));
    WFI_TRY(check_something_was_valid(run, err));
    WFI_TRY(summarise_streams(run, err));
    return wf_fits_idi_finish(run->writer, err);
}

static void release(correlation *run)
{
    wf_fits_idi_destroy(run->writer);
    for (size_t i = 0; run->workers != NULL && i < run->n_threads; i++)
        wf_worker_destroy(run->workers[i]);
    for (size_t i = 0; run->partials != NULL && i < run->n_threads; i++)
        wf_partial_destroy(run->partials[i]);
    for (size_t i = 0; run->results != NULL && i < run->n_results; i++) {
        wf_integration_destroy(run->results[i].integration);
        wfi_free(run->results[i].valid_samples);
    }
    wfi_free(run->workers);
    wfi_free(run->partials);
    wfi_free(run->results);
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
        .n_results = SLICES_PER_THREAD * n_threads,
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
    summary->streams = NULL;
    summary->n_streams = 0;
}
