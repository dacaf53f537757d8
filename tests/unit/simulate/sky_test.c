/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "sky_text.h"

#include "base/memory.h"
#include "simulate/sky.h"

static const double RAD_PER_ARCSEC = 3.14159265358979323846 / 648000.0;

static void a_sky_is_read_in_the_order_of_its_sources(void **state)
{
    (void)state;
    wf_sky *const sky = load_sky(SKY);
    assert_int_equal(wf_sky_n_recordings(sky), 3);
    assert_int_equal(sky->seed, 5);
    assert_int_equal(sky->n_components, 3);
    const wfi_component *const c = sky->components;
    assert_int_equal(c[0].i_source, 0);
    wf_check_near("correlation", c[0].correlation, 0.5, 0.0, "");
    wf_check_near("coherence", creal(c[0].cross_hand), 0.3, 0.0, "");
    wf_check_near("coherence", cimag(c[0].cross_hand), -0.4, 0.0, "");
    assert_true(c[1].has_line);
    wf_check_near("line", c[1].line.centre_hz, 8400.7e6, 0.0, "Hz");
    wf_check_near("line", c[1].line.width_hz, 0.1e6, 0.0, "Hz");
    assert_int_equal(c[2].i_source, 1);
    wf_check_near("east", c[2].east, 0.5 * RAD_PER_ARCSEC, 1e-20, "");
    wf_check_near("north", c[2].north, -0.25 * RAD_PER_ARCSEC, 1e-20, "");
    wf_sky_destroy(sky);
}

static void styles_follow_the_keys_and_their_defaults(void **state)
{
    (void)state;
    wf_sky *const sky = load_sky(SKY);
    const wfi_style *const alder = &sky->styles[0], *const birch = &sky->styles[1],
                           *const cedar = &sky->styles[2];
    assert_int_equal(alder->n_threads, 2);
    assert_int_equal(alder->threads[0], 1);
    assert_int_equal(alder->threads[1], 4);
    assert_int_equal(alder->bits, 8);
    assert_false(alder->legacy_header);
    /* The longest payload up to 8192 bytes of 2 bytes a sample whose frames fill 10^6 samples:
     * 4000 samples. */
    assert_int_equal(alder->payload_bytes, 8000);
    assert_int_equal(alder->samples_per_frame, 4000);
    assert_int_equal(birch->n_threads, 1);
    assert_int_equal(birch->n_channels, 2);
    assert_int_equal(birch->bits, 2);
    assert_true(birch->legacy_header);
    assert_int_equal(birch->samples_per_frame, 2000);
    assert_true(cedar->is_sound);
    assert_int_equal(cedar->bits, 16);
    wf_sky_destroy(sky);
}

/* The definition: the component's unit vector has the direction cosines l and m on the axes east
 * and north of the source. Limit: rounding of angles and of unit vectors. */
static void a_component_stands_where_its_offsets_say(void **state)
{
    (void)state;
    static const double offsets[][2] = {
        {1e-9, 0.0}, {0.0, -3e-6}, {2e-4, 5e-4}, {-0.12, 0.09}, {0.0, 0.0}};
    static const double places[][2] = {{0.3, 0.7}, {6.2831, -1.2}, {1e-9, 0.0}, {3.0, 1.4}};
    for (size_t i = 0; i < 5; i++)
        for (size_t j = 0; j < 4; j++) {
            const wf_source source = {.right_ascension_icrf_rad = places[j][0],
                                      .declination_icrf_rad = places[j][1]};
            const wfi_component component = {.east = offsets[i][0], .north = offsets[i][1]};
            const wf_source got = wfi_component_direction(&source, &component);
            const double d = places[j][1], e = got.declination_icrf_rad;
            const double step = got.right_ascension_icrf_rad - places[j][0];
            assert_true(got.right_ascension_icrf_rad >= 0.0);
            wf_check_near("l", cos(e) * sin(step), offsets[i][0], 2e-15, "");
            wf_check_near("m", sin(e) * cos(d) - cos(e) * sin(d) * cos(step), offsets[i][1], 2e-15,
                          "");
        }
}

/* By the model's own evaluation at the station clocks of the sky: 2 us and -1e-10 s/s from the
 * first scan's start for Birch, of which the job knows nothing. */
static void clocks_are_the_jobs_and_their_errors(void **state)
{
    (void)state;
    wf_error err = WF_ERROR_INIT;
    wf_sky *const sky = load_sky(SKY);
    static const double want_s[][2] = {{3.0e-6, 1.0e-11}, {2.0e-6, -1.0e-10}, {-7.0e-6, 0.0}};
    for (size_t i = 0; i < 3; i++) {
        wf_delay delay;
        const wf_instant t = wf_instant_add(sky->observation->scans[0].start, 0.3);
        wf_check_ok(wf_delay_evaluate(sky->directions.model, i, 0, t, &delay, &err), &err);
        /* A clock is read when the wave arrives. */
        wf_check_near("clock", delay.clock_ahead_s,
                      want_s[i][0] + (0.3 + delay.tau_s) * want_s[i][1], 1e-20, "s");
    }
    wf_check_near("the job's clock", sky->observation->stations[1].clock.ahead_s, 0.0, 0.0, "s");
    wf_sky_destroy(sky);
}

