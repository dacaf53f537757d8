/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/check.h"

#include "base/memory.h"
#include "bands.h"

/* Gaps, an overlap, other widths and numbers of channels, edges on no grid. */
static const band_shape unlike[] = {{8400.0e6, 62.5e3, 64},
                                    {8410.1234e6, 125.0e3, 20},
                                    {8412.0e6, 62.5e3, 64},
                                    {8500.0e6, 50.0e3, 30}};

static wf_fringe_fit fitted(const bands *all, const wf_fringe_window *window)
{
    wf_error err = WF_ERROR_INIT;
    wf_fringe_fit fit;
    wf_check_ok(wf_fringe_fit_bands(&fit, NULL, all->input, all->n, window, &err), &err);
    return fit;
}

static double wrapped(double rad)
{
    return rad - 2 * INVENTED_PI * rint(rad / (2 * INVENTED_PI));
}

/* Without noise the fit is exact to the rounding of single-precision visibilities (6e-8). */
static void fringe_without_noise_is_found_exactly(void **state)
{
    (void)state;
    static const double delays[] = {0, 1.2345e-6, -3.9e-6};
    static const double rates[] = {0, 2.2e-11, -1.1e-10};
    for (size_t i = 0; i < 3; i++) {
        bands all = bands_create(unlike, 4, 20, 0.4);
        const wf_fringe_window window = {4e-6, 1.2e-10, 0, 0};
        truth t = {delays[i], rates[i], 0.02, 1.0, 8440e6};
        bands_add_fringe(&all, &t, NULL);
        const wf_fringe_fit fit = fitted(&all, &window);
        wf_check_near("delay", fit.delay_s, t.delay_s, 1e-15, "s");
        wf_check_near("rate", fit.rate_s_per_s, t.rate_s_per_s, 1e-17, "s/s");
        wf_check_near("amplitude", fit.amplitude, 0.02, 1e-7, "");
        const double turns = (fit.reference_hz - 8440e6) * t.delay_s;
        wf_check_near("phase", wrapped(fit.phase_rad - (1.0 - 2 * INVENTED_PI * turns)), 0, 1e-6,
                      "rad");
        wf_check_near("single band", fit.single_band_delay_s, t.delay_s, 1e-12, "s");
        wf_check_near("coherence", fit.band_coherence, 1, 1e-6, "");
        bands_destroy(&all);
    }
}

/* Uneven weights, a band with a gap, noise as strong as the fringe: visibilities of closed form,
 * the largest sums found by an own search over a lattice of direct sums and Nelder and Mead's
 * method of scipy 1.10.1 (numpy 1.24.2), written from the formula of the header. Limits: the
 * visibilities' single precision, 6e-8 of a resolution (1e-8 s, 2.5e-11 s/s; of a band 1e-6 s). */
static void fit_is_that_of_direct_sums(void **state)
{
    (void)state;
    static const band_shape shapes[] = {{8400.0e6, 62.5e3, 24},
                                        {8410.1234e6, 125.0e3, 10},
                                        {8412.0e6, 62.5e3, 24},
                                        {8500.0e6, 50.0e3, 15}};
    bands all = bands_create(shapes, 4, 12, 0.4);
    for (size_t b = 0; b < 4; b++) {
        const double offset_hz = invented_middle_hz(&all.input[b]) - 8440e6;
        const double phase_rad =
            0.4 + 1.1 * (double)b - 2 * INVENTED_PI * fmod(offset_hz * 0.7e-6, 1.0);
        for (size_t i = 0; i < 12 * shapes[b].n_channels; i++) {
            const double k = (double)i;
            all.band[b].visibility[i] = (float complex)CMPLX(
                sin(1.7 * k * k + 0.3 * k + (double)b), cos(2.3 * k * k + 0.7 * k + (double)b));
        }
        invented_add_fringe(&all.band[b], 0.7e-6, 3.3e-11, 0.3, phase_rad);
        for (size_t t = 0; t < 12; t++)
            all.band[b].weight[t] = 1 - 0.05 * (double)t;
    }
    all.band[1].weight[5] = 0;
    const wf_fringe_window window = {2e-6, 1e-10, 0, 0};
    wf_fringe_fit fit = fitted(&all, &window);
    wf_check_near("delay", fit.delay_s, 6.743350588859929e-07, 6e-16, "s");
    wf_check_near("rate", fit.rate_s_per_s, 3.278186006457794e-11, 1.5e-18, "s/s");
    wf_check_near("amplitude", fit.amplitude, 0.266780468143, 1e-8, "");
    wf_check_near("phase", fit.phase_rad, 1.290215878550, 1e-6, "rad");
    wf_check_near("reference", fit.reference_hz, 8421999042.731279, 1e-4, "Hz");
    wf_check_near("coherence", fit.band_coherence, 0.959224837421, 1e-7, "");
    wf_error err = WF_ERROR_INIT;
    wf_check_ok(wf_fringe_fit_bands_free_phases(&fit, NULL, all.input, 4, &window, &err), &err);
    wf_check_near("free delay", fit.delay_s, 6.976071202593346e-07, 6e-14, "s");
    wf_check_near("free rate", fit.rate_s_per_s, 3.274520808088112e-11, 1.5e-18, "s/s");
    wf_check_near("free amplitude", fit.amplitude, 0.278535869473, 1e-8, "");
    bands_destroy(&all);
}

