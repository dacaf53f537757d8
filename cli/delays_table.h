/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The table of delays and its three outputs. */
#ifndef CLI_DELAYS_TABLE_H
#define CLI_DELAYS_TABLE_H

#include <whitefringe/delay.h>

#include "options.h"

/** One station at one moment. */
typedef struct delay_row {
    size_t i_scan;
    size_t i_station;
    wf_instant t;
    wf_delay delay;
    double total_s; /* with the clock: what the tags of the samples lag behind */
    double rate_s_per_s;
    double azimuth_deg;
    double elevation_deg;
    bool below_limit; /* the source stands under the station's horizon or elevation limit */
} delay_row;

/** In order of scan, time, station. */
typedef struct delay_table {
    delay_row *rows;
    size_t n;
    size_t capacity;
    const wf_observation *observation;
    const wf_delay_model *model;
} delay_table;

/** Write the table to stdout as asked: text, CSV or JSON. Rows below the limit are named on stderr
 *  where they are not in the text itself. */
wf_status delay_table_print(const delay_table *t, const settings *asked, wf_error *err);

#endif
