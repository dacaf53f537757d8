/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Every kernel of every family against its definition in double; those of batches have a file of
 * their own. */
#include "support/check.h"

#include "engine/kernels.h"
#include "definitions.h"
#include "families.h"

/* A float's rounding, twice, and a product's. */
static const double PHASOR_ERROR = 3e-7;

static void phases_are_the_phasors_of_a_line(void **state)
{
    (void)state;
    enum { N = 5000 };
    static const double lines[][2] = {{0, 0},           {0.25, 1e-4},   {-0.5, -0.49},
                                      {0.4999, 0.3333}, {0.123, -1e-7}, {1e6 + 0.75, 0.5}};
    const wfi_kernels *kernels = NULL;
    wfi_phases phases = {0};
    wf_error err = WF_ERROR_INIT;
    wf_check_ok(wfi_phases_create(&phases, N, &err), &err);
    for (size_t f = 0; (kernels = family(f)) != NULL; f++) {
        for (size_t l = 0; l < sizeof lines / sizeof lines[0]; l++) {
            kernels->phases(&phases, lines[l][0], lines[l][1], 0.5, N);
            for (size_t k = 0; k < N; k++) {
                const size_t b = k / WFI_PHASE_BLOCK;
                const size_t s = k % WFI_PHASE_BLOCK;
                const double complex got =
                    CMPLX((double)phases.block_re[b], (double)phases.block_im[b]) *
                    CMPLX((double)phases.step_re[s], (double)phases.step_im[s]);
                const double complex want =
                    0.5 * phasor(lines[l][0] + fmod((double)k * lines[l][1], 1.0));
                wf_check_near(kernels->name, cabs(got - want), 0, PHASOR_ERROR, "");
            }
        }
    }
    wfi_phases_destroy(&phases);
}

static void rotate_multiplies_samples_by_phasors(void **state)
{
    (void)state;
    enum { N = 77 };
    float samples[2 * N];
    float out[2 * N + 1];
    fill(samples, 2 * N, 3);
    wfi_phases phases = {0};
    wf_error err = WF_ERROR_INIT;
    wf_check_ok(wfi_phases_create(&phases, N, &err), &err);
    const wfi_kernels *kernels = NULL;
    for (size_t f = 0; (kernels = family(f)) != NULL; f++) {
        for (int kind = 0; kind < 3; kind++) {
            const double sense = kind == 2 ? -1 : 1;
            kernels->phases(&phases, 0.3, 0.0123, 1.0, N);
            out[2 * N] = -777.0f;
            kernels->rotate(samples, N, kind > 0, (float)sense, &phases, out);
            for (size_t m = 0; m < N; m++) {
                const double complex z =
                    kind == 0 ? (double)samples[m]
                              : CMPLX((double)samples[2 * m], sense * (double)samples[2 * m + 1]);
                const double complex want = z * phasor(0.3 + 0.0123 * (double)m);
                wf_check_near(kernels->name, (double)out[2 * m], creal(want), 6e-7, "");
                wf_check_near(kernels->name, (double)out[2 * m + 1], cimag(want), 6e-7, "");
            }
            assert_true(out[2 * N] == -777.0f);
        }
    }
    wfi_phases_destroy(&phases);
}

enum { CHANNELS_MAX = 192, STRIDE = WFI_TILE_FLOATS + 16 };

/* Twice the bins of the real samples behind a half-length transform: Z is the transform of
 * x_2m + i x_2m+1 by definition here, and so are the bins. */
static void make_half(const float *x, size_t n, float *half)
{
    for (size_t k = 0; k <= n; k++) {
        double complex sum = 0;
        for (size_t m = 0; m < n; m++)
            sum += CMPLX((double)x[2 * m], (double)x[2 * m + 1]) *
                   phasor(-(double)(k * m % n) / (double)n);
        half[2 * k] = (float)creal(sum);
        half[2 * k + 1] = (float)cimag(sum);
    }
}

static void check_split(const wfi_kernels *kernels, size_t n, size_t n_streams, bool conjugate)
{
    static float samples[3][2 * CHANNELS_MAX];
    static float half[3][2 * CHANNELS_MAX + 2];
    static _Alignas(64) float tiles[3][CHANNELS_MAX / WFI_TILE_CHANNELS * STRIDE];
    float twiddle[CHANNELS_MAX + 2];
    const float *halves[3] = {half[0], half[1], half[2]};
    float *out[3] = {tiles[0], tiles[1], tiles[2]};
    for (size_t k = 0; k <= n / 2; k++) {
        const double complex w = phasor(-(double)k / (2.0 * (double)n));
        twiddle[k] = (float)creal(w);
        twiddle[n / 2 + 1 + k] = (float)cimag(w);
    }
    for (size_t s = 0; s < n_streams; s++) {
        fill(samples[s], 2 * n, (uint32_t)s + 1);
        make_half(samples[s], n, half[s]);
    }
    wfi_phases phases = {0};
    wf_error err = WF_ERROR_INIT;
    wf_check_ok(wfi_phases_create(&phases, n, &err), &err);
    kernels->phases(&phases, -0.2, 0.0031, 0.5, n);
    const wfi_destination to = {0, n, conjugate, &phases, STRIDE, n_streams == 2};
    kernels->split(&to, twiddle, n_streams, halves, out);
    for (size_t s = 0; s < n_streams; s++) {
        for (size_t c = 0; c < n; c++) {
            const double bin = (double)(conjugate ? n - 1 - c : c);
            double complex want = defined_bin(samples[s], n, bin);
            want = (conjugate ? conj(want) : want) * phasor(-0.2 + 0.0031 * (double)c);
            const float *tile = tiles[s] + c / WFI_TILE_CHANNELS * STRIDE + c % WFI_TILE_CHANNELS;
            /* Sums of up to 384 terms below 1, rounded to float four times over. */
            wf_check_near(kernels->name, (double)tile[0], creal(want), 1.5e-5, "");
            wf_check_near(kernels->name, (double)tile[WFI_TILE_CHANNELS], cimag(want), 1.5e-5, "");
        }
    }
    wfi_phases_destroy(&phases);
}

