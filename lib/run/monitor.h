/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What is watched of the streams while a job is correlated, in the stations' own time: states of
 * the samplers, phase-calibration tones, spectral kurtosis.
 *
 *  It reads and decodes for itself, apart from the engine: samples as they were recorded, before
 *  any alignment. States alone cost next to nothing (some thousand samples an integration); tones
 *  and kurtosis, where the job asks for them, look at every sample.
 */
#ifndef WFI_RUN_MONITOR_H
#define WFI_RUN_MONITOR_H

#include <complex.h>
#include <stdbool.h>
#include <whitefringe/engine.h>
#include <whitefringe/run.h>
#include <whitefringe/statistics.h>

#include "statistics/comb.h"
#include "statistics/decode.h"
#include "statistics/sampler.h"
#include "statistics/spectrum.h"

/** A stream as it is watched. */
typedef struct wfi_monitor_stream {
    size_t i_station;
    size_t i_recording;
    size_t i_thread;
    size_t i_exclusion;
    uint32_t channel;
    size_t i_input; /* i_station * n_polarizations + polarization; SIZE_MAX: not among the
                       products */
    int sideband;
    double zero_hz;
    wfi_decoder decoder;
    wfi_comb_setup comb;        /* n_tones = 0: none are read */
    int64_t first_number;       /* of the first tone, on the sky */
    size_t first_tone;          /* of the stream, in wfi_monitor_result.tones */
    wfi_spectrum_plan kurtosis; /* transform == NULL: not asked for */
} wfi_monitor_stream;

/** What is watched; one for a job, shared by its threads. */
typedef struct wfi_monitor {
    const wf_observation *observation;
    const wf_plan *plan;
    wf_recording *const *recordings;
    wfi_monitor_stream *streams; /* [n_streams] in the job's order */
    size_t n_streams;
    size_t n_polarizations;
    size_t n_tones;      /* of all streams together */
    size_t n_band_tones; /* the most that fall into one band; 0: no tones are asked for */
    bool any_kurtosis;
    bool any_applied;
    int64_t *chunk; /* [n_recordings] samples read at once */
} wfi_monitor;

wf_status wfi_monitor_create(wfi_monitor *out, const wf_observation *observation,
                             const wf_plan *plan, wf_recording *const *recordings, wf_error *err);
void wfi_monitor_release(wfi_monitor *monitor);

/** Phase and delay of a station's tones in one band and polarization. */
typedef struct wfi_band_calibration {
    bool found;
    double phase_rad; /* at middle_hz */
    double middle_hz;
    double delay_s;
} wfi_band_calibration;

/** What one integration showed. */
typedef struct wfi_monitor_result {
    wfi_sampler_counts *counts;  /* [n_streams][2] */
    double complex *tones;       /* [n_tones] by stream, in the sense of the sky, ascending */
    double *tone_rates;          /* [n_tones] s/s */
    double *sigma;               /* [n_streams] of a part of a tone; infinite: nothing was valid */
    uint8_t *odd;                /* [n_inputs][n_bands][n_channels] 1: no Gaussian noise */
    wfi_band_calibration *bands; /* [n_inputs][n_bands] */
} wfi_monitor_result;

wf_status wfi_monitor_result_create(wfi_monitor_result *out, const wfi_monitor *monitor,
                                    wf_error *err);
void wfi_monitor_result_release(wfi_monitor_result *result);

/** Room of one thread. */
typedef struct wfi_monitor_worker wfi_monitor_worker;
wf_status wfi_monitor_worker_create(wfi_monitor_worker **out, const wfi_monitor *monitor,
                                    wf_error *err);
void wfi_monitor_worker_destroy(wfi_monitor_worker *worker);

/** Watch one slice. */
wf_status wfi_monitor_slice(wfi_monitor_worker *worker, const wf_slice *slice,
                            wfi_monitor_result *out, wf_error *err);

#endif
