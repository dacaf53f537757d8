/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a job says of the ground under its stations, and of their antennas. */
#include "job_text.h"

static const char ANCHOR[] = "    mount: xy_east\n";

static const char GROUND[] =
    "    eccentricity_enu_m: [1.5, -2.5, 4.0]\n"                              /* 7 */
    "    post_seismic:\n"                                                     /* 8 */
    "      - {epoch: 2011-03-11T05:46:24, component: east, law: logarithmic," /* 9 */
    " amplitude_m: 0.05945, relaxation_years: 0.3561}\n"
    "      - {epoch: 2008-05-07T16:45:00, component: up, law: exponential," /* 10 */
    " amplitude_m: -0.02, relaxation_years: 1.5}\n"
    "    ocean_pole_tide:\n"                       /* 11 */
    "      u_real: [0.057, 0.012, -0.008]\n"       /* 12 */
    "      u_imaginary: [-0.040, 0.011, -0.061]\n" /* 13 */
    "    antenna:\n"                               /* 14 */
    "      focus: secondary\n"                     /* 15 */
    "      reference_temperature_c: 7.5\n"         /* 16 */
    "      foundation_m: 8.0\n"                    /* 17 */
    "      foundation_per_k: 1.0e-5\n"             /* 18 */
    "      axis_m: 4.0\n"                          /* 19 */
    "      structure_per_k: 1.2e-5\n"              /* 20 */
    "      vertex_m: 3.7\n"                        /* 21 */
    "      focus_m: 7.9\n";                        /* 22 */

/* The job with `find` of its ground replaced, or added behind when it is NULL; to be freed. */
static char *ground_job(const char *find, const char *replacement)
{
    char part[4096];
    snprintf(part, sizeof part, "%s", GROUND);
    if (find == NULL) {
        strcat(part, replacement);
    } else {
        const char *at = strstr(GROUND, find);
        assert_non_null(at);
        snprintf(part, sizeof part, "%.*s%s%s", (int)(at - GROUND), GROUND, replacement,
                 at + strlen(find));
    }
    strcat(part, ANCHOR);
    return edited_job(ANCHOR, part);
}

static wf_observation *load(char *text)
{
    wf_observation *job = NULL;
    wf_error err = WF_ERROR_INIT;
    wf_check_ok(load_text(&job, text, strlen(text), &err), &err);
    free(text);
    return job;
}

static void ground_is_read(void **state)
{
    (void)state;
    wf_observation *job = load(ground_job(NULL, ""));
    const wf_station *alder = &job->stations[0], *birch = &job->stations[1];
    assert_int_equal(alder->n_post_seismic, 2);
    const wf_post_seismic *first = &alder->post_seismic[0], *second = &alder->post_seismic[1];
    /* MJD 55631 is 2011-03-11; 5 h 46 min 24 s are 20784 s */
    assert_true(wf_instant_difference_s(first->earthquake, wf_instant_of_mjd(55631)) == 20784.0);
    assert_int_equal(first->component, WF_COMPONENT_EAST);
    assert_int_equal(first->law, WF_POST_SEISMIC_LOGARITHMIC);
    assert_true(first->amplitude_m == 0.05945 && first->relaxation_years == 0.3561);
    assert_int_equal(second->component, WF_COMPONENT_UP);
    assert_int_equal(second->law, WF_POST_SEISMIC_EXPONENTIAL);
    assert_true(second->amplitude_m == -0.02);
    assert_true(alder->ocean_pole_tide->real[0] == 0.057);
    assert_true(alder->ocean_pole_tide->real[2] == -0.008);
    assert_true(alder->ocean_pole_tide->imaginary[1] == 0.011);
    assert_int_equal(alder->antenna->focus, WF_FOCUS_SECONDARY);
    assert_true(alder->antenna->reference_temperature_c == 7.5);
    assert_true(alder->antenna->foundation_m == 8.0 && alder->antenna->axis_m == 4.0);
    assert_true(alder->antenna->foundation_per_k == 1e-5);
    assert_true(alder->antenna->structure_per_k == 1.2e-5);
    assert_true(alder->antenna->vertex_m == 3.7 && alder->antenna->focus_m == 7.9);
    assert_int_equal(birch->n_post_seismic, 0);
    assert_null(birch->ocean_pole_tide);
    assert_null(birch->antenna);
    assert_true(birch->eccentricity_itrf_m[0] == 0.0);
    assert_null(job->ocean_loading_blq_path);
    assert_null(job->gpt2_grid_path);
    assert_int_equal(job->pole_tide_reference, WF_POLE_TIDE_SECULAR_2018);
    wf_observation_destroy(job);
}

/* Closed form: the vector's length stays, and its part along the radius is that of the vertical
 * but for the deflection of the ellipsoid's normal, 0.0034 at most. */
