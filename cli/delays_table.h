/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The table of delays and its three outputs. */
#ifndef CLI_DELAYS_TABLE_H
#define CLI_DELAYS_TABLE_H

#include <whitefringe/observation.h>
#include <whitefringe/time.h>

#include "options.h"

/** One station at one moment. */
typedef struct delay_row {
    size_t i_scan;
    size_t i_station;
    wf_instant t;
    double total_s; /* with the clock: what the tags of the samples lag behind */
    double rate_s_per_s;
    double delay_s;
    double geometry_s;
    double gravity_sun_s;
    double gravity_planets_s;
    double gravity_earth_s;
    double table_s;
    double clock_ahead_s;
    double azimuth_deg;
    double elevation_deg;
    double u_m;
    double v_m;
    double w_m;
} delay_row;

/** In order of scan, time, station. */
typedef struct delay_table {
    delay_row *rows;
    size_t n;
    size_t capacity;
} delay_table;

/** Write the table to stdout as asked: text, CSV or JSON. */
wf_status delay_table_print(const delay_table *t, const settings *asked, const wf_observation *o,
                            wf_error *err);

#endif
