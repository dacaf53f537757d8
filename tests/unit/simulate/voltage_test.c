/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The sky is noise, but two ways of recording the same noise are bound to each other in closed
 * form, sample by sample. Here delays come from tables of zeros and from clocks, so that they are
 * known; receivers are free of noise, so that nothing is statistical. The limits: interpolation
 * errs by 2e-5 of the amplitude, which reaches 4 or 5 sigma. */
#include "support/check.h"

#include <complex.h>
#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>

#include "simulate/voltage.h"

enum { N_STATIONS = 3 };
static const double LIMIT = 3e-4;
static const char TABLE[] = "simulate_voltage_test.txt";

typedef struct scene {
    wf_delay_model *model;
    wf_track *track[N_STATIONS];
    wfi_interpolator *interpolator;
    wfi_noise_bench *bench;
    int64_t second;
} scene;

static wf_instant start_of_scan(void)
{
    wf_error err = WF_ERROR_INIT;
    wf_instant t;
    wf_check_ok(wf_instant_parse(&t, "2026-03-01T12:00:00", &err), &err);
    return t;
}

/* Station i has the clock i. */
static void scene_open(scene *s, const wf_clock clocks[N_STATIONS])
{
    wf_error err = WF_ERROR_INIT;
    FILE *const file = fopen(TABLE, "w");
    for (int i = 50; i < 60; i++)
        fprintf(file, "2026-03-01T11:59:%02d 0.0\n", i);
    for (int i = 0; i < 10; i++)
        fprintf(file, "2026-03-01T12:00:%02d 0.0\n", i);
    fclose(file);
    bool takes_part[N_STATIONS];
    wf_station stations[N_STATIONS];
    memset(stations, 0, sizeof stations);
    for (size_t i = 0; i < N_STATIONS; i++) {
        takes_part[i] = true;
        snprintf(stations[i].name, sizeof stations[i].name, "S%zu", i);
        stations[i].position_itrf_m[0] = 6.37e6;
        stations[i].clock = clocks[i];
        stations[i].delay_table_path = TABLE;
    }
    const wf_source source = {.name = "Ousel"};
    const wf_scan scan = {
        .start = start_of_scan(), .duration_s = 2.0, .station_takes_part = takes_part};
    const wf_observation observation = {
        .stations = stations,
        .n_stations = N_STATIONS,
        .sources = &source,
        .n_sources = 1,
        .scans = &scan,
        .n_scans = 1,
        .delay_terms = wf_delay_terms_default(),
    };
    wf_check_ok(wf_delay_model_create(&s->model, &observation, &err), &err);
    for (size_t i = 0; i < N_STATIONS; i++)
        wf_check_ok(wf_track_create(&s->track[i], s->model, i, 0, &err), &err);
    wf_check_ok(wfi_interpolator_create(&s->interpolator, &err), &err);
    wf_check_ok(wfi_noise_bench_create(&s->bench, 4096, &err), &err);
    s->second = start_of_scan().second;
    unlink(TABLE);
}

static void scene_close(scene *s)
{
    for (size_t i = 0; i < N_STATIONS; i++)
        wf_track_destroy(s->track[i]);
    wf_delay_model_destroy(s->model);
    wfi_interpolator_destroy(s->interpolator);
    wfi_noise_bench_destroy(s->bench);
}

/* What one station hears of the noise of [low_hz, high_hz], from sample `first` of the second. */
static void hear(const scene *s, size_t i_station, double low_hz, double high_hz,
                 const wfi_receiver *receiver, int64_t first, size_t n, float *volts)
{
    wf_error err = WF_ERROR_INIT;
    const wfi_noise_recipe recipe = {
        .low_hz = low_hz, .high_hz = high_hz, .seed = 1, .identity = (uint64_t)(low_hz / 1e3)};
    wfi_noise *noise = NULL;
    wf_check_ok(wfi_noise_create(&noise, s->bench, &recipe, &err), &err);
    const wfi_ray ray = {noise, s->track[i_station], 1.0};
    wfi_voltage(volts, receiver, s->interpolator, &(wfi_reception){&ray, 1, 0.0},
                &(wfi_samples){s->second, first, n});
    wfi_noise_destroy(noise);
}

