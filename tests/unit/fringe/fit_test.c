/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/check.h"

#include "bands.h"

/* Gaps, an overlap, other widths and numbers of channels, edges on no grid. */
static const band_shape unlike[] = {{8400.0e6, 62.5e3, 64},
                                    {8410.1234e6, 125.0e3, 20},
                                    {8412.0e6, 62.5e3, 64},
                                    {8500.0e6, 50.0e3, 30}};

static wf_fringe_fit fitted(const bands *all, const wf_fringe_window *window)
{
    wf_error err = WF_ERROR_INIT;
    wf_fringe_fit fit;
    wf_check_ok(wf_fringe_fit_bands(&fit, NULL, all->input, all->n, window, &err), &err);
    return fit;
}

static double wrapped(double rad)
{
    return rad - 2 * INVENTED_PI * rint(rad / (2 * INVENTED_PI));
}

/* Without noise the fit is exact to the rounding of single-precision visibilities (6e-8). */
static void fringe_without_noise_is_found_exactly(void **state)
{
    (void)state;
    static const double delays[] = {0, 1.2345e-6, -3.9e-6};
    static const double rates[] = {0, 2.2e-11, -1.1e-10};
    for (size_t i = 0; i < 3; i++) {
        bands all = bands_create(unlike, 4, 20, 0.4);
        const wf_fringe_window window = {4e-6, 1.2e-10, 0, 0};
        truth t = {delays[i], rates[i], 0.02, 1.0, 8440e6};
        bands_add_fringe(&all, &t, NULL);
        const wf_fringe_fit fit = fitted(&all, &window);
        wf_check_near("delay", fit.delay_s, t.delay_s, 1e-15, "s");
        wf_check_near("rate", fit.rate_s_per_s, t.rate_s_per_s, 1e-17, "s/s");
        wf_check_near("amplitude", fit.amplitude, 0.02, 1e-7, "");
        const double turns = (fit.reference_hz - 8440e6) * t.delay_s;
        wf_check_near("phase", wrapped(fit.phase_rad - (1.0 - 2 * INVENTED_PI * turns)), 0, 1e-6,
                      "rad");
        wf_check_near("single band", fit.single_band_delay_s, t.delay_s, 1e-12, "s");
        wf_check_near("coherence", fit.band_coherence, 1, 1e-6, "");
        bands_destroy(&all);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(fringe_without_noise_is_found_exactly),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
