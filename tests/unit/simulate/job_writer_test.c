/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "sky_text.h"

#include "base/memory.h"
#include "simulate/sky.h"

static wf_observation *write_and_load(const wf_sky *sky)
{
    wf_error err = WF_ERROR_INIT;
    wf_observation *job = NULL;
    assert_int_equal(mkdir("out", 0777), 0);
    wf_check_ok(wf_simulate_write_job(sky, "out", &err), &err);
    assert_int_equal(n_entries("out"), 1);
    wf_check_ok(wf_observation_load(&job, "out/job.yaml", &err), &err);
    return job;
}

static void check_ground(const wf_station *x, const wf_station *y)
{
    assert_memory_equal(x->eccentricity_itrf_m, y->eccentricity_itrf_m,
                        sizeof x->eccentricity_itrf_m);
    assert_int_equal(x->n_post_seismic, y->n_post_seismic);
    if (x->n_post_seismic > 0)
        assert_memory_equal(x->post_seismic, y->post_seismic,
                            x->n_post_seismic * sizeof *x->post_seismic);
    assert_int_equal(x->ocean_pole_tide == NULL, y->ocean_pole_tide == NULL);
    if (x->ocean_pole_tide != NULL)
        assert_memory_equal(x->ocean_pole_tide, y->ocean_pole_tide, sizeof *x->ocean_pole_tide);
    assert_int_equal(x->antenna == NULL, y->antenna == NULL);
    if (x->antenna != NULL)
        assert_memory_equal(&x->antenna->reference_temperature_c,
                            &y->antenna->reference_temperature_c, 7 * sizeof(double));
}

static void check_stations(const wf_observation *a, const wf_observation *b)
{
    assert_int_equal(a->n_stations, b->n_stations);
    for (size_t i = 0; i < a->n_stations; i++) {
        const wf_station *const x = &a->stations[i], *const y = &b->stations[i];
        assert_string_equal(x->name, y->name);
        assert_memory_equal(x->position_itrf_m, y->position_itrf_m, sizeof x->position_itrf_m);
        assert_memory_equal(x->velocity_itrf_m_per_year, y->velocity_itrf_m_per_year,
                            sizeof x->velocity_itrf_m_per_year);
        assert_true(x->position_epoch_year == y->position_epoch_year);
        assert_int_equal(x->mount, y->mount);
        assert_true(x->axis_offset_m == y->axis_offset_m);
        assert_true(x->diameter_m == y->diameter_m);
        check_ground(x, y);
        assert_true(x->clock.ahead_s == y->clock.ahead_s);
        assert_true(x->clock.rate_s_per_s == y->clock.rate_s_per_s);
        assert_true(wf_instant_difference_s(x->clock.reference, y->clock.reference) == 0.0);
    }
}

static void check_rest(const wf_observation *a, const wf_observation *b)
{
    assert_int_equal(a->n_sources, b->n_sources);
    for (size_t i = 0; i < a->n_sources; i++) {
        assert_string_equal(a->sources[i].name, b->sources[i].name);
        assert_true(a->sources[i].right_ascension_icrf_rad ==
                    b->sources[i].right_ascension_icrf_rad);
        assert_true(a->sources[i].declination_icrf_rad == b->sources[i].declination_icrf_rad);
    }
    assert_int_equal(a->n_scans, b->n_scans);
    for (size_t i = 0; i < a->n_scans; i++) {
        assert_string_equal(a->scans[i].name, b->scans[i].name);
        assert_int_equal(a->scans[i].i_source, b->scans[i].i_source);
        assert_true(wf_instant_difference_s(a->scans[i].start, b->scans[i].start) == 0.0);
        assert_true(a->scans[i].duration_s == b->scans[i].duration_s);
        assert_memory_equal(a->scans[i].station_takes_part, b->scans[i].station_takes_part,
                            a->n_stations * sizeof(bool));
    }
    assert_int_equal(a->n_bands, b->n_bands);
    assert_memory_equal(a->bands, b->bands, a->n_bands * sizeof *a->bands);
    assert_memory_equal(&a->correlation, &b->correlation, sizeof a->correlation);
    assert_memory_equal(&a->delay_terms, &b->delay_terms, sizeof a->delay_terms);
    assert_int_equal(a->earth_orientation.n_days, b->earth_orientation.n_days);
    assert_memory_equal(a->earth_orientation.days, b->earth_orientation.days,
                        a->earth_orientation.n_days * sizeof *a->earth_orientation.days);
}

static void check_recordings(const wf_observation *job, const wf_observation *sky)
{
    assert_int_equal(job->n_recordings, sky->n_recordings);
    for (size_t i = 0; i < job->n_recordings; i++) {
        const wf_recording_entry *const x = &job->recordings[i], *const y = &sky->recordings[i];
        assert_int_equal(x->i_station, y->i_station);
        assert_int_equal(x->sample_rate_hz, y->sample_rate_hz);
        assert_int_equal(x->sampling, y->sampling);
        assert_int_equal(x->n_streams, y->n_streams);
        assert_memory_equal(x->streams, y->streams, x->n_streams * sizeof *x->streams);
    }
}

