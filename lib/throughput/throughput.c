/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How fast a machine correlates, against its own limits. */
#include <whitefringe/throughput.h>

#include <math.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "base/status.h"
#include "engine/kernels.h"
#include "run/parallel.h"
#include "throughput/disk.h"
#include "throughput/limits.h"
#include "throughput/pace.h"
#include "throughput/stages.h"

static const size_t ROW_STATIONS[WF_THROUGHPUT_ROWS] = {2, 4, 8, 16, 32, 64};
static const size_t SAMPLE_MEMORY_BYTES = (size_t)64 << 20;
/* How the time is divided: the set-up on all threads, on one, each row; the disks of a job. */
static const double OWN_SHARE = 0.2;
static const double ROWS_SHARE = 0.4;
static const double DISK_SHARE = 0.2;
/* What may be taken of the machine's memory for a row, and what a visibility takes of it in a
 * worker: sums of a stretch and of all, and the integration made of them. */
static const double MEMORY_SHARE = 0.4;
static const double VISIBILITY_BYTES = 48;

typedef struct measurement {
    wf_throughput *out;
    const wf_throughput_options *options;
    size_t n_threads;
    wfi_scene_setup scene; /* of the set-up */
    wfi_limits limits;
} measurement;

const char *wf_throughput_stage_name(wf_throughput_stage stage)
{
    static const char *const names[] = {
        [WF_STAGE_READ] = "read",
        [WF_STAGE_UNPACK] = "unpack",
        [WF_STAGE_TRANSFORM] = "transform",
        [WF_STAGE_PHASE] = "phase",
        [WF_STAGE_EARLY] = "unpack, early FFT",
        [WF_STAGE_LATE] = "late FFT, phase",
        [WF_STAGE_CROSS] = "cross-multiply",
        [WF_STAGE_INTEGRATE] = "normalise",
        [WF_STAGE_OTHER] = "other",
    };
    const size_t i = (size_t)stage;
    return i < sizeof names / sizeof names[0] ? names[i] : "?";
}

wf_throughput_setup wf_throughput_setup_default(void)
{
    return (wf_throughput_setup){
        .n_stations = 2,
        .n_polarizations = 2,
        .n_bands = 1,
        .n_channels = 1024,
        .n_products = 4,
        .sample_rate_hz = 32000000,
        .bits = 2,
        .edge_hz = 8400e6,
        .integration_s = 1.0,
        .rotation = WF_ROTATION_PLANNED,
    };
}

static bool bits_are_known(unsigned bits)
{
    return bits == 1 || bits == 2 || bits == 4 || bits == 8 || bits == 16;
}

static wf_status check_setup(const wf_throughput_setup *setup, wf_error *err)
{
    enum { STATIONS_MAX = 1024, BANDS_MAX = 256, CHANNELS_MAX = 1 << 20 };
    if (setup->n_stations < 1 || setup->n_stations > STATIONS_MAX)
        return wfi_fail(err, WF_ARGUMENT, "%zu stations: 1 to %d can be measured",
                        setup->n_stations, STATIONS_MAX);
    if (setup->n_channels < 1 || setup->n_channels > CHANNELS_MAX)
        return wfi_fail(err, WF_ARGUMENT, "%zu channels: 1 to %d can be measured",
                        setup->n_channels, CHANNELS_MAX);
    if (setup->n_bands < 1 || setup->n_bands > BANDS_MAX)
        return wfi_fail(err, WF_ARGUMENT, "%zu bands: 1 to %d can be measured", setup->n_bands,
                        BANDS_MAX);
    if (!bits_are_known(setup->bits))
        return wfi_fail(err, WF_ARGUMENT, "%u bits a sample: 1, 2, 4, 8 or 16 can be measured",
                        setup->bits);
    const bool products_fit =
        setup->n_polarizations == 1 ? setup->n_products == 1
        : setup->n_polarizations == 2
            ? setup->n_products == 1 || setup->n_products == 2 || setup->n_products == 4
            : false;
    if (!products_fit)
        return wfi_fail(err, WF_ARGUMENT, "%zu polarizations and %zu products do not go together",
                        setup->n_polarizations, setup->n_products);
    if (setup->sample_rate_hz < 1 || !(setup->integration_s > 0) || !(setup->edge_hz > 0))
        return wfi_fail(err, WF_ARGUMENT, "rate, integration and edge must be positive");
    return WF_OK;
}