static void a_sky_of_receiver_noise_alone_is_a_sky(void **state)
{
    (void)state;
    char *const text = edited(SKY, strstr(SKY, "  components:\n"), "  components: []\n");
    wf_sky *const sky = load_sky(text);
    assert_int_equal(sky->n_components, 0);
    wf_sky_destroy(sky);
    free(text);
}

static void faults_are_told_with_line_and_key(void **state)
{
    (void)state;
    static const struct {
        const char *find, *replacement;
        wf_status status;
        const char *text;
    } faults[] = {
        {"  seed: 5\n", "", WF_FORMAT, "seed"},
        {"seed: 5", "seed: -5", WF_FORMAT, "sky.seed: expected a whole number from 0"},
        {"seed: 5", "seed: 0.5", WF_FORMAT, "sky.seed"},
        {"  seed: 5", "  sed: 5", WF_FORMAT, "seed"},
        {"source: Teme, correlation", "source: Tame, correlation", WF_FORMAT, "Teme"},
        {"correlation: 0.2", "correlation: 1.2", WF_FORMAT, "correlation coefficient from 0 to 1"},
        {"correlation: 0.1,", "correlation: 0.6,", WF_FORMAT, "Ousel add up to 1.1"},
        {"east_arcsec: 0.5", "east_arcsec: 5e5", WF_FORMAT, "name a source of its own"},
        {"[0.3, -0.4]", "[0.8, -0.7]", WF_FORMAT, "the coherence of two hands is at most 1"},
        {"[0.3, -0.4]", "[0.3, -4]", WF_FORMAT, "sky.components[1].cross_hand[1]"},
        {"width_hz: 0.1e6", "width_hz: 0", WF_FORMAT, "sky.components[2].line.width_hz"},
        {"centre_hz: 8400.7e6", "centre_hz: high", WF_FORMAT, "sky.components[2].line.centre_hz"},
        {"station: Birch, ahead_s: 2.0e-6", "station: Brich, ahead_s: 2.0e-6", WF_FORMAT, "Birch"},
        {"ahead_s: 2.0e-6", "ahead_s: 2.0", WF_FORMAT, "sky.clock_errors[0].ahead_s"},
        {"rate_s_per_s: -1.0e-10", "rate_s_per_s: 1", WF_FORMAT, "clock_errors[0].rate_s_per_s"},
        {"bits: 8", "bits: 3", WF_FORMAT, "recordings[0].bits: expected 1, 2, 4, 8 or 16 bits"},
        {"bits: 8", "bits: 32", WF_FORMAT, "recordings[0].bits"},
        {"header_bytes: 16", "header_bytes: 24", WF_FORMAT, "32 or 16 bytes, found 24"},
        {"payload_bytes: 1000", "payload_bytes: 1004", WF_FORMAT, "recordings[1].payload_bytes"},
        {"payload_bytes: 1000", "payload_bytes: 1008", WF_FORMAT, "no whole number of frames"},
        {"[alder.vdif]", "[a.vdif, b.vdif]", WF_FORMAT, "is one file, found 2"},
        {"[alder.vdif]", "[disk/a.vdif]", WF_FORMAT, "file name without a folder"},
        {"[alder.vdif]", "[..]", WF_FORMAT, "file name without a folder"},
        {"[alder.vdif]", "[birch.vdif]", WF_FORMAT, "recordings[0] writes birch.vdif too"},
        {"[alder.vdif]", "[job.yaml]", WF_FORMAT, "job.yaml"},
        {"    sampling: real\n", "", WF_FORMAT, "the key sampling is missing"},
        {"    sample_rate_hz: 1000000\n", "", WF_FORMAT, "the key sample_rate_hz is missing"},
        {"sample_rate_hz: 1000000", "sample_rate_hz: 5000000000", WF_FORMAT, "at most 4000000000"},
        {"    format: sound\n", "    format: sound\n    bits: 8\n", WF_FORMAT, "with 16 bits"},
        {"    format: sound\n", "    format: sound\n    payload_bytes: 8000\n", WF_FORMAT,
         "sound files have no frames"},
        {"    format: sound\n", "    format: sound\n    start: 2026-03-01T11:59:59\n", WF_FORMAT,
         "the start follows from the scans"},
        {"polarization: L, channel: 0", "polarization: L, channel: 2", WF_FORMAT,
         "numbered from 0 without gap"},
        {"      - {band: low, polarization: L, channel: 0}\n",
         "      - {band: low, polarization: L, channel: 0}\n"
         "      - {edge_hz: 8410e6, sideband: upper, polarization: L, channel: 2}\n",
         WF_FORMAT, "1, 2, 4, 8 ... channels, found 3"},
        {"12:00:00.7, duration", "12:00:00.45, duration", WF_UNSUPPORTED,
         "recordings[0]: scans S01 and S02 are too close"},
        {"ahead_s: -7.0e-6", "ahead_s: 0.95", WF_UNSUPPORTED, "station Cedar, scan S01"},
        {"stations: [Alder, Birch]", "stations: [Alder, Brich]", WF_FORMAT, "Birch"},
    };
    for (size_t i = 0; i < sizeof faults / sizeof *faults; i++) {
        wf_error err = WF_ERROR_INIT;
        wf_sky *sky = NULL;
        char *const text = edited(SKY, faults[i].find, faults[i].replacement);
        put_file("sky.yaml", text);
        const wf_status got = wf_sky_load(&sky, "sky.yaml", &err);
        if (got == WF_OK)
            fail_msg("\"%s\" was not refused", faults[i].replacement);
        wf_check_refused(got, faults[i].status, &err, faults[i].text);
        wf_check_refused(got, faults[i].status, &err, "sky.yaml");
        assert_null(sky);
        free(text);
    }
}

