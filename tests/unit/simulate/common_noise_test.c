/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The noise is made by transforms; these tests look at it by plain sums. Statistical limits are 5
 * standard deviations, 6e-7 of false alarm each, at a fixed seed. */
#include <stdlib.h>

#include "base/memory.h"
#include "simulate/common_noise.h"
#include "support/check.h"

enum { N_BLOCK = 1024 };

static const wfi_noise_recipe flat = {
    .low_hz = 8400e6, .high_hz = 8401e6, .seed = 5, .identity = 3};

static wfi_noise_bench *create_bench(void)
{
    wf_error err = WF_ERROR_INIT;
    wfi_noise_bench *bench = NULL;
    wf_check_ok(wfi_noise_bench_create(&bench, N_BLOCK, &err), &err);
    return bench;
}

static wfi_noise *create_noise(wfi_noise_bench *bench, const wfi_noise_recipe *recipe)
{
    wf_error err = WF_ERROR_INIT;
    wfi_noise *noise = NULL;
    wf_check_ok(wfi_noise_create(&noise, bench, recipe, &err), &err);
    return noise;
}

/* Grid points [first, first + n), asked for in pieces. */
static void collect(wfi_noise *noise, int64_t first, size_t n, float complex *out)
{
    enum { PIECE = 300 };
    for (size_t done = 0; done < n; done += PIECE) {
        const size_t take = n - done < PIECE ? n - done : PIECE;
        memcpy(out + done, wfi_noise_get(noise, first + (int64_t)done, take), take * sizeof *out);
    }
}

/* Power in [low, high] turns a sample, of n_parts transforms of n_points each under a Hann window,
 * by plain sums at the frequencies k/n_points: the whole power is the variance. */
static double power_between(const float complex *x, size_t n_parts, size_t n_points, double low,
                            double high)
{
    const double turn = 2.0 * acos(-1.0);
    double sum = 0.0;
    for (long k = -(long)n_points / 2; k < (long)n_points / 2; k++) {
        const double f = (double)k / (double)n_points;
        if (f < low || f > high)
            continue;
        for (size_t part = 0; part < n_parts; part++) {
            double complex line = 0.0;
            for (size_t i = 0; i < n_points; i++) {
                const long step = (k * (long)i) % (long)n_points;
                const double hann = 0.5 - 0.5 * cos(turn * (double)i / (double)n_points);
                line += hann * (double complex)x[part * n_points + i] *
                        cexp(-I * turn * (double)step / (double)n_points);
            }
            sum += creal(line * conj(line));
        }
    }
    const double hann_power = 3.0 / 8.0;
    return sum / hann_power / (double)n_parts / (double)n_points / (double)n_points;
}

static void the_spectrum_is_flat_inside_and_empty_outside(void **state)
{
    (void)state;
    enum { N_PARTS = 64, N_POINTS = 256, N = N_PARTS * N_POINTS };
    wfi_noise_bench *const bench = create_bench();
    wfi_noise *const noise = create_noise(bench, &flat);
    float complex *const x = malloc(N * sizeof *x);
    collect(noise, 1000000007, N, x);
    assert_int_equal(wfi_noise_grid_hz(noise), 2000000);
    /* Eight parts of the band of 15 lines each, clear of its edges by the two that a Hann window
     * spreads a line over; its scatter is 1/sqrt(independent lines), of which there are about half
     * as many as lines. */
    for (int i = 0; i < 8; i++) {
        const double low = (double)(-62 + i * 15 + i / 2) / N_POINTS;
        const double got = power_between(x, N_PARTS, N_POINTS, low, low + 14.0 / N_POINTS);
        wf_check_near("power of an eighth of the band", got / (15.0 / 128), 1.0,
                      5.0 / sqrt(0.5 * 15 * N_PARTS), "");
    }
    /* Beyond four lines from the edges a Hann window spills 1e-6 of a line; of the noise's own
     * sine windows, (1/pi)^2 of a block's bin in its neighbour, 4^2/(4 k^2 - 1)^2 in the k-th,
     * 16 bins away and all of them together 1e-5 of a bin, there are 512. */
    const double outside = power_between(x, N_PARTS, N_POINTS, -0.5, -0.25 - 5.0 / N_POINTS) +
                           power_between(x, N_PARTS, N_POINTS, 0.25 + 5.0 / N_POINTS, 0.5);
    wf_check_near("power outside the band", outside, 0.0, 1e-6, "of the whole");
    free(x);
    wfi_noise_destroy(noise);
    wfi_noise_bench_destroy(bench);
}

