/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What came out: normalised visibilities, and the FITS-IDI files that carry them. */
#ifndef WHITEFRINGE_VISIBILITY_H
#define WHITEFRINGE_VISIBILITY_H

#include <complex.h>
#include <stddef.h>
#include <stdint.h>
#include <whitefringe/delay.h>
#include <whitefringe/engine.h>
#include <whitefringe/observation.h>
#include <whitefringe/status.h>
#include <whitefringe/time.h>

/** All visibilities of one integration, as correlation coefficients.
 *
 *  visibility  [n_baselines][n_bands][n_channels][n_products], V_ij = <x_i conj(x_j)>: the house
 *              sense (a source l east, m north has phase +2 pi nu (u l + v m)); 0 where nothing
 *              is valid, never NaN
 *  weight      [n_baselines][n_bands][n_products], valid fraction, 0..1
 *  uvw_s       [n_baselines][3], r_i - r_j, east, north, towards the source, light seconds
 *  power       [n_streams], mean square of each stream's valid samples, in its levels; 0: none
 *  efficiency  [n_streams], quantisation efficiency of each stream's sampler at that power
 */
typedef struct wf_integration {
    size_t i_scan;
    wf_instant middle;
    double length_s;
    float complex *visibility;
    float *weight;
    double (*uvw_s)[3];
    double *power;
    double *efficiency;
} wf_integration;

WF_API WF_MUST_CHECK wf_status wf_integration_create(wf_integration **out, const wf_plan *plan,
                                                     wf_error *err);
WF_API void wf_integration_destroy(wf_integration *integration);

/** Turn the sums of a slice into correlation coefficients.
 *
 *  Cross and auto power are divided by the geometric mean of the two streams' own power; with
 *  the observation's quantisation_correction cross power is divided by the quantisation
 *  efficiency of the two samplers too.
 *
 *  status  OK | RANGE: the delay model does not cover the slice
 */
WF_API WF_MUST_CHECK wf_status wf_integration_normalise(wf_integration *out, const wf_plan *plan,
                                                        const wf_observation *observation,
                                                        const wf_delay_model *model,
                                                        const wf_slice *slice,
                                                        const wf_partial *partial, wf_error *err);

/** A FITS-IDI file in the making. It appears under its name when it is finished, whole. */
typedef struct wf_fits_idi_writer wf_fits_idi_writer;

typedef struct wf_fits_idi_options {
    const wf_track *const *tracks; /* [n_scans][n_stations], NULL where no part is taken; NULL
                                      altogether: no table INTERFEROMETER_MODEL */
    const unsigned *bits;          /* [n_stations] bits a sample, for NO_LEVELS */
    const char *const *history;    /* [n_history] texts for HISTORY cards; wrapped there */
    size_t n_history;
    size_t n_tones; /* of a band at most, for PHASE-CAL; 0: no such table */
} wf_fits_idi_options;

/** given   observation  borrowed until the writer is destroyed; model and options only here
 *  status  OK | ARGUMENT: what the convention cannot hold, over 255 stations say | MISSING: there
 *          is no such folder | IO: the folder is not writable, the disk is full, the path names a
 *          folder | RANGE: Earth orientation does not cover the first day | MEMORY; on failure
 *          nothing is left, and what stood under the path still does
 */
WF_API WF_MUST_CHECK wf_status wf_fits_idi_create(wf_fits_idi_writer **out, const char *path,
                                                  const wf_observation *observation,
                                                  const wf_delay_model *model,
                                                  const wf_fits_idi_options *options,
                                                  wf_error *err);

/** Append the visibilities of one integration; in time order. Rows whose weights are all 0 are
 *  left out; what is no finite number is written as 0 with weight 0.
 *
 *  status  OK | ARGUMENT: out of order, or u, v, w not finite | IO
 */
WF_API WF_MUST_CHECK wf_status wf_fits_idi_append(wf_fits_idi_writer *writer,
                                                  const wf_integration *integration, wf_error *err);

/** Phase-calibration tones of one station over one integration, for the table PHASE-CAL.
 *
 *  Of polarizations there are two, R or X before L or Y, or one where all products are of one and
 *  the same.
 *  state_percent  [n_polarizations][n_bands][4] states of the sampler, the lowest first, in per
 *                 cent; NaN where there are not so many
 *  frequency_hz   [n_polarizations][n_bands][n_tones] on the sky; 0: no tone
 *  tone           the same shape: modulus sqrt(power of the tone / power of the stream), angle
 *                 that of the tone at whole seconds of the station's clock, in the sense of a wave
 *                 exp(+2 pi i nu t) for both sidebands; NaN where there is none
 *  rate_s_per_s   the same shape: drift of that angle within the integration over 2 pi nu
 */
typedef struct wf_phase_cal {
    size_t i_station;
    size_t i_scan;
    wf_instant middle;
    double length_s;
    const float *state_percent;
    const double *frequency_hz;
    const float complex *tone;
    const float *rate_s_per_s;
} wf_phase_cal;

