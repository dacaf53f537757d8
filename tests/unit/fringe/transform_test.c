/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Noise-free fringes: the answers are the numbers that made them. */
#include "support/check.h"

#include "base/memory.h"
#include "invented.h"

/* Visibilities are floats: each carries 6e-8 of relative rounding, which the sum over n averages;
 * 1e-6 of the resolution (1 / bandwidth, 1 / (nu * stretch)) is ten times what is left. */
static const double LIMIT_CELLS = 1e-6;

static void check_found(const invented *fringe, double delay_s, double rate_s_per_s,
                        double amplitude, double phase_rad)
{
    wf_error err = WF_ERROR_INIT;
    wf_fringe_peak peak;
    wf_check_ok(wf_fringe_transform(NULL, &peak, &fringe->input, &err), &err);
    const wf_fringe_input *in = &fringe->input;
    const double resolution_s = 1 / ((double)in->n_channels * in->channel_width_hz);
    const double resolution_s_per_s =
        1 / ((double)in->n_times * in->interval_s * invented_middle_hz(in));
    wf_check_near("delay", peak.delay_s, delay_s, LIMIT_CELLS * resolution_s, "s");
    wf_check_near("rate", peak.rate_s_per_s, rate_s_per_s, LIMIT_CELLS * resolution_s_per_s, "s/s");
    wf_check_near("amplitude", peak.amplitude, amplitude, 1e-6 * amplitude, "");
    wf_check_near("phase", remainder(peak.phase_rad - phase_rad, 2 * INVENTED_PI), 0, 1e-5, "rad");
}

static void fringe_is_found_with_sign_amplitude_and_phase(void **state)
{
    (void)state;
    invented fringe = invented_create(16, 64);
    invented_add_fringe(&fringe, 1.2345e-6, -3.21e-11, 0.02, 1.0);
    check_found(&fringe, 1.2345e-6, -3.21e-11, 0.02, 1.0);
    invented_destroy(&fringe);
}

static void fringe_is_found_anywhere_between_cells(void **state)
{
    (void)state;
    for (int i = 0; i < 40; i++) {
        invented fringe = invented_create(8, 32);
        /* up to 0.45 of the window, which is 16 us and 2.38e-10 s/s */
        const double delay_s = 14.4e-6 * (invented_uniform(1, (uint64_t)i) - 0.5);
        const double rate = 2.1e-10 * (invented_uniform(2, (uint64_t)i) - 0.5);
        const double phase = 6.2 * (invented_uniform(3, (uint64_t)i) - 0.5);
        invented_add_fringe(&fringe, delay_s, rate, 0.5, phase);
        check_found(&fringe, delay_s, rate, 0.5, phase);
        invented_destroy(&fringe);
    }
}

static void odd_and_prime_sizes_are_no_different(void **state)
{
    (void)state;
    static const size_t sizes[][2] = {{1, 64}, {13, 31}, {2, 7}, {101, 3}, {37, 130}, {9, 513}};
    for (size_t i = 0; i < sizeof sizes / sizeof sizes[0]; i++) {
        invented fringe = invented_create(sizes[i][0], sizes[i][1]);
        const double rate = sizes[i][0] > 1 ? 2.5e-11 : 0;
        invented_add_fringe(&fringe, -0.777e-6, rate, 0.1, -2.0);
        check_found(&fringe, -0.777e-6, rate, 0.1, -2.0);
        invented_destroy(&fringe);
    }
}

/* Without its own rate in each channel a fringe of this rate would lose sharpness: over the stretch
 * band edge and band middle drift 0.3 turns apart. */
static void wide_bands_take_their_rate_at_each_frequency(void **state)
{
    (void)state;
    invented fringe = invented_create(64, 64);
    fringe.input.channel_width_hz = 8e6;
    fringe.input.first_channel_hz = 4e9;
    invented_add_fringe(&fringe, 3.3e-9, 1.0e-10, 1.0, 0.5);
    const double drift = 1.0e-10 * 32 * 8e6 * 32 * 0.5;
    wf_check_near("drift of the edge", drift, 0.4, 0.1, "turns");
    check_found(&fringe, 3.3e-9, 1.0e-10, 1.0, 0.5);
    invented_destroy(&fringe);
}

static void one_channel_shows_a_rate_only(void **state)
{
    (void)state;
    invented fringe = invented_create(32, 1);
    invented_add_fringe(&fringe, 0, 4.0e-11, 0.3, 0.25);
    check_found(&fringe, 0, 4.0e-11, 0.3, 0.25);
    wf_fringe_peak peak;
    wf_error err = WF_ERROR_INIT;
    wf_check_ok(wf_fringe_transform(NULL, &peak, &fringe.input, &err), &err);
    assert_true(isinf(peak.delay_error_s));
    assert_true(peak.rate_error_s_per_s < 1e-15);
    invented_destroy(&fringe);
}