static void a_station_without_scans_is_refused(void **state)
{
    (void)state;
    wf_error err = WF_ERROR_INIT;
    wf_sky *sky = NULL;
    char *const text =
        edited(SKY, "duration_s: 0.4}", "duration_s: 0.4, stations: [Alder, Birch]}");
    put_file("sky.yaml", text);
    wf_check_refused(wf_sky_load(&sky, "sky.yaml", &err), WF_MISSING, &err,
                     "recordings[2]: station Cedar takes part in no scan");
    free(text);
}

static void offsets_are_refused_where_a_table_gives_the_delay(void **state)
{
    (void)state;
    wf_error err = WF_ERROR_INIT;
    wf_sky *sky = NULL;
    put_file("birch.txt", "2026-03-01T11:59:00 0.001\n2026-03-01T11:59:30 0.001\n"
                          "2026-03-01T12:00:30 0.001\n2026-03-01T12:01:00 0.001\n");
    char *const text = edited(SKY, "  - name: Birch\n",
                              "  - name: Birch\n"
                              "    delay_table: birch.txt\n");
    put_file("sky.yaml", text);
    wf_check_refused(wf_sky_load(&sky, "sky.yaml", &err), WF_UNSUPPORTED, &err,
                     "sky.yaml: a component stands beside its source Teme, but station Birch has a "
                     "delay_table");
    free(text);
}

static void a_missing_file_is_told(void **state)
{
    (void)state;
    wf_error err = WF_ERROR_INIT;
    wf_sky *sky = NULL;
    wf_check_refused(wf_sky_load(&sky, "none.yaml", &err), WF_MISSING, &err, "none.yaml");
    assert_null(sky);
    wf_sky_destroy(NULL);
}

static void a_lack_of_memory_is_told(void **state)
{
    (void)state;
#ifdef WFI_CHECKS
    put_file("sky.yaml", SKY);
    wf_status status = WF_MEMORY;
    long n = 1;
    for (; status != WF_OK; n++) {
        wf_error err = WF_ERROR_INIT;
        wf_sky *sky = NULL;
        wfi_memory_fail_after(n);
        status = wf_sky_load(&sky, "sky.yaml", &err);
        wfi_memory_fail_after(0);
        if (status != WF_OK)
            wf_check_refused(status, WF_MEMORY, &err, "");
        assert_true((sky != NULL) == (status == WF_OK));
        wf_sky_destroy(sky);
    }
    assert_true(n > 20);
#else
    skip();
#endif
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST_IN_FOLDER(a_sky_is_read_in_the_order_of_its_sources),
        TEST_IN_FOLDER(styles_follow_the_keys_and_their_defaults),
        cmocka_unit_test(a_component_stands_where_its_offsets_say),
        TEST_IN_FOLDER(clocks_are_the_jobs_and_their_errors),
        TEST_IN_FOLDER(a_sky_of_receiver_noise_alone_is_a_sky),
        TEST_IN_FOLDER(faults_are_told_with_line_and_key),
        TEST_IN_FOLDER(a_station_without_scans_is_refused),
        TEST_IN_FOLDER(offsets_are_refused_where_a_table_gives_the_delay),
        TEST_IN_FOLDER(a_missing_file_is_told),
        TEST_IN_FOLDER(a_lack_of_memory_is_told),
    };
    return cmocka_run_group_tests_name("simulate.sky", tests, NULL, NULL);
}
