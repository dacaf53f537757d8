/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job_text.h"

#include "base/memory.h"
#include "base/text.h"

static const double PI = 3.14159265358979323846;

static wf_observation *load(const char *text)
{
    wf_error err = WF_ERROR_INIT;
    wf_observation *observation = NULL;
    wf_check_ok(load_text(&observation, text, strlen(text), &err), &err);
    return observation;
}

static wf_observation *load_edited(const char *find, const char *replacement)
{
    char *text = edited_job(find, replacement);
    wf_observation *observation = load(text);
    free(text);
    return observation;
}

static void check_instant(wf_instant got, const char *want)
{
    wf_instant expected;
    wf_error err = WF_ERROR_INIT;
    wf_check_ok(wf_instant_parse(&expected, want, &err), &err);
    assert_int_equal(got.second, expected.second);
    assert_true(got.fraction == expected.fraction);
}

static void job_keeps_stations(void **state)
{
    (void)state;
    wf_observation *job = load(JOB);
    assert_string_equal(job->campaign, "Forest-7");
    assert_int_equal(job->n_stations, 2);
    const wf_station *alder = &job->stations[0];
    assert_string_equal(alder->name, "Alder");
    assert_true(alder->position_itrf_m[0] == 4215810.25);
    assert_true(alder->position_itrf_m[1] == 883800.5);
    assert_true(alder->position_itrf_m[2] == 4688973.75);
    assert_true(alder->velocity_itrf_m_per_year[0] == -0.0142);
    assert_true(alder->position_epoch_year == 2020.5);
    assert_int_equal(alder->mount, WF_MOUNT_XY_EAST);
    assert_true(alder->axis_offset_m == -0.25);
    assert_true(alder->diameter_m == 12.5);
    assert_true(alder->clock.ahead_s == 1.25e-6);
    assert_true(alder->clock.rate_s_per_s == -2e-12);
    check_instant(alder->clock.reference, "2026-03-01T11:00:00");
    assert_null(alder->delay_table_path);
    const wf_station *birch = &job->stations[1];
    assert_int_equal(birch->mount, WF_MOUNT_ALTAZ);
    assert_true(birch->diameter_m == 0.0 && birch->velocity_itrf_m_per_year[2] == 0.0);
    assert_true(birch->clock.ahead_s == -3e-6 && birch->clock.rate_s_per_s == 0.0);
    wf_observation_destroy(job);
}

static void job_keeps_sources(void **state)
{
    (void)state;
    wf_observation *job = load(JOB);
    assert_int_equal(job->n_sources, 2);
    /* Closed form; limit: a few roundings of an angle below 2 pi. */
    wf_check_near("right ascension", job->sources[0].right_ascension_icrf_rad,
                  (12 * 3600 + 34 * 60 + 56.789012) * PI / 43200.0, 2e-15, "rad");
    wf_check_near("declination", job->sources[0].declination_icrf_rad,
                  -(30 * 60 + 15.1) * PI / 648000.0, 1e-17, "rad");
    wf_check_near("right ascension", job->sources[1].right_ascension_icrf_rad, PI, 1e-15, "rad");
    wf_check_near("declination", job->sources[1].declination_icrf_rad, PI / 4, 1e-15, "rad");
    wf_observation_destroy(job);
}

static void job_puts_scans_in_time_order(void **state)
{
    (void)state;
    wf_observation *job = load(JOB);
    assert_int_equal(job->n_scans, 2);
    assert_string_equal(job->scans[0].name, "S01");
    assert_int_equal(job->scans[0].i_source, 0);
    check_instant(job->scans[0].start, "2026-03-01T12:00:00.5");
    assert_true(job->scans[0].duration_s == 4.0);
    assert_true(job->scans[0].station_takes_part[0] && job->scans[0].station_takes_part[1]);
    assert_string_equal(job->scans[1].name, "S02");
    assert_int_equal(job->scans[1].i_source, 1);
    assert_false(job->scans[1].station_takes_part[0]);
    assert_true(job->scans[1].station_takes_part[1]);
    wf_observation_destroy(job);
}

