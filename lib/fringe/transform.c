/* SPDX-License-Identifier: GPL-3.0-or-later */
/* From visibilities to the fringe: surface, highest point, errors. */
#include <whitefringe/fringe.h>

#include <math.h>

#include "base/memory.h"
#include "base/status.h"
#include "base/turns.h"
#include "fringe/grid.h"
#include "fringe/input.h"
#include "fringe/noise.h"
#include "fringe/peak.h"
#include "fringe/significance.h"

/* Short axes are padded more: it costs nothing there, and shows the fringe's shape. */
enum { SHORT_AXIS = 32, PADDING_SHORT = 8, PADDING = 4, PADDING_LEAST = 2, VISIBILITIES_MIN = 4 };
static const size_t CELLS_WELL_PADDED_MAX = (size_t)1 << 22;

static wf_status check(const wf_fringe_input *input, wf_error *err)
{
    WFI_TRY(wfi_input_check(input, err));
    const size_t n_valid = wfi_input_valid_times(input);
    if (n_valid * input->n_channels < VISIBILITIES_MIN)
        return wfi_fail(err, WF_RANGE,
                        "%zu of %zu integrations are valid, with %zu channels: a fringe and its "
                        "noise need at least %d visibilities; give a longer stretch",
                        n_valid, input->n_times, input->n_channels, VISIBILITIES_MIN);
    return WF_OK;
}

static size_t padding(size_t n)
{
    return n <= SHORT_AXIS ? PADDING_SHORT : PADDING;
}

/* Numbers of cells; the padding falls to the least one where the surface would grow large. */
static wf_status choose_lengths(const wf_fringe_input *input, size_t *n_rates, size_t *n_delays,
                                wf_error *err)
{
    const size_t n_times = input->n_times;
    const size_t n_channels = input->n_channels;
    if (n_times <= WF_FRINGE_CELLS_MAX && n_channels <= WF_FRINGE_CELLS_MAX) {
        *n_rates = wfi_grid_length(n_times, padding(n_times));
        *n_delays = wfi_grid_length(n_channels, padding(n_channels));
        if (*n_rates > CELLS_WELL_PADDED_MAX / *n_delays) {
            *n_rates = wfi_grid_length(n_times, PADDING_LEAST);
            *n_delays = wfi_grid_length(n_channels, PADDING_LEAST);
        }
        if (*n_rates <= WF_FRINGE_CELLS_MAX / *n_delays)
            return WF_OK;
    }
    return wfi_fail(err, WF_UNSUPPORTED,
                    "%zu integrations x %zu channels make a surface of more than %zu cells; give a "
                    "shorter stretch",
                    n_times, n_channels, WF_FRINGE_CELLS_MAX);
}

static double total_weight(const wf_fringe_input *input)
{
    double moment[3];
    wfi_input_time_moments(input, moment);
    return moment[0] * (double)input->n_channels;
}

/* Spread of the integrations' times about their weighted mean, s. */
static double time_spread_s(const wf_fringe_input *input)
{
    double moment[3];
    wfi_input_time_moments(input, moment);
    const double mean = moment[1] / moment[0];
    return input->interval_s * sqrt(fmax(moment[2] / moment[0] - mean * mean, 0));
}

static double frequency_spread_hz(const wf_fringe_input *input)
{
    return input->channel_width_hz * sqrt(wfi_input_channel_variance(input));
}

static double error_of(double snr, double spread)
{
    return spread > 0 ? 1 / (WFI_RAD_PER_TURN * snr * spread) : INFINITY;
}

/* All delays and rates that channels and integrations resolve, on axes that join at their ends. A
 * slope's variance over n points is (2 pi)^2 (n^2 - 1) / 12 a spacing. */
static double false_alarm_of(double snr, const wf_fringe_input *input)
{
    const size_t n[2] = {input->n_channels, wfi_input_valid_times(input)};
    wfi_searched searched = {.freedom = wfi_noise_freedom(n[0] * n[1])};
    for (int i = 0; i < 2; i++) {
        const double points = (double)n[i];
        searched.width[i] = WFI_RAD_PER_TURN * sqrt((points * points - 1) / 12);
        searched.is_cyclic[i] = n[i] > 1;
    }
    return wfi_false_alarm(snr * snr, 1, &searched);
}

