/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Noise is never called a fringe: counted against the stated probability, with fixed seeds. */
#include "support/check.h"

#include <search/detect.h>

#include "unit/fringe/invented.h"

enum { N_CHANNELS = 16, N_TIMES = 8, N_BANDS = 2, N_PRODUCTS = 4, N_DRAWS = 1000 };
enum { N_ALL = N_BANDS * N_PRODUCTS * N_TIMES * N_CHANNELS };

static wf_shape shape = {.n_channels = N_CHANNELS};

const wf_shape *__wrap_wf_plan_shape(const wf_plan *plan);

const wf_shape *__wrap_wf_plan_shape(const wf_plan *plan)
{
    (void)plan;
    return &shape;
}

typedef struct noisy {
    wfi_cube cube;
    wf_observation observation;
    wf_band bands[N_BANDS];
    wf_baseline pair;
    float complex visibility[N_ALL];
    double weight[N_BANDS * N_PRODUCTS * N_TIMES];
} noisy;

static void begin(noisy *in, size_t n_bands, size_t n_products)
{
    shape.n_bands = n_bands;
    shape.n_products = n_products;
    *in = (noisy){.bands = {{"low", 8400e6, 4e6, WF_SIDEBAND_UPPER},
                            {"high", 8404e6, 4e6, WF_SIDEBAND_UPPER}},
                  .pair = {.i_station = 0, .j_station = 1}};
    in->observation =
        (wf_observation){.bands = in->bands,
                         .n_bands = n_bands,
                         .correlation = {.n_channels = N_CHANNELS,
                                         .integration_s = 0.25,
                                         .n_products = n_products,
                                         .products = {{WF_POLARIZATION_R, WF_POLARIZATION_R},
                                                      {WF_POLARIZATION_L, WF_POLARIZATION_L},
                                                      {WF_POLARIZATION_R, WF_POLARIZATION_L},
                                                      {WF_POLARIZATION_L, WF_POLARIZATION_R}}}};
    in->cube = (wfi_cube){.observation = &in->observation,
                          .pairs = &in->pair,
                          .n_pairs = 1,
                          .n_times = N_TIMES,
                          .visibility = in->visibility,
                          .weight = in->weight};
    for (size_t k = 0; k < N_BANDS * N_PRODUCTS * N_TIMES; k++)
        in->weight[k] = 1;
}

static void draw_noise(noisy *in, uint64_t seed)
{
    memset(in->visibility, 0, sizeof in->visibility);
    invented all = {.input = {.n_times = N_ALL / N_CHANNELS, .n_channels = N_CHANNELS},
                    .visibility = in->visibility};
    invented_add_noise(&all, 0.01, seed);
}

/* And of how many the false alarm is stated below another probability. */
static size_t count_found(size_t n_bands, size_t n_products, double false_alarm, uint64_t seed,
                          double other, size_t *n_other)
{
    static noisy in;
    const wf_fringe_window window = {.delay_s = 1e-6, .rate_s_per_s = 1e-10};
    size_t n = 0;
    begin(&in, n_bands, n_products);
    for (uint64_t i = 0; i < N_DRAWS; i++) {
        wf_error err = WF_ERROR_INIT;
        wf_search_baseline got;
        draw_noise(&in, seed + i);
        wf_check_ok(wfi_detect(&got, &in.cube, &window, false_alarm, 1, &err), &err);
        n += got.found;
        *n_other += got.fit.false_alarm < other;
    }
    return n;
}

/* Binomial: five of its standard deviations each way, a false alarm of this test below 1e-6. */
static void noise_of_one_band_is_found_as_often_as_stated(void **state)
{
    (void)state;
    const double p = 0.05;
    size_t same = 0;
    const double n = (double)count_found(1, 1, p, 7000, p, &same);
    assert_true((double)same == n);
    wf_check_near("found", n, N_DRAWS * p, 5 * sqrt(N_DRAWS * p * (1 - p)), "of 1000");
}

/* Two fits, phases tied and free, of the same noise: one that counts for both is less than twice as
 * likely as either. The limit holds from above, and from below for the better half. */