static wfi_scene_setup scene_of(const wf_throughput_setup *setup)
{
    wfi_scene_setup scene = {
        .n_stations = setup->n_stations,
        .n_polarizations = setup->n_polarizations,
        .n_bands = setup->n_bands,
        .n_channels = setup->n_channels,
        .n_products = setup->n_products,
        .sample_rate_hz = setup->sample_rate_hz,
        .bits = setup->bits,
        .is_complex = setup->is_complex,
        .edge_hz = setup->edge_hz,
        .rotation = setup->rotation,
        .memory_bytes = SAMPLE_MEMORY_BYTES,
    };
    const double width_hz = (double)setup->sample_rate_hz / (double)wfi_scene_n_fft(&scene);
    scene.n_segments = (int64_t)llround(setup->integration_s * width_hz);
    scene.n_segments += scene.n_segments == 0;
    return scene;
}

static void fill_row(const measurement *run, const wfi_scene_setup *scene, double segment_s,
                     wf_throughput_row *row)
{
    row->n_stations = scene->n_stations;
    row->n_streams = wfi_scene_n_streams(scene);
    if (segment_s <= 0)
        return;
    row->measured = true;
    row->stream_rate_hz = (double)wfi_scene_n_fft(scene) / segment_s;
    row->real_time = row->stream_rate_hz / (double)scene->sample_rate_hz;
    row->fraction_of_limit =
        wfi_limits_segment_s(&run->limits, scene) / ((double)run->n_threads * segment_s);
}

static wfi_clock thread_clock(const wf_throughput_options *options)
{
    return options->thread_s != NULL ? options->thread_s : options->now_s;
}

static wf_status check_cancelled(const measurement *run, wf_error *err)
{
    if (run->options->cancelled != NULL && run->options->cancelled())
        return wfi_fail(err, WF_CANCELLED, "stopped on request");
    return WF_OK;
}

/* The set-up on all threads and on one. */
static wf_status measure_own(measurement *run, const wfi_session *session, const wf_slice *slice,
                             wf_error *err)
{
    const double budget_s = OWN_SHARE * run->options->budget_s;
    const wfi_clock thread_s = thread_clock(run->options);
    double all_s = 0;
    double one_s = 0;
    WFI_TRY(check_cancelled(run, err));
    WFI_TRY(wfi_pace_measure(&all_s, session, slice, run->n_threads, budget_s, run->options->now_s,
                             err));
    fill_row(run, &run->scene, all_s, &run->out->own);
    WFI_TRY(check_cancelled(run, err));
    WFI_TRY(wfi_pace_measure(&one_s, session, slice, 1, budget_s, thread_s, err));
    return wfi_stages_measure(run->out->stage_share, session, slice, &run->scene, one_s, thread_s,
                              err);
}

static bool fits_memory(const measurement *run, const wfi_scene_setup *scene)
{
    const double have = (double)sysconf(_SC_PHYS_PAGES) * (double)sysconf(_SC_PAGESIZE);
    return wfi_scene_products(scene) * VISIBILITY_BYTES * (double)run->n_threads <
           MEMORY_SHARE * have;
}

static wf_status measure_row(measurement *run, size_t n_stations, wf_throughput_row *row,
                             wf_error *err)
{
    wfi_scene_setup setup = run->scene;
    wfi_scene scene;
    double segment_s = 0;
    setup.n_stations = n_stations;
    WFI_TRY(check_cancelled(run, err));
    if (fits_memory(run, &setup)) {
        WFI_TRY(wfi_scene_open(&scene, &setup, err));
        const wf_status status = wfi_pace_measure(
            &segment_s, &scene.session, &scene.slice, run->n_threads,
            ROWS_SHARE / WF_THROUGHPUT_ROWS * run->options->budget_s, run->options->now_s, err);
        wfi_scene_close(&scene);
        WFI_TRY(status);
    }
    fill_row(run, &setup, segment_s, row);
    return WF_OK;
}

/* Between two rows the time of a segment is taken to grow evenly with the stations. */
static void find_stations(wf_throughput *out)
{
    double n_before = 0;
    double load_before = 0;
    out->more_stations = true;
    for (size_t i = 0; i < WF_THROUGHPUT_ROWS && out->rows[i].measured; i++) {
        const double n = (double)out->rows[i].n_stations;
        const double load = 1 / out->rows[i].real_time;
        if (load > 1) {
            out->more_stations = false;
            if (i > 0)
                out->stations_in_real_time =
                    floor(n_before + (n - n_before) * (1 - load_before) / (load - load_before));
            return;
        }
        out->stations_in_real_time = n;
        n_before = n;
        load_before = load;
    }
}

static wf_status measure_rows(measurement *run, wf_error *err)
{
    for (size_t i = 0; i < WF_THROUGHPUT_ROWS; i++)
        WFI_TRY(measure_row(run, ROW_STATIONS[i], &run->out->rows[i], err));
    find_stations(run->out);
    return WF_OK;
}

