/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The test cases that the routines of the IERS Conventions (2010) (Petit and Luzum 2010, IERS
 * Technical Note 36) print in their headers. Their limits: rounding of double precision, or the
 * last digit printed. FCULZD_HPA is left out: a model for light, not for radio. */
#include "support/check.h"

#include "delay/gpt2.h"
#include "delay/mapping.h"
#include "delay/pressure.h"

static const double LATITUDE = 0.6708665767;
static const double LONGITUDE = -1.393397187;
static const double ELEVATION = 3.14159265358979323846 / 2.0 - 1.278564131;
static const double MJD = 55055.0;

/* Source: routine GMF. */
static void gmf_is_met(void **state)
{
    (void)state;
    double gmf[WFI_N_GMF];
    wfi_harmonic_sums(wfi_gmf_harmonics[0], WFI_N_GMF, LATITUDE, LONGITUDE, gmf);
    const wfi_mapping_a a = wfi_gmf_a(gmf, MJD);
    wf_check_near("hydrostatic",
                  wfi_map_hydrostatic(a.hydrostatic, MJD, LATITUDE, 844.715, ELEVATION),
                  3.425245519339138678, 1e-12, "");
    wf_check_near("wet", wfi_map_wet(a.wet, ELEVATION), 3.449589116182419257, 1e-12, "");
}

/* Source: routine VMF1, header of 2012. */
static void vmf1_is_met(void **state)
{
    (void)state;
    wf_check_near("hydrostatic", wfi_map_hydrostatic(0.00127683, MJD, LATITUDE, 0.0, ELEVATION),
                  3.424342122738070593, 1e-12, "");
    wf_check_near("wet", wfi_map_wet(0.00060955, ELEVATION), 3.448299714692572238, 1e-12, "");
}

/* Source: routine VMF1_HT, header of 2012. */
static void vmf1_of_a_grid_is_met(void **state)
{
    (void)state;
    wf_check_near("hydrostatic", wfi_map_hydrostatic(0.00127683, MJD, LATITUDE, 824.17, ELEVATION),
                  3.425088087972572470, 1e-12, "");
    wf_check_near("wet", wfi_map_wet(0.00060955, ELEVATION), 3.448299714692572238, 1e-12, "");
}

/* Source: routine GPT. */
static void gpt_is_met(void **state)
{
    (void)state;
    double gpt[WFI_N_GPT], pressure_hpa = 0, temperature_c = 0;
    wfi_harmonic_sums(wfi_gpt_harmonics[0], WFI_N_GPT, LATITUDE, LONGITUDE, gpt);
    wfi_gpt(gpt, 812.546, MJD, &pressure_hpa, &temperature_c);
    wf_check_near("pressure", pressure_hpa, 918.0710638757363995, 1e-9, "hPa");
    wf_check_near("temperature", temperature_c, 19.31914181012882992, 1e-9, "deg C");
    wf_check_near("geoid", gpt[WFI_GPT_GEOID], -42.19185643717770517, 1e-9, "m");
}

/* The four points of the grid around Vienna, of the file gpt2_5.grd (Lagler et al. 2013, Geophys.
 * Res. Lett. 40, 1069): 52.5 N then 47.5 N, 12.5 E then 17.5 E. */
static const wfi_gpt2_point AROUND_VIENNA[WFI_GPT2_CORNERS] = {
    {{100913, 30, -28, 9, -14},
     {283.4, -9.1, -2.9, -0.0, 0.3},
     {6.02, -2.61, -1.33, 0.29, 0.32},
     {-4.6, 1.0, -0.3, -0.1, -0.0},
     41.28,
     52.71,
     {1.2352, -0.0211, -0.0108, 0.0008, 0.0009},
     {0.5583, -0.0126, -0.0125, 0.0040, 0.0012}},
    {{100434, 46, -48, -8, -16},
     {282.7, -10.0, -3.0, 0.0, 0.2},
     {5.88, -2.85, -1.38, 0.39, 0.36},
     {-4.3, 1.1, -0.2, -0.2, 0.1},
     34.11,
     93.18,
     {1.2344, -0.0225, -0.0111, 0.0010, 0.0007},
     {0.5578, -0.0120, -0.0115, 0.0049, 0.0017}},
    {{89942, -161, -172, 56, 16},
     {281.0, -8.4, -3.1, 0.1, 0.1},
     {5.13, -2.91, -1.20, 0.34, 0.34},
     {-6.5, 0.6, -0.2, 0.2, -0.1},
     47.30,
     1024.64,
     {1.2395, -0.0209, -0.0110, 0.0010, 0.0008},
     {0.5243, -0.0055, -0.0101, 0.0041, 0.0011}},
    {{99762, 183, -97, 41, -6},
     {284.8, -10.5, -2.7, -0.3, 0.1},
     {6.21, -3.28, -1.34, 0.41, 0.22},
     {-5.4, 1.6, -0.0, 0.0, 0.1},
     44.86,
     160.75,
     {1.2406, -0.0219, -0.0106, 0.0008, 0.0005},
     {0.5649, -0.0088, -0.0096, 0.0044, 0.0026}},
};