static void job_allows_scans_that_touch(void **state)
{
    (void)state;
    wf_observation_destroy(
        load_edited("start: 2026-03-01T12:00:10", "start: 2026-03-01T12:00:04.5"));
}

static void job_places_channels_in_both_sidebands(void **state)
{
    (void)state;
    wf_observation *job = load(JOB);
    assert_int_equal(job->n_bands, 2);
    assert_true(wf_channel_width_hz(job) == 62500.0);
    assert_true(wf_band_first_channel_hz(job, 0) == 8400.0e6);
    /* The lower band's highest channel is at its edge: 255 channels above its first. */
    assert_true(wf_band_first_channel_hz(job, 1) == 8448.0e6 - 255 * 62500.0);
    wf_observation_destroy(job);
}

static void job_keeps_recordings(void **state)
{
    (void)state;
    wf_observation *job = load(JOB);
    assert_int_equal(job->n_recordings, 2);
    const wf_recording_entry *birch = &job->recordings[0];
    assert_int_equal(birch->i_station, 1);
    assert_int_equal(birch->n_paths, 2);
    assert_string_equal(birch->paths[0], "folder/birch-1.vdif");
    assert_string_equal(birch->paths[1], "/elsewhere/birch-2.vdif");
    assert_int_equal(birch->format, WF_FILE_FORMAT_VDIF);
    assert_int_equal(birch->sample_rate_hz, 32000000);
    assert_int_equal(birch->sampling, WF_SAMPLING_PROBE);
    assert_false(birch->has_start);
    const wf_recording_entry *alder = &job->recordings[1];
    assert_int_equal(alder->format, WF_FILE_FORMAT_SOUND);
    assert_int_equal(alder->sample_rate_hz, 0);
    assert_int_equal(alder->sampling, WF_SAMPLING_COMPLEX);
    assert_true(alder->has_start);
    check_instant(alder->start, "2026-03-01T11:59:59");
    wf_observation_destroy(job);
}

static void check_stream(const wf_stream *got, const wf_stream *want)
{
    assert_int_equal(got->thread, want->thread);
    assert_int_equal(got->channel, want->channel);
    assert_int_equal(got->polarization, want->polarization);
    assert_int_equal(got->anchor, want->anchor);
    assert_true(got->anchor_hz == want->anchor_hz);
    assert_int_equal(got->sideband, want->sideband);
}

static void job_maps_streams(void **state)
{
    (void)state;
    wf_observation *job = load(JOB);
    const wf_stream want[] = {
        {0, 0, WF_POLARIZATION_R, WF_ANCHOR_EDGE, 8400e6, WF_SIDEBAND_UPPER},
        {3, 1, WF_POLARIZATION_L, WF_ANCHOR_EDGE, 8448e6, WF_SIDEBAND_LOWER},
        {1, 0, WF_POLARIZATION_L, WF_ANCHOR_EDGE, 8416e6, WF_SIDEBAND_LOWER},
        {0, 0, WF_POLARIZATION_R, WF_ANCHOR_CENTRE, 8408e6, WF_SIDEBAND_UPPER},
    };
    assert_int_equal(job->recordings[0].n_streams, 3);
    assert_int_equal(job->recordings[1].n_streams, 1);
    for (size_t i = 0; i < 3; i++)
        check_stream(&job->recordings[0].streams[i], &want[i]);
    check_stream(&job->recordings[1].streams[0], &want[3]);
    wf_observation_destroy(job);
}

static void check_products(const wf_correlation *correlation, const char *want)
{
    char got[16] = "";
    for (size_t i = 0; i < correlation->n_products; i++) {
        got[3 * i] = wf_polarization_letter(correlation->products[i].first);
        got[3 * i + 1] = wf_polarization_letter(correlation->products[i].second);
        got[3 * i + 2] = ' ';
    }
    assert_string_equal(got, want);
}