/* Two fringes of equal height, one outside: the window decides. Its centre may lie where channels
 * and integrations alone would be ambiguous. */
static void window_decides(void **state)
{
    (void)state;
    bands all = bands_create(unlike, 4, 20, 0.4);
    const truth inside = {1.5e-6, 3e-11, 0.01, 1.0, 8440e6};
    const truth outside = {-2.0e-6, 3e-11, 0.02, 1.0, 8440e6};
    bands_add_fringe(&all, &inside, NULL);
    bands_add_fringe(&all, &outside, NULL);
    const wf_fringe_window window = {0.5e-6, 1e-11, 1.7e-6, 2.5e-11};
    const wf_fringe_fit fit = fitted(&all, &window);
    /* the other one's side lobe in delay is below 1 / (pi 14 resolutions): 2 % of twice as much */
    wf_check_near("delay", fit.delay_s, inside.delay_s, 0.5e-9, "s");
    wf_check_near("amplitude", fit.amplitude, 0.01, 1e-3, "");
    bands_destroy(&all);

    all = bands_create(unlike, 4, 20, 0.4);
    const truth far_off = {123.4567e-6, 5.4e-9, 0.02, 0.3, 8440e6};
    bands_add_fringe(&all, &far_off, NULL);
    const wf_fringe_window around = {1e-6, 2e-11, 123e-6, 5.39e-9};
    const wf_fringe_fit found = fitted(&all, &around);
    wf_check_near("delay far off", found.delay_s, far_off.delay_s, 1e-15, "s");
    wf_check_near("rate far off", found.rate_s_per_s, far_off.rate_s_per_s, 1e-17, "s/s");
    bands_destroy(&all);
}

/* The edge of the window belongs to it, and what lies beyond does not draw the fit out. */
static void fit_stays_within_the_window(void **state)
{
    (void)state;
    bands all = bands_create(unlike, 4, 20, 0.4);
    const truth beyond = {0.301e-6, 2.1e-11, 0.02, 1.0, 8440e6};
    bands_add_fringe(&all, &beyond, NULL);
    const wf_fringe_window window = {0.3e-6, 2e-11, 0, 0};
    const wf_fringe_fit fit = fitted(&all, &window);
    wf_check_near("delay", fit.delay_s, 0.3e-6, 1e-20, "s");
    wf_check_near("rate", fit.rate_s_per_s, 2e-11, 1e-25, "s/s");
    bands_destroy(&all);
}

/* Band phases at random: in phase nothing stands out, free phases bring the fringe back, and the
 * peaks tell the phases. */
static void free_phases_find_what_phases_hide(void **state)
{
    (void)state;
    static const double instrument_rad[] = {0.0, 2.1, -1.9, 2.9};
    bands all = bands_create(unlike, 4, 20, 0.4);
    const truth t = {1.1e-6, 2.2e-11, 0.02, 0.7, 8440e6};
    bands_add_fringe(&all, &t, instrument_rad);
    const wf_fringe_window window = {4e-6, 1e-10, 0, 0};
    wf_fringe_fit fit;
    wf_fringe_peak peaks[4];
    wf_error err = WF_ERROR_INIT;
    wf_check_ok(wf_fringe_fit_bands_free_phases(&fit, peaks, all.input, all.n, &window, &err),
                &err);
    wf_check_near("delay", fit.delay_s, t.delay_s, 1e-12, "s");
    wf_check_near("rate", fit.rate_s_per_s, t.rate_s_per_s, 1e-16, "s/s");
    wf_check_near("amplitude", fit.amplitude, 0.02, 1e-7, "");
    assert_true(fit.band_coherence < 0.8 && fit.delay_ambiguity_s == 0);
    for (size_t b = 0; b < 4; b++) {
        const double offset_hz = invented_middle_hz(&all.input[b]) - t.reference_hz;
        const double want =
            0.7 + instrument_rad[b] - 2 * INVENTED_PI * fmod(offset_hz * t.delay_s, 1);
        wf_check_near("band phase", wrapped(peaks[b].phase_rad - want), 0, 1e-5, "rad");
        wf_check_near("band delay", peaks[b].delay_s, t.delay_s, 1e-12, "s");
    }
    bands_destroy(&all);
}

