/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/check.h"

#include <stdlib.h>

#include "fringe/grid.h"
#include "invented.h"

static void lengths_are_even_and_smooth(void **state)
{
    (void)state;
    /* next even products of 2, 3 and 5 after n * padding, worked out by hand */
    static const size_t want[][3] = {{1, 8, 1},   {2, 2, 4},     {7, 2, 16},
                                     {13, 4, 54}, {101, 2, 216}, {256, 4, 1024}};
    for (size_t i = 0; i < sizeof want / sizeof want[0]; i++)
        assert_int_equal(wfi_grid_length(want[i][0], want[i][1]), want[i][2]);
}

/* Against the sum written out in double precision; float transforms keep 1e-6 of the largest. */
static void grid_is_the_sum_written_out(void **state)
{
    (void)state;
    invented in = invented_create(3, 5);
    invented_add_noise(&in, 1.0, 5);
    in.weight[1] = 0.5;
    wfi_grid grid = {0};
    wf_error err = WF_ERROR_INIT;
    wf_check_ok(wfi_grid_transform(&grid, &in.input, 8, 10, &err), &err);
    for (size_t m = 0; m < 8; m++) {
        for (size_t k = 0; k < 10; k++) {
            double complex sum = 0;
            for (size_t t = 0; t < 3; t++) {
                for (size_t c = 0; c < 5; c++)
                    sum += in.weight[t] * in.visibility[t * 5 + c] *
                           cexp(2 * INVENTED_PI * I * ((double)(c * k) / 10 + (double)(t * m) / 8));
            }
            wf_check_near("sum", cabs(grid.sum[m * 10 + k] - sum), 0, 1e-5, "");
        }
    }
    wfi_grid_release(&grid);
    invented_destroy(&in);
}

static int by_value(const void *a, const void *b)
{
    const double x = *(const double *)a;
    const double y = *(const double *)b;
    return (x > y) - (x < y);
}

/* Against qsort, for every size up to 60 and for values that repeat. */
static void median_is_the_middle_one(void **state)
{
    (void)state;
    for (size_t n = 1; n < 60; n++) {
        for (size_t kinds = 1; kinds < 20; kinds += 6) {
            float complex cells[60];
            double powers[60];
            for (size_t i = 0; i < n; i++) {
                const double u = invented_uniform(n, i);
                cells[i] = (float)floor(u * (double)kinds);
                powers[i] = (double)(crealf(cells[i]) * crealf(cells[i]));
            }
            wfi_grid grid = {cells, 1, n};
            qsort(powers, n, sizeof powers[0], by_value);
            wf_check_near("median", wfi_grid_median_power(&grid), powers[n / 2], 0, "");
        }
    }
}

static void highest_is_the_first_of_equals(void **state)
{
    (void)state;
    float complex cells[] = {1, CMPLXF(0, -2), 2, 0.5f};
    const wfi_grid grid = {cells, 2, 2};
    assert_int_equal(wfi_grid_highest(&grid), 1);
}

static void signed_positions_run_through_zero(void **state)
{
    (void)state;
    static const double even[] = {0, 1, -2, -1};
    for (size_t i = 0; i < 4; i++)
        assert_true(wfi_grid_signed(i, 4) == even[i]);
    assert_true(wfi_grid_signed(0, 1) == 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(lengths_are_even_and_smooth),
        cmocka_unit_test(grid_is_the_sum_written_out),
        cmocka_unit_test(median_is_the_middle_one),
        cmocka_unit_test(highest_is_the_first_of_equals),
        cmocka_unit_test(signed_positions_run_through_zero),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
