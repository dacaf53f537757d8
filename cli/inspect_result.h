/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What inspect found, on its way to text, JSON and picture. */
#ifndef CLI_INSPECT_RESULT_H
#define CLI_INSPECT_RESULT_H

#include <stdbool.h>
#include <whitefringe/recording.h>
#include <whitefringe/statistics.h>

#include "base/text.h"
#include "json.h"

typedef struct inspect_result {
    const char *const *files; /* [n_files] */
    size_t n_files;
    int64_t n_bytes; /* of all files */
    const wf_recording *recording;
    const wf_recording_info *info;
    const wf_inspection *seen;
    bool start_known;
    wf_fault faults[WF_FAULT_N_KINDS];
    double elapsed_s;
} inspect_result;

/** Start and end of the recording. */
wf_instant inspect_time(const inspect_result *r, int64_t sample);

/** Frames, by the files' sizes and times; false where the format has none. */
typedef struct inspect_frames {
    int64_t expected; /* between the first and the last, of all threads */
    int64_t found;    /* that fit into the files */
    int64_t lost;     /* expected - found, and those that stand twice */
} inspect_frames;
bool inspect_count_frames(const inspect_result *r, inspect_frames *out);

/** Bits of the sampler. */
unsigned inspect_bits(const wf_sample_format *format);

/** Frequency in a unit that suits the sample rate. */
typedef struct inspect_unit {
    const char *name;
    double hz;
} inspect_unit;
inspect_unit inspect_frequency_unit(const inspect_result *r);

/** The worse verdict of a stream's samplers. */
wf_sampler_verdict inspect_verdict(const wf_stream_statistics *s);
/** Channels outside the kurtosis bounds. */
size_t inspect_n_odd_channels(const wf_stream_statistics *s);
/** Is the tone one of the stream's comb? */
bool inspect_is_of_comb(const wf_stream_statistics *s, const wf_tone *tone);

void inspect_append_text(wfi_text *out, const inspect_result *r);
void inspect_append_json(json *out, const inspect_result *r);

/** Panels of every stream; at most INSPECT_STREAMS_DRAWN of them.
 *
 *  returned  script  for gnuplot, which makes `picture`
 */
enum { INSPECT_STREAMS_DRAWN = 24 };
wf_status inspect_plot(wfi_text *script, const char *picture, const inspect_result *r,
                       wf_error *err);

#endif
