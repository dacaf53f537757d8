/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "scene.h"

#include "base/memory.h"
#include "delay/blq.h"

#define AMPLITUDES " .00352 .00123 .00080 .00032 .00187 .00112 .00063 .00003 .00082 .00044 .00037\n"
#define PHASES "  -64.7  -52.0  -96.2  -55.2  -58.8 -151.4  -65.6 -138.1    8.4    5.2    2.1\n"
#define ROWS AMPLITUDES AMPLITUDES AMPLITUDES PHASES PHASES PHASES

static const char FOREST[] = "$$ COLUMN ORDER:  M2  S2  N2  K2  K1  O1  P1  Q1  MF  MM SSA\n"
                             "$$\n"
                             "  ALDER\n"
                             "$$ computed for an invented place\n" ROWS "\n"
                             "  BIRCH 2  \r\n" ROWS "$$ END TABLE\n";

static wf_status parse(wfi_blq *blq, const char *text, size_t n, wf_error *err)
{
    wfi_line_reader reader;
    *blq = (wfi_blq){0};
    wfi_line_reader_open_memory(&reader, "forest.blq", text, n);
    return wfi_blq_parse(blq, &reader, err);
}

static void check_forest(const wfi_blq *blq)
{
    assert_int_equal(blq->n_stations, 2);
    assert_string_equal(blq->stations[0].name, "ALDER");
    assert_int_equal(blq->stations[0].line, 3);
    assert_string_equal(blq->stations[1].name, "BIRCH 2");
    for (int i = 0; i < 3; i++) {
        assert_true(blq->stations[1].amplitude_m[i][WFI_BLQ_M2] == 0.00352);
        assert_true(blq->stations[1].amplitude_m[i][WFI_BLQ_SSA] == 0.00037);
        wf_check_near("Q1", blq->stations[1].lag_rad[i][WFI_BLQ_Q1] * 180.0 / acos(-1.0), -138.1,
                      1e-13, "deg");
    }
}

static void stations_are_read_from_memory_and_file(void **state)
{
    (void)state;
    wfi_blq blq;
    wf_error err = WF_ERROR_INIT;
    wf_check_ok(parse(&blq, FOREST, strlen(FOREST), &err), &err);
    check_forest(&blq);
    wfi_blq_release(&blq);
    char path[64];
    scene_write_file(path, FOREST);
    wf_check_ok(wfi_blq_read(&blq, path, &err), &err);
    unlink(path);
    assert_string_equal(blq.path, path);
    check_forest(&blq);
    wfi_blq_release(&blq);
}

static void rows_keep_their_order(void **state)
{
    (void)state;
    static const char text[] = "A\n.1 0 0 0 0 0 0 0 0 0 0\n.2 0 0 0 0 0 0 0 0 0 0\n"
                               ".3 0 0 0 0 0 0 0 0 0 0\n180 0 0 0 0 0 0 0 0 0 0\n"
                               "-90 0 0 0 0 0 0 0 0 0 0\n270 0 0 0 0 0 0 0 0 0 0";
    wfi_blq blq;
    wf_error err = WF_ERROR_INIT;
    wf_check_ok(parse(&blq, text, strlen(text), &err), &err);
    const double pi = acos(-1.0);
    static const double amplitude_m[3] = {0.1, 0.2, 0.3};
    const double lag_rad[3] = {pi, -pi / 2.0, 1.5 * pi};
    for (int i = 0; i < 3; i++) {
        assert_true(blq.stations[0].amplitude_m[i][0] == amplitude_m[i]);
        wf_check_near("lag", blq.stations[0].lag_rad[i][0], lag_rad[i], 1e-15, "rad");
    }
    wfi_blq_release(&blq);
}

static void refuse(const char *text, const char *message)
{
    wfi_blq blq;
    wf_error err = WF_ERROR_INIT;
    wf_check_refused(parse(&blq, text, strlen(text), &err), WF_FORMAT, &err, message);
    assert_non_null(strstr(err.message, "forest.blq"));
    wfi_blq_release(&blq);
}

