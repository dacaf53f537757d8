/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What was recorded: sample readers behind one interface.
 *
 *  A recording is opened read-only and never loaded whole. Samples are asked for by their number
 *  since the recording's origin and handed out packed, as they stand in the file, together with
 *  what is not valid of them; a missing sample is an invalid one and never a shift in time.
 */
#ifndef WHITEFRINGE_RECORDING_H
#define WHITEFRINGE_RECORDING_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <whitefringe/observation.h>
#include <whitefringe/status.h>
#include <whitefringe/time.h>

#ifdef __cplusplus
extern "C" {
#endif

/** How a number stands in a packed sample. */
typedef enum wf_encoding {
    WF_ENCODING_OFFSET_BINARY, /* VDIF: code 0 is the most negative level */
    WF_ENCODING_SIGNED,        /* two's complement, 8, 16 or 32 bits, little-endian */
    WF_ENCODING_FLOAT,         /* IEEE 754 binary32, native */
} wf_encoding;

/** How the samples of a thread are packed.
 *
 *  A complete sample holds, from its lowest bit, channel after channel; of a complex channel the
 *  real part and then the imaginary part, of `bits` each. Complete samples follow one another
 *  without gap, the first in the lowest bits of the first byte. Bits of a complete sample =
 *  bits * (is_complex ? 2 : 1) * n_channels.
 */
typedef struct wf_sample_format {
    wf_encoding encoding;
    unsigned bits; /* of each component, as packed */
    bool is_complex;
    uint32_t n_channels;
    unsigned sampler_bits; /* 2^this many levels, in the middle of all codes; 0: as many as bits */
} wf_sample_format;

typedef struct wf_thread_info {
    uint32_t thread; /* VDIF thread ID; sound files: 0 */
    wf_sample_format format;
} wf_thread_info;

/** What is in a recording.
 *
 *  origin      station-clock time of sample number 0
 *  first       number of the first sample that any thread holds
 *  end         one past the number of the last
 */
typedef struct wf_recording_info {
    const char *format_name; /* "VDIF", "WAV", ... */
    wf_instant origin;
    int64_t sample_rate_hz; /* complete samples a second of each channel */
    int64_t first;
    int64_t end;
    int64_t frame_bytes;           /* of the first thread's frames, header included; 0: no frames */
    int64_t frame_samples;         /* complete samples in each of them */
    int64_t frame_gap_bytes;       /* between the frames, such as headers of a network */
    const wf_thread_info *threads; /* [n_threads], ascending thread ID */
    size_t n_threads;
} wf_recording_info;

typedef struct wf_recording wf_recording;

/** Open the files of one recording.
 *
 *  given     entry  the job's words on it; sampling, rate and start that it states win
 *  returned  out    NULL on failure
 *  status    OK | MISSING: no such file | FORMAT: empty, a directory, or no format that is known;
 *            the message names the file and frame | UNSUPPORTED | IO | MEMORY
 *  threads   any number may read through one recording at a time
 */
WF_API WF_MUST_CHECK wf_status wf_recording_open(wf_recording **out,
                                                 const wf_recording_entry *entry, wf_error *err);
WF_API void wf_recording_close(wf_recording *recording);

/** Borrowed; lives as long as the recording. */
WF_API const wf_recording_info *wf_recording_describe(const wf_recording *recording);

/** A stretch of samples, [first, first + n). */
typedef struct wf_sample_range {
    int64_t first;
    int64_t n;
} wf_sample_range;

/** Packed samples of one thread.
 *
 *  bytes       bit 0 of bytes[0] begins complete sample number `first`; 64 bytes beyond the last
 *              sample are readable, of undefined value
 *  first, n    at least the samples asked for; where the recording holds nothing the packed
 *              values are undefined and the samples invalid
 *  invalid     [n_invalid] ascending, disjoint, not adjacent, clipped to [first, first + n)
 */
typedef struct wf_packed {
    const uint8_t *bytes;
    int64_t first;
    int64_t n;
    const wf_sample_range *invalid;
    size_t n_invalid;
} wf_packed;

/** A window on a recording: one reader's buffers. Each thread of the program has its own. */
typedef struct wf_window wf_window;

/** given  capacity  largest number of samples that one load will ask for */
WF_API WF_MUST_CHECK wf_status wf_window_create(wf_window **out, const wf_recording *recording,
                                                int64_t capacity, wf_error *err);
WF_API void wf_window_destroy(wf_window *window);

/** Read samples [first, first + n) of every thread; any stretch of time, outside the recording
 *  too. What comes back does not depend on earlier loads.
 *
 *  status  OK | ARGUMENT: n over the capacity | IO: the system refused; the message names file
 *          and place
 */
WF_API WF_MUST_CHECK wf_status wf_window_load(wf_window *window, int64_t first, int64_t n,
                                              wf_error *err);

/** The samples of one thread (index into wf_recording_info.threads); borrowed, until the next
 *  load. */
WF_API const wf_packed *wf_window_thread(const wf_window *window, size_t i_thread);

/** Streams of a recording from which the job excludes nothing. */
#define WF_NO_EXCLUSION SIZE_MAX

/** What the job excludes of a stream (index into those of the recording's entry).
 *
 *  returned  a number that streams share of which the same is excluded, or WF_NO_EXCLUSION
 */
WF_API size_t wf_recording_exclusion(const wf_recording *recording, size_t i_stream);

/** As wf_window_thread, but what is excluded is invalid.
 *
 *  i_exclusion  as wf_recording_exclusion says it
 */
WF_API const wf_packed *wf_window_thread_without(const wf_window *window, size_t i_thread,
                                                 size_t i_exclusion);

/** What can be wrong with a recording: name, key of machine-readable output, words. */
#define WF_FAULT_MAP(X)                                                                            \
    X(GAP, "gap", "nothing recorded in any thread for a second or more")                           \
    X(ABSENT, "absent", "a thread missing for a second or more while others run")                  \
    X(MISSING, "missing", "frames lost")                                                           \
    X(INVALID_FLAG, "invalid_flag", "frames marked invalid by the recorder")                       \
    X(FILL, "fill", "fill pattern in place of samples")                                            \
    X(BAD_HEADER, "bad_header", "headers that cannot be those of this recording")                  \
    X(WRONG_TIME, "wrong_time", "frames whose time is not that of their place")                    \
    X(UNPROVEN, "unproven", "frames followed by no frame: bytes were lost or added in them")       \
    X(READ_ERROR, "read_error", "samples that the system could not read")                          \
    X(UNDECODABLE, "undecodable", "samples that a damaged file does not yield")                    \
    X(NON_FINITE, "non_finite", "floating-point samples that are infinite or no numbers")          \
    X(TRUNCATED, "truncated", "a file that ends within a frame, or before its samples do")         \
    X(CHANGED, "changed", "files that grew or shrank after they were opened")                      \
    X(GARBAGE, "garbage", "bytes that hold no samples")                                            \
    X(DUPLICATE, "duplicate", "frames that stand twice; the first counts")                         \
    X(OUT_OF_ORDER, "out_of_order", "frames out of order, put where their time says")              \
    X(EXTENDED, "extended_header", "extended headers that contradict their version")               \
    X(EXCLUDED, "excluded", "excluded by hand")

typedef enum wf_fault_kind {
#define WF_FAULT_ENUM(name, key, text) WF_FAULT_##name,
    WF_FAULT_MAP(WF_FAULT_ENUM)
#undef WF_FAULT_ENUM
        WF_FAULT_N_KINDS
} wf_fault_kind;

/** Stable keys, and words for people; never NULL. */
WF_API const char *wf_fault_key(wf_fault_kind kind);
WF_API const char *wf_fault_text(wf_fault_kind kind);

/** Where a fault stands. */
typedef struct wf_fault_place {
    size_t i_file;
    int64_t offset_bytes; /* -1: not known, as in compressed sound files */
    int64_t frame;        /* whole frames that fit before it in the file; -1: sound files */
    int32_t thread;       /* -1: of no one thread */
    bool has_time;        /* false: bytes that tell no time */
    wf_instant t;         /* by the station's clock */
} wf_fault_place;

/** All faults of one kind. */
typedef struct wf_fault {
    int64_t n_places;     /* stretches that are wrong without a break; 0: none */
    int64_t n_frames;     /* of all threads */
    int64_t n_bytes;      /* GARBAGE, TRUNCATED, CHANGED */
    int64_t lost_samples; /* complete samples that are invalid for it, all threads together */
    wf_fault_place first; /* in the order of the files */
    wf_fault_place last;
} wf_fault;

/** Count what was found wrong so far: what opening found (frames missing, twice, out of order;
 *  bytes that are no frames) and what loads have met since (frames marked invalid, fill, ...), each
 *  place once however often it was read. To examine a recording wholly, load all of it first.
 *
 *  returned  faults  [WF_FAULT_N_KINDS]
 *  status    OK | MEMORY
 *  threads   any number, with loads going on
 */
WF_API WF_MUST_CHECK wf_status wf_recording_faults(const wf_recording *recording,
                                                   wf_fault faults[WF_FAULT_N_KINDS],
                                                   wf_error *err);

/** Why samples [first, first + n) of a thread (index) are invalid, as far as is known by now.
 *
 *  i_exclusion  of a stream of it, as wf_recording_exclusion says it
 *
 *  returned  lost  [WF_FAULT_N_KINDS] complete samples; each sample counts once, under the kind
 *                  that stands first in WF_FAULT_MAP
 *  status    OK | MEMORY
 */
WF_API WF_MUST_CHECK wf_status wf_recording_losses(const wf_recording *recording, size_t i_thread,
                                                   size_t i_exclusion, int64_t first, int64_t n,
                                                   int64_t lost[WF_FAULT_N_KINDS], wf_error *err);

/** Suspicions that do not stop the work, as sentences without a final stop; the texts live as long
 *  as the recording. */
WF_API size_t wf_recording_n_warnings(const wf_recording *recording);
WF_API const char *wf_recording_warning(const wf_recording *recording, size_t i);

#ifdef __cplusplus
}
#endif

#endif