static void noise_of_two_bands_is_found_at_most_as_often(void **state)
{
    (void)state;
    const double p = 0.05;
    size_t same = 0;
    const double n = (double)count_found(2, 1, p, 17000, p, &same);
    assert_true(n <= N_DRAWS * p + 5 * sqrt(N_DRAWS * p));
    assert_true(n >= N_DRAWS * p / 2 - 5 * sqrt(N_DRAWS * p / 2));
}

/* Of four products the first is kept unless another is clearly better: less often found. At what a
 * search states, 1e-6, 1000 draws have one with a probability of 1e-3. */
static void noise_is_never_called_a_fringe(void **state)
{
    (void)state;
    const double p = 0.05;
    size_t n_likely = 0;
    assert_int_equal(count_found(2, N_PRODUCTS, WF_SEARCH_FALSE_ALARM, 37000, p, &n_likely), 0);
    assert_true((double)n_likely <= N_DRAWS * p + 5 * sqrt(N_DRAWS * p));
    assert_true(n_likely > 0);
}

/* A fringe of 12 sigma in RL of both bands, noise in the others. */
static void fringe_is_found_in_its_product(void **state)
{
    (void)state;
    static noisy in;
    const wf_fringe_window window = {.delay_s = 1e-6, .rate_s_per_s = 1e-10};
    const double delay_s = 0.4e-6;
    begin(&in, N_BANDS, N_PRODUCTS);
    draw_noise(&in, 5);
    const double amplitude = 12 * 0.01 / sqrt(N_BANDS * N_TIMES * N_CHANNELS);
    for (size_t b = 0; b < N_BANDS; b++) {
        const wf_fringe_input part = wfi_cube_input(&in.cube, 0, b, 2);
        invented fringe = {.input = part,
                           .visibility = in.visibility + (part.visibility - in.visibility)};
        const double turns = (invented_middle_hz(&part) - 8400e6) * delay_s;
        invented_add_fringe(&fringe, delay_s, 0, amplitude, -2 * INVENTED_PI * turns);
    }
    wf_error err = WF_ERROR_INIT;
    wf_search_baseline got;
    wf_check_ok(wfi_detect(&got, &in.cube, &window, 1e-6, 1, &err), &err);
    assert_true(got.found);
    assert_int_equal(got.product.first, WF_POLARIZATION_R);
    assert_int_equal(got.product.second, WF_POLARIZATION_L);
    wf_check_near("delay", got.fit.delay_s, delay_s, 5 * got.fit.delay_error_s, "s");
    wf_check_near("snr", got.fit.snr, 12, 5, "");
    assert_true(got.product_snr[2] == got.fit.snr);
    for (size_t p = 0; p < N_PRODUCTS; p++)
        assert_true(p == 2 || (got.product_snr[p] > 0 && got.product_snr[p] < 7));
}

/* Nothing valid: not found, and no failure. A product without samples does not count as a chance.
 */
static void products_without_samples_count_for_nothing(void **state)
{
    (void)state;
    static noisy in;
    const wf_fringe_window window = {.delay_s = 1e-6, .rate_s_per_s = 1e-10};
    wf_error err = WF_ERROR_INIT;
    wf_search_baseline got[2];
    begin(&in, 1, 2);
    draw_noise(&in, 6);
    memset(in.weight + N_TIMES, 0, N_TIMES * sizeof(double));
    wf_check_ok(wfi_detect(&got[0], &in.cube, &window, 1e-6, 1, &err), &err);
    in.observation.correlation.n_products = 1;
    wf_check_ok(wfi_detect(&got[1], &in.cube, &window, 1e-6, 1, &err), &err);
    assert_true(got[0].fit.false_alarm == got[1].fit.false_alarm);
    memset(in.weight, 0, sizeof in.weight);
    wf_check_ok(wfi_detect(&got[0], &in.cube, &window, 1e-6, 1, &err), &err);
    assert_false(got[0].found);
    wf_check_near("false alarm", got[0].fit.false_alarm, 1, 0, "");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(noise_of_one_band_is_found_as_often_as_stated),
        cmocka_unit_test(noise_of_two_bands_is_found_at_most_as_often),
        cmocka_unit_test(noise_is_never_called_a_fringe),
        cmocka_unit_test(fringe_is_found_in_its_product),
        cmocka_unit_test(products_without_samples_count_for_nothing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