static void job_keeps_the_correlation(void **state)
{
    (void)state;
    wf_observation *job = load(JOB);
    assert_int_equal(job->correlation.n_channels, 256);
    assert_true(job->correlation.integration_s == 0.5);
    check_products(&job->correlation, "RR LL ");
    assert_int_equal(job->correlation.rotation, WF_ROTATION_BEFORE_FFT);
    assert_true(job->correlation.rotation_loss_limit == 1e-3);
    assert_false(job->correlation.quantisation_correction);
    assert_true(job->delay_terms.gravity_sun && job->delay_terms.gravity_earth);
    assert_true(job->delay_terms.station_velocity);
    assert_false(job->delay_terms.gravity_planets || job->delay_terms.clock);
    wf_observation_destroy(job);
}

static void job_takes_a_channel_width_instead_of_channels(void **state)
{
    (void)state;
    wf_observation *job = load_edited("channels: 256", "channel_width_hz: 31.25e3");
    assert_int_equal(job->correlation.n_channels, 512);
    wf_observation_destroy(job);
}

static void job_takes_decimal_fractions_of_segments(void **state)
{
    (void)state;
    /* 0.1 s * 62500 Hz = 6250 segments, though 0.1 is no binary fraction. */
    wf_observation *job = load_edited("integration_s: 0.5", "integration_s: 0.1");
    assert_true(job->correlation.integration_s == 0.1);
    wf_observation_destroy(job);
}

static void job_chooses_the_recorded_products(void **state)
{
    (void)state;
    static const char key[] = "  polarization_products: [RR, LL]\n";
    wf_observation *job = load_edited(key, "");
    check_products(&job->correlation, "RR LL RL LR ");
    wf_observation_destroy(job);
    job = load_edited(key, "  polarization_products: [LR, LL, RL]\n");
    check_products(&job->correlation, "LL RL LR ");
    wf_observation_destroy(job);
}

static void job_keeps_earth_orientation_days(void **state)
{
    (void)state;
    wf_observation *job = load(JOB);
    assert_null(job->earth_orientation.path);
    assert_int_equal(job->earth_orientation.n_days, 4);
    const wf_earth_orientation_day *day = &job->earth_orientation.days[0];
    /* MJD 51544 is 2000-01-01; 9555 days later is 2026-02-28. */
    assert_int_equal(day->mjd, 61099);
    assert_int_equal(job->earth_orientation.days[3].mjd, 61102);
    assert_true(day->ut1_minus_utc_s == 0.05);
    wf_check_near("pole x", day->pole_x_rad, 0.1 * PI / 648000.0, 1e-21, "rad");
    wf_check_near("pole y", day->pole_y_rad, 0.3 * PI / 648000.0, 1e-21, "rad");
    wf_check_near("celestial pole dX", day->celestial_pole_dx_rad, 2e-4 * PI / 648000.0, 1e-24,
                  "rad");
    wf_check_near("celestial pole dY", day->celestial_pole_dy_rad, -1e-4 * PI / 648000.0, 1e-24,
                  "rad");
    wf_observation_destroy(job);
}

/* Both stations with a table, one of them in space; no Earth orientation. */
static void job_needs_no_earth_where_every_delay_is_a_table(void **state)
{
    (void)state;
    char *text = edited_job("    mount: xy_east\n", "    delay_table: /tables/alder.txt\n");
    char *cut = strstr(text, "earth_orientation:");
    *cut = '\0';
    wf_error err = WF_ERROR_INIT;
    wf_observation *job = NULL;
    wf_check_refused(load_text(&job, text, strlen(text), &err), WF_FORMAT, &err,
                     "earth_orientation: the key is missing");
    free(text);
    text = edited_job("    position_itrf_m: [3244820, 867626, 5404087]\n    clock:\n",
                      "    position_itrf_m: [0, 0, 42e6]\n    delay_table: b.txt\n    clock:\n");
    *strstr(text, "earth_orientation:") = '\0';
    memcpy(strstr(text, "    mount: xy_east\n"), "    delay_table: a\n", 19);
    job = load(text);
    free(text);
    assert_string_equal(job->stations[0].delay_table_path, "folder/a");
    assert_string_equal(job->stations[1].delay_table_path, "folder/b.txt");
    assert_true(job->stations[1].position_itrf_m[2] == 42e6);
    assert_null(job->earth_orientation.path);
    assert_int_equal(job->earth_orientation.n_days, 0);
    wf_observation_destroy(job);
}

