/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Channels, integrations and length of a trial. */
#include "search/trial.h"

#include <complex.h>
#include <math.h>

#include "base/memory.h"
#include "base/status.h"

/* A delay of the window's edge leaves three quarters of a segment in common. */
static const double SEGMENT_OVER_WINDOW = 4.0;
static const double SPAN_OVER_SEGMENT = 8.0;
/* A rate of the window's edge turns a quarter of a turn within an integration: sinc(1/4) = 0.90. */
static const double TURNS_OF_INTEGRATION = 0.25;
/* Shown by the surface of a stretch, when nothing is known of the rate. */
static const double INTEGRATIONS_MIN = 16;
/* Of what integrations resolve, that a fit may search: the outermost rates fold over. */
static const double RESOLVED_PART = 0.98;

/* All baselines and products at once, and one product of few baselines. */
enum { CHANNELS_MIN = 64, CHANNELS_USUAL_MAX = 1 << 16, CHANNELS_MAX = 1 << 20 };

/* A coarse look takes at least so many segments. */
static const double SEGMENTS_MIN = 4;

const size_t wfi_trial_bytes_max = (size_t)1 << 30;

static bool divides_all_rates(const wf_observation *observation, const wfi_trial_setup *setup,
                              double width_hz)
{
    for (size_t r = 0; r < observation->n_recordings; r++) {
        const double n = (double)setup->sample_rates_hz[r] / width_hz;
        if (fabs(n - rint(n)) > 1e-9 * n || n < 2)
            return false;
    }
    return true;
}

static size_t choose_channels(const wf_observation *observation, const wfi_trial_setup *setup)
{
    size_t n = observation->correlation.n_channels;
    const double bandwidth_hz = observation->bands[0].bandwidth_hz;
    const double widest_hz = 1 / (SEGMENT_OVER_WINDOW * setup->window_delay_s);
    while (bandwidth_hz / (double)n > widest_hz && 2 * n <= CHANNELS_MAX)
        n *= 2;
    while (n % 2 == 0 && n / 2 >= CHANNELS_MIN && 2 * bandwidth_hz / (double)n <= widest_hz &&
           divides_all_rates(observation, setup, 2 * bandwidth_hz / (double)n))
        n /= 2;
    return n;
}

double wfi_trial_widest_delay_s(const wf_observation *observation, double window_delay_s,
                                double span_s, bool is_coarse)
{
    const size_t most = is_coarse ? CHANNELS_MAX : CHANNELS_USUAL_MAX;
    size_t n = observation->correlation.n_channels;
    const double bandwidth_hz = observation->bands[0].bandwidth_hz;
    const double longest_s = span_s / SPAN_OVER_SEGMENT;
    while (2 * n <= most && 2 * (double)n / bandwidth_hz <= longest_s)
        n *= 2;
    return fmin((double)n / bandwidth_hz / SEGMENT_OVER_WINDOW, window_delay_s);
}

static double highest_hz(const wf_observation *observation)
{
    double highest = 0;
    for (size_t b = 0; b < observation->n_bands; b++)
        highest = fmax(highest, observation->bands[b].edge_hz +
                                    fmax(0, (double)observation->bands[b].sideband) *
                                        observation->bands[b].bandwidth_hz);
    return highest;
}

size_t wfi_count_stations(const bool *stations, size_t n_stations)
{
    size_t n = 0;
    for (size_t i = 0; i < n_stations; i++)
        n += stations[i];
    return n;
}

/* Integrations of a whole number of segments, and how many of them. */
static wf_status choose_times(wfi_trial *trial, const wf_observation *observation,
                              const wfi_trial_setup *setup, wf_error *err)
{
    const wf_scan *scan = &observation->scans[setup->i_scan];
    const double segment_s = 1 / wf_channel_width_hz(&trial->observation);
    const double span_s = wf_instant_difference_s(setup->span.stop, setup->span.start);
    const double length_s = fmin(fmax(setup->length_s, SEGMENTS_MIN * segment_s), span_s);
    if (length_s < segment_s)
        return wfi_fail(err, WF_RANGE,
                        "of scan %s all stations recorded %.6g s, less than the segment of %.3g s "
                        "that the window of delays asks for; narrow the window or take another "
                        "scan",
                        scan->name, span_s, segment_s);
    const double turning_s =
        TURNS_OF_INTEGRATION / (setup->window_rate_s_per_s * highest_hz(observation));
    const double longest_s = fmin(turning_s, length_s / INTEGRATIONS_MIN);
    const double n_segments = fmax(1, floor(longest_s / segment_s));
    const double interval_s = n_segments * segment_s;
    const size_t n_stations = wfi_count_stations(setup->stations, observation->n_stations);
    const double bytes = (double)(n_stations * (n_stations - 1) / 2 * setup->n_products *
                                  trial->observation.n_bands) *
                         (double)trial->observation.correlation.n_channels *
                         (double)sizeof(float complex);
    const double most = fmax(1, floor((double)wfi_trial_bytes_max / bytes));
    trial->n_times = (size_t)fmin(most, fmax(1, floor(length_s / interval_s * (1 + 1e-12))));
    trial->observation.correlation.integration_s = interval_s;
    trial->window_rate_s_per_s = fmin(setup->window_rate_s_per_s,
                                      RESOLVED_PART * 0.5 / (interval_s * highest_hz(observation)));
    return WF_OK;
}

static void cut_scan(wfi_trial *trial, const wf_observation *observation,
                     const wfi_trial_setup *setup)
{
    const wf_scan *scan = &observation->scans[setup->i_scan];
    const double length_s = (double)trial->n_times * trial->observation.correlation.integration_s;
    const double span_s = wf_instant_difference_s(setup->span.stop, setup->span.start);
    const double since_s = fmax(0, floor(500 * (span_s - length_s)) / 1000);
    trial->scan = *scan;
    trial->scan.start = wf_instant_add(setup->span.start, since_s);
    trial->scan.duration_s = length_s;
    trial->scan.station_takes_part = setup->stations;
    trial->observation.scans = &trial->scan;
    trial->observation.n_scans = 1;
}

wf_status wfi_trial_create(wfi_trial *out, const wf_observation *observation,
                           const wfi_trial_setup *setup, wf_error *err)
{
    *out = (wfi_trial){.observation = *observation, .window_delay_s = setup->window_delay_s};
    wf_correlation *correlation = &out->observation.correlation;
    correlation->n_channels = choose_channels(observation, setup);
    correlation->n_products = setup->n_products;
    for (size_t p = 0; p < setup->n_products; p++)
        correlation->products[p] = setup->products[p];
    if (setup->first_band_only)
        out->observation.n_bands = 1;
    out->observation.kurtosis_flag_sigma = 0;
    WFI_TRY(choose_times(out, observation, setup, err));
    cut_scan(out, observation, setup);
    WFI_TRY(wfi_allocate(&out->stations, observation->n_stations, sizeof *out->stations,
                         "stations of a trial", err));
    for (size_t i = 0; i < observation->n_stations; i++) {
        out->stations[i] = observation->stations[i];
        out->stations[i].clock = setup->clocks[i];
    }
    out->observation.stations = out->stations;
    return WF_OK;
}

void wfi_trial_release(wfi_trial *trial)
{
    wfi_free(trial->stations);
    trial->stations = NULL;
}

wf_instant wfi_trial_middle(const wfi_trial *trial)
{
    return wf_instant_add(trial->scan.start, 0.5 * trial->scan.duration_s);
}
