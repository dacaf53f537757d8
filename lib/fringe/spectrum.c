/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The mean over a stretch, channel by channel, and the surface at chosen delays and rates. */
#include <whitefringe/fringe.h>

#include <math.h>

#include "base/memory.h"
#include "base/status.h"
#include "base/turns.h"

static double complex phasor(double turns)
{
    return CMPLX(cos(WFI_RAD_PER_TURN * turns), sin(WFI_RAD_PER_TURN * turns));
}

/* The phase is linear in the channel: one phasor steps through them. */
static void add_integration(double complex *sum, const wf_fringe_input *input, size_t t,
                            double rate_s_per_s)
{
    const float complex *row = input->visibility + t * input->n_channels;
    const double time_s = ((double)t - 0.5 * (double)(input->n_times - 1)) * input->interval_s;
    const double drift_s = rate_s_per_s * time_s;
    double complex turn =
        input->weight[t] * phasor(wfi_turns_product(input->first_channel_hz, drift_s));
    const double complex step = phasor(wfi_turns_product(input->channel_width_hz, drift_s));
    for (size_t c = 0; c < input->n_channels; c++) {
        sum[c] += row[c] * turn;
        turn *= step;
    }
}

void wf_fringe_spectrum(double complex *mean, const wf_fringe_input *input, double rate_s_per_s)
{
    double total = 0;
    for (size_t c = 0; c < input->n_channels; c++)
        mean[c] = 0;
    for (size_t t = 0; t < input->n_times; t++) {
        if (!(input->weight[t] > 0))
            continue;
        total += input->weight[t];
        add_integration(mean, input, t, rate_s_per_s);
    }
    for (size_t c = 0; c < input->n_channels && total > 0; c++)
        mean[c] /= total;
}

static double amplitude_at(const double complex *mean, const wf_fringe_input *input, double delay_s)
{
    const double complex step = phasor(wfi_turns_product(input->channel_width_hz, delay_s));
    double complex turn = 1;
    double complex sum = 0;
    for (size_t c = 0; c < input->n_channels; c++) {
        sum += mean[c] * turn;
        turn *= step;
    }
    return cabs(sum) / (double)input->n_channels;
}

wf_status wf_fringe_evaluate(double *amplitude, const wf_fringe_input *input, const double *delay_s,
                             size_t n_delays, const double *rate_s_per_s, size_t n_rates,
                             wf_error *err)
{
    double complex *mean = NULL;
    WFI_TRY(wfi_allocate(&mean, input->n_channels, sizeof *mean, "a spectrum", err));
    for (size_t m = 0; m < n_rates; m++) {
        wf_fringe_spectrum(mean, input, rate_s_per_s[m]);
        for (size_t k = 0; k < n_delays; k++)
            amplitude[m * n_delays + k] = amplitude_at(mean, input, delay_s[k]);
    }
    wfi_free(mean);
    return WF_OK;
}