static void job_takes_earth_orientation_from_a_file(void **state)
{
    (void)state;
    const char *days = strstr(JOB, "  days:");
    char text[sizeof JOB + 64];
    snprintf(text, sizeof text, "%.*s  finals2000a: eop/finals.data\n", (int)(days - JOB), JOB);
    wf_observation *job = load(text);
    assert_string_equal(job->earth_orientation.path, "folder/eop/finals.data");
    assert_int_equal(job->earth_orientation.n_days, 0);
    wf_observation_destroy(job);
}

/* The job with other lines in the place of its days. */
static wf_observation *load_orientation(const char *lines)
{
    const char *days = strstr(JOB, "  days:");
    char text[sizeof JOB + 512];
    snprintf(text, sizeof text, "%.*s%s", (int)(days - JOB), JOB, lines);
    return load(text);
}

static void job_takes_a_c04_file_and_its_options(void **state)
{
    (void)state;
    wf_observation *job = load_orientation(
        "  c04: eopc04.1962-now\n  extrapolate_days: 3\n  subdaily_model: iers_2010\n");
    assert_string_equal(job->earth_orientation.path, "folder/eopc04.1962-now");
    assert_int_equal(job->earth_orientation.format, WF_EARTH_ORIENTATION_C04);
    assert_int_equal(job->earth_orientation.extrapolate_days, 3);
    assert_int_equal(job->earth_orientation.subdaily_model, WF_SUBDAILY_IERS_2010);
    wf_observation_destroy(job);
    job = load(JOB);
    assert_int_equal(job->earth_orientation.extrapolate_days, 0);
    assert_int_equal(job->earth_orientation.subdaily_model, WF_SUBDAILY_DESAI_SIBOIS_2016);
    wf_observation_destroy(job);
}

static void job_keeps_the_air_over_a_station(void **state)
{
    (void)state;
    char *text = edited_job("    mount: xy_east\n",
                            "    weather: [{time: 2026-03-01T12:00:00, pressure_hpa: 980.5}, "
                            "{time: 2026-03-01T13:00:00, pressure_hpa: 981}]\n"
                            "    vmf1: [{hydrostatic_a: 0.00125, wet_a: 0.0006}]\n"
                            "    zenith_wet_delay_m: 0.12\n    gradient_east_m: -5e-4\n"
                            "    elevation_limit_deg: 5\n");
    wf_observation *job = load(text);
    free(text);
    const wf_station *station = &job->stations[0];
    assert_int_equal(station->n_weather, 2);
    assert_true(station->weather[0].pressure_hpa == 980.5);
    assert_true(isnan(station->weather[1].temperature_c));
    assert_true(wf_instant_difference_s(station->weather[1].time, station->weather[0].time) ==
                3600.0);
    assert_int_equal(station->n_mapping, 1);
    assert_true(station->mapping[0].hydrostatic_a == 0.00125);
    assert_true(station->mapping[0].wet_a == 0.0006);
    assert_true(station->zenith_wet_delay_m == 0.12 && station->gradient_east_m == -5e-4);
    wf_check_near("limit", station->elevation_limit_rad, PI / 36.0, 1e-16, "rad");
    assert_true(job->stations[1].elevation_limit_rad == 0.0 && job->stations[1].n_weather == 0);
    wf_observation_destroy(job);
}

/* MJD 61100 is 2026-03-01 (above). */
static void job_takes_times_of_day_and_day_numbers(void **state)
{
    (void)state;
    wf_observation *job = load_orientation(
        "  days:\n"
        "    - {date: 2026-03-01T06:00:00, pole_x_arcsec: 0, pole_y_arcsec: 0, "
        "ut1_minus_utc_s: 0}\n"
        "    - {mjd: 61100.5, pole_x_arcsec: 0, pole_y_arcsec: 0, ut1_minus_utc_s: 0}\n"
        "    - {mjd: 61100.75, pole_x_arcsec: 0, pole_y_arcsec: 0, ut1_minus_utc_s: 0}\n"
        "    - {date: 2026-03-02, pole_x_arcsec: 0, pole_y_arcsec: 0, ut1_minus_utc_s: 0}\n");
    const wf_earth_orientation_day *days = job->earth_orientation.days;
    static const double seconds[] = {21600.0, 43200.0, 64800.0, 0.0};
    for (int i = 0; i < 4; i++) {
        assert_int_equal(days[i].mjd, i < 3 ? 61100 : 61101);
        assert_true(days[i].second_of_day == seconds[i]);
    }
    wf_observation_destroy(job);
}

