/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What is in a band's stretch of visibilities, and whether it will do. */
#include "fringe/input.h"

#include <math.h>

#include "base/status.h"

double wfi_input_middle_hz(const wf_fringe_input *input)
{
    return input->first_channel_hz +
           0.5 * (double)(input->n_channels - 1) * input->channel_width_hz;
}

size_t wfi_input_valid_times(const wf_fringe_input *input)
{
    size_t n = 0;
    for (size_t t = 0; t < input->n_times; t++)
        n += input->weight[t] > 0;
    return n;
}

void wfi_input_time_moments(const wf_fringe_input *input, double moment[3])
{
    moment[0] = moment[1] = moment[2] = 0;
    for (size_t t = 0; t < input->n_times; t++) {
        const double weight = input->weight[t];
        const double y = (double)t - 0.5 * (double)(input->n_times - 1);
        if (!(weight > 0))
            continue;
        moment[0] += weight;
        moment[1] += weight * y;
        moment[2] += weight * y * y;
    }
}

double wfi_input_channel_variance(const wf_fringe_input *input)
{
    const double n = (double)input->n_channels;
    return (n * n - 1) / 12;
}

static wf_status check_numbers(const wf_fringe_input *input, wf_error *err)
{
    for (size_t t = 0; t < input->n_times; t++) {
        const float complex *row = input->visibility + t * input->n_channels;
        for (size_t c = 0; input->weight[t] > 0 && c < input->n_channels; c++) {
            if (!isfinite(crealf(row[c])) || !isfinite(cimagf(row[c])))
                return wfi_fail(err, WF_FORMAT,
                                "the visibility of integration %zu, channel %zu (from 0) is not a "
                                "number though its weight is %g: give it the weight 0",
                                t, c, input->weight[t]);
        }
    }
    return WF_OK;
}

wf_status wfi_input_check(const wf_fringe_input *input, wf_error *err)
{
    if (input->n_times == 0 || input->n_channels == 0 || !(input->interval_s > 0) ||
        !(input->channel_width_hz > 0) || !(wfi_input_middle_hz(input) > 0))
        return wfi_fail(err, WF_ARGUMENT,
                        "a fringe needs integrations, channels, and a positive interval, channel "
                        "width and frequency; given: %zu integrations of %g s, %zu channels of %g "
                        "Hz from %g Hz",
                        input->n_times, input->interval_s, input->n_channels,
                        input->channel_width_hz, input->first_channel_hz);
    return check_numbers(input, err);
}
