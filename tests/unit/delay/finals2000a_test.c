/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "scene.h"

#include "delay/finals2000a.h"

/* Lines in the columns of readme.finals2000A; the values are invented. */
#define DATE "26 3 1 61100.00 "
#define BULLETIN_A                                                                                 \
    "I  0.123456 0.000091  0.234567 0.000091  I 0.0345678 0.0000101  0.1234 0.0021  I     0.150"   \
    "    0.100    -0.250    0.100"
#define BULLETIN_B "  0.123111  0.234222  0.0345333     0.144    -0.255"

static const double AS2RAD = 3.14159265358979323846 / 648000.0;

static wf_status read_text(wfi_eop *eop, const char *content, wf_error *err)
{
    char path[64];
    scene_write_file(path, content);
    *eop = (wfi_eop){0};
    const wf_status status = wfi_finals2000a_read(eop, path, err);
    unlink(path);
    return status;
}

static wfi_eop_values first_day(const char *content)
{
    wfi_eop eop;
    wf_error err = WF_ERROR_INIT;
    wf_check_ok(read_text(&eop, content, &err), &err);
    assert_int_equal(eop.n_days, 1);
    assert_int_equal(eop.first_mjd, 61100);
    const wfi_eop_values values = eop.days[0].values;
    wfi_eop_release(&eop);
    return values;
}

static void refuse(const char *content, const char *text)
{
    wfi_eop eop;
    wf_error err = WF_ERROR_INIT;
    wf_check_refused(read_text(&eop, content, &err), WF_FORMAT, &err, text);
    wfi_eop_release(&eop);
}

static void bulletin_b_goes_before_bulletin_a(void **state)
{
    (void)state;
    const wfi_eop_values values = first_day(DATE BULLETIN_A BULLETIN_B "\n");
    wf_check_near("x", values.pole_x_rad, 0.123111 * AS2RAD, 1e-20, "rad");
    wf_check_near("y", values.pole_y_rad, 0.234222 * AS2RAD, 1e-20, "rad");
    wf_check_near("UT1-TAI", values.ut1_minus_tai_s, 0.0345333 - 37.0, 1e-14, "s");
    wf_check_near("dX", values.celestial_pole_dx_rad, 0.144e-3 * AS2RAD, 1e-22, "rad");
    wf_check_near("dY", values.celestial_pole_dy_rad, -0.255e-3 * AS2RAD, 1e-22, "rad");
}

static void bulletin_a_stands_in(void **state)
{
    (void)state;
    static const char *const ends[] = {"", "\n", "\r\n", "          \n"};
    for (size_t i = 0; i < 4; i++) {
        char content[512];
        snprintf(content, sizeof content, "%s%s", DATE BULLETIN_A, ends[i]);
        const wfi_eop_values values = first_day(content);
        wf_check_near("x", values.pole_x_rad, 0.123456 * AS2RAD, 1e-20, "rad");
        wf_check_near("y", values.pole_y_rad, 0.234567 * AS2RAD, 1e-20, "rad");
        wf_check_near("UT1-TAI", values.ut1_minus_tai_s, 0.0345678 - 37.0, 1e-14, "s");
        wf_check_near("dX", values.celestial_pole_dx_rad, 0.150e-3 * AS2RAD, 1e-22, "rad");
        wf_check_near("dY", values.celestial_pole_dy_rad, -0.250e-3 * AS2RAD, 1e-22, "rad");
    }
}

static void blank_is_no_value(void **state)
{
    (void)state;
    const wfi_eop_values none = first_day(DATE "\n");
    assert_true(isnan(none.pole_x_rad) && isnan(none.pole_y_rad) && isnan(none.ut1_minus_tai_s));
    assert_true(isnan(none.celestial_pole_dx_rad) && isnan(none.celestial_pole_dy_rad));
    char line[] = DATE BULLETIN_A "\n";
    memset(line + 95, ' ', 39); /* columns 96 to 134: the celestial pole offset */
    const wfi_eop_values no_offset = first_day(line);
    assert_true(isfinite(no_offset.ut1_minus_tai_s));
    assert_true(isnan(no_offset.celestial_pole_dx_rad));
}

/* A day without value is refused where it is needed, by name. */
static void missing_values_are_named_when_needed(void **state)
{
    (void)state;
    char content[6 * 200] = "";
    for (int i = 0; i < 6; i++) {
        char line[] = DATE BULLETIN_A "\n";
        char mjd[9];
        snprintf(mjd, sizeof mjd, "%8.2f", 61100.0 + i);
        memcpy(line + 7, mjd, 8);
        if (i == 5)
            memset(line + 57, ' ', 11);
        strcat(content, line);
    }
    wfi_eop eop;
    wf_error err = WF_ERROR_INIT;
    wf_check_ok(read_text(&eop, content, &err), &err);
    assert_int_equal(eop.n_days, 6);
    wfi_eop_values values;
    wf_check_ok(wfi_eop_evaluate(&eop, scene_time("2026-03-03T12:00:00"), &values, &err), &err);
    wf_check_refused(wfi_eop_evaluate(&eop, scene_time("2026-03-04T12:00:00"), &values, &err),
                     WF_RANGE, &err, "no UT1-UTC is given for 2026-03-06");
    wfi_eop_release(&eop);
}