/* Half of the points are independent (the band is half of the grid's). */
static void the_variance_is_one_everywhere_in_a_block(void **state)
{
    (void)state;
    enum { N_BLOCKS = 400 };
    wfi_noise_bench *const bench = create_bench();
    wfi_noise *const noise = create_noise(bench, &flat);
    float complex x[N_BLOCK];
    double power[8] = {0};
    for (int i = 0; i < N_BLOCKS; i++) {
        collect(noise, (int64_t)i * N_BLOCK, N_BLOCK, x);
        for (int k = 0; k < N_BLOCK; k++)
            power[k * 8 / N_BLOCK] +=
                (double)(crealf(x[k]) * crealf(x[k]) + cimagf(x[k]) * cimagf(x[k]));
    }
    const double n = (double)N_BLOCKS * N_BLOCK / 8;
    for (int i = 0; i < 8; i++)
        wf_check_near("variance", power[i] / n, 1.0, 5.0 / sqrt(n / 2), "");
    wf_check_near("variance told", wfi_noise_variance(noise), 1.0, 1e-12, "");
    wfi_noise_destroy(noise);
    wfi_noise_bench_destroy(bench);
}

static void any_stretch_in_any_order_is_the_same(void **state)
{
    (void)state;
    enum { N = 4 * N_BLOCK };
    wfi_noise_bench *const bench = create_bench();
    wfi_noise *const forward = create_noise(bench, &flat);
    wfi_noise *const jumping = create_noise(bench, &flat);
    float complex *const x = malloc(N * sizeof *x);
    const int64_t origin = (int64_t)828000000 * 2000000;
    collect(forward, origin, N, x);
    static const int jumps[] = {3000, 5, 1500, 1490, 3500, 511, 512, 513, 0};
    for (size_t i = 0; i < sizeof jumps / sizeof *jumps; i++) {
        const float complex *const got = wfi_noise_get(jumping, origin + jumps[i], 200);
        assert_memory_equal(got, x + jumps[i], 200 * sizeof *got);
    }
    free(x);
    wfi_noise_destroy(forward);
    wfi_noise_destroy(jumping);
    wfi_noise_bench_destroy(bench);
}

static double complex correlation(wfi_noise *a, wfi_noise *b, size_t n_pieces)
{
    double complex sum = 0.0;
    for (size_t i = 0; i < n_pieces; i++) {
        float complex x[N_BLOCK / 2];
        const int64_t first = (int64_t)i * (N_BLOCK / 2);
        memcpy(x, wfi_noise_get(a, first, N_BLOCK / 2), sizeof x);
        const float complex *const y = wfi_noise_get(b, first, N_BLOCK / 2);
        for (size_t k = 0; k < N_BLOCK / 2; k++)
            sum += (double complex)(x[k] * conjf(y[k]));
    }
    return sum / (double)(n_pieces * (N_BLOCK / 2));
}

/* Of n independent complex pairs of unit variance either part of the mean product scatters by
 * 1/sqrt(2 n), n half the number of grid points. */
static void hands_have_the_coherence_asked_for(void **state)
{
    (void)state;
    enum { N_PIECES = 400 };
    const double limit = 5.0 / sqrt(2.0 * N_PIECES * N_BLOCK / 4);
    wfi_noise_bench *const bench = create_bench();
    wfi_noise_recipe recipe = flat;
    recipe.coherence = 0.3 + 0.4 * I;
    wfi_noise *const right = create_noise(bench, &recipe);
    recipe.hand = 1;
    wfi_noise *const left = create_noise(bench, &recipe);
    recipe.coherence = 0.0;
    wfi_noise *const apart = create_noise(bench, &recipe);
    const double complex got = correlation(right, left, N_PIECES);
    wf_check_near("real part", creal(got), 0.3, limit, "");
    wf_check_near("imaginary part", cimag(got), 0.4, limit, "");
    wf_check_near("without coherence", cabs(correlation(right, apart, N_PIECES)), 0.0,
                  sqrt(2.0) * limit, "");
    wfi_noise_destroy(right);
    wfi_noise_destroy(left);
    wfi_noise_destroy(apart);
    wfi_noise_bench_destroy(bench);
}

