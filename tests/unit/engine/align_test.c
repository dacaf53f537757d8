/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/check.h"

#include "engine/align.h"

/* A track of the test's own: tau = a + b (t - reference), exact in the doubles used here. */
static struct {
    wf_instant reference;
    double tau_s;
    double rate_s_per_s;
} linear;

/* The linker takes this in place of the library's: the test hands out no real track. */
void __wrap_wf_track_evaluate(const wf_track *track, wf_instant t, double *tau_s,
                              double *rate_s_per_s);

void __wrap_wf_track_evaluate(const wf_track *track, wf_instant t, double *tau_s,
                              double *rate_s_per_s)
{
    (void)track;
    *tau_s = linear.tau_s + linear.rate_s_per_s * wf_instant_difference_s(t, linear.reference);
    if (rate_s_per_s != NULL)
        *rate_s_per_s = linear.rate_s_per_s;
}

static wfi_aligner aligner_at(wf_instant start, wf_instant origin)
{
    wfi_aligner aligner;
    wfi_aligner_init(&aligner, NULL, start, origin, 1000000, 100);
    return aligner;
}

static void align_finds_the_nearest_whole_sample(void **state)
{
    (void)state;
    linear.reference = (wf_instant){1000, 0.0};
    linear.tau_s = 12.3e-6;
    linear.rate_s_per_s = 0.0;
    const wfi_aligner aligner = aligner_at((wf_instant){1000, 0.25}, (wf_instant){999, 0.0});
    wfi_alignment alignment;
    wfi_align(&aligner, 0, &alignment);
    assert_int_equal(alignment.first_sample, 1250012);
    wf_check_near("fraction", alignment.fraction, 0.3, 1e-9, "sample");
    wfi_align(&aligner, 7, &alignment);
    assert_int_equal(alignment.first_sample, 1250712);
    linear.tau_s = -12.7e-6;
    wfi_align(&aligner, 0, &alignment);
    assert_int_equal(alignment.first_sample, 1249987);
    wf_check_near("fraction", alignment.fraction, 0.3, 1e-9, "sample");
}

static void align_loses_nothing_over_days(void **state)
{
    (void)state;
    linear.tau_s = 0.25e-6;
    linear.rate_s_per_s = 0.0;
    const wfi_aligner aligner = aligner_at((wf_instant){900000000, 0.0}, (wf_instant){0, 0.5});
    wfi_alignment alignment;
    wfi_align(&aligner, 1000000007, &alignment);
    assert_int_equal(alignment.first_sample, 900000000LL * 1000000 - 500000 + 100000000700LL);
    wf_check_near("fraction", alignment.fraction, 0.25, 1e-9, "sample");
}

/* The phase of the samples is zero at the segment's mean time and turns by nu rho a second. */
static void align_rotates_about_the_mean_of_the_segment(void **state)
{
    (void)state;
    const wfi_grid_stream stream = {
        .rate_hz = 1000000, .n_fft = 100, .rotation_hz = 230e9, .residual_hz = 0.0};
    const wfi_alignment alignment = {.fraction = 0.25, .rate_s_per_s = 1e-6};
    double start = 0;
    double step = 0;
    wfi_align_rotation(&stream, &alignment, &start, &step);
    wf_check_near("step", step, 230e9 * 1e-6 / 1e6, 1e-15, "turn");
    const double at_mean = start + step * (0.25 + 49.5);
    wf_check_near("phase at the mean", at_mean, rint(at_mean), 1e-12, "turn");
}

/* Closed form: phase = nu0 tau + g d / fs, at every channel. */
static void align_puts_channels_into_phase(void **state)
{
    (void)state;
    const wfi_grid_stream stream = {
        .rate_hz = 1000000, .n_fft = 100, .zero_hz = 1e9, .rotation_hz = 1.00025e9};
    const wfi_grid_piece piece = {.first_offset_hz = 30e3};
    const wfi_alignment alignment = {.fraction = -0.4, .tau_s = 1.0000000125, .rate_s_per_s = 0.0};
    double first = 0;
    double step = 0;
    wfi_align_channels(&stream, &piece, &alignment, 1e9, true, &first, &step);
    /* 1e9 x 1.0000000125 = 12.5 turns beyond whole ones; 30e3 x -0.4e-6 = -0.012 */
    wf_check_near("first", first - rint(first - 0.488), 0.488, 1e-6, "turn");
    wf_check_near("step", step, -0.004, 1e-15, "turn");
}

/* Two streams whose oscillators differ by 250 kHz turn against each other by as much. */
static void align_ties_streams_of_other_zero_frequencies(void **state)
{
    (void)state;
    const wfi_grid_piece piece = {.first_offset_hz = 0.0};
    const wfi_grid_stream a = {.rate_hz = 1000000, .n_fft = 100, .zero_hz = 1.00025e9};
    double first = 0;
    double step = 0;
    for (int k = 0; k < 8; k++) {
        const wfi_alignment alignment = {.start = {800000123 + k, 1e-6 * k}};
        wfi_align_channels(&a, &piece, &alignment, 1e9, true, &first, &step);
        const double want = 0.25 * k;
        wf_check_near("turns", first, want - rint(want), 1e-9, "turn");
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(align_finds_the_nearest_whole_sample),
        cmocka_unit_test(align_loses_nothing_over_days),
        cmocka_unit_test(align_rotates_about_the_mean_of_the_segment),
        cmocka_unit_test(align_puts_channels_into_phase),
        cmocka_unit_test(align_ties_streams_of_other_zero_frequencies),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