static void the_job_holds_the_numbers_of_the_sky(void **state)
{
    (void)state;
    wf_sky *const sky = load_sky(SKY);
    wf_observation *const job = write_and_load(sky);
    assert_string_equal(job->campaign, "Forest-9");
    check_stations(job, sky->observation);
    check_rest(job, sky->observation);
    check_recordings(job, sky->observation);
    assert_int_equal(job->recordings[0].format, WF_FILE_FORMAT_VDIF);
    assert_int_equal(job->recordings[2].format, WF_FILE_FORMAT_SOUND);
    assert_string_equal(job->recordings[0].paths[0], "out/alder.vdif");
    assert_true(job->recordings[2].has_start);
    assert_true(wf_instant_difference_s(job->recordings[2].start, job->scans[0].start) == -1.0);
    wf_observation_destroy(job);
    wf_sky_destroy(sky);
}

/* The same air all over the Earth. */
static void put_gpt2_grid(void)
{
    FILE *file = fopen("gpt2_5.grd", "w");
    assert_non_null(file);
    for (int i = 0; i < 36 * 72; i++)
        fprintf(file,
                "%g %g 101325 0 0 0 0 288 0 0 0 0 5 0 0 0 0 -6.5 0 0 0 0 0 0 1.25 0 0 0 0 0.55 0 "
                "0 0 0\n",
                87.5 - 5.0 * (i / 72), 2.5 + 5.0 * (i % 72));
    assert_int_equal(fclose(file), 0);
}

#define BLQ_ROW "0 0 0 0 0 0 0 0 0 0 0\n"
#define BLQ_ROWS BLQ_ROW BLQ_ROW BLQ_ROW BLQ_ROW BLQ_ROW BLQ_ROW

static void ground_and_antennas_go_along(void **state)
{
    (void)state;
    char *more =
        edited(SKY, "    position_itrf_m: [3151180.38, -3000812.41, 4647652.26]\n",
               "    position_itrf_m: [3151180.38, -3000812.41, 4647652.26]\n"
               "    eccentricity_enu_m: [1, 2, 3.5]\n"
               "    post_seismic:\n"
               "      - {epoch: 2011-03-11T05:46:24, component: north, law: exponential,"
               " amplitude_m: -0.5, relaxation_years: 0.25}\n"
               "      - {epoch: 2011-03-11T05:46:24, component: east, law: logarithmic,"
               " amplitude_m: 0.125, relaxation_years: 2}\n"
               "    ocean_pole_tide: {u_real: [0.1, -0.2, 0.3], u_imaginary: [0.4, 0.5, -0.6]}\n"
               "    antenna: {focus: secondary, reference_temperature_c: 7.5, foundation_m: 8,"
               " foundation_per_k: 1e-5, axis_m: 4, structure_per_k: 1.2e-5, vertex_m: 3.7,"
               " focus_m: 7.9}\n");
    char *text = edited(more, "correlation:",
                        "pole_tide_reference: mean_2010\n"
                        "ocean_loading_blq: forest.blq\ngpt2_grid: gpt2_5.grd\ncorrelation:");
    put_gpt2_grid();
    put_file("forest.blq", "Alder\n" BLQ_ROWS "Birch\n" BLQ_ROWS "Cedar\n" BLQ_ROWS);
    wf_sky *const sky = load_sky(text);
    wf_observation *const job = write_and_load(sky);
    check_stations(job, sky->observation);
    assert_int_equal(job->stations[1].n_post_seismic, 2);
    assert_non_null(job->stations[1].antenna);
    assert_int_equal(job->stations[1].antenna->focus, WF_FOCUS_SECONDARY);
    assert_int_equal(job->pole_tide_reference, WF_POLE_TIDE_MEAN_2010);
    assert_int_equal(job->ocean_loading_blq_path[0], '/');
    assert_non_null(strstr(job->ocean_loading_blq_path, "/forest.blq"));
    assert_non_null(strstr(job->gpt2_grid_path, "/gpt2_5.grd"));
    wf_observation_destroy(job);
    wf_sky_destroy(sky);
    free(more);
    free(text);
}

static void every_key_of_a_job_goes_along(void **state)
{
    (void)state;
    char *text = edited(SKY, "    position_itrf_m: [3151180.38, -3000812.41, 4647652.26]\n",
                        "    position_itrf_m: [3151180.38, -3000812.41, 4647652.26]\n"
                        "    position_epoch_year: 2018.25\n"
                        "    velocity_itrf_m_per_year: [-0.01, 0.02, -0.03]\n"
                        "    mount: xy_east\n"
                        "    axis_offset_m: -0.25\n"
                        "    diameter_m: 12.5\n");
    char *more = edited(text, "integration_s: 0.1}",
                        "integration_s: 0.1, polarization_products: [RR, LL], "
                        "fringe_rotation: after_fft, rotation_loss_limit: 1e-3, "
                        "quantisation_correction: no}");
    free(text);
    text = edited(more, "delay_terms: {gravity_planets: false}",
                  "delay_terms: {gravity_sun: no, gravity_planets: yes, gravity_earth: no, "
                  "station_velocity: no, clock: no}");
    free(more);
    wf_sky *const sky = load_sky(text);
    free(text);
    wf_observation *const job = write_and_load(sky);
    check_stations(job, sky->observation);
    check_rest(job, sky->observation);
    assert_int_equal(job->stations[1].mount, WF_MOUNT_XY_EAST);
    assert_int_equal(job->correlation.n_products, 2);
    assert_false(job->delay_terms.clock);
    wf_observation_destroy(job);
    wf_sky_destroy(sky);
}

