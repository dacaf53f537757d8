/* SPDX-License-Identifier: GPL-3.0-or-later */
/* From visibilities of several bands to one fringe in time. */
#include "support/check.h"

#include <base/memory.h>

#include "invented.h"
#include <whitefringe/fringe_fit.h>
#include <whitefringe/stability.h>

enum { N_TIMES = 64, N_CHANNELS = 32 };

static wf_fringe_series *created(const wf_fringe_input *inputs, size_t n, double delay_s,
                                 double rate_s_per_s)
{
    wf_error err = WF_ERROR_INIT;
    wf_fringe_series *series = NULL;
    wf_check_ok(wf_fringe_series_create(&series, inputs, n, delay_s, rate_s_per_s, &err), &err);
    return series;
}

static double wrapped(double rad)
{
    return remainder(rad, 2 * INVENTED_PI);
}

/* Single precision of the visibilities: 6e-8 of 0.1, a mean of 32; far below 1e-7. */
static void a_steady_fringe_becomes_a_constant(void **state)
{
    (void)state;
    invented band = invented_create(N_TIMES, N_CHANNELS);
    invented_add_fringe(&band, 0.7e-6, 3e-12, 0.1, 1.2);
    wf_fringe_series *series = created(&band.input, 1, 0.7e-6, 3e-12);
    assert_int_equal(series->n_times, N_TIMES);
    wf_check_near("interval", series->interval_s, 0.5, 0, "s");
    wf_check_near("frequency", series->frequency_hz, 8.4e9 + 15.5 * 62.5e3, 1e-3, "Hz");
    for (size_t t = 0; t < N_TIMES; t++) {
        wf_check_near("amplitude", cabs(series->fringe[t]), 0.1, 1e-7, "");
        wf_check_near("phase", carg(series->fringe[t]), 1.2, 1e-6, "rad");
    }
    wf_fringe_series_destroy(series);
    invented_destroy(&band);
}

/* Sign: a rate left in turns the phase by -2 pi nu rate t (tau_i - tau_j grows). */
static void a_rate_left_in_turns_the_phase(void **state)
{
    (void)state;
    invented band = invented_create(N_TIMES, N_CHANNELS);
    invented_add_fringe(&band, 0, 2e-12, 0.1, 0);
    wf_fringe_series *series = created(&band.input, 1, 0, 0);
    const double nu = 8.4e9 + 15.5 * 62.5e3;
    for (size_t t = 0; t < N_TIMES; t++) {
        const double time_s = ((double)t - 31.5) * 0.5;
        wf_check_near("phase",
                      wrapped(carg(series->fringe[t]) + 2 * INVENTED_PI * nu * 2e-12 * time_s), 0,
                      1e-5, "rad");
    }
    wf_fringe_series_destroy(series);
    invented_destroy(&band);
}

/* Three bands of unlike phases: amplitudes add, and the noise falls with all channels, weights in
 * account. Noise of one component: sigma / sqrt(weights * channels of all bands). It is measured
 * from 2048 cells a band: 0.72/sqrt(2048) = 1.6 % each, 0.9 % of three; 5 sigma. */
