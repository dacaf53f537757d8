/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/check.h"

#include "engine/channelize.h"
#include "engine/cross.h"

enum { N = WFI_TILE_CHANNELS, SEGMENTS = 37 };

static void fill(float *tile, uint32_t seed)
{
    for (size_t i = 0; i < SEGMENTS * 2 * N; i++) {
        seed = seed * 1664525u + 1013904223u;
        tile[i] = (float)(int32_t)seed / 2147483648.0f;
    }
}

/* Closed form in double: sum of a conj(b). Limit: float sums of 37 terms of size under 2,
 * 37 x 2 x 2^-24 x 2. */
static void cross_is_the_sum_of_a_times_conjugate_b(void **state)
{
    (void)state;
    float a[SEGMENTS * 2 * N];
    float b[SEGMENTS * 2 * N];
    fill(a, 1);
    fill(b, 2);
    for (size_t n = 0; n <= SEGMENTS; n++) {
        double complex out[N] = {0};
        wfi_cross_accumulate(a, b, n, out, N);
        for (size_t c = 0; c < N; c++) {
            double complex want = 0;
            for (size_t s = 0; s < n; s++) {
                const double complex x =
                    CMPLX((double)a[s * 2 * N + c], (double)a[s * 2 * N + N + c]);
                const double complex y =
                    CMPLX((double)b[s * 2 * N + c], (double)b[s * 2 * N + N + c]);
                want += x * conj(y);
            }
            wf_check_near("re", creal(out[c]), creal(want), 1e-5, "");
            wf_check_near("im", cimag(out[c]), cimag(want), 1e-5, "");
        }
    }
}

static void cross_adds_to_what_is_there_and_to_no_more_channels(void **state)
{
    (void)state;
    float a[2 * N];
    for (size_t i = 0; i < 2 * N; i++)
        a[i] = i < N ? 2.0f : 1.0f;
    double complex out[N];
    for (size_t c = 0; c < N; c++)
        out[c] = CMPLX(100.0, -3.0);
    wfi_cross_accumulate(a, a, 1, out, 7);
    for (size_t c = 0; c < N; c++)
        assert_true(creal(out[c]) == (c < 7 ? 105.0 : 100.0) && cimag(out[c]) == -3.0);
}

static void cross_of_a_stream_with_itself_is_real(void **state)
{
    (void)state;
    float a[SEGMENTS * 2 * N];
    fill(a, 3);
    double complex out[N] = {0};
    wfi_cross_accumulate(a, a, SEGMENTS, out, N);
    for (size_t c = 0; c < N; c++)
        assert_true(cimag(out[c]) == 0.0 && creal(out[c]) > 0.0);
}

static void cross_is_conjugated_when_streams_swap(void **state)
{
    (void)state;
    float a[SEGMENTS * 2 * N];
    float b[SEGMENTS * 2 * N];
    fill(a, 4);
    fill(b, 5);
    double complex ab[N] = {0};
    double complex ba[N] = {0};
    wfi_cross_accumulate(a, b, SEGMENTS, ab, N);
    wfi_cross_accumulate(b, a, SEGMENTS, ba, N);
    for (size_t c = 0; c < N; c++)
        assert_true(creal(ab[c]) == creal(ba[c]) && cimag(ab[c]) == -cimag(ba[c]));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(cross_is_the_sum_of_a_times_conjugate_b),
        cmocka_unit_test(cross_adds_to_what_is_there_and_to_no_more_channels),
        cmocka_unit_test(cross_of_a_stream_with_itself_is_real),
        cmocka_unit_test(cross_is_conjugated_when_streams_swap),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