static void words_are_quoted_where_yaml_asks_for_it(void **state)
{
    (void)state;
    static const char *const names[] = {"Forest: 9",  "- Forest", "#9",   "Forest, 9",
                                        "[Forest}",   "null",     "*",    "'9",
                                        "Forest \\n", "~",        "true", "9: "};
    size_t n_taken = 0;
    for (size_t i = 0; i < sizeof names / sizeof *names; i++) {
        char quoted[64];
        snprintf(quoted, sizeof quoted, "campaign: %s%s%s\n", names[i][0] == '\'' ? "\"" : "'",
                 names[i], names[i][0] == '\'' ? "\"" : "'");
        wf_error err = WF_ERROR_INIT;
        wf_sky *sky = NULL;
        char *const text = edited(SKY, "campaign: Forest-9\n", quoted);
        put_file("sky.yaml", text);
        free(text);
        if (wf_sky_load(&sky, "sky.yaml", &err) != WF_OK)
            continue; /* the job's reader does not take every name */
        wf_observation *const job = write_and_load(sky);
        assert_string_equal(job->campaign, sky->observation->campaign);
        n_taken++;
        wf_observation_destroy(job);
        wf_sky_destroy(sky);
        assert_int_equal(unlink("out/job.yaml"), 0);
        assert_int_equal(rmdir("out"), 0);
    }
    print_message("names taken: %zu\n", n_taken);
    assert_true(n_taken >= 8);
}

static void files_beside_the_sky_are_found_from_the_job(void **state)
{
    (void)state;
    assert_int_equal(mkdir("skies", 0777), 0);
    put_file("skies/birch #1.txt", "2026-03-01T11:59:00 0.001\n2026-03-01T11:59:30 0.001\n"
                                   "2026-03-01T12:00:30 0.001\n2026-03-01T12:01:00 0.001\n");
    char *text =
        edited(SKY, "  - name: Birch\n", "  - name: Birch\n    delay_table: \"birch #1.txt\"\n");
    char *const more = edited(text, ", east_arcsec: 0.5, north_arcsec: -0.25", "");
    free(text);
    put_file("skies/sky.yaml", more);
    free(more);
    wf_error err = WF_ERROR_INIT;
    wf_sky *sky = NULL;
    wf_check_ok(wf_sky_load(&sky, "skies/sky.yaml", &err), &err);
    wf_observation *const job = write_and_load(sky);
    assert_int_equal(job->stations[1].delay_table_path[0], '/');
    assert_int_equal(access(job->stations[1].delay_table_path, R_OK), 0);
    wf_observation_destroy(job);
    wf_sky_destroy(sky);
}

static void a_folder_that_is_not_there_is_told(void **state)
{
    (void)state;
    wf_error err = WF_ERROR_INIT;
    wf_sky *const sky = load_sky(SKY);
    wf_check_refused(wf_simulate_write_job(sky, "none", &err), WF_MISSING, &err, "none/job.yaml");
    wf_sky_destroy(sky);
}

static void a_lack_of_memory_is_told(void **state)
{
    (void)state;
#ifdef WFI_CHECKS
    wf_sky *const sky = load_sky(SKY);
    wf_status status = WF_MEMORY;
    for (long n = 1; status != WF_OK; n++) {
        wf_error err = WF_ERROR_INIT;
        wfi_memory_fail_after(n);
        status = wf_simulate_write_job(sky, ".", &err);
        wfi_memory_fail_after(0);
        if (status != WF_OK) {
            wf_check_refused(status, WF_MEMORY, &err, "");
            assert_int_equal(n_entries("."), 1);
        }
    }
    wf_sky_destroy(sky);
#else
    skip();
#endif
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST_IN_FOLDER(the_job_holds_the_numbers_of_the_sky),
        TEST_IN_FOLDER(ground_and_antennas_go_along),
        TEST_IN_FOLDER(every_key_of_a_job_goes_along),
        TEST_IN_FOLDER(words_are_quoted_where_yaml_asks_for_it),
        TEST_IN_FOLDER(files_beside_the_sky_are_found_from_the_job),
        TEST_IN_FOLDER(a_folder_that_is_not_there_is_told),
        TEST_IN_FOLDER(a_lack_of_memory_is_told),
    };
    return cmocka_run_group_tests_name("simulate.job_writer", tests, NULL, NULL);
}
