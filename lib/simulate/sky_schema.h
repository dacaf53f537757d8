/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The schema of a sky file: the keys of a job file, and the keys below. */
#ifndef WFI_SIMULATE_SKY_SCHEMA_H
#define WFI_SIMULATE_SKY_SCHEMA_H

#include <cyaml/cyaml.h>

#include "observation/job_schema.h"

typedef struct wfi_raw_line {
    char *centre_hz;
    char *width_hz;
} wfi_raw_line;

typedef struct wfi_raw_component {
    char *source;
    char *east_arcsec;
    char *north_arcsec;
    char *correlation;
    char **cross_hand; /* [2] */
    wfi_raw_line *line;
} wfi_raw_component;

typedef struct wfi_raw_clock_error {
    char *station;
    char *ahead_s;
    char *rate_s_per_s;
} wfi_raw_clock_error;

typedef struct wfi_raw_sky {
    char *seed;
    wfi_raw_component *components;
    unsigned components_count;
    wfi_raw_clock_error *clock_errors;
    unsigned clock_errors_count;
} wfi_raw_sky;

typedef struct wfi_raw_sky_recording {
    wfi_raw_recording job;
    char *bits;
    char *header_bytes;
    char *payload_bytes;
} wfi_raw_sky_recording;

typedef struct wfi_raw_sky_file {
    wfi_raw_job job; /* its recordings stay empty */
    wfi_raw_sky_recording *recordings;
    unsigned recordings_count;
    wfi_raw_sky *sky;
} wfi_raw_sky_file;

/** Most components of a sky. */
enum { WFI_COMPONENTS_MAX = 1000 };

/** Fills a wfi_raw_sky_file. */
extern const cyaml_schema_value_t wfi_sky_schema;

#endif
