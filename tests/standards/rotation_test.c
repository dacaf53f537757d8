/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The test cases that the routines of the IERS Conventions (2010) (Petit and Luzum 2010, IERS
 * Technical Note 36) print in their headers. */
#include "support/check.h"

#include "delay/orthotides.h"
#include "delay/subdaily.h"
#include "delay/zonal_tides.h"

static const double UAS = 3.14159265358979323846 / 648000.0 * 1e-6;
static const double MJD0 = 2400000.5;

/* The routines take one date for UT1 and TT alike. */
static wfi_rotation_shift libration_at(double mjd)
{
    const double jd[2] = {MJD0, mjd};
    double argument[6];
    wfi_tidal_arguments(jd, jd, argument);
    return wfi_subdaily_sum(wfi_libration_lines, WFI_N_LIBRATION_LINES, argument);
}

/* Source: routine FUNDARG. The limit is the routine's own claim. */
static void delaunay_arguments_are_those_of_fundarg(void **state)
{
    (void)state;
    static const double want[5] = {2.291187512612069099, 6.212931111003726414, 3.658025792050572989,
                                   4.554139562402433228, -0.5167379217231804489};
    double got[5];
    wfi_delaunay_arguments(0.07995893223819302, got);
    for (int i = 0; i < 5; i++)
        wf_check_near("argument", got[i], want[i], 1e-11, "rad");
}

/* Source: routine PMSDNUT2. The original holds single-precision coefficients, worth 5e-7. */
static void libration_of_the_pole_is_that_of_pmsdnut2(void **state)
{
    (void)state;
    const wfi_rotation_shift got = libration_at(54335.0);
    wf_check_near("x", got.pole_x_rad / UAS, 24.83144238273364834, 1e-5, "uas");
    wf_check_near("y", got.pole_y_rad / UAS, -14.09240692041837661, 1e-5, "uas");
}

/* Source: routine UTLIBR, first case. Limit as above. */
static void libration_of_ut1_is_that_of_utlibr(void **state)
{
    (void)state;
    wf_check_near("UT1", libration_at(44239.1).ut1_s * 1e6, 2.441143834386761746, 1e-5, "us");
    /* length of day: - dUT1/dt. Amplitudes of UT1 are printed to 0.01 us, half of which turns with
     * 12.6 rad/d into 0.06 us/d a line, 0.4 us/d at two sigma of eleven */
    const double h = 1e-3;
    const double rate =
        (libration_at(44239.1 + h).ut1_s - libration_at(44239.1 - h).ut1_s) / (2.0 * h) * 1e6;
    wf_check_near("length of day", -rate, -14.78971247349449492, 0.4, "us/d");
}

/* Source: routine CNMTX (the odd partials). Its phases and rates are printed to 1e-7 and 1e-8, of
 * which 18 000 days make 1e-8 of a partial. */
static void orthotide_partials_are_those_of_cnmtx(void **state)
{
    (void)state;
    static const double odd[6] = {15.35873641938967360,  -5.520740128266865554,
                                  -13.93717453496387648, 5.532815475865292321,
                                  -10.22541212627272600, 1.946355176475630611};
    double got[WFI_N_ORTHOTIDES];
    wfi_orthotide_partials(54964.0, got);
    for (int i = 0; i < 6; i++)
        wf_check_near("partial", got[2 * i], odd[i], 1e-8, "");
}

/* Source: routine ORTHO_EOP. */
static void orthotides_are_those_of_ortho_eop(void **state)
{
    (void)state;
    const wfi_rotation_shift got = wfi_orthotides(47100.0);
    wf_check_near("x", got.pole_x_rad / UAS, -162.8386373279636530, 1e-6, "uas");
    wf_check_near("y", got.pole_y_rad / UAS, 117.7907525842668974, 1e-6, "uas");
    wf_check_near("UT1", got.ut1_s * 1e6, -23.39092370609808214, 1e-6, "us");
}

/* Source: routine RG_ZONT2. */
static void zonal_tides_are_those_of_rg_zont2(void **state)
{
    (void)state;
    wf_check_near("UT1", wfi_zonal_tides_s(0.07995893223819302), 7.983287678576557467e-2, 1e-12,
                  "s");
    /* length of day: - dUT1/dt. Amplitudes of UT1 are printed to 0.1 us: half of it turns with up
     * to 1.1 rad/d, and two or three lines may add up */
    const double day = 1.0 / 36525.0;
    const double rate = wfi_zonal_tides_s(0.07995893223819302 + 0.05 * day) -
                        wfi_zonal_tides_s(0.07995893223819302 - 0.05 * day);
    wf_check_near("length of day", -rate / 0.1, 5.035331113978199288e-5, 1e-7, "s/d");
}

/* Desai and Sibois against the older set: two models of the same tides. Their difference at a
 * station is 13 ps at most (delay terms of four sessions of the IVS), of 111 ps in all: 4 mm of
 * 3 cm, or 130 uas and 8.5 us. A wrong phase or sign of a line like M2 (330 uas) exceeds it. */
static void both_ocean_models_agree(void **state)
{
    (void)state;
    double largest_uas = 0, largest_us = 0;
    for (int i = 0; i < 700; i++) {
        const double mjd = 57000.0 + 0.317 * i;
        const double ut1[2] = {MJD0, mjd}, tt[2] = {MJD0, mjd + 67.0 / 86400.0};
        double argument[6];
        wfi_tidal_arguments(ut1, tt, argument);
        const wfi_rotation_shift a =
            wfi_subdaily_sum(wfi_desai_sibois_lines, WFI_N_DESAI_SIBOIS_LINES, argument);
        const wfi_rotation_shift b = wfi_orthotides(mjd);
        wf_check_near("x", a.pole_x_rad / UAS, b.pole_x_rad / UAS, 130.0, "uas");
        wf_check_near("y", a.pole_y_rad / UAS, b.pole_y_rad / UAS, 130.0, "uas");
        wf_check_near("UT1", a.ut1_s * 1e6, b.ut1_s * 1e6, 8.5, "us");
        largest_uas = fmax(largest_uas, fabs(b.pole_x_rad / UAS));
        largest_us = fmax(largest_us, fabs(b.ut1_s * 1e6));
    }
    assert_true(largest_uas > 300.0 && largest_us > 25.0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(delaunay_arguments_are_those_of_fundarg),
        cmocka_unit_test(libration_of_the_pole_is_that_of_pmsdnut2),
        cmocka_unit_test(libration_of_ut1_is_that_of_utlibr),
        cmocka_unit_test(orthotide_partials_are_those_of_cnmtx),
        cmocka_unit_test(orthotides_are_those_of_ortho_eop),
        cmocka_unit_test(zonal_tides_are_those_of_rg_zont2),
        cmocka_unit_test(both_ocean_models_agree),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