/* Source: routine GPT2, first case (with seasons): 48.20 N, 16.37 E, 156 m, 2 August 2012. */
static void gpt2_is_met(void **state)
{
    (void)state;
    const double south = (52.5 - 48.20) / 5.0, east = (16.37 - 12.5) / 5.0;
    wfi_gpt2 vienna = {
        .weight = {(1 - south) * (1 - east), (1 - south) * east, south * (1 - east), south * east}};
    memcpy(vienna.corner, AROUND_VIENNA, sizeof AROUND_VIENNA);
    const wfi_gpt2_air air = wfi_gpt2_at(&vienna, 156.0, 56141.0);
    wf_check_near("pressure", air.pressure_hpa, 1002.56, 0.005, "hPa");
    wf_check_near("temperature", air.temperature_c, 22.12, 0.005, "deg C");
    wf_check_near("lapse rate", air.lapse_k_per_km, -6.53, 0.005, "K/km");
    wf_check_near("vapour", air.vapour_hpa, 15.63, 0.005, "hPa");
    wf_check_near("hydrostatic a", air.a.hydrostatic, 0.0012647, 5e-8, "");
    wf_check_near("wet a", air.a.wet, 0.0005726, 5e-8, "");
    wf_check_near("geoid", air.geoid_m, 44.06, 0.005, "m");
}

/* South of the equator the season turns: with GMF's coefficients for both hemispheres (routine
 * GMF's source text), c = 0.062 + ((cos(psi + pi) + 1) 0.007/2 + 0.002)(1 - cos 40 deg) at psi = 0,
 * 28 January 1980: 0.0624679. m = (1 + a/(1 + b/(1 + c)))/(s + a/(s + b/(s + c))) at s = 0.1,
 * a = 0.00125, b = 0.0029, worked by hand. */
static void southern_season_is_turned(void **state)
{
    (void)state;
    const double c = 0.062 + 0.002 * (1.0 - cos(-40.0 * 3.14159265358979323846 / 180.0));
    const double top = 1.0 + 0.00125 / (1.0 + 0.0029 / (1.0 + c));
    const double bottom = 0.1 + 0.00125 / (0.1 + 0.0029 / (0.1 + c));
    wf_check_near("southern",
                  wfi_map_hydrostatic(0.00125, 44239.0 - 1.0 + 28.0,
                                      -40.0 * 3.14159265358979323846 / 180.0, 0.0, asin(0.1)),
                  top / bottom, 1e-13, "");
}

/* Source: 1013.25 hPa make 2.307 m of zenith delay at 45 degrees and sea level (Davis et al. 1985:
 * 2.2768 mm/hPa). Rounded to the millimetre there. A mountain at 4205 m and 20 degrees with
 * 616 hPa: 0.0022768 x 616 / (1 - 0.00266 x 0.76604 - 0.00118) = 1.40703. */
static void hydrostatic_zenith_delays(void **state)
{
    (void)state;
    const double degree = 3.14159265358979323846 / 180.0;
    wf_check_near("sea level", wfi_zenith_hydrostatic_m(1013.25, 45.0 * degree, 0.0), 2.307, 5e-4,
                  "m");
    wf_check_near("mountain", wfi_zenith_hydrostatic_m(616.0, 20.0 * degree, 4205.0),
                  0.0022768 * 616.0 / (1.0 - 0.00266 * 0.766044443 - 0.00000028 * 4205.0), 1e-9,
                  "m");
}

/* Source: saturation pressure of water at 20 deg C 23.39 hPa (Wagner and Pruss 2002, IAPWS), so
 * half of it at 45 degrees: 0.0022768 (1255/293.15 + 0.05) 11.69 = 0.1153 m. Magnus' formula is
 * good to 0.3 % (World Meteorological Organization, guide no. 8). */
static void wet_zenith_delay(void **state)
{
    (void)state;
    wf_check_near("wet", wfi_zenith_wet_m(20.0, 0.5, 3.14159265358979323846 / 4.0, 0.0), 0.1153,
                  4e-4, "m");
}

/* Source: Chen and Herring 1997, eq. 16 of the mapping: 1/(sin e tan e + 0.0032). At 45 degrees
 * 1/(0.70710678 + 0.0032) = 1.4078424. */
static void gradient_at_45_degrees(void **state)
{
    (void)state;
    wf_check_near("gradient", wfi_map_gradient(3.14159265358979323846 / 4.0), 1.4078424, 5e-8, "");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(gmf_is_met),
        cmocka_unit_test(vmf1_is_met),
        cmocka_unit_test(vmf1_of_a_grid_is_met),
        cmocka_unit_test(gpt_is_met),
        cmocka_unit_test(gpt2_is_met),
        cmocka_unit_test(southern_season_is_turned),
        cmocka_unit_test(hydrostatic_zenith_delays),
        cmocka_unit_test(wet_zenith_delay),
        cmocka_unit_test(gradient_at_45_degrees),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