/* Written out: the bands' middles are 100, 250 and 275 MHz apart in all, of which 25 MHz is the
 * greatest common divisor; with 8400.5 in place of 8400 it is 500 kHz. */
static void ambiguity_is_that_of_the_bands_spacing(void **state)
{
    (void)state;
    const band_shape shapes[2][3] = {
        {{8.4e9, 1e6, 16}, {8.5e9, 1e6, 16}, {8.675e9, 1e6, 16}},
        {{8.4005e9, 1e6, 16}, {8.5e9, 1e6, 16}, {8.675e9, 1e6, 16}},
    };
    static const double want_s[] = {40e-9, 2e-6};
    for (size_t i = 0; i < 2; i++) {
        bands all = bands_create(shapes[i], 3, 8, 1);
        bands_add_noise(&all, 1, 3);
        const wf_fringe_window window = {0};
        wf_check_near("ambiguity", fitted(&all, &window).delay_ambiguity_s, want_s[i], 1e-15, "s");
        bands_destroy(&all);
    }
    bands one = bands_create(shapes[0], 1, 8, 1);
    bands_add_noise(&one, 1, 3);
    const wf_fringe_window window = {0};
    assert_true(fitted(&one, &window).delay_ambiguity_s == 0);
    bands_destroy(&one);
}

/* rho sqrt(2 B tau) = 200 whatever the bands' shapes; the noise of 3700 visibilities is known to
 * 1.2 %, 5 sigma of it and of the snr itself. */
static void snr_is_that_of_the_radiometer_equation(void **state)
{
    (void)state;
    bands all = bands_create(unlike, 4, 20, 0.4);
    for (size_t b = 0; b < 4; b++) {
        all.band[b].weight[3] = 0;
        all.band[b].weight[7] = 0.25;
        all.band[b].visibility[3 * all.input[b].n_channels] = CMPLXF(NAN, INFINITY);
    }
    all.band[1].weight[11] = 0;
    const truth t = {1.1e-6, 2.2e-11, 200 / bands_snr(&all, 1), 0.7, 8440e6};
    bands_add_fringe(&all, &t, NULL);
    bands_add_noise(&all, 1, 17);
    const wf_fringe_window window = {4e-6, 1e-10, 0, 0};
    const wf_fringe_fit fit = fitted(&all, &window);
    wf_check_near("snr", fit.snr / 200, 1, 5 * hypot(0.012, 1.0 / 200), "of theory");
    wf_check_near("delay", fit.delay_s, t.delay_s, 5 * fit.delay_error_s, "s");
    bands_destroy(&all);
}

/* Equal bands, even weights: Thompson, Moran, Swenson 2017, section 9.8 (from memory): delay error
 * 1 / (2 pi s f_rms), rate error 1 / (2 pi nu s t_rms), phase error 1 / s at the centroid. The
 * rate's nu varies by 1e-3 over the span. Single band: f_rms of a band, written out. */
static void errors_are_the_published_ones(void **state)
{
    (void)state;
    const band_shape shapes[] = {{8.4e9, 1e6, 16}, {8.42e9, 1e6, 16}, {8.46e9, 1e6, 16}};
    bands all = bands_create(shapes, 3, 10, 1);
    const truth t = {0, 0, 50 / bands_snr(&all, 1), 0.7, 8440e6};
    bands_add_fringe(&all, &t, NULL);
    bands_add_noise(&all, 1, 18);
    const wf_fringe_window window = {0};
    const wf_fringe_fit fit = fitted(&all, &window);
    const double own = 1e6 * sqrt((16.0 * 16 - 1) / 12);
    /* middles at 0, 20, 60 MHz: variance (400 + 3600) / 3 - (80 / 3)^2 MHz^2 */
    const double span = 1e6 * sqrt(4000.0 / 3 - 6400.0 / 9);
    const double f_rms = hypot(own, span);
    const double t_rms = sqrt((10.0 * 10 - 1) / 12);
    const double s = 2 * INVENTED_PI * fit.snr;
    wf_check_near("delay error", fit.delay_error_s * s * f_rms, 1, 1e-9, "of theory");
    wf_check_near("single-band delay error", fit.single_band_delay_error_s * s * own, 1, 1e-9,
                  "of theory");
    wf_check_near("rate error", fit.rate_error_s_per_s * s * t_rms * fit.reference_hz, 1, 1e-4,
                  "of theory");
    wf_check_near("phase error", fit.phase_error_rad * fit.snr, 1, 1e-9, "of theory");
    wf_check_near("reference", fit.reference_hz, 8.4075e9 + 80e6 / 3, 1e-3, "Hz");
    bands_destroy(&all);
}

