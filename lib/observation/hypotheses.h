/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What may be wrong with a station that shows no fringes, each with the edits of the job that would
 * mend it: the questions of a diagnosis, in the order in which they are worth asking.
 *
 * | name                     | detail         | shown by    | what changes in the job             |
 * |--------------------------|----------------|-------------|-------------------------------------|
 * | polarizations_swapped    |                | products    | R and L, X and Y of all streams     |
 * | feeds_of_the_other_kind  |                | products    | nothing: no job holds both kinds    |
 * | sideband_inverted        |                | correlation | sense of all streams, their range   |
 * |                          |                |             | of the sky kept; of complex samples |
 * |                          |                |             | the same as I and Q exchanged       |
 * | sideband_beyond_the_edge |                | correlation | the other sideband of the same edge |
 * | clock_sign               | offset, rate,  | window      | ahead_s, rate_s_per_s               |
 * |                          | offset and rate|             |                                     |
 * | one_frame                | early, late    | window      | ahead_s, by a frame's duration      |
 * | whole_seconds            | +1 s to -10 s  | correlation | time_offset_s; start of sound files |
 * | bands_reversed, ..._rotated (up, down), ..._swapped_in_pairs | | correlation | thread, channel
 * | | streams_interleaved      | two orders     | correlation | thread and channel: bands in turn |
 * |                          |                |             | or polarizations in turn            |
 * | sky_frequency            | +1 channel,    | correlation | edge_hz or centre_hz of all streams |
 * |                          | -1 band width, |             |                                     |
 * |                          | +5 MHz         |             |                                     |
 * | real_or_complex          |                | correlation | sampling, sample_rate_hz (VDIF)     |
 * | sign_and_magnitude_bits  |                | correlation | sign_bit                            |
 * | bit_order                |                | correlation | bit_order                           |
 * | codes                    |                | correlation | encoding                            |
 * | byte_order               | in 16 bits     | correlation | byte_order                          |
 * | reference_epoch          | 52             | correlation | reference_epoch, within one         |
 * | recording_of_other_scan  | S02            | correlation | time_offset_s or start              |
 * | other_source             | Willowbrook    | correlation | source of the scan, of all stations |
 * | position_of_other_station| Birch          | correlation | position_itrf_m                     |
 * | position_sign            | x, y or z      | correlation | position_itrf_m                     |
 * | position_x_and_y         |                | correlation | position_itrf_m                     |
 * | mount                    | equatorial     | window      | mount, where axes have an offset    |
 * | axis_offset_sign         |                | window      | axis_offset_m                       |
 *
 * What cannot be asked because the job or the recording does not have it is left out: so is what
 * would leave every stream beyond all bands of the job. I and Q exchanged make i conj(z) of samples
 * z: the other sense and a constant phase. An edge of complex samples is that of their whole range.
 * Feeds of the other kind: a circular one is (X + i Y) / sqrt(2), so each of RX, RY, LX, LY has 1 /
 * sqrt(2) of the amplitude of an unpolarized source.
 */
#ifndef WFI_OBSERVATION_HYPOTHESES_H
#define WFI_OBSERVATION_HYPOTHESES_H

#include <whitefringe/job_edit.h>
#include <whitefringe/observation.h>
#include <whitefringe/status.h>

/** What it takes to see whether a hypothesis holds. */
typedef enum wfi_shown_by {
    WFI_SHOWN_BY_PRODUCTS,    /* the job as it is, with all polarization products */
    WFI_SHOWN_BY_WINDOW,      /* the job as it is, searched in a wider window of delay and rate */
    WFI_SHOWN_BY_CORRELATION, /* the edited job */
} wfi_shown_by;

typedef enum wfi_job_step_kind {
    WFI_STEP_NUMBER,
    WFI_STEP_TEXT,
    WFI_STEP_INSTANT,
    WFI_STEP_YAML,
    WFI_STEP_REMOVE,
} wfi_job_step_kind;

enum { WFI_STEP_PATH_BYTES = 128, WFI_STEP_TEXT_BYTES = 128 };

/** One edit of the job. */
typedef struct wfi_job_step {
    wfi_job_step_kind kind;
    char path[WFI_STEP_PATH_BYTES];
    char text[WFI_STEP_TEXT_BYTES]; /* TEXT, YAML */
    double number;                  /* NUMBER */
    wf_instant instant;             /* INSTANT */
} wfi_job_step;

enum { WFI_HYPOTHESIS_DETAIL_BYTES = 40, WFI_HYPOTHESIS_SENTENCE_BYTES = 240 };

typedef struct wfi_hypothesis {
    const char *name;                             /* of the table above; static */
    char detail[WFI_HYPOTHESIS_DETAIL_BYTES];     /* which one of that name; may be empty */
    char sentence[WFI_HYPOTHESIS_SENTENCE_BYTES]; /* plain words, without a final stop */
    wfi_shown_by shown_by;
    wfi_job_step *steps; /* [n_steps] */
    size_t n_steps, capacity;
} wfi_hypothesis;

typedef struct wfi_hypotheses {
    wfi_hypothesis *items; /* [n] */
    size_t n, capacity;
} wfi_hypotheses;

/** What is known of a recording from its files. */
typedef struct wfi_recorded {
    bool is_known; /* false: the job's words have to do */
    bool is_vdif;
    bool is_complex;
    unsigned bits;          /* of a component; 0: not known */
    int64_t sample_rate_hz; /* 0: not known */
    double frame_s;         /* how long a frame lasts; 0: not known */
    int reference_epoch;    /* of the headers; negative: not known */
} wfi_recorded;

/** All that may be wrong with one station in one scan.
 *
 *  given     observation  the job, as wf_job_edit_observation gives it
 *            edit         the same job
 *            recorded     [entries of the job's list of recordings], or NULL
 *  returned  out          to be released, also on failure; no two ask for the same edits
 *  status    OK | ARGUMENT: no such station or scan | MEMORY
 */
wf_status wfi_hypotheses_list(wfi_hypotheses *out, const wf_observation *observation,
                              const wf_job_edit *edit, size_t i_station, size_t i_scan,
                              const wfi_recorded *recorded, wf_error *err);
void wfi_hypotheses_release(wfi_hypotheses *hypotheses);

/** Make the edits of a hypothesis, all of them or none. Values that aliases share are written out
 *  first.
 *
 *  status  as the edits of whitefringe/job_edit.h
 */
wf_status wfi_hypothesis_apply(const wfi_hypothesis *hypothesis, wf_job_edit *edit, wf_error *err);

#endif