static void bands_add_whatever_their_phases(void **state)
{
    (void)state;
    const double phases[3] = {0.3, 2.9, -1.8};
    const double sigma = 0.05;
    invented bands[3];
    wf_fringe_input inputs[3];
    for (size_t b = 0; b < 3; b++) {
        bands[b] = invented_create(N_TIMES, N_CHANNELS);
        bands[b].input.first_channel_hz += (double)b * 32e6;
        invented_add_fringe(&bands[b], 0.2e-6, 0, 0.1, phases[b]);
        invented_add_noise(&bands[b], sigma, 70 + b);
        inputs[b] = bands[b].input;
    }
    bands[1].weight[5] = 0;
    for (size_t b = 0; b < 3; b++)
        bands[b].weight[9] = 0;
    bands[2].weight[7] = NAN;
    bands[0].visibility[9 * N_CHANNELS] = NAN;
    wf_fringe_series *series = created(inputs, 3, 0.2e-6, 0);
    wf_check_near("noise of 3 bands", series->sigma[0] / (sigma / sqrt(3.0 * N_CHANNELS)), 1, 0.05,
                  "");
    wf_check_near("noise of 2 bands", series->sigma[5] / (sigma / sqrt(2.0 * N_CHANNELS)), 1, 0.05,
                  "");
    wf_check_near("noise of 2 bands", series->sigma[7] / (sigma / sqrt(2.0 * N_CHANNELS)), 1, 0.05,
                  "");
    assert_true(isinf(series->sigma[9]));
    double complex sum = 0;
    for (size_t t = 0; t < N_TIMES; t++)
        sum += series->fringe[t] / 63.0;
    /* sigma/sqrt(3 * 32 * 63) = 6.4e-4; phases of bands to 1.1e-2 rad lose 6e-5 of it */
    wf_check_near("amplitude", cabs(sum), 0.1, 3.3e-3, "");
    wf_check_near("phase of the first band", carg(sum), 0.3, 5 * 0.012, "rad");
    wf_fringe_series_destroy(series);
    for (size_t b = 0; b < 3; b++)
        invented_destroy(&bands[b]);
}

/* Wander laid on three bands of unlike phases, with residual delay and rate: found by the fit,
 * taken out, summed and unwrapped, the phase is the wander again, but for a constant and the rate's
 * error. An integration's snr is 0.1 / 0.05 * sqrt(96) = 20: 0.05 rad. */
static void wander_comes_out_as_it_went_in(void **state)
{
    (void)state;
    const double phases[3] = {0.3, 2.9, -1.8};
    double wander[N_TIMES];
    invented bands[3];
    wf_fringe_input inputs[3];
    for (size_t t = 0; t < N_TIMES; t++)
        wander[t] = 2.5 * cos(2 * INVENTED_PI * 2 * ((double)t + 0.5) / N_TIMES);
    for (size_t b = 0; b < 3; b++) {
        bands[b] = invented_create(N_TIMES, N_CHANNELS);
        bands[b].input.first_channel_hz += (double)b * 32e6;
        invented_add_fringe(&bands[b], 0.2e-6, 4e-12, 0.1, phases[b]);
        for (size_t i = 0; i < N_TIMES * N_CHANNELS; i++) {
            const double w = wander[i / N_CHANNELS];
            bands[b].visibility[i] *= (float complex)(cos(w) + I * sin(w));
        }
        invented_add_noise(&bands[b], 0.05, 170 + b);
        inputs[b] = bands[b].input;
    }
    wf_error err = WF_ERROR_INIT;
    wf_fringe_fit fit;
    const wf_fringe_window window = {0};
    wf_check_ok(wf_fringe_fit_bands_free_phases(&fit, NULL, inputs, 3, &window, &err), &err);
    wf_fringe_series *series = created(inputs, 3, fit.single_band_delay_s, fit.rate_s_per_s);
    wf_fringe_phase *phase = NULL;
    wf_check_ok(wf_fringe_phase_create(&phase, series, &err), &err);
    double offset = 0;
    double rest[N_TIMES];
    for (size_t t = 0; t < N_TIMES; t++) {
        const double time_s = ((double)t - 31.5) * 0.5;
        const double left = 4e-12 - fit.rate_s_per_s;
        rest[t] = phase->phase_rad[t] - wander[t] +
                  2 * INVENTED_PI * series->frequency_hz * left * time_s;
        offset += rest[t] / N_TIMES;
    }
    double square = 0;
    for (size_t t = 0; t < N_TIMES; t++)
        square += pow(rest[t] - offset, 2) / (N_TIMES - 1);
    /* a variance of 63 degrees of freedom: 5 sqrt(2/63) */
    wf_check_near("noise of the phase", square / 0.0026, 1, 0.9, "");
    wf_check_near("noise as given", phase->sigma_rad[0], 0.051, 0.005, "rad");
    wf_fringe_phase_destroy(phase);
    wf_fringe_series_destroy(series);
    for (size_t b = 0; b < 3; b++)
        invented_destroy(&bands[b]);
}