/* 300 recordings that repeat one of 4000 streams by alias stand for more than is sane. */
static void job_refuses_aliases_that_multiply(void **state)
{
    (void)state;
    enum { N_STREAMS = 4000, N_RECORDINGS = 300 };
    const char *streams = strstr(JOB, "    streams:\n");
    wfi_text text = {0};
    wfi_text_append(&text, "%.*s    streams: &all\n", (int)(streams - JOB), JOB);
    for (int i = 0; i < N_STREAMS; i++)
        wfi_text_append(&text, "      - {band: low, polarization: R, channel: %d}\n", i);
    for (int i = 1; i < N_RECORDINGS; i++)
        wfi_text_append(&text, "  - {station: Birch, files: [a], streams: *all}\n");
    assert_false(text.failed);
    wf_error err = WF_ERROR_INIT;
    wf_observation *job = NULL;
    wf_check_refused(load_text(&job, text.bytes, text.n, &err), WF_FORMAT, &err,
                     "the file and its aliases stand for more than 2000000 values");
    wfi_text_release(&text);
}

static void job_survives_every_failed_allocation(void **state)
{
    (void)state;
#ifdef WFI_CHECKS
    for (long n = 1;; n++) {
        wf_error err = WF_ERROR_INIT;
        wf_observation *job = NULL;
        wfi_memory_fail_after(n);
        const wf_status status = load_text(&job, JOB, strlen(JOB), &err);
        wfi_memory_fail_after(0);
        if (status == WF_OK) {
            assert_true(n > 50);
            wf_observation_destroy(job);
            return;
        }
        assert_null(job);
        wf_check_refused(status, WF_MEMORY, &err, "out of memory");
    }
#else
    skip();
#endif
}

static void job_cut_at_any_byte_never_crashes(void **state)
{
    (void)state;
    for (size_t n = 0; n < strlen(JOB); n++) {
        wf_error err = WF_ERROR_INIT;
        wf_observation *job = NULL;
        /* A copy of its own length, so that the sanitizer sees a step past its end. */
        char *cut = malloc(n + 1);
        assert_non_null(cut);
        memcpy(cut, JOB, n);
        const wf_status status = load_text(&job, cut, n, &err);
        free(cut);
        if (status == WF_OK)
            wf_observation_destroy(job);
        else if (status != WF_FORMAT || job != NULL || strncmp(err.message, "folder/job.yaml", 15))
            fail_msg("%zu bytes: status %d: %s", n, status, err.message);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(job_keeps_stations),
        cmocka_unit_test(job_keeps_sources),
        cmocka_unit_test(job_puts_scans_in_time_order),
        cmocka_unit_test(job_allows_scans_that_touch),
        cmocka_unit_test(job_places_channels_in_both_sidebands),
        cmocka_unit_test(job_keeps_recordings),
        cmocka_unit_test(job_maps_streams),
        cmocka_unit_test(job_keeps_the_correlation),
        cmocka_unit_test(job_takes_a_channel_width_instead_of_channels),
        cmocka_unit_test(job_takes_decimal_fractions_of_segments),
        cmocka_unit_test(job_chooses_the_recorded_products),
        cmocka_unit_test(job_keeps_earth_orientation_days),
        cmocka_unit_test(job_needs_no_earth_where_every_delay_is_a_table),
        cmocka_unit_test(job_takes_earth_orientation_from_a_file),
        cmocka_unit_test(job_takes_a_c04_file_and_its_options),
        cmocka_unit_test(job_takes_times_of_day_and_day_numbers),
        cmocka_unit_test(job_keeps_the_air_over_a_station),
        cmocka_unit_test(job_refuses_aliases_that_multiply),
        cmocka_unit_test(job_survives_every_failed_allocation),
        cmocka_unit_test(job_cut_at_any_byte_never_crashes),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