static void split_gives_the_channels_of_real_samples(void **state)
{
    (void)state;
    const wfi_kernels *kernels = NULL;
    for (size_t f = 0; (kernels = family(f)) != NULL; f++) {
        for (size_t n = WFI_SPLIT_CHANNELS; n <= CHANNELS_MAX; n += WFI_SPLIT_CHANNELS) {
            for (size_t n_streams = 1; n_streams <= 3; n_streams++) {
                check_split(kernels, n, n_streams, false);
                check_split(kernels, n, n_streams, true);
            }
        }
    }
}

static void place_puts_bins_into_tiles(void **state)
{
    (void)state;
    enum { N = 70, TILES = 7 };
    float bins[2 * N];
    fill(bins, 2 * N, 5);
    wfi_phases phases = {0};
    wf_error err = WF_ERROR_INIT;
    wf_check_ok(wfi_phases_create(&phases, N + WFI_TILE_CHANNELS, &err), &err);
    const wfi_kernels *kernels = NULL;
    for (size_t f = 0; (kernels = family(f)) != NULL; f++) {
        for (size_t first = 0; first < 40; first++) {
            for (size_t n = 0; n <= N; n += 7) {
                const bool conjugate = (first + n) % 2 == 1;
                const wfi_destination to = {first, n, conjugate, &phases, STRIDE, first % 3 == 0};
                _Alignas(64) float tiles[TILES * STRIDE] = {0};
                kernels->phases(&phases, 0.1, -0.007, 1.0, n + WFI_TILE_CHANNELS);
                kernels->place(&to, bins, tiles);
                for (size_t c = 0; c < TILES * WFI_TILE_CHANNELS; c++) {
                    double complex want = 0;
                    if (c >= first && c < first + n) {
                        const size_t k = conjugate ? n - 1 - (c - first) : c - first;
                        want = CMPLX((double)bins[2 * k], (double)bins[2 * k + 1]);
                        want = (conjugate ? conj(want) : want) *
                               phasor(0.1 - 0.007 * (double)(c - first / 16 * 16));
                    }
                    const float *tile = tiles + c / 16 * STRIDE + c % 16;
                    wf_check_near(kernels->name, (double)tile[0], creal(want), 6e-7, "");
                    wf_check_near(kernels->name, (double)tile[16], cimag(want), 6e-7, "");
                }
            }
        }
    }
    wfi_phases_destroy(&phases);
}

/* Limit: float sums of 37 terms of size under 2, 37 x 2 x 2^-24 x 2. */
static void cross_adds_products_of_two_by_two_inputs(void **state)
{
    (void)state;
    enum { SEGMENTS = 37, INPUT = SEGMENTS * WFI_TILE_FLOATS + 16, N = WFI_TILE_CHANNELS };
    static float a[2 * INPUT];
    static float b[2 * INPUT];
    fill(a, 2 * INPUT, 1);
    fill(b, 2 * INPUT, 2);
    const wfi_kernels *kernels = NULL;
    for (size_t f = 0; (kernels = family(f)) != NULL; f++) {
        for (size_t n = 0; n <= SEGMENTS; n++) {
            float sums[WFI_PAIR_FLOATS];
            for (size_t i = 0; i < WFI_PAIR_FLOATS; i++)
                sums[i] = 0.5f;
            kernels->cross(a, b, INPUT, n, a, sums);
            for (size_t i = 0; i < WFI_PAIR_PRODUCTS * N; i++) {
                const float *x = a + i / N / 2 * INPUT + i % N;
                const float *y = b + i / N % 2 * INPUT + i % N;
                double complex want = CMPLX(0.5, 0.5);
                for (size_t s = 0; s < n; s++, x += 2 * N, y += 2 * N)
                    want +=
                        CMPLX((double)x[0], (double)x[N]) * conj(CMPLX((double)y[0], (double)y[N]));
                const float *sum = sums + i / N * WFI_TILE_FLOATS + i % N;
                wf_check_near(kernels->name, (double)sum[0], creal(want), 1e-5, "");
                wf_check_near(kernels->name, (double)sum[N], cimag(want), 1e-5, "");
            }
        }
    }
}

static void kernels_of_an_unknown_name_are_refused(void **state)
{
    (void)state;
    const wfi_kernels *kernels = NULL;
    wf_error err = WF_ERROR_INIT;
    wf_check_refused(wfi_kernels_choose(&kernels, "abacus", &err), WF_UNSUPPORTED, &err, "plain");
    assert_null(kernels);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(phases_are_the_phasors_of_a_line),
        cmocka_unit_test(rotate_multiplies_samples_by_phasors),
        cmocka_unit_test(split_gives_the_channels_of_real_samples),
        cmocka_unit_test(place_puts_bins_into_tiles),
        cmocka_unit_test(cross_adds_products_of_two_by_two_inputs),
        cmocka_unit_test(kernels_of_an_unknown_name_are_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
