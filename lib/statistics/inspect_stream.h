/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What is summed over one stream while a recording is inspected. */
#ifndef WFI_STATISTICS_INSPECT_STREAM_H
#define WFI_STATISTICS_INSPECT_STREAM_H

#include <whitefringe/statistics.h>

#include "statistics/comb.h"
#include "statistics/decode.h"
#include "statistics/sampler.h"
#include "statistics/spectrum.h"

/** Transforms of one kind of samples, real or complex. */
typedef struct wfi_stream_plans {
    wfi_spectrum_plan coarse; /* band-pass and kurtosis */
    wfi_spectrum_plan fine;   /* tones; Hann window */
    wfi_spectrum_plan lag;    /* repetitions; padded with zeros */
} wfi_stream_plans;

typedef struct wfi_stream_sums {
    size_t i_thread;
    uint32_t channel;
    wfi_decoder decoder;
    wfi_sampler_counts counts[2];
    wfi_spectrum_sums coarse;
    wfi_spectrum_sums fine;
    wfi_spectrum_sums lag;
} wfi_stream_sums;

/** Lengths of the transforms for places of so many samples, of which there are n_places. */
wf_status wfi_stream_plans_create(wfi_stream_plans *out, const wf_recording_info *info,
                                  size_t n_parts, int64_t place_samples, int64_t n_places,
                                  size_t n_channels, wf_error *err);
void wfi_stream_plans_release(wfi_stream_plans *plans);

wf_status wfi_stream_sums_create(wfi_stream_sums *out, const wf_recording_info *info,
                                 size_t i_thread, uint32_t channel, const wfi_stream_plans *plans,
                                 wf_error *err);
void wfi_stream_sums_release(wfi_stream_sums *sums);

/** Room to decode into. */
typedef struct wfi_decoded {
    uint8_t *codes; /* [capacity][2] */
    float *levels;  /* [capacity][2] */
} wfi_decoded;

wf_status wfi_decoded_create(wfi_decoded *out, size_t capacity, wf_error *err);
void wfi_decoded_release(wfi_decoded *decoded);

/** Count the states of the valid ones of samples [first, first + n). */
void wfi_stream_count(wfi_stream_sums *sums, const wf_packed *packed, int64_t first, size_t n,
                      wfi_decoded *scratch);
/** Add the spectra of the valid stretches of samples [first, first + n). */
void wfi_stream_transform(wfi_stream_sums *sums, const wf_packed *packed, int64_t first, size_t n,
                          wfi_decoded *scratch);

/** Evaluate. out->n_asked and n_valid are the caller's. */
wf_status wfi_stream_judge(wf_stream_statistics *out, const wfi_stream_sums *sums,
                           const wf_recording_info *info, double kurtosis_sigma, wf_error *err);

#endif
