/* SPDX-License-Identifier: GPL-3.0-or-later */
/* An invented observation: three stations, two sources, smooth Earth orientation around 2026-03-01
 * (MJD 61100), and helpers. */
#ifndef TESTS_UNIT_DELAY_SCENE_H
#define TESTS_UNIT_DELAY_SCENE_H

#include "support/check.h"
#include "support/folder.h"

#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>
#include <whitefringe/delay.h>

enum { SCENE_MJD = 61100, SCENE_DAYS = 9, SCENE_STATIONS = 3 };

typedef struct scene {
    wf_station stations[SCENE_STATIONS];
    wf_source sources[2];
    wf_scan scans[1];
    bool takes_part[SCENE_STATIONS];
    wf_earth_orientation_day days[SCENE_DAYS];
    wf_observation observation;
} scene;

static inline wf_instant scene_time(const char *text)
{
    wf_error err = WF_ERROR_INIT;
    wf_instant t = {0, 0.0};
    wf_check_ok(wf_instant_parse(&t, text, &err), &err);
    return t;
}

/** The scan runs from 2026-03-01T12:00:00 for 300 s; days reach from 2026-02-25 to 2026-03-05. */
static inline void scene_set(scene *s)
{
    *s = (scene){
        .stations = {{.name = "Alder",
                      .position_itrf_m = {4254490.25, -2596951.5, 3966574.75},
                      .velocity_itrf_m_per_year = {0.0123, -0.0184, 0.0092},
                      .position_epoch_year = 2015.0},
                     {.name = "Birch",
                      .position_itrf_m = {-3129916.125, -5229709.5, -1874017.25},
                      .velocity_itrf_m_per_year = {0.0215, 0.0470, -0.0280},
                      .position_epoch_year = 2010.0},
                     {.name = "Cedar",
                      .position_itrf_m = {141718.5, 4774987.25, -4212909.125},
                      .position_epoch_year = 2015.0}},
        .sources = {{.name = "Ousel", .right_ascension_icrf_rad = 3.3, .declination_icrf_rad = 0.4},
                    {.name = "Teme",
                     .right_ascension_icrf_rad = 0.9,
                     .declination_icrf_rad = -0.7}},
    };
    for (int i = 0; i < SCENE_DAYS; i++)
        s->days[i] = (wf_earth_orientation_day){
            .mjd = SCENE_MJD - 4 + i,
            .pole_x_rad = 5e-7 + 1e-9 * i + 1e-10 * (i % 3),
            .pole_y_rad = 1.6e-6 - 2e-9 * i + 1e-10 * (i % 2),
            .ut1_minus_utc_s = 0.07 - 3e-4 * i + 1e-6 * (i % 4),
            .celestial_pole_dx_rad = 1e-9,
            .celestial_pole_dy_rad = -5e-10 * (i % 2),
        };
    s->scans[0] = (wf_scan){.name = "S01",
                            .start = scene_time("2026-03-01T12:00:00"),
                            .duration_s = 300.0,
                            .station_takes_part = s->takes_part};
    for (int i = 0; i < SCENE_STATIONS; i++)
        s->takes_part[i] = true;
    s->observation = (wf_observation){
        .stations = s->stations,
        .n_stations = SCENE_STATIONS,
        .sources = s->sources,
        .n_sources = 2,
        .scans = s->scans,
        .n_scans = 1,
        .delay_terms = wf_delay_terms_default(),
        .earth_orientation = {.days = s->days, .n_days = SCENE_DAYS},
    };
}

static inline wf_delay_model *scene_model(const scene *s)
{
    wf_error err = WF_ERROR_INIT;
    wf_delay_model *model = NULL;
    wf_check_ok(wf_delay_model_create(&model, &s->observation, &err), &err);
    return model;
}

static inline wf_delay scene_delay(const wf_delay_model *model, size_t i_station, size_t i_source,
                                   wf_instant t)
{
    wf_error err = WF_ERROR_INIT;
    wf_delay delay;
    wf_check_ok(wf_delay_evaluate(model, i_station, i_source, t, &delay, &err), &err);
    return delay;
}

/** A file with this content under a name of its own. Tests that write files run in a folder that
 *  goes when they end, however they end: enter_folder, leave_folder. */
static inline void scene_write_file(char path[64], const char *content)
{
    snprintf(path, 64, "delay_test_XXXXXX");
    const int fd = mkstemp(path);
    assert_true(fd >= 0);
    FILE *file = fdopen(fd, "w");
    assert_non_null(file);
    assert_true(fputs(content, file) >= 0);
    assert_int_equal(fclose(file), 0);
}

#endif
