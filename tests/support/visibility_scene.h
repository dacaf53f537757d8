/* SPDX-License-Identifier: GPL-3.0-or-later */
/* An invented observation with visibilities that are plain numbers: 3 stations, 2 sources, 2 scans
 * either side of a midnight, an upper and a lower sideband, 4 channels, 4 products. */
#ifndef TESTS_SUPPORT_VISIBILITY_SCENE_H
#define TESTS_SUPPORT_VISIBILITY_SCENE_H

#include <stdbool.h>
#include <stdio.h>
#include <string.h>
#include <whitefringe/visibility.h>

enum {
    SCENE_MJD = 61100, /* 2026-03-01 */
    SCENE_DAYS = 9,
    SCENE_STATIONS = 3,
    SCENE_BASELINES = 6,
    SCENE_BANDS = 2,
    SCENE_CHANNELS = 4,
    SCENE_PRODUCTS = 4,
    SCENE_WEIGHTS = SCENE_BANDS * SCENE_PRODUCTS,
    SCENE_VALUES = SCENE_WEIGHTS * SCENE_CHANNELS,
    SCENE_SCANS = 2,
};

typedef struct scene {
    wf_station stations[SCENE_STATIONS];
    wf_source sources[2];
    wf_scan scans[SCENE_SCANS];
    wf_band bands[SCENE_BANDS];
    bool takes_part[SCENE_STATIONS];
    unsigned bits[SCENE_STATIONS];
    wf_earth_orientation_day days[SCENE_DAYS];
    wf_observation observation;
    /* one integration */
    float complex visibility[SCENE_BASELINES * SCENE_VALUES];
    float weight[SCENE_BASELINES * SCENE_WEIGHTS];
    double uvw_s[SCENE_BASELINES][3];
    wf_integration integration;
} scene;

static inline void scene_set_stations(scene *s)
{
    const wf_clock clock = {
        .reference = wf_instant_of_mjd(SCENE_MJD), .ahead_s = 2.5e-6, .rate_s_per_s = 1e-12};
    const wf_station stations[SCENE_STATIONS] = {
        {.name = "Alder",
         .position_itrf_m = {4254490.25, -2596951.5, 3966574.75},
         .velocity_itrf_m_per_year = {0.0123, -0.0184, 0.0092},
         .position_epoch_year = 2015.0,
         .mount = WF_MOUNT_ALTAZ,
         .axis_offset_m = 0.0,
         .diameter_m = 12.0,
         .clock = clock},
        {.name = "Birch",
         .position_itrf_m = {-3129916.125, -5229709.5, -1874017.25},
         .position_epoch_year = 2010.0,
         .mount = WF_MOUNT_EQUATORIAL,
         .axis_offset_m = 2.5,
         .diameter_m = 25.0},
        {.name = "Cedar",
         .position_itrf_m = {141718.5, 4774987.25, -4212909.125},
         .position_epoch_year = 2015.0,
         .mount = WF_MOUNT_XY_NORTH},
    };
    memcpy(s->stations, stations, sizeof stations);
    const unsigned bits[SCENE_STATIONS] = {2, 1, 8};
    memcpy(s->bits, bits, sizeof bits);
    for (int i = 0; i < SCENE_STATIONS; i++)
        s->takes_part[i] = true;
}

static inline void scene_set_sky(scene *s, wf_instant first_scan)
{
    s->sources[0] =
        (wf_source){.name = "Ousel", .right_ascension_icrf_rad = 3.3, .declination_icrf_rad = 0.4};
    s->sources[1] = (wf_source){
        .name = "Willowbrook", .right_ascension_icrf_rad = 0.9, .declination_icrf_rad = -0.7};
    s->scans[0] = (wf_scan){"S01", 1, first_scan, 6.0, s->takes_part};
    s->scans[1] = (wf_scan){"S02", 0, wf_instant_add(first_scan, 610.0), 4.0, s->takes_part};
    s->bands[0] = (wf_band){"low", 8400e6, 16e6, WF_SIDEBAND_UPPER};
    s->bands[1] = (wf_band){"high", 8450e6, 16e6, WF_SIDEBAND_LOWER};
    int32_t mjd = 0;
    int32_t second_of_day = 0;
    wf_instant_utc(first_scan, &mjd, &second_of_day);
    for (int i = 0; i < SCENE_DAYS; i++)
        s->days[i] = (wf_earth_orientation_day){.mjd = mjd - 4 + i,
                                                .pole_x_rad = 5e-7 + 1e-9 * i,
                                                .pole_y_rad = 1.6e-6 - 2e-9 * i,
                                                .ut1_minus_utc_s = 0.0625 - 3e-4 * i};
}

/** The first scan starts 10 s before midnight. */
static inline void scene_set(scene *s)
{
    memset(s, 0, sizeof *s);
    scene_set_stations(s);
    scene_set_sky(s, wf_instant_add(wf_instant_of_mjd(SCENE_MJD), 86390.0));
    s->observation = (wf_observation){
        .campaign = "Forest-7",
        .stations = s->stations,
        .n_stations = SCENE_STATIONS,
        .sources = s->sources,
        .n_sources = 2,
        .scans = s->scans,
        .n_scans = SCENE_SCANS,
        .bands = s->bands,
        .n_bands = SCENE_BANDS,
        .correlation = {.n_channels = SCENE_CHANNELS,
                        .integration_s = 2.0,
                        .products = {{WF_POLARIZATION_R, WF_POLARIZATION_R},
                                     {WF_POLARIZATION_L, WF_POLARIZATION_L},
                                     {WF_POLARIZATION_R, WF_POLARIZATION_L},
                                     {WF_POLARIZATION_L, WF_POLARIZATION_R}},
                        .n_products = SCENE_PRODUCTS,
                        .quantisation_correction = true},
        .delay_terms = wf_delay_terms_default(),
        .earth_orientation = {.days = s->days, .n_days = SCENE_DAYS},
    };
    s->integration.visibility = s->visibility;
    s->integration.weight = s->weight;
    s->integration.uvw_s = s->uvw_s;
}

/** Fill integration number k of a scan. Visibility number n of the integration, counted in the
 *  order of wf_integration, is (n + 1000 k) + i (-n - 1000 k - 1/2) in the house sense; weights
 *  run from 1/128 in steps of 1/128 alike; u, v, w are -k - 1/4, and so on, micro light seconds.
 */
static inline void scene_fill(scene *s, size_t i_scan, int k)
{
    s->integration.i_scan = i_scan;
    s->integration.length_s = 2.0;
    s->integration.middle = wf_instant_add(s->scans[i_scan].start, 2.0 * k + 1.0);
    for (int n = 0; n < SCENE_BASELINES * SCENE_VALUES; n++) {
        const float value[2] = {(float)(n + 1000 * k), (float)(-n - 1000 * k) - 0.5f};
        memcpy(&s->visibility[n], value, sizeof value);
    }
    for (int n = 0; n < SCENE_BASELINES * SCENE_WEIGHTS; n++)
        s->weight[n] = (float)(n + 1) / 128.0f;
    for (int n = 0; n < SCENE_BASELINES; n++) {
        s->uvw_s[n][0] = (-k - 0.25) * 1e-6;
        s->uvw_s[n][1] = (n + 0.5) * 1e-6;
        s->uvw_s[n][2] = (n - k) * 1e-6;
    }
}

#endif