/* Flag P of any of the three in the place of I. Columns of readme.finals2000A. */
static void predicted_values_are_known_as_such(void **state)
{
    (void)state;
    static const size_t columns[] = {17, 58, 96};
    for (size_t i = 0; i <= 3; i++) {
        char line[] = DATE BULLETIN_A "\n";
        if (i < 3)
            line[columns[i] - 1] = 'P';
        wfi_eop eop;
        wf_error err = WF_ERROR_INIT;
        wf_check_ok(read_text(&eop, line, &err), &err);
        assert_int_equal(eop.days[0].kind, i < 3 ? WFI_EOP_PREDICTED : WFI_EOP_MEASURED);
        wfi_eop_release(&eop);
    }
}

/* Cut anywhere, the line yields the true values, fewer of them, or a refusal: never others. */
static void truncated_line_never_gives_wrong_values(void **state)
{
    (void)state;
    const char *whole = DATE BULLETIN_A BULLETIN_B;
    assert_int_equal(strlen(whole), 185);
    int n_refused = 0;
    for (size_t n = 1; n < 185; n++) {
        char content[200];
        snprintf(content, sizeof content, "%.*s\n", (int)n, whole);
        wfi_eop eop;
        wf_error err = WF_ERROR_INIT;
        const wf_status status = read_text(&eop, content, &err);
        if (status != WF_OK) {
            n_refused++;
            assert_int_equal(status, WF_FORMAT);
            assert_non_null(strstr(err.message, "line 1"));
        } else {
            const double x = eop.days[0].values.pole_x_rad / AS2RAD;
            const double ut1 = eop.days[0].values.ut1_minus_tai_s + 37.0;
            assert_true(isnan(x) || fabs(x - 0.123456) < 1e-12 || fabs(x - 0.123111) < 1e-12);
            assert_true(isnan(ut1) || fabs(ut1 - 0.0345678) < 1e-12 ||
                        fabs(ut1 - 0.0345333) < 1e-12);
        }
        wfi_eop_release(&eop);
    }
    assert_true(n_refused > 60);
    refuse("26 3 1 61100.00 I  0.123456 0.000091  0.2345\n", "ends inside columns 38-46");
}

static void other_files_are_told_apart(void **state)
{
    (void)state;
    refuse("", "is empty");
    refuse("\n\n", "is empty");
    refuse("station: Alder and Birch\n", "line 1: columns 8-15 hold");
    refuse("short\n", "line 1: columns 8-15 hold no modified Julian day");
    refuse(DATE "\n" DATE "\n", "line 2: MJD 61100 follows MJD 61100");
    refuse("26 3 1 61100.50 \n", "no modified Julian day at 0h");
    /* the older series: dPsi and dEps in the place of dX and dY */
    char line[] = DATE BULLETIN_A "\n";
    memcpy(line + 97, " -105.123", 9);
    refuse(line, "finals2000A");
    char damaged[] = DATE BULLETIN_A "\n";
    damaged[22] = 'x';
    refuse(damaged, "line 1: columns 19-27");
}

static void places_that_hold_no_file(void **state)
{
    (void)state;
    wfi_eop eop = {0};
    wf_error err = WF_ERROR_INIT;
    wf_check_refused(wfi_finals2000a_read(&eop, "no/such/finals2000A.data", &err), WF_MISSING, &err,
                     "no/such/finals2000A.data");
    wfi_eop_release(&eop);
    err = (wf_error)WF_ERROR_INIT;
    wf_check_refused(wfi_finals2000a_read(&eop, ".", &err), WF_FORMAT, &err, "is a folder");
    wfi_eop_release(&eop);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(bulletin_b_goes_before_bulletin_a),
        cmocka_unit_test(bulletin_a_stands_in),
        cmocka_unit_test(blank_is_no_value),
        cmocka_unit_test(missing_values_are_named_when_needed),
        cmocka_unit_test(predicted_values_are_known_as_such),
        cmocka_unit_test(truncated_line_never_gives_wrong_values),
        cmocka_unit_test(other_files_are_told_apart),
        cmocka_unit_test(places_that_hold_no_file),
    };
    return cmocka_run_group_tests(tests, enter_folder, leave_folder);
}