static double complex turned(double turns)
{
    const double angle = 2.0 * acos(-1.0) * (turns - rint(turns));
    return cos(angle) + I * sin(angle);
}

static double complex sample(const float *volts, size_t k)
{
    return (double)volts[2 * k] + I * (double)volts[2 * k + 1];
}

static const wf_clock still = {.ahead_s = 0.0};

static double complex_power(const float *volts, size_t n)
{
    double sum = 0.0;
    for (size_t k = 0; k < n; k++)
        sum += creal(sample(volts, k) * conj(sample(volts, k)));
    return sum / (double)n;
}

/* A clock that is ahead by m samples shifts the samples by m and turns them by -nu0 m/fs, at
 * 230 GHz: z2(T + D) = a(t) exp(2 pi i [(nu - nu0)(t + D) - nu D]) = z1(T) exp(-2 pi i nu0 D). */
static void a_constant_delay_shifts_and_turns(void **state)
{
    (void)state;
    enum { N = 1000, M = 7 };
    scene s;
    const double rate_hz = 2e6, delay_s = M / rate_hz, zero_hz = 230.000123e9;
    const wf_clock clocks[N_STATIONS] = {
        still, {.reference = start_of_scan(), .ahead_s = delay_s}, still};
    scene_open(&s, clocks);
    const wfi_receiver receiver = {.zero_hz = zero_hz,
                                   .sideband = WF_SIDEBAND_UPPER,
                                   .is_complex = true,
                                   .sample_rate_hz = (int64_t)rate_hz};
    float x[2 * N], y[2 * N];
    hear(&s, 0, zero_hz - 1e6, zero_hz + 1e6, &receiver, 1000, N, x);
    hear(&s, 1, zero_hz - 1e6, zero_hz + 1e6, &receiver, 1000 + M, N, y);
    /* nu0 D = 230.000123e9 * 7/2e6 = 805000.4305 turns */
    const double complex turn = turned(-0.4305);
    for (size_t k = 0; k < N; k++)
        wf_check_near("voltage", cabs(sample(y, k) - turn * sample(x, k)), 0.0, LIMIT, "sigma");
    assert_true(complex_power(x, N) > 0.5);
    scene_close(&s);
}

/* A clock rate r slips one sample in 1/(r fs): where it has slipped by whole samples, the two
 * stations have sampled the same wavefront. Phase: -nu0 D. */
static void a_delay_rate_slips_and_turns(void **state)
{
    (void)state;
    enum { N = 400 };
    scene s;
    const double rate_hz = 4e6, rate = 1e-6, zero_hz = 86e9;
    const wf_clock clocks[N_STATIONS] = {
        still, {.reference = start_of_scan(), .rate_s_per_s = rate}, still};
    scene_open(&s, clocks);
    const wfi_receiver receiver = {.zero_hz = zero_hz,
                                   .sideband = WF_SIDEBAND_UPPER,
                                   .is_complex = true,
                                   .sample_rate_hz = (int64_t)rate_hz};
    for (int slip = 1; slip <= 5; slip++) {
        /* Slipped by `slip` samples at t = slip/(r fs) = slip * 0.25 s, sample slip * 1e6. Within
         * N/2 samples of it the slip is off by 2e-4 of a sample: a voltage error of
         * pi * 2e-4 at the band's edge. */
        const int64_t middle = (int64_t)slip * 1000000;
        float x[2 * N], y[2 * N];
        hear(&s, 0, zero_hz - 2e6, zero_hz + 2e6, &receiver, middle - N / 2, N, x);
        hear(&s, 1, zero_hz - 2e6, zero_hz + 2e6, &receiver, middle + slip - N / 2, N, y);
        for (size_t k = 0; k < N; k++) {
            const double t_s = ((double)middle + (double)k - N / 2) / rate_hz;
            /* Sample k of y is tagged T = t_s + slip/fs; t (1 + r) = T; D = T - t. */
            const double delay_s = (t_s + slip / rate_hz) * rate / (1.0 + rate);
            const double complex want = sample(x, k) * turned(-zero_hz * delay_s);
            wf_check_near("voltage", cabs(sample(y, k) - want), 0.0, 3e-3, "sigma");
        }
    }
    scene_close(&s);
}