/* Channels of 1 MHz: half a microsecond; integrations of 1 s at 8.5 GHz: 5.9e-11. */
static void windows_beyond_the_data_are_refused(void **state)
{
    (void)state;
    static const struct {
        wf_fringe_window window;
        wf_status status;
        const char *text;
    } cases[] = {
        {{0.6e-6, 0, 0, 0}, WF_RANGE, "channels of at most 833333 Hz"},
        {{0, 1e-10, 0, 0}, WF_RANGE, "integrations of at most 0.59"},
        {{-1e-6, 0, 0, 0}, WF_ARGUMENT, "delays is -1e-06"},
        {{0, NAN, 0, 0}, WF_ARGUMENT, "rates is nan"},
        {{0, 0, INFINITY, 0}, WF_ARGUMENT, "centre"},
    };
    const band_shape shapes[] = {{8.4e9, 1e6, 16}, {8.42e9, 1e6, 16}};
    bands all = bands_create(shapes, 2, 8, 1);
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        wf_error err = WF_ERROR_INIT;
        wf_fringe_fit fit = {.snr = 9};
        wf_check_refused(wf_fringe_fit_bands(&fit, NULL, all.input, all.n, &cases[i].window, &err),
                         cases[i].status, &err, cases[i].text);
        assert_true(fit.snr == 0);
    }
    bands_destroy(&all);
}

static void inputs_that_do_not_belong_together_are_refused(void **state)
{
    (void)state;
    const band_shape shapes[] = {{8.4e9, 1e6, 16}, {8.42e9, 1e6, 16}};
    const wf_fringe_window window = {0};
    bands all = bands_create(shapes, 2, 8, 1);
    wf_fringe_fit fit;
    wf_error err = WF_ERROR_INIT;
    wf_check_refused(wf_fringe_fit_bands(&fit, NULL, all.input, 0, &window, &err), WF_ARGUMENT,
                     &err, "at least one band");
    all.input[1].interval_s = 2;
    err = (wf_error)WF_ERROR_INIT;
    wf_check_refused(wf_fringe_fit_bands(&fit, NULL, all.input, 2, &window, &err), WF_ARGUMENT,
                     &err, "share their times");
    all.input[1].interval_s = 1;
    all.band[1].visibility[16] = CMPLXF(0, NAN);
    err = (wf_error)WF_ERROR_INIT;
    wf_check_refused(wf_fringe_fit_bands(&fit, NULL, all.input, 2, &window, &err), WF_FORMAT, &err,
                     "band 1 (from 0): the visibility of integration 1, channel 0");
    for (size_t t = 0; t < 8; t++)
        all.band[0].weight[t] = all.band[1].weight[t] = 0;
    err = (wf_error)WF_ERROR_INIT;
    wf_check_refused(wf_fringe_fit_bands(&fit, NULL, all.input, 2, &window, &err), WF_RANGE, &err,
                     "0 visibilities");
    bands_destroy(&all);
}

/* A band without data leaves the fit of the others as it is, bit for bit; its peak says so. */
static void band_without_data_counts_for_nothing(void **state)
{
    (void)state;
    const band_shape shapes[] = {{8.4e9, 1e6, 16}, {8.42e9, 1e6, 16}, {8.46e9, 1e6, 16}};
    bands all = bands_create(shapes, 3, 10, 1);
    const truth t = {1e-7, 1e-11, 0.01, 0.7, 8440e6};
    bands_add_fringe(&all, &t, NULL);
    bands_add_noise(&all, 1, 18);
    for (size_t i = 0; i < 10; i++)
        all.band[2].weight[i] = 0;
    const wf_fringe_window window = {0};
    wf_fringe_fit three, two;
    wf_fringe_peak peaks[3];
    wf_error err = WF_ERROR_INIT;
    wf_check_ok(wf_fringe_fit_bands(&three, peaks, all.input, 3, &window, &err), &err);
    wf_check_ok(wf_fringe_fit_bands(&two, NULL, all.input, 2, &window, &err), &err);
    assert_memory_equal(&three, &two, sizeof two);
    assert_true(peaks[2].snr == 0 && peaks[2].false_alarm == 1 && isinf(peaks[2].delay_error_s));
    assert_true(peaks[0].snr > 5);
    bands_destroy(&all);
}

