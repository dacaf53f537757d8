/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "scene.h"

#include "delay/c04.h"

/* Lines in the columns of the two formats; the values are invented. */
#define HEADER_14                                                                                  \
    "     EARTH ORIENTATION PARAMETERS\n     EOP (IERS) 14 C04 TIME SERIES\n\n"                    \
    "FORMAT(3(I4),I7,2(F11.6),2(F12.7),2(F11.6))\n####\n      Date      MJD      x\n     (0h "     \
    "UTC)\n\n"
#define LINE_14(day, mjd)                                                                          \
    "2026   3" day "  " mjd                                                                        \
    "   0.123456   0.234567   0.0345678   0.0001234   0.000150  -0.000250   0.000040   0.000040  " \
    "0.0000100  0.0000100    0.000050    0.000050"
#define HEADER_20 "# EOP (IERS) 20 C04 TIME SERIES  consistent with ITRF 2020\n# YR  MM\n"
#define LINE_20(day, hour, mjd)                                                                    \
    "2026   3" day hour "  " mjd                                                                   \
    "    0.123456    0.234567   0.0345678    0.000150   -0.000250    0.000000    0.000000   "      \
    "0.0001234    0.000040    0.000040   0.0000100    0.000050    0.000050"

static const double AS2RAD = 3.14159265358979323846 / 648000.0;

static wf_status read_text(wfi_eop *eop, const char *content, wf_error *err)
{
    char path[64];
    scene_write_file(path, content);
    *eop = (wfi_eop){0};
    const wf_status status = wfi_c04_read(eop, path, err);
    unlink(path);
    return status;
}

static void refuse(const char *content, const char *text)
{
    wfi_eop eop;
    wf_error err = WF_ERROR_INIT;
    wf_check_refused(read_text(&eop, content, &err), WF_FORMAT, &err, text);
    wfi_eop_release(&eop);
}

static void check_values(const wfi_eop_values *v)
{
    wf_check_near("x", v->pole_x_rad / AS2RAD, 0.123456, 1e-12, "arcsec");
    wf_check_near("y", v->pole_y_rad / AS2RAD, 0.234567, 1e-12, "arcsec");
    wf_check_near("UT1-TAI", v->ut1_minus_tai_s, 0.0345678 - 37.0, 1e-14, "s");
    wf_check_near("dX", v->celestial_pole_dx_rad / AS2RAD, 0.000150, 1e-12, "arcsec");
    wf_check_near("dY", v->celestial_pole_dy_rad / AS2RAD, -0.000250, 1e-12, "arcsec");
}

/* The header may be there or not, and may say what it likes: the line decides. */
static void layout_is_told_by_the_line(void **state)
{
    (void)state;
    static const char *const files[] = {HEADER_14 LINE_14("   1", "61100") "\n",
                                        LINE_14("   1", "61100"),
                                        HEADER_20 LINE_14("   1", "61100") "\r\n",
                                        HEADER_20 LINE_20("   1", "   0", "61100.00") "\n",
                                        LINE_20("   1", "   0", "61100.00"),
                                        HEADER_14 LINE_20("   1", "   0", "61100.00") "\n"};
    for (size_t i = 0; i < sizeof files / sizeof files[0]; i++) {
        wfi_eop eop;
        wf_error err = WF_ERROR_INIT;
        wf_check_ok(read_text(&eop, files[i], &err), &err);
        assert_int_equal(eop.n_days, 1);
        assert_int_equal(eop.first_mjd, 61100);
        check_values(&eop.days[0].values);
        wfi_eop_release(&eop);
    }
}

static void values_of_noon_are_of_noon(void **state)
{
    (void)state;
    wfi_eop eop;
    wf_error err = WF_ERROR_INIT;
    wf_check_ok(read_text(&eop,
                          HEADER_20 LINE_20("   1", "  12", "61100.50") "\n" LINE_20(
                              "   2", "  12", "61101.50") "\n",
                          &err),
                &err);
    const wf_instant noon = scene_time("2026-03-01T12:00:00");
    assert_true(wf_instant_difference_s(eop.days[0].start, noon) == 0.0);
    assert_true(wf_instant_difference_s(eop.days[1].start, noon) == 86400.0);
    wfi_eop_release(&eop);
}

