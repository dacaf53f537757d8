/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Opens the files of a VDIF recording and judges its frames. */
#include "recording/vdif_stream.h"

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>

#include "base/bytes.h"
#include "base/memory.h"
#include "base/status.h"
#include "recording/vdif_fill.h"

/* With it every sample number of a recording is below 2^59. */
static const int64_t LARGEST_RATE_HZ = INT64_C(10000000000);

/* Extended data version 4: a validity bit for each channel, 1 = valid. */
static bool all_channels_valid(const wfi_vdif_header *h)
{
    if (h->legacy || h->extended[0] >> 24 != WFI_VDIF_CHANNEL_VALIDITY ||
        h->extended[1] != WFI_VDIF_SYNC)
        return true;
    const uint32_t n = h->extended[0] >> 16 & 0xff;
    const uint64_t mask = h->extended[2] | (uint64_t)h->extended[3] << 32;
    const uint64_t all = n == 0 || n >= 64 ? UINT64_MAX : (UINT64_C(1) << n) - 1;
    return (mask & all) == all;
}

static bool is_length(const wfi_vdif_stream *stream, uint32_t length)
{
    for (size_t i = 0; i < stream->n_lengths; i++)
        if (stream->lengths[i] == length)
            return true;
    return false;
}

bool wfi_vdif_is_length_word(const wfi_vdif_stream *stream, uint32_t word)
{
    return is_length(stream, 8 * (word & WFI_VDIF_LENGTH_MASK));
}

wfi_frame wfi_vdif_judge(const wfi_vdif_stream *stream, const uint8_t *bytes, size_t n)
{
    wfi_frame frame = {.judgement = WFI_FRAME_BAD, .i_thread = -1};
    wfi_vdif_header h;
    if (!wfi_vdif_header_decode(&h, bytes, n) || !is_length(stream, h.frame_bytes))
        return frame;
    const wfi_vdif_header stated = wfi_vdif_as_stated(stream, &h);
    frame.length = h.frame_bytes;
    if (h.invalid)
        frame.judgement =
            !stated.legacy && h.extended[0] == WFI_FILL_WORD ? WFI_FRAME_FILL : WFI_FRAME_INVALID;
    const int16_t i_thread = stream->thread_index[h.thread];
    if (i_thread < 0 || frame.judgement == WFI_FRAME_FILL)
        return frame;
    const wfi_vdif_thread *thread = &stream->threads[i_thread];
    const int64_t second = stream->epoch_second[h.epoch] + h.second - stream->origin_second;
    if (!wfi_vdif_same_layout(&h, &thread->pattern) || h.frame >= thread->frames_per_second ||
        llabs(second) > WFI_VDIF_HORIZON_S)
        return frame;
    frame.i_thread = i_thread;
    frame.has_k = true;
    frame.k = second * thread->frames_per_second + h.frame;
    if (!h.invalid)
        frame.judgement = all_channels_valid(&stated) ? WFI_FRAME_GOOD : WFI_FRAME_INVALID;
    return frame;
}

wfi_vdif_header wfi_vdif_as_stated(const wfi_vdif_stream *stream, const wfi_vdif_header *header)
{
    wfi_vdif_header stated = *header;
    if (stream->sampling != WF_SAMPLING_PROBE)
        stated.is_complex = stream->sampling == WF_SAMPLING_COMPLEX;
    if (stream->header_bytes != 0)
        stated.legacy = stream->header_bytes == WFI_VDIF_LEGACY_HEADER_BYTES;
    return stated;
}

wf_status wfi_vdif_read_parts(const wfi_vdif_stream *stream, size_t i_file, int64_t offset,
                              struct iovec *parts, size_t n_parts, size_t *n_read, bool *refused,
                              wf_error *err)
{
    const wfi_input_file *file = &stream->files[i_file].input;
    *refused = false;
    if (!stream->keep_going)
        return wfi_input_file_read_parts(file, offset, parts, n_parts, n_read, err);
    wf_error own = WF_ERROR_INIT;
    const wf_status status = wfi_input_file_read_parts(file, offset, parts, n_parts, n_read, &own);
    if (status != WF_IO)
        return status;
    *refused = true;
    *n_read = 0;
    return WF_OK;
}

wf_status wfi_vdif_read(const wfi_vdif_stream *stream, size_t i_file, int64_t offset, void *out,
                        size_t n, size_t *n_read, bool *refused, wf_error *err)
{
    struct iovec whole = {.iov_base = out, .iov_len = n};
    return wfi_vdif_read_parts(stream, i_file, offset, &whole, 1, n_read, refused, err);
}

static wf_status open_files(wfi_vdif_stream *stream, const wf_recording_entry *entry, wf_error *err)
{
    WFI_TRY(wfi_allocate(&stream->files, entry->n_paths, sizeof *stream->files,
                         "the files of a recording", err));
    for (size_t i = 0; i < entry->n_paths; i++) {
        stream->n_files = i + 1;
        WFI_TRY(wfi_input_file_open(&stream->files[i].input, entry->paths[i], err));
        if (stream->files[i].input.n_bytes < WFI_VDIF_HEADER_BYTES)
            return wfi_fail(err, WF_FORMAT,
                            "%s: %" PRId64 " bytes are less than a VDIF frame header; the copy is "
                            "not whole: copy it again",
                            entry->paths[i], stream->files[i].input.n_bytes);
    }
    return WF_OK;
}