/* What nothing resolves is left at the window's centre, with an infinite error. */
static void lone_channel_and_lone_integration_still_show_a_fringe(void **state)
{
    (void)state;
    const band_shape tone[] = {{8.4e9, 1e6, 1}};
    bands all = bands_create(tone, 1, 32, 1);
    const truth t = {0, 1e-11, 0.05, 0.7, 8.4e9};
    bands_add_fringe(&all, &t, NULL);
    bands_add_noise(&all, 1, 4);
    const wf_fringe_window window = {0, 0, 2e-7, 0};
    wf_fringe_fit fit = fitted(&all, &window);
    assert_true(isinf(fit.delay_error_s) && fit.delay_s == 2e-7);
    wf_check_near("rate", fit.rate_s_per_s, 1e-11, 5 * fit.rate_error_s_per_s, "s/s");
    bands_destroy(&all);

    const band_shape wide[] = {{8.4e9, 1e6, 32}, {8.5e9, 1e6, 32}};
    all = bands_create(wide, 2, 1, 1);
    const truth delayed = {1.2e-7, 0, 0.05, 0.7, 8.4e9};
    bands_add_fringe(&all, &delayed, NULL);
    bands_add_noise(&all, 1, 5);
    fit = fitted(&all, &window);
    assert_true(isinf(fit.rate_error_s_per_s) && fit.rate_s_per_s == 0);
    wf_check_near("delay", fit.delay_s, 1.2e-7, 5 * fit.delay_error_s, "s");
    bands_destroy(&all);
}

/* Bands of one channel and one integration each: the phases of eight tones, as of a comb. The
 * noise is what the fit leaves. */
static void tones_make_a_multi_band_delay(void **state)
{
    (void)state;
    band_shape tones[8];
    for (size_t b = 0; b < 8; b++)
        tones[b] = (band_shape){8.4e9 + 1e6 * (double)(b * b), 1e4, 1};
    bands all = bands_create(tones, 8, 4, 1);
    const truth t = {0.31e-6, 4e-12, 0.1, 0.7, 8.4e9};
    bands_add_fringe(&all, &t, NULL);
    bands_add_noise(&all, 1, 6);
    const wf_fringe_window window = {0.4e-6, 0, 0, 0};
    const wf_fringe_fit fit = fitted(&all, &window);
    wf_check_near("delay", fit.delay_s, t.delay_s, 5 * fit.delay_error_s, "s");
    /* 30 complex numbers left: their rms is good to 1 / sqrt(4 * 30), 5 of it */
    wf_check_near("snr", fit.snr / bands_snr(&all, 0.1), 1, 0.46, "of theory");
    bands_destroy(&all);
}

/* Every allocation failing in turn: MEMORY, no leak (sanitizer builds tell), no result. */
static void failed_allocations_are_told(void **state)
{
    (void)state;
    bands all = bands_create(unlike, 4, 20, 0.4);
    bands_add_noise(&all, 1, 6);
    const wf_fringe_window window = {1e-6, 1e-11, 0, 0};
    wf_fringe_fit fit;
    wf_fringe_peak peaks[4];
    bool has_succeeded = false;
    for (long n = 1; n < 1000 && !has_succeeded; n++) {
        wf_error err = WF_ERROR_INIT;
        wfi_memory_fail_after(n);
        const wf_status status = wf_fringe_fit_bands(&fit, peaks, all.input, all.n, &window, &err);
        has_succeeded = status == WF_OK;
        if (!has_succeeded)
            assert_int_equal(status, WF_MEMORY);
    }
    wfi_memory_fail_after(0);
    assert_true(has_succeeded);
    bands_destroy(&all);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(fringe_without_noise_is_found_exactly),
        cmocka_unit_test(fit_is_that_of_direct_sums),
        cmocka_unit_test(window_decides),
        cmocka_unit_test(fit_stays_within_the_window),
        cmocka_unit_test(free_phases_find_what_phases_hide),
        cmocka_unit_test(ambiguity_is_that_of_the_bands_spacing),
        cmocka_unit_test(snr_is_that_of_the_radiometer_equation),
        cmocka_unit_test(errors_are_the_published_ones),
        cmocka_unit_test(windows_beyond_the_data_are_refused),
        cmocka_unit_test(inputs_that_do_not_belong_together_are_refused),
        cmocka_unit_test(band_without_data_counts_for_nothing),
        cmocka_unit_test(lone_channel_and_lone_integration_still_show_a_fringe),
        cmocka_unit_test(tones_make_a_multi_band_delay),
        cmocka_unit_test(failed_allocations_are_told),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