static void lower_sideband_is_the_conjugate(void **state)
{
    (void)state;
    enum { N = 500 };
    scene s;
    const wf_clock clocks[N_STATIONS] = {
        {.reference = start_of_scan(), .ahead_s = 1.23e-6, .rate_s_per_s = 1e-7}, still, still};
    scene_open(&s, clocks);
    wfi_receiver receiver = {.zero_hz = 8.4e9,
                             .sideband = WF_SIDEBAND_UPPER,
                             .is_complex = true,
                             .sample_rate_hz = 1000000};
    float x[2 * N], y[2 * N];
    hear(&s, 0, 8.4e9 - 0.5e6, 8.4e9 + 0.5e6, &receiver, 3, N, x);
    receiver.sideband = WF_SIDEBAND_LOWER;
    hear(&s, 0, 8.4e9 - 0.5e6, 8.4e9 + 0.5e6, &receiver, 3, N, y);
    for (size_t k = 0; k < N; k++)
        wf_check_near("voltage", cabs(sample(y, k) - conj(sample(x, k))), 0.0, 1e-12, "sigma");
    scene_close(&s);
}

/* A real stream of rate 2 W from nu_e and a complex one of rate W about nu_c hold the same band.
 * At common instants x = sqrt(2) Re(z exp(2 pi i (nu_c - nu_e) T)); lower sideband likewise with
 * conj z. */
static void check_real_against_complex(wf_sideband sideband)
{
    enum { N = 600 };
    scene s;
    const double low_hz = 8.4e9, width_hz = 0.5e6;
    const wf_clock clocks[N_STATIONS] = {
        {.reference = start_of_scan(), .ahead_s = -4.567e-6, .rate_s_per_s = -3e-7}, still, still};
    scene_open(&s, clocks);
    const wfi_receiver in_phase = {.zero_hz = low_hz + width_hz / 2,
                                   .sideband = sideband,
                                   .is_complex = true,
                                   .sample_rate_hz = 500000};
    const double edge_hz = sideband == WF_SIDEBAND_UPPER ? low_hz : low_hz + width_hz;
    const wfi_receiver one_sided = {
        .zero_hz = edge_hz, .sideband = sideband, .sample_rate_hz = 1000000};
    float z[2 * N], x[2 * N];
    hear(&s, 0, low_hz, low_hz + width_hz, &in_phase, 1000, N, z);
    hear(&s, 0, low_hz, low_hz + width_hz, &one_sided, 2000, 2 * N, x);
    for (size_t k = 0; k < N; k++) {
        /* Baseband offset +-W/2 = +-250 kHz at T = (1000 + k)/500 kHz. */
        const double complex carrier = turned(0.5 * (1000.0 + (double)k));
        wf_check_near("voltage", (double)x[2 * k], sqrt(2.0) * creal(sample(z, k) * carrier),
                      sqrt(2.0) * LIMIT, "sigma");
    }
    scene_close(&s);
}

static void a_real_stream_holds_what_a_complex_one_does(void **state)
{
    (void)state;
    check_real_against_complex(WF_SIDEBAND_UPPER);
    check_real_against_complex(WF_SIDEBAND_LOWER);
}

/* A receiver hears another cell of its band as another receiver does, moved by the difference of
 * their zero frequencies: z_a(T) = z_b(T) exp(2 pi i (nu_b - nu_a) T). */
