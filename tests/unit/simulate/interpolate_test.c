/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "base/memory.h"
#include "simulate/interpolate.h"
#include "support/check.h"

enum { N_SAMPLES = 512, N_OUT = 400 };

static wfi_interpolator *create(void)
{
    wf_error err = WF_ERROR_INIT;
    wfi_interpolator *interpolator = NULL;
    wf_check_ok(wfi_interpolator_create(&interpolator, &err), &err);
    return interpolator;
}

static float complex wave(double turns)
{
    const double angle = 2.0 * acos(-1.0) * turns;
    return (float complex)(cos(angle) + I * sin(angle));
}

static double worst_error(const wfi_interpolator *interpolator, double frequency, double position,
                          double step)
{
    float complex samples[2 * N_SAMPLES], out[N_OUT];
    for (int i = 0; i < 2 * N_SAMPLES; i++)
        samples[i] = wave(frequency * i);
    wfi_interpolate(interpolator, samples, position, step, N_OUT, out);
    double worst = 0.0;
    for (int k = 0; k < N_OUT; k++) {
        const double error = (double)cabsf(out[k] - wave(frequency * (position + k * step)));
        worst = error > worst ? error : worst;
    }
    return worst;
}

/* A pure tone is known between its samples in closed form. Limit: what the header promises. */
static void tones_up_to_a_quarter_of_the_rate_are_met(void **state)
{
    (void)state;
    wfi_interpolator *const interpolator = create();
    static const double frequencies[] = {-0.25, -0.2, -0.01, 0.0, 0.1, 0.249, 0.25};
    /* Steps of any length, and whole ones but for a delay rate: those cross from one sample to
     * the next within a run, upwards and downwards. */
    static const double steps[] = {1.20117,    0.25,       1.0,       1.0 + 1e-6,
                                   2.0 - 1e-6, 1.0 - 3e-7, 2.0 + 5e-6};
    static const double positions[] = {9.31, 10.0 - 1e-4, 10.0 + 1e-4, 8.0, 9.5};
    for (size_t f = 0; f < sizeof frequencies / sizeof *frequencies; f++)
        for (size_t i = 0; i < sizeof steps / sizeof *steps; i++)
            for (size_t k = 0; k < sizeof positions / sizeof *positions; k++)
                wf_check_near("largest error of a tone",
                              worst_error(interpolator, frequencies[f], positions[k], steps[i]),
                              0.0, 3e-5, "of its amplitude");
    wfi_interpolator_destroy(interpolator);
}

static void values_at_samples_are_the_samples(void **state)
{
    (void)state;
    wfi_interpolator *const interpolator = create();
    float complex samples[64], out[40];
    for (int i = 0; i < 64; i++)
        samples[i] = wave(0.37 * i * i);
    wfi_interpolate(interpolator, samples, 8.0, 1.0, 40, out);
    /* The kernel is 1 at 0 and 0 at all other whole numbers, to the rounding of pi. */
    for (int k = 0; k < 40; k++)
        wf_check_near("value", (double)cabsf(out[k] - samples[8 + k]), 0.0, 1e-6, "");
    wfi_interpolator_destroy(interpolator);
}

static void a_lack_of_memory_is_told(void **state)
{
    (void)state;
#ifdef WFI_CHECKS
    wf_error err = WF_ERROR_INIT;
    wfi_interpolator *interpolator = NULL;
    wfi_memory_fail_after(1);
    wf_check_refused(wfi_interpolator_create(&interpolator, &err), WF_MEMORY, &err, "interpolator");
    wfi_memory_fail_after(0);
    assert_null(interpolator);
#else
    skip();
#endif
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(tones_up_to_a_quarter_of_the_rate_are_met),
        cmocka_unit_test(values_at_samples_are_the_samples),
        cmocka_unit_test(a_lack_of_memory_is_told),
    };
    return cmocka_run_group_tests_name("simulate.interpolate", tests, NULL, NULL);
}
