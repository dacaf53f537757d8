/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/check.h"

#include "delay/antenna.h"

static const double C = 299792458.0; /* m/s */

/* An invented antenna; every length is another power of two. */
static const wf_antenna ALDER = {.focus = WF_FOCUS_SECONDARY,
                                 .reference_temperature_c = 10.0,
                                 .foundation_m = 2.0,
                                 .foundation_per_k = 1.0e-5,
                                 .axis_m = 16.0,
                                 .structure_per_k = 1.2e-5,
                                 .vertex_m = 4.0,
                                 .focus_m = 8.0};

/* Source: Nothnagel 2009, J. Geodesy 83, 787, by hand at the zenith, 10 K warmer: foundation 2 m x
 * 1e-5 x 10 = 0.2 mm; structure (16 + 4 - 1.8 x 8) m x 1.2e-5 x 10 = 0.672 mm; the wave comes
 * earlier. */
static void warm_antenna_hears_earlier(void **state)
{
    (void)state;
    const double pi = acos(-1.0);
    const double tau_s = wfi_thermal_expansion_s(&ALDER, 0.0, 0.0, pi / 2.0, 20.0);
    wf_check_near("zenith", tau_s, -0.872e-3 / C, 1e-20, "s");
    wf_antenna prime = ALDER;
    prime.focus = WF_FOCUS_PRIME; /* (16 + 4 - 0.9 x 8) m x 1.2e-4 = 1.536 mm */
    wf_check_near("prime", wfi_thermal_expansion_s(&prime, 0.0, 0.0, pi / 2.0, 20.0), -1.736e-3 / C,
                  1e-20, "s");
}

/* At 30 degrees the heights count half; an axis offset of 1 m with factor cos 30 adds its own:
 * 0.1 mm + (8 + 0.8660254 + 4 - 14.4) x 1.2e-4 = -0.08407695 mm. */
static void heights_and_offset_are_projected(void **state)
{
    (void)state;
    const double pi = acos(-1.0);
    const double tau_s = wfi_thermal_expansion_s(&ALDER, 1.0, cos(pi / 6.0), pi / 6.0, 20.0);
    wf_check_near("30 degrees", tau_s, 0.08407695e-3 / C, 1e-18, "s");
}

static void nothing_grows_at_the_reference_temperature(void **state)
{
    (void)state;
    assert_true(wfi_thermal_expansion_s(&ALDER, 1.0, 0.5, 1.0, 10.0) == 0.0);
    const double warm = wfi_thermal_expansion_s(&ALDER, 1.0, 0.5, 1.0, 13.0);
    const double cold = wfi_thermal_expansion_s(&ALDER, 1.0, 0.5, 1.0, 7.0);
    assert_true(warm == -cold && warm < 0.0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(warm_antenna_hears_earlier),
        cmocka_unit_test(heights_and_offset_are_projected),
        cmocka_unit_test(nothing_grows_at_the_reference_temperature),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
