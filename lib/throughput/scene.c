/* SPDX-License-Identifier: GPL-3.0-or-later */
/* An observation of nothing. */
#include "throughput/scene.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "base/memory.h"
#include "base/status.h"
#include "base/turns.h"
#include "recording/synthetic.h"

static const char what[] = "an invented observation";
static const int32_t START_MJD = 61100; /* 2026-03-01 */
static const double START_OF_DAY_S = 43200;
enum { N_DAYS = 8, DAYS_BEFORE = 3 };

static const double EARTH_RADIUS_M = 6371e3;
/* Declination of the source: above the horizon of all stations at most hours. */
static const double SOURCE_DECLINATION_RAD = 0.9;
static const double SOURCE_RIGHT_ASCENSION_RAD = 6.1;

/* Packed samples of a stream before they begin anew. */
static const int64_t PERIOD_MIN = (int64_t)1 << 16;
static const int64_t PERIOD_MAX = (int64_t)1 << 23;

static wf_instant start_of_scan(void)
{
    return wf_instant_add(wf_instant_of_mjd(START_MJD), START_OF_DAY_S);
}

static double channel_width_hz(const wfi_scene_setup *setup)
{
    return (double)setup->sample_rate_hz / (double)wfi_scene_n_fft(setup);
}

static double bandwidth_hz(const wfi_scene_setup *setup)
{
    return channel_width_hz(setup) * (double)setup->n_channels;
}

size_t wfi_scene_n_fft(const wfi_scene_setup *setup)
{
    return setup->is_complex ? setup->n_channels : 2 * setup->n_channels;
}

size_t wfi_scene_n_streams(const wfi_scene_setup *setup)
{
    return setup->n_stations * setup->n_polarizations * setup->n_bands;
}

double wfi_scene_samples(const wfi_scene_setup *setup)
{
    return (double)setup->n_segments * (double)wfi_scene_n_fft(setup) *
           (double)wfi_scene_n_streams(setup);
}

double wfi_scene_products(const wfi_scene_setup *setup)
{
    const size_t n_baselines = setup->n_stations * (setup->n_stations + 1) / 2;
    return (double)(n_baselines * setup->n_products * setup->n_bands * setup->n_channels);
}

static wf_status add_stations(wf_observation *out, const wfi_scene_setup *setup, wf_error *err)
{
    wf_station *stations = NULL;
    WFI_TRY(wfi_allocate(&stations, setup->n_stations, sizeof *stations, what, err));
    out->stations = stations;
    out->n_stations = setup->n_stations;
    for (size_t i = 0; i < setup->n_stations; i++) {
        const double longitude = 1.2 * (double)i / (double)setup->n_stations;
        const double latitude = 0.8 + 0.2 * cos(WFI_RAD_PER_TURN * longitude);
        wf_station *station = &stations[i];
        snprintf(station->name, sizeof station->name, "S%zu", i + 1);
        station->position_itrf_m[0] = EARTH_RADIUS_M * cos(latitude) * cos(longitude);
        station->position_itrf_m[1] = EARTH_RADIUS_M * cos(latitude) * sin(longitude);
        station->position_itrf_m[2] = EARTH_RADIUS_M * sin(latitude);
        station->clock.reference = start_of_scan();
    }
    return WF_OK;
}

static wf_status add_sky(wf_observation *out, const wfi_scene_setup *setup, wf_error *err)
{
    wf_source *source = NULL;
    wf_scan *scan = NULL;
    bool *takes_part = NULL;
    WFI_TRY(wfi_allocate(&source, 1, sizeof *source, what, err));
    out->sources = source;
    out->n_sources = 1;
    strcpy(source->name, "Ousel");
    source->right_ascension_icrf_rad = SOURCE_RIGHT_ASCENSION_RAD;
    source->declination_icrf_rad = SOURCE_DECLINATION_RAD;
    WFI_TRY(wfi_allocate(&scan, 1, sizeof *scan, what, err));
    out->scans = scan;
    out->n_scans = 1;
    strcpy(scan->name, "S01");
    scan->start = start_of_scan();
    scan->duration_s = (double)setup->n_segments / channel_width_hz(setup);
    WFI_TRY(wfi_allocate(&takes_part, setup->n_stations, sizeof *takes_part, what, err));
    scan->station_takes_part = takes_part;
    for (size_t i = 0; i < setup->n_stations; i++)
        takes_part[i] = true;
    return WF_OK;
}

static wf_status add_bands(wf_observation *out, const wfi_scene_setup *setup, wf_error *err)
{
    wf_band *bands = NULL;
    WFI_TRY(wfi_allocate(&bands, setup->n_bands, sizeof *bands, what, err));
    out->bands = bands;
    out->n_bands = setup->n_bands;
    for (size_t b = 0; b < setup->n_bands; b++) {
        snprintf(bands[b].name, sizeof bands[b].name, "B%zu", b + 1);
        bands[b].edge_hz = setup->edge_hz + (double)b * bandwidth_hz(setup);
        bands[b].bandwidth_hz = bandwidth_hz(setup);
        bands[b].sideband = WF_SIDEBAND_UPPER;
    }
    return WF_OK;
}