static void one_integration_shows_a_delay_only(void **state)
{
    (void)state;
    invented fringe = invented_create(1, 32);
    invented_add_fringe(&fringe, 2.0e-6, 0, 0.3, 0.25);
    wf_fringe_surface *surface = NULL;
    wf_fringe_peak peak;
    wf_error err = WF_ERROR_INIT;
    wf_check_ok(wf_fringe_transform(&surface, &peak, &fringe.input, &err), &err);
    assert_true(peak.rate_s_per_s == 0 && isinf(peak.rate_error_s_per_s));
    assert_int_equal(surface->n_rates, 1);
    assert_true(surface->rate_s_per_s[0] == 0);
    wf_fringe_surface_destroy(surface);
    invented_destroy(&fringe);
}

/* Times without weight count neither in amplitude nor, holding rubbish, in anything else. */
static void integrations_without_weight_do_not_count(void **state)
{
    (void)state;
    invented fringe = invented_create(20, 32);
    invented_add_fringe(&fringe, 1.0e-6, 1.0e-11, 0.25, -1.0);
    static const double without[] = {0, -1, NAN};
    for (size_t i = 0; i < 3; i++) {
        fringe.weight[3 + 5 * i] = without[i];
        fringe.visibility[(3 + 5 * i) * 32 + 7] = CMPLXF(NAN, 1e30f);
    }
    fringe.weight[9] = 0.125;
    check_found(&fringe, 1.0e-6, 1.0e-11, 0.25, -1.0);
    invented_destroy(&fringe);
}

/* Spread of times 0 and 1 with weights 3 and 1: mean 1/4, variance 3/16 (in intervals). */
static void rate_error_follows_the_weights(void **state)
{
    (void)state;
    invented fringe = invented_create(2, 64);
    invented_add_fringe(&fringe, 0, 0, 1.0, 0);
    invented_add_noise(&fringe, 0.5, 77);
    fringe.weight[0] = 3;
    wf_fringe_peak peak;
    wf_error err = WF_ERROR_INIT;
    wf_check_ok(wf_fringe_transform(NULL, &peak, &fringe.input, &err), &err);
    const double spread_s = 0.5 * sqrt(3.0 / 16.0);
    const double want =
        1 / (2 * INVENTED_PI * peak.snr * invented_middle_hz(&fringe.input) * spread_s);
    wf_check_near("rate error", peak.rate_error_s_per_s, want, 1e-12 * want, "s/s");
    invented_destroy(&fringe);
}

static size_t nearest(const double *axis, size_t n, double value)
{
    size_t best = 0;
    for (size_t i = 1; i < n; i++) {
        if (fabs(axis[i] - value) < fabs(axis[best] - value))
            best = i;
    }
    return best;
}

/* The surface of one fringe on a cell is a product of Dirichlet kernels: sin(n x) / (n sin x). */
static double dirichlet(size_t n, double turns)
{
    const double x = INVENTED_PI * turns;
    return fabs(sin(x)) < 1e-9 ? 1 : fabs(sin((double)n * x) / ((double)n * sin(x)));
}

static void surface_has_ascending_axes_and_the_closed_form(void **state)
{
    (void)state;
    invented fringe = invented_create(5, 12);
    const double delay_s = -2.5e-6;
    invented_add_fringe(&fringe, delay_s, 0, 0.5, 0.1);
    wf_fringe_surface *surface = NULL;
    wf_fringe_peak peak;
    wf_error err = WF_ERROR_INIT;
    wf_check_ok(wf_fringe_transform(&surface, &peak, &fringe.input, &err), &err);
    assert_true(surface->n_delays >= 24 && surface->n_rates >= 10);
    for (size_t i = 1; i < surface->n_delays; i++)
        assert_true(surface->delay_s[i] > surface->delay_s[i - 1]);
    for (size_t i = 1; i < surface->n_rates; i++)
        assert_true(surface->rate_s_per_s[i] > surface->rate_s_per_s[i - 1]);
    assert_true(surface->delay_s[nearest(surface->delay_s, surface->n_delays, 0)] == 0);
    assert_true(surface->rate_s_per_s[nearest(surface->rate_s_per_s, surface->n_rates, 0)] == 0);
    const double nu = invented_middle_hz(&fringe.input);
    for (size_t m = 0; m < surface->n_rates; m++) {
        for (size_t k = 0; k < surface->n_delays; k++) {
            const double want = 0.5 * dirichlet(12, (surface->delay_s[k] - delay_s) * 62.5e3) *
                                dirichlet(5, surface->rate_s_per_s[m] * nu * 0.5);
            wf_check_near("amplitude", surface->amplitude[m * surface->n_delays + k], want, 1e-6,
                          "");
        }
    }
    wf_fringe_surface_destroy(surface);
    invented_destroy(&fringe);
}

/* Averaging over the stretch at a residual rate r loses 1 - sinc(r T nu) of the amplitude, over the
 * band at a delay D 1 - sinc(D B) (Thompson, Moran, Swenson 2017, section 9.7, in the limit of
 * many cells): the amplitude of the surface at zero delay and rate. */