static void a_wider_stream_holds_what_a_narrow_one_does(void **state)
{
    (void)state;
    enum { N = 600 };
    scene s;
    const wf_clock clocks[N_STATIONS] = {
        {.reference = start_of_scan(), .ahead_s = 0.3e-6, .rate_s_per_s = 5e-7}, still, still};
    scene_open(&s, clocks);
    const wfi_receiver narrow = {.zero_hz = 8400.3e6,
                                 .sideband = WF_SIDEBAND_UPPER,
                                 .is_complex = true,
                                 .sample_rate_hz = 500000};
    const wfi_receiver wide = {.zero_hz = 8399.93e6,
                               .sideband = WF_SIDEBAND_UPPER,
                               .is_complex = true,
                               .sample_rate_hz = 2000000};
    float a[2 * N], b[8 * N];
    hear(&s, 0, 8400.05e6, 8400.55e6, &narrow, 300, N, a);
    hear(&s, 0, 8400.05e6, 8400.55e6, &wide, 1200, 4 * N, b);
    for (size_t k = 0; k < N; k++) {
        const double tag_s = (300.0 + (double)k) / 500e3;
        /* A whole number of seconds turns 370 kHz by whole turns. */
        const double complex want = sample(a, k) * turned(370e3 * tag_s);
        wf_check_near("voltage", cabs(sample(b, 4 * k) - want), 0.0, LIMIT, "sigma");
    }
    scene_close(&s);
}

static void samples_do_not_depend_on_the_division_into_calls(void **state)
{
    (void)state;
    enum { N = 3000 };
    scene s;
    const wf_clock clocks[N_STATIONS] = {
        {.reference = start_of_scan(), .ahead_s = 1e-6, .rate_s_per_s = 1e-6}, still, still};
    scene_open(&s, clocks);
    const wfi_receiver receiver = {
        .zero_hz = 8.4e9, .sideband = WF_SIDEBAND_UPPER, .sample_rate_hz = 2000000};
    float whole[N], parts[N];
    /* Over the end of a second. */
    const int64_t first = 2000000 - N / 2;
    hear(&s, 0, 8.4e9, 8.401e9, &receiver, first, N, whole);
    for (size_t done = 0; done < N; done += 750)
        hear(&s, 0, 8.4e9, 8.401e9, &receiver, first + (int64_t)done, 750, parts + done);
    /* Interpolation shares its taps over runs of samples, which begin anew in each call: 1.6e-5 of
     * a sample, pi/2 of that in amplitude at the band's edge, at 5 sigma. */
    for (size_t k = 0; k < N; k++)
        wf_check_near("voltage", (double)parts[k], (double)whole[k], 1.3e-4, "sigma");
    scene_close(&s);
}

/* Variance of N independent samples scatters by sqrt(2/N); 5 of it: 6e-7 of false alarm. */
static void receiver_noise_has_its_power(void **state)
{
    (void)state;
    enum { N = 200000 };
    wfi_receiver receiver = {
        .zero_hz = 8.4e9, .sideband = WF_SIDEBAND_UPPER, .sample_rate_hz = 1000000, .seed = 3};
    float *const x = malloc(2 * N * sizeof *x);
    wfi_voltage(x, &receiver, NULL, &(wfi_reception){NULL, 0, 0.25},
                &(wfi_samples){828000000, 0, N});
    double power = 0.0;
    for (size_t k = 0; k < N; k++)
        power += (double)(x[k] * x[k]);
    wf_check_near("real power", power / N, 0.25, 0.25 * 5.0 * sqrt(2.0 / N), "");
    receiver.is_complex = true;
    wfi_voltage(x, &receiver, NULL, &(wfi_reception){NULL, 0, 0.25},
                &(wfi_samples){828000000, 0, N});
    wf_check_near("complex power", complex_power(x, N), 0.25, 0.25 * 5.0 * sqrt(1.0 / N), "");
    free(x);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_constant_delay_shifts_and_turns),
        cmocka_unit_test(a_delay_rate_slips_and_turns),
        cmocka_unit_test(lower_sideband_is_the_conjugate),
        cmocka_unit_test(a_real_stream_holds_what_a_complex_one_does),
        cmocka_unit_test(a_wider_stream_holds_what_a_narrow_one_does),
        cmocka_unit_test(samples_do_not_depend_on_the_division_into_calls),
        cmocka_unit_test(receiver_noise_has_its_power),
    };
    return cmocka_run_group_tests_name("simulate.voltage", tests, NULL, NULL);
}
