/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The frames of a VDIF recording: how they are cut and which samples they hold. */
#ifndef WFI_RECORDING_VDIF_STREAM_H
#define WFI_RECORDING_VDIF_STREAM_H

#include <stddef.h>
#include <stdint.h>
#include <whitefringe/observation.h>
#include <whitefringe/status.h>

#include "base/bytes.h"
#include "recording/fault_log.h"
#include "recording/input_file.h"
#include "recording/vdif_header.h"

/** No frame of a recording is farther from its origin: a header that says so is damaged. */
#define WFI_VDIF_HORIZON_S (INT64_C(400) * 86400)

typedef struct wfi_vdif_thread {
    uint32_t id;
    wfi_vdif_header pattern; /* a frame of the thread has this layout, or it is not one */
    wfi_vdif_bits bits;      /* of the pattern */
    int64_t samples_per_frame;
    int64_t frames_per_second;
    size_t header_bytes;
    size_t payload_bytes;
} wfi_vdif_thread;

typedef struct wfi_vdif_file {
    wfi_input_file input;
    uint32_t gap_bytes; /* between a frame and the next one's header, of every frame */
} wfi_vdif_file;

typedef struct wfi_vdif_stream {
    wfi_vdif_file *files; /* [n_files] */
    size_t n_files;
    wfi_vdif_thread *threads; /* [n_threads], ascending */
    size_t n_threads;
    int16_t thread_index[WFI_VDIF_N_THREADS]; /* -1: not a thread of this recording */
    uint32_t *lengths;                        /* [n_lengths] frame lengths there are, bytes */
    size_t n_lengths;
    uint32_t longest_frame;
    int64_t epoch_second[WFI_VDIF_N_EPOCHS]; /* with what the job adds to the times */
    int64_t origin_second;                   /* of sample number 0, as in wf_instant */
    int64_t sample_rate_hz;
    wf_sampling sampling;  /* the job's word, which wins over that of the headers */
    uint32_t header_bytes; /* likewise; 0: as they say */
    int64_t first_sample;  /* of all files */
    int64_t end_sample;
    wf_payload_order payload;
    bool keep_going; /* what cannot be read is not valid, and no error */
    wfi_fault_log *log;
} wfi_vdif_stream;

/** What the header at a place says of the frame there. */
typedef enum wfi_judgement {
    WFI_FRAME_GOOD,
    WFI_FRAME_INVALID, /* marked invalid, or a channel of it is; its length can be trusted */
    WFI_FRAME_FILL,    /* a frame of fill; as above */
    WFI_FRAME_BAD,     /* no header of this recording */
} wfi_judgement;

typedef struct wfi_frame {
    wfi_judgement judgement;
    int32_t i_thread; /* -1: not known */
    bool has_k;
    int64_t k;       /* frame of the thread since the origin */
    uint32_t length; /* bytes; of what can be trusted */
} wfi_frame;

/** Open the files, find frame lengths, threads and the sample rate.
 *
 *  returned  out  to be closed; on failure too
 */
wf_status wfi_vdif_stream_open(wfi_vdif_stream *out, const wf_recording_entry *entry,
                               wfi_fault_log *log, wf_error *err);
void wfi_vdif_stream_close(wfi_vdif_stream *stream);

/** A header as the job wants it read: with its word on real or complex samples and on the header's
 *  length. */
wfi_vdif_header wfi_vdif_as_stated(const wfi_vdif_stream *stream, const wfi_vdif_header *header);

/** What a message about the rate goes on with: the other length of header, if with it the job's
 * rate is whole frames a second; else nothing. */
enum { WFI_VDIF_SUGGESTION_BYTES = 96 };
void wfi_vdif_suggest_header_bytes(const wfi_vdif_stream *stream, const wfi_vdif_header *header,
                                   char out[WFI_VDIF_SUGGESTION_BYTES]);

/** Judge the first n bytes of a frame. */
wfi_frame wfi_vdif_judge(const wfi_vdif_stream *stream, const uint8_t *bytes, size_t n);

/** Is this frame k of a thread, and valid? What wfi_vdif_judge would say, without taking the header
 *  apart; the bytes hold the frame whole. */
static inline bool wfi_vdif_is_frame(const wfi_vdif_stream *stream, const wfi_vdif_thread *thread,
                                     int64_t k, const uint8_t *bytes)
{
    const wfi_vdif_bits *bits = &thread->bits;
    const uint32_t second = wfi_le32(bytes) ^ bits->flags;
    const uint32_t word = wfi_le32(bytes + 4);
    const uint32_t number = word & WFI_VDIF_FRAME_MASK;
    const uint32_t epoch = word >> WFI_VDIF_EPOCH_SHIFT & (WFI_VDIF_N_EPOCHS - 1);
    const int64_t since_origin = stream->epoch_second[epoch] + second - stream->origin_second;
    if (second > WFI_VDIF_SECOND_MASK || number >= thread->frames_per_second ||
        since_origin > WFI_VDIF_HORIZON_S || since_origin < -WFI_VDIF_HORIZON_S ||
        since_origin * thread->frames_per_second + number != k ||
        (wfi_le32(bytes + 8) & WFI_VDIF_CUT_MASK) != bits->cut ||
        (wfi_le32(bytes + 12) & WFI_VDIF_KIND_MASK) != bits->kind)
        return false;
    return thread->header_bytes == WFI_VDIF_LEGACY_HEADER_BYTES ||
           bytes[WFI_VDIF_EXTENDED_VERSION_BYTE] != WFI_VDIF_CHANNEL_VALIDITY ||
           wfi_vdif_judge(stream, bytes, WFI_VDIF_HEADER_BYTES).judgement == WFI_FRAME_GOOD;
}

/** A quick look: do four bytes from the ninth of a header on state a length that there is? */
bool wfi_vdif_is_length_word(const wfi_vdif_stream *stream, uint32_t word);

/** Read as wfi_input_file_read, but what the system refuses to read counts as not there where the
 *  stream keeps going: `n_read` is then 0 and `refused` true. */
wf_status wfi_vdif_read(const wfi_vdif_stream *stream, size_t i_file, int64_t offset, void *out,
                        size_t n, size_t *n_read, bool *refused, wf_error *err);
/** The same into several places, as wfi_input_file_read_parts. */
wf_status wfi_vdif_read_parts(const wfi_vdif_stream *stream, size_t i_file, int64_t offset,
                              struct iovec *parts, size_t n_parts, size_t *n_read, bool *refused,
                              wf_error *err);

/** From the begin of a frame to that of the next, of a frame of that length. */
static inline int64_t wfi_vdif_pitch(const wfi_vdif_stream *stream, size_t i_file, uint32_t length)
{
    return (int64_t)length + stream->files[i_file].gap_bytes;
}

/** Find out which threads there are and how their frames are cut: fills threads, lengths, the gaps
 *  of the files and origin_second (that of some frame). */
wf_status wfi_vdif_survey(wfi_vdif_stream *stream, wf_error *err);

/** The sample rate by the largest frame number within a second, of a surveyed stream.
 *
 *  returned  rate_hz  at most the true one (the last frames of a second may be lost); 0 where no
 *                     file reaches from one second into the next
 */
wf_status wfi_vdif_measure_rate(const wfi_vdif_stream *stream, int64_t *rate_hz, wf_error *err);

#endif