static wf_status measure_limits(measurement *run, wf_error *err)
{
    wf_throughput *out = run->out;
    WFI_TRY(check_cancelled(run, err));
    WFI_TRY(wfi_limits_measure(&run->limits, &run->scene, thread_clock(run->options), err));
    out->fma_flops_per_s = run->limits.fma_flops_per_s;
    out->fft_samples_per_s = (double)wfi_scene_n_fft(&run->scene) / run->limits.transform_s;
    snprintf(out->fma_vectors, sizeof out->fma_vectors, "%s", run->limits.fma_vectors);
    const wfi_kernels *kernels = NULL;
    WFI_TRY(wfi_kernels_choose(&kernels, run->scene.kernels, err));
    snprintf(out->kernels, sizeof out->kernels, "%s", kernels->name);
    return WF_OK;
}

static wf_status measure_invented(measurement *run, wf_error *err)
{
    wfi_scene scene;
    WFI_TRY(measure_limits(run, err));
    WFI_TRY(wfi_scene_open(&scene, &run->scene, err));
    const wf_status status = measure_own(run, &scene.session, &scene.slice, err);
    wfi_scene_close(&scene);
    WFI_TRY(status);
    return measure_rows(run, err);
}

/* The set-up of a job's first stream, which stands for all of them. */
static wf_status setup_of_job(wf_throughput_setup *out, const wfi_session *session, wf_error *err)
{
    const wf_observation *job = session->observation;
    const wf_recording_info *info = wf_recording_describe(session->recordings[0]);
    const wf_shape *shape = wf_plan_shape(session->plan);
    if (info->n_threads == 0)
        return wfi_fail(err, WF_RANGE, "the first recording holds nothing");
    const wf_sample_format *format = &info->threads[0].format;
    *out = (wf_throughput_setup){
        .n_stations = shape->n_stations,
        .n_polarizations = shape->n_products == 1 ? 1 : 2,
        .n_bands = shape->n_bands,
        .n_channels = shape->n_channels,
        .n_products = shape->n_products == 3 ? 4 : shape->n_products,
        .sample_rate_hz = info->sample_rate_hz,
        .bits = bits_are_known(format->bits) ? format->bits : 16,
        .is_complex = format->is_complex,
        .edge_hz = job->bands[0].edge_hz,
        .integration_s = job->correlation.integration_s,
        .rotation = job->correlation.rotation,
    };
    return WF_OK;
}

static size_t first_wanted_scan(const wfi_session *session)
{
    size_t s = 0;
    while (!session->scan_wanted[s])
        s++;
    return s;
}

/* The first integration of the scan. */
static wf_slice slice_of_job(const wfi_session *session)
{
    const wf_observation *job = session->observation;
    const size_t s = first_wanted_scan(session);
    const double width_hz = wf_channel_width_hz(job);
    const double length_s = fmin(job->correlation.integration_s, job->scans[s].duration_s);
    return (wf_slice){
        .i_scan = s,
        .start = job->scans[s].start,
        .n_segments = (int64_t)floor(length_s * width_hz + 1e-6),
        .tracks = (const wf_track *const *)session->tracks + s * job->n_stations,
    };
}

static wf_status measure_job(measurement *run, const wfi_session *session, wf_error *err)
{
    wf_throughput *out = run->out;
    WFI_TRY(setup_of_job(&out->setup, session, err));
    run->scene = scene_of(&out->setup);
    WFI_TRY(measure_limits(run, err));
    WFI_TRY(wfi_disk_measure(&out->disk, session->observation,
                             (const wf_recording *const *)session->recordings,
                             DISK_SHARE * run->options->budget_s, run->options->now_s, err));
    const wf_slice slice = slice_of_job(session);
    WFI_TRY(measure_own(run, session, &slice, err));
    return measure_rows(run, err);
}

wf_status wf_throughput_measure(wf_throughput *out, const wf_throughput_setup *setup,
                                const wf_observation *job, const wf_throughput_options *options,
                                wf_error *err)
{
    *out = (wf_throughput){0};
    measurement run = {.out = out, .options = options};
    run.n_threads = options->n_threads > 0 ? (size_t)options->n_threads : wfi_parallel_cores();
    out->n_threads = (int)run.n_threads;
    if (job == NULL) {
        WFI_TRY(check_setup(setup, err));
        out->setup = *setup;
        run.scene = scene_of(setup);
        return measure_invented(&run, err);
    }
    const wf_plan_options best = {0};
    wfi_session session = {0};
    wf_status status = wfi_session_open(&session, job, options->scan_name, &best, options->warn,
                                        options->context, err);
    if (status == WF_OK)
        status = measure_job(&run, &session, err);
    wfi_session_close(&session);
    return status;
}