static void faults_are_named_by_line(void **state)
{
    (void)state;
    refuse("", "holds no station: no BLQ file");
    refuse("$$ nothing but words\n\n", "holds no station");
    refuse("ALDER\n", "ends after 0 of the six rows of station ALDER (line 1)");
    refuse("ALDER\n" AMPLITUDES AMPLITUDES AMPLITUDES PHASES PHASES,
           "ends after 5 of the six rows");
    refuse("ALDER\n" AMPLITUDES "BIRCH\n" ROWS,
           "line 3: \"BIRCH\" is no number; expected eleven west amplitudes");
    refuse("ALDER\n 1e-3 2e-3\n" ROWS, "line 2 holds 2 numbers; expected eleven up amplitudes");
    refuse("ALDER\n" AMPLITUDES AMPLITUDES AMPLITUDES PHASES "1 2 3 4 5 6 7 8 9 10 11 12\n" PHASES,
           "line 6 holds more than eleven numbers; expected the west phases");
    refuse("ALDER\n 3,5 0 0 0 0 0 0 0 0 0 0\n" ROWS, "line 2: \"3,5\" is no number");
    refuse("ALDER\n nan 0 0 0 0 0 0 0 0 0 0\n" ROWS, "line 2: \"nan\" is no number");
    refuse("ALDER\n 3.52 0 0 0 0 0 0 0 0 0 0\n" ROWS,
           "line 2: found 3.52; expected up amplitudes from 0 to 0.5 m: is the file in mm or cm?");
    refuse("ALDER\n -.003 0 0 0 0 0 0 0 0 0 0\n" ROWS, "line 2: found -0.003; expected up");
    refuse("ALDER\n" AMPLITUDES AMPLITUDES AMPLITUDES "361 0 0 0 0 0 0 0 0 0 0\n" PHASES PHASES,
           "line 5: found 361; expected up phases from -360 to 360 degrees");
    refuse("ALDER\n" ROWS PHASES, "line 8: a row of numbers where a station's name is expected");
    refuse(ROWS, "line 1: a row of numbers where a station's name is expected");
    refuse("ALDER\n" ROWS "BIRCH\n" ROWS "ALDER\n" ROWS,
           "line 15: station ALDER stands in line 1 already: keep one of them");
    refuse("A line of prose that is far too long for the name of any station of the world\n" ROWS,
           "line 1: \"A line of prose");
}

/* Every cut of a good file inside its last station is refused; none is taken for a shorter file. */
static void truncated_file_is_refused(void **state)
{
    (void)state;
    const char *second = strstr(FOREST, "BIRCH");
    const size_t first = (size_t)(second - FOREST);
    const size_t last = (size_t)(strstr(second, "$$ END") - FOREST) - strlen("2.1\n");
    for (size_t n = first + 1; n <= last; n++) {
        wfi_blq blq;
        wf_error err = WF_ERROR_INIT;
        const wf_status status = parse(&blq, FOREST, n, &err);
        if (status != WF_FORMAT)
            fail_msg("cut at byte %zu: status %d", n, status);
        wfi_blq_release(&blq);
    }
}

static void binary_files_and_missing_ones_are_refused(void **state)
{
    (void)state;
    static const char zero[] = "ALDER\n\0" ROWS;
    wfi_blq blq;
    wf_error err = WF_ERROR_INIT;
    wf_check_refused(parse(&blq, zero, sizeof zero - 1, &err), WF_FORMAT, &err,
                     "line 2 is no text");
    wfi_blq_release(&blq);
    err = (wf_error)WF_ERROR_INIT;
    wf_check_refused(wfi_blq_read(&blq, "no/such/forest.blq", &err), WF_MISSING, &err,
                     "no/such/forest.blq");
    wfi_blq_release(&blq);
}

static void nearest_name_is_suggested(void **state)
{
    (void)state;
    wfi_blq blq;
    wf_error err = WF_ERROR_INIT;
    wf_check_ok(parse(&blq, FOREST, strlen(FOREST), &err), &err);
    const wfi_blq_station *found = NULL;
    wf_check_ok(wfi_blq_find(&blq, "BIRCH 2", &found, &err), &err);
    assert_ptr_equal(found, &blq.stations[1]);
    wf_check_refused(wfi_blq_find(&blq, "ALDERS", &found, &err), WF_MISSING, &err,
                     "forest.blq has no ocean loading of station ALDERS (did you mean \"ALDER\"?); "
                     "add its coefficients under this name, or switch ocean_loading off");
    assert_null(found);
    err = (wf_error)WF_ERROR_INIT;
    wf_check_refused(wfi_blq_find(&blq, "Hornbeam", &found, &err), WF_MISSING, &err,
                     "of station Hornbeam; add");
    wfi_blq_release(&blq);
}

/* Builds without the failing allocator go through once. */
static void every_failing_allocation_is_reported(void **state)
{
    (void)state;
    long n = 0;
    for (wf_status status = WF_MEMORY; status == WF_MEMORY; n++) {
        wfi_blq blq;
        wf_error err = WF_ERROR_INIT;
        const wfi_blq_station *found = NULL;
        wfi_memory_fail_after(n + 1);
        status = parse(&blq, FOREST, strlen(FOREST), &err);
        if (status == WF_OK)
            status = wfi_blq_find(&blq, "ALDERS", &found, &err);
        wfi_memory_fail_after(0);
        if (status != WF_MEMORY)
            assert_int_equal(status, WF_MISSING);
        wfi_blq_release(&blq);
    }
#ifdef WFI_CHECKS
    assert_true(n > 3); /* path, stations, names */
#endif
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(stations_are_read_from_memory_and_file),
        cmocka_unit_test(rows_keep_their_order),
        cmocka_unit_test(faults_are_named_by_line),
        cmocka_unit_test(truncated_file_is_refused),
        cmocka_unit_test(binary_files_and_missing_ones_are_refused),
        cmocka_unit_test(nearest_name_is_suggested),
        cmocka_unit_test(every_failing_allocation_is_reported),
    };
    return cmocka_run_group_tests(tests, enter_folder, leave_folder);
}
