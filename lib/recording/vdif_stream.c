/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Opens the files of a VDIF recording and gives each frame its place in time. */
#include "recording/vdif_stream.h"

#include <inttypes.h>
#include <stdlib.h>
#include <string.h>

#include "base/memory.h"
#include "base/status.h"
#include "recording/frame_search.h"

/* No frame of a recording is farther than this from its origin: a header that says so is damaged.
 * With the largest rate every sample number is below 2^59. */
static const int64_t HORIZON_S = INT64_C(400) * 86400;
/* At either end of a file a valid frame farther than this from its neighbours is damaged. */
static const int64_t END_SPREAD_S = 3600;
static const int64_t LARGEST_RATE_HZ = INT64_C(10000000000);

enum {
    REORDER_PER_THREAD = 128, /* frames */
    CELL_FRAMES = 128,        /* of one thread */
    LONGEST_CELL = 1 << 20,   /* positions that may be fill within a cell's frames */
};

/* Extended data version 4: a validity bit for each channel, 1 = valid. */
static bool all_channels_valid(const wfi_vdif_header *h)
{
    static const uint32_t SYNC = 0xACABFEED;
    enum { VERSION = 4 };
    if (h->legacy || h->extended[0] >> 24 != VERSION || h->extended[1] != SYNC)
        return true;
    const uint32_t n = h->extended[0] >> 16 & 0xff;
    const uint64_t mask = h->extended[2] | (uint64_t)h->extended[3] << 32;
    const uint64_t all = n == 0 || n >= 64 ? UINT64_MAX : (UINT64_C(1) << n) - 1;
    return (mask & all) == all;
}

wfi_frame wfi_vdif_stream_place(const wfi_vdif_stream *stream, const uint8_t *bytes, size_t n)
{
    const wfi_frame nothing = {-1, 0};
    wfi_vdif_header h;
    if (!wfi_vdif_header_decode(&h, bytes, n) || h.invalid)
        return nothing;
    const int16_t i_thread = stream->thread_index[h.thread];
    if (i_thread < 0)
        return nothing;
    const wfi_vdif_thread *thread = &stream->threads[i_thread];
    if (!wfi_vdif_same_layout(&h, &thread->pattern) || h.frame >= thread->frames_per_second ||
        !all_channels_valid(&h))
        return nothing;
    const int64_t second = stream->epoch_second[h.epoch] + h.second - stream->origin_second;
    if (llabs(second) > HORIZON_S)
        return nothing;
    return (wfi_frame){i_thread,
                       second * stream->sample_rate_hz + h.frame * thread->samples_per_frame};
}

wf_status wfi_vdif_stream_read_header(const wfi_vdif_stream *stream, size_t i_file,
                                      int64_t position, wfi_vdif_header *out, bool *found,
                                      wf_error *err)
{
    uint8_t bytes[WFI_VDIF_HEADER_BYTES];
    size_t n = 0;
    WFI_TRY(wfi_input_file_read(&stream->files[i_file].input, position * stream->frame_bytes, bytes,
                                sizeof bytes, &n, err));
    *found = wfi_vdif_header_decode(out, bytes, n);
    return WF_OK;
}

static wf_status open_file(wfi_vdif_stream *stream, size_t i, const char *path, wf_error *err)
{
    wfi_vdif_file *file = &stream->files[i];
    stream->n_files = i + 1;
    WFI_TRY(wfi_input_file_open(&file->input, path, err));
    if (i == 0) {
        uint8_t bytes[WFI_VDIF_HEADER_BYTES];
        size_t n = 0;
        WFI_TRY(wfi_input_file_read(&file->input, 0, bytes, sizeof bytes, &n, err));
        wfi_vdif_header header;
        if (!wfi_vdif_header_decode(&header, bytes, n))
            return wfi_fail(err, WF_FORMAT,
                            "%s: %zu bytes are less than a VDIF frame header; the copy is not "
                            "whole: copy it again",
                            path, n);
        const char *fault = wfi_vdif_header_fault(&header);
        if (fault != NULL)
            return wfi_fail(err, WF_FORMAT,
                            "%s: no VDIF frame at byte 0: %s (header word 2 states %" PRIu32
                            " bytes); check the format stated in the job",
                            path, fault, header.frame_bytes);
        stream->frame_bytes = header.frame_bytes;
    }
    file->n_frames = file->input.n_bytes / stream->frame_bytes;
    if (file->n_frames == 0)
        return wfi_fail(err, WF_FORMAT,
                        "%s: %" PRId64 " bytes hold no whole frame; the header states %" PRIu32
                        " bytes a frame: leave the file out, or copy it again",
                        path, file->input.n_bytes, stream->frame_bytes);
    return WF_OK;
}

