/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The frames of a VDIF recording: where they stand and which samples they hold. */
#ifndef WFI_RECORDING_VDIF_STREAM_H
#define WFI_RECORDING_VDIF_STREAM_H

#include <stddef.h>
#include <stdint.h>
#include <whitefringe/observation.h>
#include <whitefringe/status.h>

#include "recording/input_file.h"
#include "recording/vdif_header.h"

typedef struct wfi_vdif_thread {
    uint32_t id;
    wfi_vdif_header pattern; /* a frame of the thread has this layout, or it is not one */
    int64_t samples_per_frame;
    int64_t frames_per_second;
    size_t header_bytes;
    size_t sample_bytes; /* of a frame: its payload without unused bytes at the end */
} wfi_vdif_thread;

typedef struct wfi_vdif_file {
    wfi_input_file input;
    int64_t n_frames; /* whole ones */
    int64_t earliest; /* no frame in it begins before this sample */
    int64_t latest;   /* nor after this one */
} wfi_vdif_file;

typedef struct wfi_vdif_stream {
    wfi_vdif_file *files; /* [n_files] */
    size_t n_files;
    uint32_t frame_bytes;     /* of all frames */
    wfi_vdif_thread *threads; /* [n_threads], ascending */
    size_t n_threads;
    int16_t thread_index[WFI_VDIF_N_THREADS]; /* -1: not a thread of this recording */
    int64_t epoch_second[WFI_VDIF_N_EPOCHS];
    int64_t origin_second; /* of sample number 0, as in wf_instant */
    int64_t sample_rate_hz;
    int64_t first_sample; /* of all files */
    int64_t end_sample;
    int64_t reorder_frames; /* no frame stands farther than this from its place in time order */
    int64_t cell_samples;   /* frames are looked for by cells of time of this length */
    int64_t longest_cell;   /* positions that are looked through for one of them */
} wfi_vdif_stream;

/** Where the header of a frame puts it: thread (index) and first sample. */
typedef struct wfi_frame {
    int32_t i_thread; /* -1: not a valid frame of this recording */
    int64_t first;
} wfi_frame;

/** Open the files, find frame length, threads and times.
 *
 *  returned  out  to be closed; on failure too
 */
wf_status wfi_vdif_stream_open(wfi_vdif_stream *out, const wf_recording_entry *entry,
                               wf_error *err);
void wfi_vdif_stream_close(wfi_vdif_stream *stream);

/** What the first n bytes of a frame say of its place. */
wfi_frame wfi_vdif_stream_place(const wfi_vdif_stream *stream, const uint8_t *bytes, size_t n);

/** Read the header at a frame's place in a file; false in `found` where the file has become
 *  shorter. */
wf_status wfi_vdif_stream_read_header(const wfi_vdif_stream *stream, size_t i_file,
                                      int64_t position, wfi_vdif_header *out, bool *found,
                                      wf_error *err);

/** Find out which threads there are and how their frames are cut: fills threads, n_threads,
 *  thread_index and origin_second (that of some frame). */
wf_status wfi_vdif_survey(wfi_vdif_stream *stream, wf_error *err);

/** The sample rate by the largest frame number within a second, of a surveyed stream.
 *
 *  returned  rate_hz  at most the true one (the last frames of a second may be lost); 0 where no
 *                     file reaches from one second into the next
 */
wf_status wfi_vdif_measure_rate(const wfi_vdif_stream *stream, int64_t *rate_hz, wf_error *err);

#endif