/* Instants of UTC with leap seconds start in 1972; the series in 1962. */
static void years_before_utc_are_passed_over(void **state)
{
    (void)state;
    static const char early[] = "1962   1   1   0  37665.00   -0.012700    0.213000   0.0326338    "
                                "0.000000    0.000000    0.000000    0.000000   0.0017230";
    char content[1024];
    snprintf(content, sizeof content, "%s\n%s\n", early, LINE_20("   1", "   0", "61100.00"));
    wfi_eop eop;
    wf_error err = WF_ERROR_INIT;
    wf_check_ok(read_text(&eop, content, &err), &err);
    assert_int_equal(eop.n_days, 1);
    wfi_eop_release(&eop);
}

static void faults_are_named_by_line(void **state)
{
    (void)state;
    refuse("", "holds no day of EOP 14 C04 or EOP 20 C04");
    refuse(HEADER_14, "holds no day");
    refuse("station: Alder and Birch\n", "holds no day");
    refuse("2026-03-01 some other table of the year\n", "line 1 is no line of EOP 14 C04");
    refuse(LINE_14("   1", "61100") "\n" LINE_14("   3", "61102") "\n",
           "line 2: MJD 61102 follows MJD 61100; the days must ascend, one day apart");
    refuse(LINE_14("   1", "61100") "\n" LINE_14("   1", "61100") "\n", "line 2: MJD 61100");
    refuse(LINE_14("   1", "61101") "\n", "line 1: the date 2026   3   1 and the modified Julian");
    refuse(LINE_20("   1", "   0", "61100.00") "\nnonsense\n", "line 2: columns 1-4 hold \"nons\"");
    char damaged[] = LINE_14("   1", "61100") "\n";
    damaged[24] = 'x';
    refuse(damaged, "line 1: columns 20-30 hold");
    /* a finals2000A line */
    refuse("26 3 1 61100.00 I  0.123456 0.000091  0.234567 0.000091\n", "takes finals2000a");
    /* dPsi, dEps of the IAU 1980 series */
    char older[] = LINE_14("   1", "61100") "\n";
    memcpy(older + 65, "  -0.105150", 11);
    refuse(older, "dPsi and dEps");
}

/* Cut anywhere, the line yields the true values or a refusal. */
static void truncated_line_never_gives_wrong_values(void **state)
{
    (void)state;
    static const char *const wholes[] = {LINE_14("   1", "61100"),
                                         LINE_20("   1", "   0", "61100.00")};
    static const size_t complete[] = {87, 86};
    for (size_t k = 0; k < 2; k++) {
        for (size_t n = 1; n < strlen(wholes[k]); n++) {
            char content[400];
            snprintf(content, sizeof content, "%.*s\n", (int)n, wholes[k]);
            wfi_eop eop;
            wf_error err = WF_ERROR_INIT;
            const wf_status status = read_text(&eop, content, &err);
            assert_int_equal(status, n < complete[k] ? WF_FORMAT : WF_OK);
            if (status == WF_OK)
                check_values(&eop.days[0].values);
            wfi_eop_release(&eop);
        }
    }
}

static void places_that_hold_no_file(void **state)
{
    (void)state;
    wfi_eop eop = {0};
    wf_error err = WF_ERROR_INIT;
    wf_check_refused(wfi_c04_read(&eop, "no/such/eopc04.1962-now", &err), WF_MISSING, &err,
                     "no/such/eopc04.1962-now");
    wfi_eop_release(&eop);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(layout_is_told_by_the_line),
        cmocka_unit_test(values_of_noon_are_of_noon),
        cmocka_unit_test(years_before_utc_are_passed_over),
        cmocka_unit_test(faults_are_named_by_line),
        cmocka_unit_test(truncated_line_never_gives_wrong_values),
        cmocka_unit_test(places_that_hold_no_file),
    };
    return cmocka_run_group_tests(tests, enter_folder, leave_folder);
}