static wf_status open_files(wfi_vdif_stream *stream, const wf_recording_entry *entry, wf_error *err)
{
    WFI_TRY(wfi_allocate(&stream->files, entry->n_paths, sizeof *stream->files,
                         "the files of a recording", err));
    for (size_t i = 0; i < entry->n_paths; i++)
        WFI_TRY(open_file(stream, i, entry->paths[i], err));
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

static wf_status count_frames_per_second(wfi_vdif_stream *stream, wf_error *err)
{
    for (size_t i = 0; i < stream->n_threads; i++) {
        wfi_vdif_thread *thread = &stream->threads[i];
        if (stream->sample_rate_hz % thread->samples_per_frame != 0)
            return wfi_fail(err, WF_FORMAT,
                            "%s: thread %" PRIu32 ": sample_rate_hz %" PRId64
                            " is no multiple of the %" PRId64
                            " samples in a frame, and VDIF wants whole frames in a second: correct "
                            "the rate in the job",
                            stream->files[0].input.path, thread->id, stream->sample_rate_hz,
                            thread->samples_per_frame);
        thread->frames_per_second = stream->sample_rate_hz / thread->samples_per_frame;
    }
    return WF_OK;
}

static void choose_cells(wfi_vdif_stream *stream)
{
    int64_t longest = 0;
    for (size_t i = 0; i < stream->n_threads; i++)
        if (stream->threads[i].samples_per_frame > longest)
            longest = stream->threads[i].samples_per_frame;
    stream->cell_samples = CELL_FRAMES * longest;
    stream->reorder_frames =
        REORDER_PER_THREAD * (int64_t)stream->n_threads + WFI_FRAME_SEARCH_SPAN;
    int64_t n_frames = 2 * stream->reorder_frames;
    for (size_t i = 0; i < stream->n_threads; i++)
        n_frames += stream->cell_samples / stream->threads[i].samples_per_frame;
    stream->longest_cell = LONGEST_CELL + 4 * n_frames;
}

static int compare_frames(const void *a, const void *b)
{
    const wfi_frame *x = a;
    const wfi_frame *y = b;
    return (x->first > y->first) - (x->first < y->first);
}

/* What the frames round the i-th, in the order of the file, say of its time. A scan hours before
 * or after another has neighbours of its own; a damaged header has none. */
static int64_t median_nearby(const wfi_frame *frames, size_t n, size_t i)
{
    enum { REACH = 4 };
    wfi_frame near[2 * REACH + 1];
    const size_t begin = i > REACH ? i - REACH : 0;
    const size_t end = i + REACH + 1 < n ? i + REACH + 1 : n;
    memcpy(near, frames + begin, (end - begin) * sizeof *near);
    qsort(near, end - begin, sizeof *near, compare_frames);
    return near[(end - begin) / 2].first;
}

static size_t drop_strangers(wfi_frame *frames, size_t n, int64_t spread)
{
    size_t n_kept = 0;
    for (size_t i = 0; i < n; i++)
        if (llabs(frames[i].first - median_nearby(frames, n, i)) > spread)
            frames[i].i_thread = -1;
    for (size_t i = 0; i < n; i++)
        if (frames[i].i_thread >= 0)
            frames[n_kept++] = frames[i];
    return n_kept;
}

/* The valid frames within the reorder window from a position on, by time, without those that are
 * far away from their neighbours. */
static wf_status sorted_frames(const wfi_vdif_stream *stream, wfi_frame_search *search,
                               size_t i_file, int64_t position, wfi_frame *frames, size_t *n_frames,
                               wf_error *err)
{
    const int64_t n_file = stream->files[i_file].n_frames;
    size_t n = 0;
    for (int64_t i = 0; i < stream->reorder_frames && position + i < n_file; i++) {
        WFI_TRY(wfi_frame_search_peek(search, i_file, position + i, &frames[n], err));
        if (frames[n].i_thread >= 0)
            n++;
    }
    *n_frames = drop_strangers(frames, n, END_SPREAD_S * stream->sample_rate_hz);
    qsort(frames, *n_frames, sizeof *frames, compare_frames);
    return WF_OK;
}

static void extend(wfi_vdif_stream *stream, int64_t first, int64_t end)
{
    stream->first_sample = first < stream->first_sample ? first : stream->first_sample;
    stream->end_sample = end > stream->end_sample ? end : stream->end_sample;
}

/* One end of a file that is full of invalid frames: the nearest valid ones speak. */
static wf_status estimate_end(wfi_vdif_stream *stream, wfi_frame_search *search, size_t i_file,
                              int direction, wf_error *err)
{
    int64_t sample = 0;
    WFI_TRY(wfi_frame_search_sample(search, i_file, direction, &sample, err));
    if (sample != INT64_MIN)
        extend(stream, sample, sample + stream->threads[0].samples_per_frame);
    return WF_OK;
}

static wf_status find_span(wfi_vdif_stream *stream, wfi_frame_search *search, size_t i_file,
                           wfi_frame *frames, wf_error *err)
{
    wfi_vdif_file *file = &stream->files[i_file];
    size_t n = 0;
    WFI_TRY(sorted_frames(stream, search, i_file, 0, frames, &n, err));
    file->earliest = n > 0 ? frames[0].first : INT64_MIN;
    if (n > 0)
        extend(stream, frames[0].first, INT64_MIN);
    else
        WFI_TRY(estimate_end(stream, search, i_file, +1, err));

    const int64_t tail = file->n_frames - stream->reorder_frames;
    WFI_TRY(sorted_frames(stream, search, i_file, tail > 0 ? tail : 0, frames, &n, err));
    file->latest = n > 0 ? frames[n - 1].first : INT64_MAX;
    for (size_t i = 0; i < n; i++)
        extend(stream, frames[i].first,
               frames[i].first + stream->threads[frames[i].i_thread].samples_per_frame);
    if (n == 0)
        WFI_TRY(estimate_end(stream, search, i_file, -1, err));
    return WF_OK;
}

/* Move the origin to the whole second of the earliest frame. */
static void settle_origin(wfi_vdif_stream *stream)
{
    const int64_t rate = stream->sample_rate_hz;
    const int64_t first = stream->first_sample;
    const int64_t seconds = (first - (first % rate + rate) % rate) / rate;
    stream->origin_second += seconds;
    stream->first_sample -= seconds * rate;
    stream->end_sample -= seconds * rate;
    for (size_t i = 0; i < stream->n_files; i++) {
        wfi_vdif_file *file = &stream->files[i];
        file->earliest -= file->earliest == INT64_MIN ? 0 : seconds * rate;
        file->latest -= file->latest == INT64_MAX ? 0 : seconds * rate;
    }
}

static wf_status find_spans(wfi_vdif_stream *stream, wf_error *err)
{
    wfi_frame_search search = {0};
    wfi_frame *frames = NULL;
    wf_status status = wfi_frame_search_create(&search, stream, err);
    if (status == WF_OK)
        status = wfi_allocate(&frames, (size_t)stream->reorder_frames, sizeof *frames,
                              "the ends of a recording", err);
    stream->first_sample = INT64_MAX;
    stream->end_sample = INT64_MIN;
    for (size_t i = 0; i < stream->n_files && status == WF_OK; i++)
        status = find_span(stream, &search, i, frames, err);
    if (status == WF_OK && stream->first_sample >= stream->end_sample)
        status = wfi_fail(err, WF_FORMAT,
                          "%s: no valid frame at the beginning, the end, or between: nothing can "
                          "be correlated from it",
                          stream->files[0].input.path);
    if (status == WF_OK)
        settle_origin(stream);
    wfi_free(frames);
    wfi_frame_search_release(&search);
    return status;
}

wf_status wfi_vdif_stream_open(wfi_vdif_stream *out, const wf_recording_entry *entry, wf_error *err)
{
    *out = (wfi_vdif_stream){.sample_rate_hz = entry->sample_rate_hz};
    for (uint32_t i = 0; i < WFI_VDIF_N_EPOCHS; i++)
        out->epoch_second[i] = wfi_vdif_epoch_second(i);
    WFI_TRY(open_files(out, entry, err));
    WFI_TRY(check_rate(entry->paths[0], entry->sample_rate_hz, err));
    WFI_TRY(wfi_vdif_survey(out, err));
    choose_cells(out);
    WFI_TRY(settle_rate(out, err));
    WFI_TRY(count_frames_per_second(out, err));
    return find_spans(out, err);
}

void wfi_vdif_stream_close(wfi_vdif_stream *stream)
{
    for (size_t i = 0; i < stream->n_files; i++)
        wfi_input_file_close(&stream->files[i].input);
    wfi_free(stream->files);
    wfi_free(stream->threads);
    *stream = (wfi_vdif_stream){0};
}