static void eccentricity_points_up_east_and_north(void **state)
{
    (void)state;
    static const double enu[3][3] = {{3, 0, 0}, {0, 3, 0}, {0, 0, 3}};
    for (int k = 0; k < 3; k++) {
        char line[80];
        snprintf(line, sizeof line, "[%g, %g, %g]", enu[k][0], enu[k][1], enu[k][2]);
        wf_observation *job = load(ground_job("[1.5, -2.5, 4.0]", line));
        const double *x = job->stations[0].position_itrf_m;
        const double *d = job->stations[0].eccentricity_itrf_m;
        const double rho = hypot(x[0], x[1]), r = hypot(rho, x[2]);
        const double east = (x[0] * d[1] - x[1] * d[0]) / rho;
        const double outwards = (x[0] * d[0] + x[1] * d[1]) / rho;
        const double up = (outwards * rho + d[2] * x[2]) / r;
        const double north = (d[2] * rho - outwards * x[2]) / r;
        wf_check_near("east", east, enu[k][0], 1e-12, "m");
        wf_check_near("north", north, enu[k][1], 3 * 0.0034, "m");
        wf_check_near("up", up, enu[k][2], 3 * 0.0034, "m");
        wf_check_near("length", hypot(hypot(d[0], d[1]), d[2]), 3.0, 1e-12, "m");
        wf_observation_destroy(job);
    }
}

static void terrestrial_eccentricity_is_taken_as_it_is(void **state)
{
    (void)state;
    wf_observation *job = load(ground_job("eccentricity_enu_m", "eccentricity_itrf_m"));
    assert_true(job->stations[0].eccentricity_itrf_m[1] == -2.5);
    wf_observation_destroy(job);
}

static void tides_of_all_stations_are_read(void **state)
{
    (void)state;
    wf_observation *job = load(edited_job("bands:\n", "pole_tide_reference: mean_2010\n"
                                                      "ocean_loading_blq: tides/forest.blq\n"
                                                      "gpt2_grid: air/gpt2_5.grd\n"
                                                      "bands:\n"));
    assert_int_equal(job->pole_tide_reference, WF_POLE_TIDE_MEAN_2010);
    assert_string_equal(job->ocean_loading_blq_path, "folder/tides/forest.blq");
    assert_string_equal(job->gpt2_grid_path, "folder/air/gpt2_5.grd");
    wf_observation_destroy(job);
}

static void check_fault(char *text, const char *message)
{
    wf_error err = WF_ERROR_INIT;
    wf_observation *job = NULL;
    const wf_status status = load_text(&job, text, strlen(text), &err);
    free(text);
    assert_null(job);
    wf_check_refused(status, WF_FORMAT, &err, message);
}

static void faults_are_named_by_line_and_key(void **state)
{
    (void)state;
    static const char *const faults[][3] = {
        {"component: east", "component: west",
         "job.yaml:9: stations[0].post_seismic[0].component: expected one of east, north, up"},
        {"law: exponential", "law: exponent",
         "job.yaml:10: stations[0].post_seismic[1].law: expected one of logarithmic, exponential, "
         "found \"exponent\"; did you mean exponential?"},
        {"amplitude_m: 0.05945", "amplitude_m: 59.45", "divide by 1000 what is in mm"},
        {"relaxation_years: 1.5", "relaxation_years: 0",
         "job.yaml:10: stations[0].post_seismic[1].relaxation_years: expected a time in years"},
        {"epoch: 2011-03-11T05:46:24", "epoch: 55631.24",
         "job.yaml:9: stations[0].post_seismic[0].epoch: "},
        {"u_real: [0.057, 0.012, -0.008]", "u_real: [0.057, 0.012, north]",
         "job.yaml:12: stations[0].ocean_pole_tide.u_real[2]: expected a coefficient"},
        {"      u_imaginary: [-0.040, 0.011, -0.061]\n", "",
         "stations[0].ocean_pole_tide: the key u_imaginary is missing"},
        {"[1.5, -2.5, 4.0]", "[1.5, -2500, 4.0]",
         "job.yaml:7: stations[0].eccentricity_enu_m[1]: expected a distance in m, within +-1000"},
        {"focus: secondary", "focus: third",
         "job.yaml:15: stations[0].antenna.focus: expected one of prime, secondary"},
        {"structure_per_k: 1.2e-5", "structure_per_k: 12",
         "job.yaml:20: stations[0].antenna.structure_per_k: expected an expansion per kelvin"},
        {"reference_temperature_c: 7.5", "reference_temperature_c: 280.65",
         "subtract 273.15 from kelvins"},
        {"      axis_m: 4.0\n", "", "stations[0].antenna: the key axis_m is missing"},
    };
    for (size_t i = 0; i < sizeof faults / sizeof faults[0]; i++)
        check_fault(ground_job(faults[i][0], faults[i][1]), faults[i][2]);
    check_fault(ground_job(NULL, "    eccentricity_itrf_m: [0, 0, 0]\n"),
                "eccentricity_enu_m: eccentricity_itrf_m is given too; keep one of them");
    check_fault(edited_job("bands:\n", "pole_tide_reference: mean_2003\nbands:\n"),
                "pole_tide_reference: expected one of secular_2018, mean_2010");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(ground_is_read),
        cmocka_unit_test(eccentricity_points_up_east_and_north),
        cmocka_unit_test(terrestrial_eccentricity_is_taken_as_it_is),
        cmocka_unit_test(tides_of_all_stations_are_read),
        cmocka_unit_test(faults_are_named_by_line_and_key),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
