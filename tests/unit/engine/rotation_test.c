/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/check.h"

#include "engine/rotation.h"

/* Source: Thompson, Moran, Swenson 2017, section 9.7: a phase frozen over t at fringe rate r keeps
 * sinc(r t); sinc(0.1) = 0.983632, sinc(0.25) = 0.900316, sinc(0.5) = 0.636620. Two streams turn
 * against each other at twice the rate of one. */
static void rotation_loss_is_that_of_a_frozen_phase(void **state)
{
    (void)state;
    wf_check_near("0.1", wfi_rotation_loss(0.05), 1 - 0.983632, 5e-7, "");
    wf_check_near("0.25", wfi_rotation_loss(0.125), 1 - 0.900316, 5e-7, "");
    wf_check_near("0.5", wfi_rotation_loss(0.25), 1 - 0.636620, 5e-7, "");
    wf_check_near("0", wfi_rotation_loss(0.0), 0.0, 0.0, "");
}

static wfi_grid_stream stream_at(double sky_hz)
{
    return (wfi_grid_stream){.rate_hz = 32000000, .zero_hz = sky_hz, .rotation_hz = sky_hz + 8e6};
}

static void rotation_moves_before_the_fft_where_the_loss_asks(void **state)
{
    (void)state;
    const wf_correlation planned = {.rotation = WF_ROTATION_PLANNED, .rotation_loss_limit = 1e-4};
    double loss = -1;
    /* 8.4 GHz, 62.5 kHz channels, Earth's rate: 8.4e9 x 1.5e-6 x 16e-6 s = 0.20 turns. */
    wfi_grid_stream stream = stream_at(8.4e9);
    assert_true(wfi_rotation_before_fft(&planned, &stream, 1.5e-6, 62500.0, &loss));
    assert_true(loss < 1e-4);
    /* The same at 1 MHz channels: 0.0126 turns, loss (2 pi 0.0126)^2 / 6 = 1.0e-3; allow that. */
    const wf_correlation lenient = {.rotation = WF_ROTATION_PLANNED, .rotation_loss_limit = 2e-3};
    assert_false(wfi_rotation_before_fft(&lenient, &stream, 1.5e-6, 1e6, &loss));
    wf_check_near("loss", loss, 1.0455e-3, 5e-5, "");
    const wf_correlation after = {.rotation = WF_ROTATION_AFTER_FFT};
    assert_false(wfi_rotation_before_fft(&after, &stream, 1.5e-6, 62500.0, &loss));
    stream.residual_hz = 100.0; /* off the grid: no choice */
    assert_true(wfi_rotation_before_fft(&after, &stream, 0.0, 62500.0, &loss));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(rotation_loss_is_that_of_a_frozen_phase),
        cmocka_unit_test(rotation_moves_before_the_fft_where_the_loss_asks),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