static wf_status check_rate(const char *path, int64_t rate_hz, wf_error *err)
{
    if (rate_hz < 0 || rate_hz > LARGEST_RATE_HZ)
        return wfi_fail(err, WF_UNSUPPORTED,
                        "%s: sample_rate_hz %" PRId64 " is outside 1 to %" PRId64, path, rate_hz,
                        LARGEST_RATE_HZ);
    return WF_OK;
}

/* Hold the rate stated against the one that the frames show, or take the latter. */
static wf_status settle_rate(wfi_vdif_stream *stream, wf_error *err)
{
    const char *path = stream->files[0].input.path;
    int64_t measured_hz = 0;
    WFI_TRY(wfi_vdif_measure_rate(stream, &measured_hz, err));
    if (stream->sample_rate_hz == 0 && measured_hz == 0)
        return wfi_fail(err, WF_FORMAT,
                        "%s: VDIF does not state the sample rate, and the file is too short to "
                        "measure it: add sample_rate_hz to the recording in the job (of each "
                        "channel; twice the bandwidth where the samples are real)",
                        path);
    if (stream->sample_rate_hz == 0) {
        stream->sample_rate_hz = measured_hz;
        return check_rate(path, measured_hz, err);
    }
    /* frames may be lost at the end of every second looked at, but not a quarter of it */
    if (measured_hz != 0 && measured_hz / 3 < stream->sample_rate_hz / 4)
        return wfi_fail(err, WF_FORMAT,
                        "%s: sample_rate_hz is %" PRId64
                        " in the job, but the frame numbers within a second go up to what makes "
                        "%" PRId64 " Hz: correct the rate in the job",
                        path, stream->sample_rate_hz, measured_hz);
    return WF_OK;
}

void wfi_vdif_suggest_header_bytes(const wfi_vdif_stream *stream, const wfi_vdif_header *header,
                                   char out[WFI_VDIF_SUGGESTION_BYTES])
{
    wfi_vdif_header other = wfi_vdif_as_stated(stream, header);
    other.legacy = !other.legacy;
    const int64_t samples = wfi_vdif_samples_per_frame(&other);
    const uint32_t n = wfi_vdif_header_bytes(&other);
    out[0] = '\0';
    if (samples > 0 && stream->sample_rate_hz % samples == 0)
        snprintf(out, WFI_VDIF_SUGGESTION_BYTES,
                 ", or, if the frames have %" PRIu32 " bytes of header, add header_bytes: %" PRIu32,
                 n, n);
}

static wf_status refuse_part_of_a_frame(const wfi_vdif_stream *stream,
                                        const wfi_vdif_thread *thread, wf_error *err)
{
    char other[WFI_VDIF_SUGGESTION_BYTES];
    wfi_vdif_suggest_header_bytes(stream, &thread->pattern, other);
    return wfi_fail(err, WF_FORMAT,
                    "%s: thread %" PRIu32 ": sample_rate_hz %" PRId64
                    " is no multiple of the %" PRId64
                    " samples in a frame, and VDIF wants whole frames in a second: correct "
                    "the rate in the job%s",
                    stream->files[0].input.path, thread->id, stream->sample_rate_hz,
                    thread->samples_per_frame, other);
}

static wf_status count_frames_per_second(wfi_vdif_stream *stream, wf_error *err)
{
    for (size_t i = 0; i < stream->n_threads; i++) {
        wfi_vdif_thread *thread = &stream->threads[i];
        if (stream->sample_rate_hz % thread->samples_per_frame != 0)
            return refuse_part_of_a_frame(stream, thread, err);
        thread->frames_per_second = stream->sample_rate_hz / thread->samples_per_frame;
    }
    return WF_OK;
}

static void settle_epochs(wfi_vdif_stream *stream, const wf_recording_entry *entry)
{
    for (uint32_t i = 0; i < WFI_VDIF_N_EPOCHS; i++)
        stream->epoch_second[i] =
            wfi_vdif_epoch_second(entry->has_reference_epoch ? entry->reference_epoch : i) +
            entry->time_offset_s;
}

wf_status wfi_vdif_stream_open(wfi_vdif_stream *out, const wf_recording_entry *entry,
                               wfi_fault_log *log, wf_error *err)
{
    *out = (wfi_vdif_stream){.sample_rate_hz = entry->sample_rate_hz,
                             .sampling = entry->sampling,
                             .header_bytes = entry->header_bytes,
                             .payload = entry->payload,
                             .keep_going = entry->keep_going,
                             .log = log};
    settle_epochs(out, entry);
    WFI_TRY(open_files(out, entry, err));
    WFI_TRY(check_rate(entry->paths[0], entry->sample_rate_hz, err));
    WFI_TRY(wfi_vdif_survey(out, err));
    WFI_TRY(settle_rate(out, err));
    return count_frames_per_second(out, err);
}

void wfi_vdif_stream_close(wfi_vdif_stream *stream)
{
    for (size_t i = 0; i < stream->n_files; i++)
        wfi_input_file_close(&stream->files[i].input);
    wfi_free(stream->files);
    wfi_free(stream->threads);
    wfi_free(stream->lengths);
    *stream = (wfi_vdif_stream){0};
}
