/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The bands of one fit: weights, reference, spreads, and the window. */
#include "fringe/bands.h"

#include <math.h>

#include "base/memory.h"
#include "base/status.h"
#include "base/turns.h"
#include "fringe/input.h"

enum { VISIBILITIES_MIN = 4 };

static wf_status check_inputs(const wf_fringe_input *inputs, size_t n_inputs, wf_error *err)
{
    size_t n_valid = 0;
    if (n_inputs == 0)
        return wfi_fail(err, WF_ARGUMENT, "a fringe needs at least one band");
    for (size_t b = 0; b < n_inputs; b++) {
        const wf_status status = wfi_input_check(&inputs[b], err);
        if (status != WF_OK) {
            wfi_prefix(err, "band %zu (from 0): ", b);
            return status;
        }
        if (inputs[b].n_times != inputs[0].n_times || inputs[b].interval_s != inputs[0].interval_s)
            return wfi_fail(err, WF_ARGUMENT,
                            "the bands of a fringe share their times: band 0 has %zu integrations "
                            "of %g s, band %zu has %zu of %g s",
                            inputs[0].n_times, inputs[0].interval_s, b, inputs[b].n_times,
                            inputs[b].interval_s);
        n_valid += wfi_input_valid_times(&inputs[b]) * inputs[b].n_channels;
    }
    if (n_valid < VISIBILITIES_MIN)
        return wfi_fail(err, WF_RANGE,
                        "%zu visibilities are valid: a fringe and its noise need at least %d; give "
                        "a longer stretch",
                        n_valid, VISIBILITIES_MIN);
    return WF_OK;
}

static double widest_channel_hz(const wf_fringe_input *inputs, size_t n_inputs)
{
    double widest = 0;
    for (size_t b = 0; b < n_inputs; b++)
        widest = fmax(widest, inputs[b].channel_width_hz);
    return widest;
}

static void gather(wfi_bands *bands, const wf_fringe_input *inputs, size_t n_inputs)
{
    const double widest_hz = widest_channel_hz(inputs, n_inputs);
    double low_hz = INFINITY;
    double high_hz = 0;
    double from_first = 0;
    for (size_t b = 0; b < n_inputs; b++) {
        const wf_fringe_input *input = &inputs[b];
        double moment[3];
        wfi_input_time_moments(input, moment);
        if (!(moment[0] > 0))
            continue;
        wfi_band *band = &bands->band[bands->n++];
        *band = (wfi_band){.input = input, .i_input = b, .middle_hz = wfi_input_middle_hz(input)};
        band->scale = input->channel_width_hz / widest_hz;
        band->total = band->scale * moment[0] * (double)input->n_channels;
        bands->total += band->total;
        from_first += band->total * (band->middle_hz - bands->band[0].middle_hz);
        const double half = 0.5 * (double)(input->n_channels - 1) * input->channel_width_hz;
        low_hz = fmin(low_hz, band->middle_hz - half);
        high_hz = fmax(high_hz, band->middle_hz + half);
    }
    bands->reference_hz = bands->band[0].middle_hz + from_first / bands->total;
    bands->span_hz = high_hz - low_hz;
    for (size_t b = 0; b < bands->n; b++)
        bands->band[b].offset_hz = bands->band[b].middle_hz - bands->reference_hz;
}

static wf_status choose_half_width(double *half, bool *is_whole, double wanted, double resolved,
                                   const char *what, wf_error *err)
{
    if (!(wanted >= 0))
        return wfi_fail(err, WF_ARGUMENT,
                        "the half-width of the window of %s is %g: expected 0 or more", what,
                        wanted);
    *is_whole = wanted == 0 || wanted > resolved * (1 - 1e-9);
    *half = *is_whole ? resolved : wanted;
    return WF_OK;
}

static wf_status set_delays(wfi_bands *bands, const wf_fringe_window *window, wf_error *err)
{
    double width_hz = 0;
    for (size_t b = 0; b < bands->n; b++)
        width_hz = fmax(width_hz, bands->band[b].input->channel_width_hz);
    const double resolved = 0.5 / width_hz;
    double half = 0;
    WFI_TRY(
        choose_half_width(&half, &bands->delay_is_whole, window->delay_s, resolved, "delays", err));
    if (window->delay_s > resolved * (1 + 1e-9))
        return wfi_fail(err, WF_RANGE,
                        "delays of +-%g s are more than channels of %g Hz resolve (+-%g s): "
                        "correlate with channels of at most %g Hz, or narrow the window",
                        window->delay_s, width_hz, resolved, 0.5 / window->delay_s);
    if (bands->span_hz == 0)
        half = 0;
    bands->delay_low_s = window->delay_centre_s - half;
    bands->delay_high_s = window->delay_centre_s + half;
    return WF_OK;
}

