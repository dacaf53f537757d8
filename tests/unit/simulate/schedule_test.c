/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "sky_text.h"

#include "simulate/sky.h"

/* Start of 2026-03-01T12:00:00 in samples. */
static int64_t noon(int64_t rate_hz)
{
    wf_error err = WF_ERROR_INIT;
    wf_instant t;
    wf_check_ok(wf_instant_parse(&t, "2026-03-01T12:00:00", &err), &err);
    return t.second * rate_hz;
}

/* The recorder starts 50 ms before scan or wave, whichever is first, and ends 50 ms after the last
 * of them; less than a frame more. The wave reaches these stations before the geocentre. */
static void check_cover(const wf_sky *sky, size_t i_recording, const wfi_passage *passage)
{
    wf_error err = WF_ERROR_INIT;
    const wf_recording_entry *const entry = &sky->observation->recordings[i_recording];
    const wf_scan *const scan = &sky->observation->scans[passage->i_scan];
    wf_delay delay;
    wf_check_ok(wf_delay_evaluate(sky->directions.model, entry->i_station, scan->i_source,
                                  scan->start, &delay, &err),
                &err);
    assert_true(delay.tau_s < -0.005);
    const double rate_hz = (double)entry->sample_rate_hz;
    const double start_s = wf_instant_difference_s(scan->start, sky->observation->scans[0].start);
    const int64_t origin = noon(entry->sample_rate_hz);
    const double unit_s = sky->styles[i_recording].is_sound
                              ? 1.0 / rate_hz
                              : (double)sky->styles[i_recording].samples_per_frame / rate_hz;
    const double first_s = (double)(passage->first - origin) / rate_hz;
    const double end_s = (double)(passage->end - origin) / rate_hz;
    const double want_first_s = start_s + delay.tau_s + delay.clock_ahead_s - 0.05;
    const double want_end_s = start_s + scan->duration_s + 0.05;
    wf_check_near("first", first_s, want_first_s - 0.5 * unit_s, 0.51 * unit_s, "s");
    wf_check_near("end", end_s, want_end_s + 0.5 * unit_s, 0.51 * unit_s, "s");
}

static void vdif_passages_cover_the_scans_in_whole_frames(void **state)
{
    (void)state;
    wf_sky *const sky = load_sky(SKY);
    for (size_t i = 0; i < 2; i++) {
        const wfi_schedule *const schedule = &sky->schedules[i];
        int64_t n_samples = 0;
        assert_int_equal(schedule->n, 2);
        for (size_t k = 0; k < 2; k++) {
            const wfi_passage *const passage = &schedule->list[k];
            assert_true(passage->on_sky);
            assert_int_equal(passage->i_scan, k);
            assert_int_equal(passage->first % sky->styles[i].samples_per_frame, 0);
            assert_int_equal(passage->end % sky->styles[i].samples_per_frame, 0);
            check_cover(sky, i, passage);
            n_samples += passage->end - passage->first;
        }
        assert_int_equal(schedule->n_samples, n_samples);
    }
    wf_sky_destroy(sky);
}

static void sound_runs_from_second_to_second(void **state)
{
    (void)state;
    wf_sky *const sky = load_edited("stations: [Alder, Birch]", "stations: [Alder, Birch, Cedar]");
    const wfi_schedule *const schedule = &sky->schedules[2];
    static const bool on_sky[] = {false, true, false, true, false};
    assert_int_equal(schedule->n, 5);
    for (size_t i = 0; i < 5; i++) {
        assert_int_equal(schedule->list[i].on_sky, on_sky[i]);
        assert_true(schedule->list[i].first < schedule->list[i].end);
        if (i > 0)
            assert_int_equal(schedule->list[i].first, schedule->list[i - 1].end);
    }
    check_cover(sky, 2, &schedule->list[1]);
    check_cover(sky, 2, &schedule->list[3]);
    assert_int_equal(schedule->list[0].first, noon(1000000) - 1000000);
    assert_int_equal(schedule->list[4].end, noon(1000000) + 1000000);
    assert_int_equal(schedule->n_samples, 2000000);
    wf_sky_destroy(sky);
}

static void scans_of_one_source_may_touch(void **state)
{
    (void)state;
    wf_sky *const sky = load_edited("source: Teme, start: 2026-03-01T12:00:00.7",
                                    "source: Ousel, start: 2026-03-01T12:00:00.4");
    const wfi_schedule *const schedule = &sky->schedules[0];
    assert_int_equal(schedule->n, 2);
    assert_int_equal(schedule->list[0].end, schedule->list[1].first);
    /* Scan and scan meet at 0.4 s, their passages at half of the overlap, from 0.33 to 0.45 s. */
    const int64_t cut = schedule->list[0].end - noon(1000000);
    assert_true(cut > 370000 && cut < 410000);
    assert_int_equal(cut % 4000, 0);
    wf_sky_destroy(sky);
}

/* A clock that is 0.3 s ahead tags the scan 0.3 s late: the recorder runs for both. */
static void a_clock_far_ahead_is_waited_for(void **state)
{
    (void)state;
    wf_sky *const sky =
        load_edited("{station: Birch, ahead_s: 2.0e-6", "{station: Cedar, ahead_s: 0.3");
    const wfi_passage *const passage = &sky->schedules[2].list[1];
    wf_check_near("first", (double)(passage->first - noon(1000000)) / 1e6, -0.05, 1e-6, "s");
    const double end_s = (double)(passage->end - noon(1000000)) / 1e6;
    assert_true(end_s > 0.4 + 0.3 - 0.0213 + 0.05 && end_s < 0.4 + 0.3 + 0.05);
    wf_sky_destroy(sky);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST_IN_FOLDER(vdif_passages_cover_the_scans_in_whole_frames),
        TEST_IN_FOLDER(sound_runs_from_second_to_second),
        TEST_IN_FOLDER(scans_of_one_source_may_touch),
        TEST_IN_FOLDER(a_clock_far_ahead_is_waited_for),
    };
    return cmocka_run_group_tests_name("simulate.schedule", tests, NULL, NULL);
}
