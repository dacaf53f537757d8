/* SPDX-License-Identifier: GPL-3.0-or-later */
/* All that a report says, in numbers: measured first, then written and drawn. */
#ifndef CLI_REPORT_SURVEY_H
#define CLI_REPORT_SURVEY_H

#include <stdbool.h>
#include <stddef.h>
#include <whitefringe/fringe.h>
#include <whitefringe/fringe_fit.h>
#include <whitefringe/stability.h>
#include <whitefringe/visibility.h>

/** The fringe of one baseline, band and product over one stretch. */
typedef struct report_row {
    size_t i_stretch;
    size_t i_station;
    size_t j_station;
    size_t i_band;
    size_t i_product;
    double valid_fraction; /* mean weight over the stretch */
    bool measured;         /* false: too little is valid for a fringe */
    wf_fringe_peak peak;
} report_row;

/** A fringe that noise makes less often than this counts as found: a file of many scans holds many
 *  thousand searches. */
#define REPORT_FALSE_ALARM_MAX 1e-6

bool report_row_found(const report_row *row);

/** The fringe of one baseline and product over all bands. */
typedef struct survey_fit {
    size_t i_product;
    bool measured;    /* false: too little is valid for a fringe */
    bool free_phases; /* the bands do not line up: fitted with the phase of each free */
    wf_fringe_fit fit;
} survey_fit;

bool survey_fit_found(const survey_fit *fit);

/** Of the strongest fringe of a baseline; pointers are NULL where nothing came of it. */
typedef struct survey_stability {
    wf_coherence *coherence;
    wf_allan *allan;
    wf_phase_events *events;     /* only while a stretch is measured */
    wf_phase_spectrum *spectrum; /* only while a stretch is measured */
    double expected_slips;
    double interval_s; /* of the averages that were looked at */
    size_t n_averaged; /* integrations in each */
} survey_stability;

/** One baseline over one stretch in which the file has rows of it. */
typedef struct survey_baseline {
    size_t i_stretch;
    size_t i_station;
    size_t j_station;
    size_t i_first; /* of its rows [n_bands][n_products] */
    survey_stability stability;
} survey_baseline;

/** Stations of one stretch: values against the reference, true minus model. */
typedef struct survey_solution {
    bool solved;
    size_t i_product;
    size_t i_reference;
    bool multi_band;         /* from multi-band delays; else from single-band ones */
    bool phases_of_one_band; /* closure phases are of i_band alone; else of all bands together, at
                                the middle of i_band */
    size_t i_band;
    wf_station_value *delay; /* [n_stations] s */
    wf_station_value *rate;  /* [n_stations] s/s */
    double delay_chi2;       /* reduced; NaN without a degree of freedom */
    double rate_chi2;
    size_t n_excluded;          /* delays that the others contradict */
    wf_closure *delay_closures; /* [n_delay_closures] s */
    size_t n_delay_closures;
    wf_closure *phase_closures; /* [n_phase_closures] rad */
    size_t n_phase_closures;
    size_t n_triangles; /* that were closed; of very many those farthest from zero are kept */
} survey_solution;

/** Stations of one stretch, apart: [n_stations][n_points] Allan deviations; events and lines. */
typedef struct survey_stretch_stability {
    wf_allan_station_point *allan;
    size_t n_points;
    wf_station_events *events; /* NULL: no phase was looked at */
} survey_stretch_stability;

/** A point of the u,v plane, of the baseline as the file has it. */
typedef struct survey_uv {
    size_t i_source;
    size_t i_station;
    size_t j_station;
    double u_s; /* light travel time */
    double v_s;
} survey_uv;

/** Extent of the u,v plane of one source: mean squares of u and v, and their product, over all
 *  rows; the longest. */
typedef struct survey_uv_extent {
    double uu_s2;
    double vv_s2;
    double uv_s2;
    double longest_s;
    size_t n_rows;
} survey_uv_extent;

/** Start from {0}; release it. */
typedef struct survey {
    const char *file;
    wf_fits_idi_reader *reader;
    const wf_fits_idi_info *info;
    wf_stretches *stretches;
    wf_fits_idi_notes *notes;
    report_row *rows; /* [n_rows] */
    size_t n_rows;
    size_t row_capacity;
    survey_fit *fits; /* [n_baselines][n_products] */
    size_t fit_capacity;
    survey_solution *solutions;            /* [n_stretches] */
    survey_stretch_stability *stabilities; /* [n_stretches] */
    survey_baseline *baselines; /* [n_baselines], in order of stretch, first and second station */
    size_t n_baselines;
    size_t baseline_capacity;
    size_t *first_baseline; /* [n_stretches + 1] of each stretch, and the end */
    float *weight; /* [n_stations][n_times] valid fraction of a station's data in each integration
                      of the file; below 0 where it has no row */
    size_t n_times;
    survey_uv *uv; /* [n_uv] thinned out */
    size_t n_uv;
    size_t uv_capacity;
    survey_uv_extent *extents;        /* [n_sources] */
    wf_status (*tick)(void *context); /* called for each baseline; not OK: stop */
    void *context;
} survey;

/** Open and measure a file.
 *
 *  given   s  with tick and context
 *  status  OK | as wf_fits_idi_open, wf_stretches_create and wf_stretch_read; MISSING: no rows
 */
wf_status survey_make(survey *s, const char *file, wf_error *err);
void survey_release(survey *s);

/** The rows of a baseline, [n_bands][n_products]. */
const report_row *survey_rows(const survey *s, const survey_baseline *baseline);
/** The row of a baseline with the highest signal-to-noise ratio. */
const report_row *survey_strongest(const survey *s, const survey_baseline *baseline);
/** Its fits, [n_products]. */
const survey_fit *survey_fits(const survey *s, const survey_baseline *baseline);
/** The fit with the highest signal-to-noise ratio. */
const survey_fit *survey_best_fit(const survey *s, const survey_baseline *baseline);
/** Whether a band and product, or a product over all bands, shows a fringe. */
bool survey_any_found(const survey *s, const survey_baseline *baseline);
/** Of the best fit, or of the strongest row where that is higher; 0 where nothing is measured. */
double survey_snr(const survey *s, const survey_baseline *baseline);

/** "Alder – Birch". */
enum { SURVEY_PAIR_BYTES = 2 * WF_NAME_BYTES + 8 };
void survey_pair(char text[SURVEY_PAIR_BYTES], const survey *s, size_t i_station, size_t j_station);

/** Name of the products' number. */
const char *survey_product(const survey *s, size_t i_product);
double survey_band_middle_hz(const survey *s, size_t i_band);
/** Middle of all bands. */
double survey_middle_hz(const survey *s);

#endif