static wf_status set_rates(wfi_bands *bands, const wf_fringe_window *window, wf_error *err)
{
    double highest_hz = 0;
    for (size_t b = 0; b < bands->n; b++)
        highest_hz = fmax(highest_hz, bands->band[b].middle_hz);
    const wf_fringe_input *input = bands->band[0].input;
    const double resolved = 0.5 / (highest_hz * input->interval_s);
    double half = 0;
    WFI_TRY(choose_half_width(&half, &bands->rate_is_whole, window->rate_s_per_s, resolved, "rates",
                              err));
    if (input->n_times > 1 && window->rate_s_per_s > resolved * (1 + 1e-9))
        return wfi_fail(err, WF_RANGE,
                        "rates of +-%g s/s are more than integrations of %g s resolve (+-%g s/s at "
                        "%g Hz): correlate with integrations of at most %g s, or narrow the window",
                        window->rate_s_per_s, input->interval_s, resolved, highest_hz,
                        0.5 / (highest_hz * window->rate_s_per_s));
    if (input->n_times == 1)
        half = 0;
    bands->rate_low = window->rate_centre_s_per_s - half;
    bands->rate_high = window->rate_centre_s_per_s + half;
    return WF_OK;
}

wf_status wfi_bands_create(wfi_bands *out, const wf_fringe_input *inputs, size_t n_inputs,
                           const wf_fringe_window *window, wf_error *err)
{
    *out = (wfi_bands){0};
    if (!isfinite(window->delay_centre_s) || !isfinite(window->rate_centre_s_per_s))
        return wfi_fail(err, WF_ARGUMENT, "the centre of a fringe's window is not a number");
    WFI_TRY(check_inputs(inputs, n_inputs, err));
    WFI_TRY(wfi_allocate(&out->band, n_inputs, sizeof *out->band, "the bands of a fringe", err));
    gather(out, inputs, n_inputs);
    wf_status status = set_delays(out, window, err);
    if (status == WF_OK)
        status = set_rates(out, window, err);
    if (status != WF_OK)
        wfi_bands_release(out);
    return status;
}

void wfi_bands_release(wfi_bands *bands)
{
    wfi_free(bands->band);
    bands->band = NULL;
}

/* Sums over a band of its scaled weights times (1, a, a^2) x (1, b, b^2), where a = nu - reference
 * and b = nu t: nu = middle + x, a = offset + x. */
static void add_band(wfi_spreads *sum, const wfi_band *band, double offset_hz)
{
    const wf_fringe_input *input = band->input;
    double moment[3];
    wfi_input_time_moments(input, moment);
    const double n = band->scale * (double)input->n_channels;
    const double t1 = n * moment[1] * input->interval_s;
    const double t2 = n * moment[2] * input->interval_s * input->interval_s;
    const double nu = band->middle_hz;
    const double x2 =
        wfi_input_channel_variance(input) * input->channel_width_hz * input->channel_width_hz;
    sum->phase_delay += band->total * offset_hz;
    sum->phase_rate += t1 * nu;
    sum->delay_delay += band->total * (offset_hz * offset_hz + x2);
    sum->delay_rate += t1 * (offset_hz * nu + x2);
    sum->rate_rate += t2 * (nu * nu + x2);
}

static wfi_spreads in_radians(const wfi_spreads *sum, double total)
{
    const double first = -WFI_RAD_PER_TURN / total;
    const double second = WFI_RAD_PER_TURN * WFI_RAD_PER_TURN / total;
    return (wfi_spreads){first * sum->phase_delay, first * sum->phase_rate,
                         second * sum->delay_delay, second * sum->delay_rate,
                         second * sum->rate_rate};
}

wfi_spreads wfi_bands_spreads(const wfi_bands *bands)
{
    wfi_spreads sum = {0};
    for (size_t b = 0; b < bands->n; b++)
        add_band(&sum, &bands->band[b], bands->band[b].offset_hz);
    return in_radians(&sum, bands->total);
}

wfi_spreads wfi_band_spreads(const wfi_band *band)
{
    wfi_spreads sum = {0};
    add_band(&sum, band, 0);
    return in_radians(&sum, band->total);
}

wfi_spreads wfi_spreads_central(wfi_spreads s)
{
    return (wfi_spreads){0, 0, s.delay_delay - s.phase_delay * s.phase_delay,
                         s.delay_rate - s.phase_delay * s.phase_rate,
                         s.rate_rate - s.phase_rate * s.phase_rate};
}