static void means_are_weighted_by_the_noise(void **state)
{
    (void)state;
    double complex fringe[5] = {1, 4, 2, 6, 9};
    double sigma[5] = {1, 0.5, INFINITY, 2, 1};
    const wf_fringe_series series = {5, 0.5, 1e9, fringe, sigma};
    wf_error err = WF_ERROR_INIT;
    wf_fringe_series *mean = NULL;
    wf_check_ok(wf_fringe_series_average(&mean, &series, 2, &err), &err);
    assert_int_equal(mean->n_times, 2);
    wf_check_near("interval", mean->interval_s, 1, 0, "s");
    wf_check_near("mean", creal(mean->fringe[0]), (1 + 4 * 4) / 5.0, 1e-15, "");
    wf_check_near("sigma", mean->sigma[0], 1 / sqrt(5), 1e-15, "");
    wf_check_near("mean", creal(mean->fringe[1]), 6, 0, "");
    wf_check_near("sigma", mean->sigma[1], 2, 1e-15, "");
    wf_fringe_series_destroy(mean);
    wf_check_refused(wf_fringe_series_average(&mean, &series, 6, &err), WF_ARGUMENT, &err, "6");
    assert_null(mean);
}

static void refused(wf_fringe_input input, wf_status want, const char *text)
{
    wf_error err = WF_ERROR_INIT;
    wf_fringe_series *series = NULL;
    wf_check_refused(wf_fringe_series_create(&series, &input, 1, 0, 0, &err), want, &err, text);
    assert_null(series);
}

static void bad_input_is_refused(void **state)
{
    (void)state;
    invented band = invented_create(N_TIMES, N_CHANNELS);
    invented_add_fringe(&band, 0, 0, 0.1, 0);
    wf_fringe_input input = band.input;
    input.n_channels = 3;
    refused(input, WF_RANGE, "3 channels");
    input = band.input;
    input.n_times = 3;
    refused(input, WF_RANGE, "0 valid integrations");
    input.n_times = 0;
    refused(input, WF_ARGUMENT, "0 integrations");
    input = band.input;
    input.channel_width_hz = 0;
    refused(input, WF_ARGUMENT, "0 Hz");
    wf_fringe_input pair[2] = {band.input, band.input};
    pair[1].n_times = 5;
    wf_error err = WF_ERROR_INIT;
    wf_fringe_series *series = NULL;
    wf_check_refused(wf_fringe_series_create(&series, pair, 2, 0, 0, &err), WF_ARGUMENT, &err,
                     "same times");
    band.visibility[3 * N_CHANNELS + 2] = NAN;
    refused(band.input, WF_FORMAT, "integration 4");
    invented_destroy(&band);
}

static void memory_that_is_short_is_said(void **state)
{
    (void)state;
#ifdef WFI_CHECKS
    invented band = invented_create(N_TIMES, N_CHANNELS);
    invented_add_fringe(&band, 0, 0, 0.1, 0);
    invented_add_noise(&band, 0.01, 3);
    wf_fringe_series *series = NULL;
    for (long n = 1;; n++) {
        wf_error err = WF_ERROR_INIT;
        wfi_memory_fail_after(n);
        const wf_status status = wf_fringe_series_create(&series, &band.input, 1, 0, 0, &err);
        wfi_memory_fail_after(0);
        if (status == WF_OK) {
            assert_in_range(n, 6, 20);
            break;
        }
        assert_int_equal(status, WF_MEMORY);
        assert_null(series);
    }
    wf_fringe_series_destroy(series);
    invented_destroy(&band);
#else
    skip();
#endif
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_steady_fringe_becomes_a_constant),
        cmocka_unit_test(a_rate_left_in_turns_the_phase),
        cmocka_unit_test(bands_add_whatever_their_phases),
        cmocka_unit_test(wander_comes_out_as_it_went_in),
        cmocka_unit_test(means_are_weighted_by_the_noise),
        cmocka_unit_test(bad_input_is_refused),
        cmocka_unit_test(memory_that_is_short_is_said),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