static void other_identities_are_independent(void **state)
{
    (void)state;
    enum { N_PIECES = 400 };
    wfi_noise_bench *const bench = create_bench();
    wfi_noise_recipe recipe = flat;
    wfi_noise *const a = create_noise(bench, &recipe);
    recipe.identity++;
    wfi_noise *const b = create_noise(bench, &recipe);
    wf_check_near("correlation", cabs(correlation(a, b, N_PIECES)), 0.0,
                  5.0 / sqrt(N_PIECES * N_BLOCK / 4), "");
    wfi_noise_destroy(a);
    wfi_noise_destroy(b);
    wfi_noise_bench_destroy(bench);
}

/* The whole of a Gaussian of full width w at half maximum is w sqrt(pi/(4 ln 2)) = 1.0645 w. */
static void a_line_has_its_width_and_place(void **state)
{
    (void)state;
    enum { N_PARTS = 64, N_POINTS = 256, N = N_PARTS * N_POINTS };
    wfi_noise_bench *const bench = create_bench();
    const wfi_line line = {.centre_hz = 8400.75e6, .width_hz = 0.1e6};
    wfi_noise_recipe recipe = flat;
    recipe.line = &line;
    wfi_noise *const noise = create_noise(bench, &recipe);
    const double mean = 1.0644670194312262 * 0.1;
    wf_check_near("mean profile", wfi_line_mean(&line, flat.low_hz, flat.high_hz), mean, 1e-6, "");
    /* 51 bins make the sum of the line: a sum over a Gaussian is exact far beyond 1e-6. */
    wf_check_near("variance told", wfi_noise_variance(noise), mean, 1e-6, "");
    float complex *const x = malloc(N * sizeof *x);
    collect(noise, 0, N, x);
    /* The carrier is half a bin of the blocks beside the middle, 8400.5 MHz. The half-power points
     * hold erf(sqrt(ln 2)) = 0.7610 of the line. */
    const double offset = (8400.75e6 - wfi_noise_carrier_hz(noise)) / 2e6;
    const double inside = power_between(x, N_PARTS, N_POINTS, offset - 0.025, offset + 0.025);
    const double around = power_between(x, N_PARTS, N_POINTS, offset - 0.1, offset + 0.1);
    /* About 0.05 * N independent cells; the edges fall between bins 1/256 apart, up to 5 % of the
     * width each. */
    wf_check_near("share inside half power", inside / around, 0.7610,
                  5.0 / sqrt(0.05 * N) * 0.43 + 0.06, "");
    wf_check_near("power", around, mean, 5.0 * mean / sqrt(0.05 * N), "");
    free(x);
    wfi_noise_destroy(noise);
    wfi_noise_bench_destroy(bench);
}

static void a_lack_of_memory_is_told(void **state)
{
    (void)state;
#ifdef WFI_CHECKS
    for (long n = 1; n <= 4; n++) {
        wf_error err = WF_ERROR_INIT;
        wfi_noise_bench *bench = NULL;
        wfi_memory_fail_after(n);
        wf_check_refused(wfi_noise_bench_create(&bench, N_BLOCK, &err), WF_MEMORY, &err, "noise");
        wfi_memory_fail_after(0);
        assert_null(bench);
    }
    wfi_noise_bench *const bench = create_bench();
    for (long n = 1; n <= 4; n++) {
        wf_error err = WF_ERROR_INIT;
        wfi_noise *noise = NULL;
        wfi_memory_fail_after(n);
        wf_check_refused(wfi_noise_create(&noise, bench, &flat, &err), WF_MEMORY, &err, "noise");
        wfi_memory_fail_after(0);
        assert_null(noise);
    }
    wfi_noise_bench_destroy(bench);
#else
    skip();
#endif
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_spectrum_is_flat_inside_and_empty_outside),
        cmocka_unit_test(the_variance_is_one_everywhere_in_a_block),
        cmocka_unit_test(any_stretch_in_any_order_is_the_same),
        cmocka_unit_test(hands_have_the_coherence_asked_for),
        cmocka_unit_test(other_identities_are_independent),
        cmocka_unit_test(a_line_has_its_width_and_place),
        cmocka_unit_test(a_lack_of_memory_is_told),
    };
    return cmocka_run_group_tests_name("simulate.common_noise", tests, NULL, NULL);
}