/* A thread for each band and polarization, as most recorders write them. */
static wf_status add_recordings(wf_observation *out, const wfi_scene_setup *setup, wf_error *err)
{
    wf_recording_entry *entries = NULL;
    const size_t n_streams = setup->n_bands * setup->n_polarizations;
    WFI_TRY(wfi_allocate(&entries, setup->n_stations, sizeof *entries, what, err));
    out->recordings = entries;
    out->n_recordings = setup->n_stations;
    for (size_t i = 0; i < setup->n_stations; i++) {
        wf_stream *streams = NULL;
        WFI_TRY(wfi_allocate(&streams, n_streams, sizeof *streams, what, err));
        for (size_t k = 0; k < n_streams; k++) {
            const wf_band *band = &out->bands[k / setup->n_polarizations];
            streams[k] = (wf_stream){
                .thread = (uint32_t)k,
                .polarization =
                    k % setup->n_polarizations == 0 ? WF_POLARIZATION_R : WF_POLARIZATION_L,
                .anchor = WF_ANCHOR_EDGE,
                .anchor_hz = band->edge_hz,
                .sideband = band->sideband,
            };
        }
        entries[i] = (wf_recording_entry){
            .i_station = i,
            .sample_rate_hz = setup->sample_rate_hz,
            .streams = streams,
            .n_streams = n_streams,
        };
    }
    return WF_OK;
}

static wf_status add_earth_orientation(wf_observation *out, wf_error *err)
{
    wf_earth_orientation_day *days = NULL;
    WFI_TRY(wfi_allocate(&days, N_DAYS, sizeof *days, what, err));
    out->earth_orientation.days = days;
    out->earth_orientation.n_days = N_DAYS;
    for (int32_t d = 0; d < N_DAYS; d++)
        days[d].mjd = START_MJD - DAYS_BEFORE + d;
    return WF_OK;
}

static void set_correlation(wf_observation *out, const wfi_scene_setup *setup)
{
    static const wf_product products[4] = {{WF_POLARIZATION_R, WF_POLARIZATION_R},
                                           {WF_POLARIZATION_L, WF_POLARIZATION_L},
                                           {WF_POLARIZATION_R, WF_POLARIZATION_L},
                                           {WF_POLARIZATION_L, WF_POLARIZATION_R}};
    out->correlation = (wf_correlation){
        .n_channels = setup->n_channels,
        .integration_s = (double)setup->n_segments / channel_width_hz(setup),
        .n_products = setup->n_products,
        .rotation = setup->rotation,
        .rotation_loss_limit = 1e-4,
        .quantisation_correction = true,
    };
    memcpy(out->correlation.products, products, setup->n_products * sizeof products[0]);
}

static wf_status create_observation(wfi_scene *scene, const wfi_scene_setup *setup, wf_error *err)
{
    WFI_TRY(wfi_allocate(&scene->observation, 1, sizeof *scene->observation, what, err));
    wf_observation *out = scene->observation;
    strcpy(out->campaign, "Throughput");
    WFI_TRY(add_stations(out, setup, err));
    WFI_TRY(add_sky(out, setup, err));
    WFI_TRY(add_bands(out, setup, err));
    WFI_TRY(add_recordings(out, setup, err));
    set_correlation(out, setup);
    return add_earth_orientation(out, err);
}

/* As long as the memory allows and the slice asks for, so that samples come from memory rather than
 * from a cache. */
static int64_t choose_period(const wfi_scene_setup *setup)
{
    const size_t bits = (size_t)setup->bits * (setup->is_complex ? 2 : 1);
    const size_t fit = setup->memory_bytes / wfi_scene_n_streams(setup) * 8 / bits;
    int64_t period = PERIOD_MIN;
    const double asked = (double)setup->n_segments * (double)wfi_scene_n_fft(setup);
    while (period < PERIOD_MAX && (size_t)(2 * period) <= fit && (double)period < asked)
        period *= 2;
    return period;
}

static wf_status open_recordings(wfi_scene *scene, const wfi_scene_setup *setup, wf_error *err)
{
    wfi_session *session = &scene->session;
    WFI_TRY(wfi_allocate(&session->recordings, setup->n_stations, sizeof *session->recordings, what,
                         err));
    wfi_synthetic samples = {
        .origin = wf_instant_add(start_of_scan(), -10.0),
        .sample_rate_hz = setup->sample_rate_hz,
        .format = {WF_ENCODING_OFFSET_BINARY, setup->bits, setup->is_complex, 1},
        .n_threads = setup->n_bands * setup->n_polarizations,
        .period = choose_period(setup),
    };
    for (size_t i = 0; i < setup->n_stations; i++) {
        samples.seed = i + 1;
        WFI_TRY(wfi_synthetic_open(&session->recordings[i], &samples, err));
    }
    return WF_OK;
}

static wf_status fill_scene(wfi_scene *scene, const wfi_scene_setup *setup, wf_error *err)
{
    WFI_TRY(create_observation(scene, setup, err));
    scene->session.observation = scene->observation;
    WFI_TRY(open_recordings(scene, setup, err));
    WFI_TRY(wfi_allocate(&scene->session.scan_wanted, 1, sizeof(bool), what, err));
    scene->session.scan_wanted[0] = true;
    scene->session.plan_options.kernels = setup->kernels;
    WFI_TRY(wfi_session_plan(&scene->session, err));
    scene->slice = (wf_slice){
        .start = start_of_scan(),
        .n_segments = setup->n_segments,
        .tracks = (const wf_track *const *)scene->session.tracks,
    };
    return WF_OK;
}

wf_status wfi_scene_open(wfi_scene *scene, const wfi_scene_setup *setup, wf_error *err)
{
    *scene = (wfi_scene){0};
    const wf_status status = fill_scene(scene, setup, err);
    if (status != WF_OK)
        wfi_scene_close(scene);
    return status;
}

void wfi_scene_close(wfi_scene *scene)
{
    if (scene->session.observation != NULL)
        wfi_session_close(&scene->session);
    wf_observation_destroy(scene->observation);
    *scene = (wfi_scene){0};
}
