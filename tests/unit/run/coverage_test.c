/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/check.h"

#include "run/coverage.h"

/* Recordings without files: the linker takes this description in place of the library's. */
struct wf_recording {
    wf_recording_info info;
};

const wf_recording_info *__wrap_wf_recording_describe(const wf_recording *recording);

const wf_recording_info *__wrap_wf_recording_describe(const wf_recording *recording)
{
    return &recording->info;
}

enum { RATE = 1000, STATIONS = 2, SCANS = 2 };

typedef struct set_up {
    wf_station stations[STATIONS];
    bool everybody[STATIONS];
    wf_scan scans[SCANS];
    bool wanted[SCANS];
    wf_recording_entry entries[STATIONS];
    wf_recording recordings[STATIONS];
    const wf_recording *pointers[STATIONS];
    wf_observation observation;
    int n_warnings;
    char warning[256];
} set_up;

static wf_recording recorded(int64_t begin_s, int64_t end_s)
{
    return (wf_recording){{.origin = {begin_s, 0.0},
                           .sample_rate_hz = RATE,
                           .first = 0,
                           .end = (end_s - begin_s) * RATE}};
}

/* Scans at 100..110 s and 200..210 s; two stations, both recorded all the time. */
static void begin(set_up *s)
{
    memset(s, 0, sizeof *s);
    strcpy(s->stations[0].name, "Alder");
    strcpy(s->stations[1].name, "Birch");
    for (size_t i = 0; i < STATIONS; i++) {
        s->everybody[i] = true;
        s->entries[i].i_station = i;
        s->recordings[i] = recorded(90, 220);
        s->pointers[i] = &s->recordings[i];
    }
    for (size_t i = 0; i < SCANS; i++) {
        s->wanted[i] = true;
        s->scans[i] = (wf_scan){.name = "S0",
                                .start = {100 * (int64_t)(i + 1), 0.0},
                                .duration_s = 10.0,
                                .station_takes_part = s->everybody};
        s->scans[i].name[1] = (char)('1' + i);
    }
    s->observation = (wf_observation){.stations = s->stations,
                                      .n_stations = STATIONS,
                                      .scans = s->scans,
                                      .n_scans = SCANS,
                                      .recordings = s->entries,
                                      .n_recordings = STATIONS};
}

static void remember(void *context, const char *message)
{
    set_up *s = context;
    s->n_warnings++;
    strncpy(s->warning, message, sizeof s->warning - 1);
}

static wf_status check(set_up *s, wf_error *err)
{
    return wfi_coverage_check(&s->observation, s->pointers, s->wanted, remember, s, err);
}

static void coverage_is_silent_when_all_is_recorded(void **state)
{
    (void)state;
    set_up s;
    wf_error err = WF_ERROR_INIT;
    begin(&s);
    wf_check_ok(check(&s, &err), &err);
    assert_int_equal(s.n_warnings, 0);
}

static void coverage_warns_of_a_scan_that_one_station_missed(void **state)
{
    (void)state;
    set_up s;
    wf_error err = WF_ERROR_INIT;
    begin(&s);
    s.recordings[1] = recorded(90, 120);
    wf_check_ok(check(&s, &err), &err);
    assert_int_equal(s.n_warnings, 1);
    assert_string_equal(s.warning, "station Birch has no recording of scan S2");
}

static void coverage_refuses_a_station_that_met_no_scan(void **state)
{
    (void)state;
    set_up s;
    wf_error err = WF_ERROR_INIT;
    begin(&s);
    s.recordings[1] = recorded(5000, 5010);
    wf_check_refused(check(&s, &err), WF_RANGE, &err, "station Birch: its recording runs from");
}

static void coverage_refuses_stations_that_never_met(void **state)
{
    (void)state;
    set_up s;
    wf_error err = WF_ERROR_INIT;
    begin(&s);
    s.recordings[0] = recorded(90, 120);
    s.recordings[1] = recorded(190, 220);
    wf_check_refused(check(&s, &err), WF_RANGE, &err, "no two stations were recorded");
}

/* Alder's recording of 101..111 s, over a scan of 100..110 s, and Birch's of 90..220 s. */
static void coverage_suspects_tags_a_second_off(void **state)
{
    (void)state;
    set_up s;
    begin(&s);
    s.wanted[1] = false;
    s.recordings[0] = recorded(101, 111);
    wf_error err = WF_ERROR_INIT;
    wf_check_ok(check(&s, &err), &err);
    assert_int_equal(s.n_warnings, 1);
    assert_non_null(strstr(s.warning, "Alder"));
    assert_non_null(strstr(s.warning, "time_offset_s: -1 "));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(coverage_is_silent_when_all_is_recorded),
        cmocka_unit_test(coverage_warns_of_a_scan_that_one_station_missed),
        cmocka_unit_test(coverage_refuses_a_station_that_met_no_scan),
        cmocka_unit_test(coverage_refuses_stations_that_never_met),
        cmocka_unit_test(coverage_suspects_tags_a_second_off),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
