/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/check.h"

#include "statistics/comb.h"
#include "unit/statistics/invented.h"

static const double TURN = 6.283185307179586476925287;

/* Tones of amplitude 1, from the definition, t from the whole second on. */
static double complex sample_of(const wfi_comb_setup *s, double t, double delay_s, double phase_rad)
{
    double complex x = 0;
    for (size_t m = 0; m < s->n_tones; m++) {
        const double hz = s->offset_hz + (double)m * (double)s->spacing_hz;
        const double turns = fmod(hz * t, 1.0) - (double)m * (double)s->spacing_hz * delay_s;
        x += cexp(I * (TURN * turns + phase_rad));
    }
    return x;
}

static void fill(float *x, const wfi_comb_setup *s, int64_t first, size_t n, double delay_s,
                 double noise, uint64_t *random)
{
    for (size_t i = 0; i < n; i++) {
        const double t = (double)(first + (int64_t)i) / (double)s->rate_hz;
        const double complex z = sample_of(s, t, delay_s, 0.5);
        if (s->n_parts == 1) {
            x[i] = (float)(creal(z) + noise * next_normal(random));
            continue;
        }
        x[2 * i] = (float)(creal(z) + noise * next_normal(random));
        x[2 * i + 1] = (float)(cimag(z) + noise * next_normal(random));
    }
}

enum { N = 60000 };

/* Limit without noise: tones leak into one another where the stretch holds no whole number of
 * periods of their differences; here it does, so that float rounding is left: 1e-5. */
static void check_tones(int64_t rate_hz, size_t n_parts, int64_t spacing_hz, double phase_hz,
                        int64_t first)
{
    static float x[2 * N];
    wf_error err = WF_ERROR_INIT;
    wfi_comb_setup setup;
    wfi_comb_sums sums;
    double complex tones[64];
    uint64_t random = 1;
    wf_check_ok(wfi_comb_setup_init(&setup, rate_hz, n_parts, spacing_hz, phase_hz, &err), &err);
    wf_check_ok(wfi_comb_sums_create(&sums, &setup, &err), &err);
    assert_true(setup.n_tones > 2 && setup.n_tones <= 64);
    fill(x, &setup, first, N, 1.7e-6, 0, &random);
    wfi_comb_sums_add(&sums, first, x, 777);
    wfi_comb_sums_add(&sums, first + 777, x + 777 * n_parts, N - 777);
    wfi_comb_tones(&sums, tones);
    for (size_t m = 0; m < setup.n_tones; m++) {
        const double turns = -(double)m * (double)spacing_hz * 1.7e-6;
        const double want = 1 / sqrt((double)setup.n_tones);
        wf_check_near("amplitude", cabs(tones[m]), want, 1e-5, "");
        const double off = carg(tones[m] * cexp(-I * (TURN * turns + 0.5)));
        wf_check_near("phase", off, 0, 3e-5, "rad");
    }
    wfi_comb_sums_release(&sums);
}

static void tones_are_read_at_any_place(void **state)
{
    (void)state;
    check_tones(1000000, 1, 100000, 5000, 0);
    check_tones(1000000, 1, 100000, 5000, 123457);
    check_tones(1000000, 2, 100000, 5000, 999999);
    check_tones(2000000, 2, 125000, -3000, 12345678901);
    check_tones(960000, 1, 80000, 2000, -54321);
}

/* Sigma of a phase: 1/(amplitude sqrt(n)) for amplitude sqrt(power fraction) of n real samples;
 * five of them. The sum of the tones' power is a tenth of a per cent of all. */
static void noise_moves_phase_and_delay_as_predicted(void **state)
{
    (void)state;
    static float x[2 * N];
    wf_error err = WF_ERROR_INIT;
    wfi_comb_setup setup;
    wfi_comb_sums sums;
    double complex tones[64];
    uint64_t random = 3;
    wf_check_ok(wfi_comb_setup_init(&setup, 1000000, 1, 50000, 10000, &err), &err);
    wf_check_ok(wfi_comb_sums_create(&sums, &setup, &err), &err);
    for (int64_t k = 0; k < 20; k++) {
        fill(x, &setup, k * N, N, 2.5e-6, 50, &random);
        wfi_comb_sums_add(&sums, k * N, x, N);
    }
    wfi_comb_tones(&sums, tones);
    const double sigma = wfi_comb_sigma(&sums);
    wf_check_near("sigma", sigma, 1 / sqrt(20.0 * N), 1e-12, "");
    const wfi_comb_fit fit = wfi_comb_fit_delay(tones, setup.n_tones, 50000, sigma);
    const double amplitude = 1 / sqrt(2.0) / 50;
    const double n_tones = (double)setup.n_tones;
    const double snr = amplitude * sqrt(n_tones) / sigma;
    wf_check_near("snr", fit.snr, snr, 5, "");
    const double want_error = 1 / (TURN * 50000 * sqrt((n_tones * n_tones - 1) / 12) * snr);
    wf_check_near("delay", fit.delay_s, 2.5e-6, 5 * want_error, "s");
    wf_check_near("its error", fit.delay_error_s / want_error, snr / fit.snr, 1e-9, "");
    wfi_comb_sums_release(&sums);
}

/* Tone 8400 of 1 MHz at 8400 MHz lies 0.01 MHz above an edge of 8399.99 MHz: upper sideband
 * +10 kHz; seen from 8416.01 MHz downwards the first is 8416. */
static void tones_on_the_sky_fall_into_the_band(void **state)
{
    (void)state;
    wf_error err = WF_ERROR_INIT;
    wfi_comb_setup s;
    int64_t first = 0;
    wf_check_ok(wfi_comb_setup_sky(&s, &first, 32000000, 1, 1000000, 8399.99e6, 1, &err), &err);
    wf_check_near("offset", s.offset_hz, 10000, 1e-6, "Hz");
    assert_int_equal(first, 8400);
    assert_int_equal(s.n_tones, 16);
    wf_check_ok(wfi_comb_setup_sky(&s, &first, 32000000, 1, 1000000, 8416.01e6, -1, &err), &err);
    wf_check_near("offset", s.offset_hz, 10000, 1e-6, "Hz");
    assert_int_equal(first, 8416);
    wf_check_ok(wfi_comb_setup_sky(&s, &first, 16000000, 2, 5000000, 8408e6, 1, &err), &err);
    wf_check_near("offset", s.offset_hz, -8e6 + 5e6, 1e-6, "Hz");
    assert_int_equal(first, 1681);
    assert_int_equal(s.n_tones, 3);
    wf_check_refused(wfi_comb_setup_init(&s, 32000000, 1, 77, 0, &err), WF_UNSUPPORTED, &err,
                     "is the spacing right");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(tones_are_read_at_any_place),
        cmocka_unit_test(noise_moves_phase_and_delay_as_predicted),
        cmocka_unit_test(tones_on_the_sky_fall_into_the_band),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