static void zero_delay_and_rate_show_the_loss_of_plain_averaging(void **state)
{
    (void)state;
    invented fringe = invented_create(200, 300);
    const double nu = invented_middle_hz(&fringe.input);
    const double turns_time = 0.25;
    const double turns_band = 0.5;
    invented_add_fringe(&fringe, turns_band / (300 * 62.5e3), turns_time / (100 * nu), 1.0, 0);
    wf_fringe_surface *surface = NULL;
    wf_fringe_peak peak;
    wf_error err = WF_ERROR_INIT;
    wf_check_ok(wf_fringe_transform(&surface, &peak, &fringe.input, &err), &err);
    const size_t m = nearest(surface->rate_s_per_s, surface->n_rates, 0);
    const size_t k = nearest(surface->delay_s, surface->n_delays, 0);
    /* sinc(1/4) sinc(1/2) = 0.900316 * 0.636620; limit: (pi x)^2 / (6 n^2) of discrete sums */
    wf_check_near("loss", surface->amplitude[m * surface->n_delays + k], 0.900316 * 0.636620, 2e-5,
                  "");
    wf_check_near("peak", peak.amplitude, 1.0, 1e-6, "");
    wf_fringe_surface_destroy(surface);
    invented_destroy(&fringe);
}

static void nothing_but_zeros_is_no_fringe(void **state)
{
    (void)state;
    invented fringe = invented_create(8, 8);
    wf_fringe_peak peak;
    wf_error err = WF_ERROR_INIT;
    wf_check_ok(wf_fringe_transform(NULL, &peak, &fringe.input, &err), &err);
    assert_true(peak.amplitude == 0 && peak.snr == 0 && peak.false_alarm == 1 &&
                isinf(peak.delay_error_s));
    invented_destroy(&fringe);
}

static void check_refusal(const wf_fringe_input *input, wf_status want, const char *text)
{
    wf_fringe_surface *surface = NULL;
    wf_fringe_peak peak;
    wf_error err = WF_ERROR_INIT;
    wf_check_refused(wf_fringe_transform(&surface, &peak, input, &err), want, &err, text);
    assert_null(surface);
    assert_true(peak.snr == 0);
}

static void what_holds_no_fringe_is_refused(void **state)
{
    (void)state;
    invented fringe = invented_create(2, 3);
    wf_fringe_input bad = fringe.input;
    bad.n_times = 0;
    check_refusal(&bad, WF_ARGUMENT, "needs integrations");
    bad = fringe.input;
    bad.channel_width_hz = NAN;
    check_refusal(&bad, WF_ARGUMENT, "channel width");
    bad = fringe.input;
    bad.n_channels = WF_FRINGE_CELLS_MAX;
    bad.n_times = 1;
    fringe.weight[0] = 0;
    check_refusal(&bad, WF_RANGE, "0 of 1 integrations are valid");
    fringe.weight[1] = 1;
    check_refusal(&fringe.input, WF_RANGE, "1 of 2 integrations are valid, with 3 channels");
    fringe.weight[0] = 1;
    fringe.visibility[4] = CMPLXF(0, INFINITY);
    check_refusal(&fringe.input, WF_FORMAT, "integration 1, channel 1");
    invented_destroy(&fringe);
}

static void too_large_a_surface_is_refused(void **state)
{
    (void)state;
    invented fringe = invented_create(5000, 2048);
    check_refusal(&fringe.input, WF_UNSUPPORTED, "give a shorter stretch");
    invented_destroy(&fringe);
}

static void every_failed_allocation_is_reported(void **state)
{
    (void)state;
    invented fringe = invented_create(4, 8);
    invented_add_fringe(&fringe, 0, 0, 1, 0);
    wf_status status = WF_MEMORY;
    for (long n = 1; n < 20 && status != WF_OK; n++) {
        wf_fringe_surface *surface = NULL;
        wf_fringe_peak peak;
        wf_error err = WF_ERROR_INIT;
        wfi_memory_fail_after(n);
        status = wf_fringe_transform(&surface, &peak, &fringe.input, &err);
        wfi_memory_fail_after(0);
        if (status != WF_OK)
            wf_check_refused(status, WF_MEMORY, &err, "out of memory");
        assert_true((surface != NULL) == (status == WF_OK));
        wf_fringe_surface_destroy(surface);
    }
    wf_check_ok(status, &(wf_error)WF_ERROR_INIT);
    invented_destroy(&fringe);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(fringe_is_found_with_sign_amplitude_and_phase),
        cmocka_unit_test(fringe_is_found_anywhere_between_cells),
        cmocka_unit_test(odd_and_prime_sizes_are_no_different),
        cmocka_unit_test(wide_bands_take_their_rate_at_each_frequency),
        cmocka_unit_test(one_channel_shows_a_rate_only),
        cmocka_unit_test(one_integration_shows_a_delay_only),
        cmocka_unit_test(integrations_without_weight_do_not_count),
        cmocka_unit_test(rate_error_follows_the_weights),
        cmocka_unit_test(surface_has_ascending_axes_and_the_closed_form),
        cmocka_unit_test(zero_delay_and_rate_show_the_loss_of_plain_averaging),
        cmocka_unit_test(nothing_but_zeros_is_no_fringe),
        cmocka_unit_test(what_holds_no_fringe_is_refused),
        cmocka_unit_test(too_large_a_surface_is_refused),
        cmocka_unit_test(every_failed_allocation_is_reported),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