static wf_status measure(wf_fringe_peak *peak, const wf_fringe_input *input, const wfi_grid *grid,
                         wf_error *err)
{
    const size_t highest = wfi_grid_highest(grid);
    const wfi_trial cell = {grid->n_delays > 1 ? 1.0 / (double)grid->n_delays : 0,
                            grid->n_rates > 1 ? 1.0 / (double)grid->n_rates : 0};
    const wfi_trial start = {cell.delay * wfi_grid_signed(highest % grid->n_delays, grid->n_delays),
                             cell.rate * wfi_grid_signed(highest / grid->n_delays, grid->n_rates)};
    const wfi_trial found = wfi_peak_refine(input, start, cell);
    const double complex sum = wfi_peak_sum(input, found);
    double sigma = 0;
    WFI_TRY(wfi_peak_noise(&sigma, input, found, sum, err));

    const double nu = wfi_input_middle_hz(input);
    peak->delay_s = found.delay / input->channel_width_hz;
    peak->rate_s_per_s = found.rate / (input->interval_s * nu);
    peak->amplitude = cabs(sum) / total_weight(input);
    peak->phase_rad = carg(sum);
    peak->snr = cabs(sum) > 0 ? cabs(sum) / sigma : 0;
    peak->false_alarm = false_alarm_of(peak->snr, input);
    peak->delay_error_s = error_of(peak->snr, frequency_spread_hz(input));
    peak->rate_error_s_per_s = error_of(peak->snr, nu * time_spread_s(input));
    return WF_OK;
}

static void fill_axis(double *axis, size_t n, double range)
{
    for (size_t i = 0; i < n; i++)
        axis[i] = range * ((double)i - (double)(n / 2)) / (double)n;
}

static void fill_surface(wf_fringe_surface *surface, const wf_fringe_input *input,
                         const wfi_grid *grid)
{
    const double scale = 1 / total_weight(input);
    const size_t n_rates = grid->n_rates;
    const size_t n_delays = grid->n_delays;
    for (size_t m = 0; m < n_rates; m++) {
        const size_t row = (m + n_rates - n_rates / 2) % n_rates;
        for (size_t k = 0; k < n_delays; k++) {
            const size_t column = (k + n_delays - n_delays / 2) % n_delays;
            surface->amplitude[m * n_delays + k] =
                scale * (double)cabsf(grid->sum[row * n_delays + column]);
        }
    }
    fill_axis(surface->delay_s, n_delays, 1 / input->channel_width_hz);
    fill_axis(surface->rate_s_per_s, n_rates, 1 / (input->interval_s * wfi_input_middle_hz(input)));
}

static wf_status make_surface(wf_fringe_surface **out, const wf_fringe_input *input,
                              const wfi_grid *grid, wf_error *err)
{
    wf_fringe_surface *surface = NULL;
    WFI_TRY(wfi_allocate(&surface, 1, sizeof *surface, "a fringe surface", err));
    surface->n_rates = grid->n_rates;
    surface->n_delays = grid->n_delays;
    wf_status status = wfi_allocate(&surface->amplitude, grid->n_rates * grid->n_delays,
                                    sizeof(double), "a fringe surface", err);
    if (status == WF_OK)
        status = wfi_allocate(&surface->rate_s_per_s, grid->n_rates, sizeof(double), "rates", err);
    if (status == WF_OK)
        status = wfi_allocate(&surface->delay_s, grid->n_delays, sizeof(double), "delays", err);
    if (status != WF_OK) {
        wf_fringe_surface_destroy(surface);
        return status;
    }
    fill_surface(surface, input, grid);
    *out = surface;
    return WF_OK;
}

wf_status wf_fringe_transform(wf_fringe_surface **surface, wf_fringe_peak *peak,
                              const wf_fringe_input *input, wf_error *err)
{
    if (surface != NULL)
        *surface = NULL;
    *peak = (wf_fringe_peak){0};
    size_t n_rates = 0;
    size_t n_delays = 0;
    WFI_TRY(check(input, err));
    WFI_TRY(choose_lengths(input, &n_rates, &n_delays, err));
    wfi_grid grid = {0};
    wf_status status = wfi_grid_transform(&grid, input, n_rates, n_delays, err);
    if (status == WF_OK)
        status = measure(peak, input, &grid, err);
    if (status == WF_OK && surface != NULL)
        status = make_surface(surface, input, &grid, err);
    wfi_grid_release(&grid);
    if (status != WF_OK)
        *peak = (wf_fringe_peak){0};
    return status;
}

void wf_fringe_surface_destroy(wf_fringe_surface *surface)
{
    if (surface == NULL)
        return;
    wfi_free(surface->amplitude);
    wfi_free(surface->rate_s_per_s);
    wfi_free(surface->delay_s);
    wfi_free(surface);
}