/** status  OK | ARGUMENT: the options gave no n_tones | IO */
WF_API WF_MUST_CHECK wf_status wf_fits_idi_append_phase_cal(wf_fits_idi_writer *writer,
                                                            const wf_phase_cal *row, wf_error *err);

/** Channels of one station and polarization that are not to be used, for the table FLAG. */
typedef struct wf_flag {
    size_t i_station;
    size_t i_scan;
    size_t i_band;
    wf_polarization polarization;
    size_t first_channel;
    size_t n_channels;
    wf_instant start;
    double length_s;
    const char *reason; /* at most 40 characters */
} wf_flag;

WF_API WF_MUST_CHECK wf_status wf_fits_idi_append_flag(wf_fits_idi_writer *writer,
                                                       const wf_flag *flag, wf_error *err);

/** Complete the file, bring it to the disk and give it its name.
 *
 *  status  OK | IO: nothing is left, and what stood under the path still does
 */
WF_API WF_MUST_CHECK wf_status wf_fits_idi_finish(wf_fits_idi_writer *writer, wf_error *err);

/** Free the writer; what was not finished is removed from the disk. */
WF_API void wf_fits_idi_destroy(wf_fits_idi_writer *writer);

/** A FITS-IDI file opened for reading; ours, and others' of one frequency set-up. One thread at a
 *  time. */
typedef struct wf_fits_idi_reader wf_fits_idi_reader;

typedef struct wf_fits_idi_info {
    char campaign[WF_NAME_BYTES];
    const char (*station_names)[WF_NAME_BYTES]; /* [n_stations], index = antenna number - 1; ""
                                                   where no antenna has the number */
    size_t n_stations;
    const char (*source_names)[WF_NAME_BYTES];
    size_t n_sources;
    size_t n_bands;
    size_t n_channels;
    size_t n_products;
    int first_product_code;      /* STK_1: -1 RR ... -8 YX */
    const double *band_first_hz; /* [n_bands] centre of the first channel */
    double channel_width_hz;
    size_t n_rows;
} wf_fits_idi_info;

/** One row of UV_DATA, in the house sense again.
 *
 *  visibility  [n_bands][n_channels][n_products], the caller's buffer
 *  weight      [n_bands][n_products], the caller's buffer
 */
typedef struct wf_fits_idi_row {
    size_t i_station;
    size_t j_station;
    size_t i_source;
    wf_instant middle;
    double length_s;
    double uvw_s[3];
    float complex *visibility;
    float *weight;
} wf_fits_idi_row;

/** status  OK | MISSING: no such file | FORMAT: no FITS-IDI file, or cut short; what is missing is
 *          named | UNSUPPORTED | IO | MEMORY */
WF_API WF_MUST_CHECK wf_status wf_fits_idi_open(wf_fits_idi_reader **out, const char *path,
                                                wf_error *err);
/** Borrowed; lives as long as the reader. */
WF_API const wf_fits_idi_info *wf_fits_idi_describe(const wf_fits_idi_reader *reader);
/** Read row i_row, the fastest in ascending order.
 *
 *  given   row->visibility, row->weight  buffers, or NULL where not wanted
 *  status  OK | ARGUMENT: no such row | FORMAT: station, source or time of the row is none; the
 *          row is named | UNSUPPORTED | IO | MEMORY
 */
WF_API WF_MUST_CHECK wf_status wf_fits_idi_read(wf_fits_idi_reader *reader, size_t i_row,
                                                wf_fits_idi_row *row, wf_error *err);
/** A station's clock, as the delays of one station and source count it from a time on. */
typedef struct wf_fits_idi_clock {
    size_t i_station;
    size_t i_source;
    wf_instant time;
    double ahead_s; /* of UTC; the convention's CLOCK with the other sign */
    double rate_s_per_s;
} wf_fits_idi_clock;

/** What a file tells besides its visibilities; where it does not, it is empty or 0.
 *
 *  history   the HISTORY cards of the primary header, a line each
 *  n_levels  [n_stations] of the samplers (ANTENNA)
 *  n_flags   [n_stations] rows of the table FLAG that name the station, or all
 *  clocks    [n_clocks] of the first polarization (MODEL_COMPS), in the file's order
 */
typedef struct wf_fits_idi_notes {
    char *history;
    unsigned *n_levels;
    size_t *n_flags;
    wf_fits_idi_clock *clocks;
    size_t n_clocks;
} wf_fits_idi_notes;

/** returned  out  to be destroyed by the caller; NULL on failure
 *  status    OK | FORMAT: a table is cut short, or of other columns; it is named | IO | MEMORY
 */
WF_API WF_MUST_CHECK wf_status wf_fits_idi_read_notes(wf_fits_idi_notes **out,
                                                      wf_fits_idi_reader *reader, wf_error *err);
WF_API void wf_fits_idi_notes_destroy(wf_fits_idi_notes *notes);
WF_API void wf_fits_idi_close(wf_fits_idi_reader *reader);

#endif
