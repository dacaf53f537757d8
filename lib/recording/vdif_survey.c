/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Finds threads and frame layouts by looking at a bounded number of headers: the beginning of each
 * file, places all over it, and its end. What most valid frames of a thread say is what holds. */
#include "recording/vdif_stream.h"

#include <inttypes.h>
#include <stdlib.h>

#include "base/memory.h"
#include "base/status.h"

enum {
    HEAD_BYTES = 64 << 20, /* looked at from the beginning, of all files together, but ... */
    HEAD_LEAST = 512,      /* ... no fewer frames than this of each, */
    HEAD_MOST = 8192,      /* nor more than this */
    N_PLACES = 15,         /* in the middle of a file */
    FRAMES_PER_PLACE = 128,
    TAIL_FRAMES = 512,
    ENOUGH_TO_DOUBT = 8, /* frames of one thread, after which one of a lone thread is a fault */
    N_SECONDS = 65,      /* valid frames whose median is the reference second */
    TOLERANCE = 20,      /* one faulty frame in so many is a fault of the frame, not of the file */
};

/* Votes on the layout of one thread; the majority remains. */
typedef struct thread_votes {
    wfi_vdif_header pattern;
    int64_t balance;
    int64_t n_frames;
} thread_votes;

typedef struct survey {
    wfi_vdif_stream *stream;
    thread_votes *votes; /* [WFI_VDIF_N_THREADS] */
    int64_t n_good;
    int64_t n_invalid;
    int64_t n_bad; /* of another length */
    size_t bad_file;
    int64_t bad_position;
    wfi_vdif_header bad; /* the first one */
    int64_t n_other;     /* of them, those that are possible all the same */
    size_t other_file;
    wfi_vdif_header other;
    wfi_vdif_header first_good;
    int64_t n_over; /* frame number too large for the sample rate */
    wfi_vdif_header over;
    int64_t seconds[N_SECONDS]; /* of the first valid frames */
} survey;

static void vote(thread_votes *votes, const wfi_vdif_header *header)
{
    votes->n_frames++;
    if (votes->balance == 0)
        votes->pattern = *header;
    votes->balance += wfi_vdif_same_layout(&votes->pattern, header) ? 1 : -1;
}

static void take_good(survey *s, const wfi_vdif_header *header)
{
    if (s->n_good == 0)
        s->first_good = *header;
    if (s->n_good < N_SECONDS)
        s->seconds[s->n_good] = wfi_vdif_epoch_second(header->epoch) + header->second;
    s->n_good++;
    vote(&s->votes[header->thread], header);
    const int64_t rate_hz = s->stream->sample_rate_hz;
    if (rate_hz != 0 && header->frame >= rate_hz / wfi_vdif_samples_per_frame(header)) {
        if (s->n_over == 0)
            s->over = *header;
        s->n_over++;
    }
}

/* A header of another length, of the same day as the first good one. */
static bool is_possible(const survey *s, const wfi_vdif_header *header)
{
    enum { DAY_S = 86400 };
    const int64_t apart_s = (int64_t)header->second - (int64_t)s->first_good.second;
    return s->n_good > 0 && wfi_vdif_header_fault(header) == NULL && !header->invalid &&
           header->epoch == s->first_good.epoch && llabs(apart_s) < DAY_S;
}

static void take_bad(survey *s, size_t i_file, int64_t position, const wfi_vdif_header *header)
{
    if (s->n_bad++ == 0) {
        s->bad_file = i_file;
        s->bad_position = position;
        s->bad = *header;
    }
    if (is_possible(s, header) && s->n_other++ == 0) {
        s->other_file = i_file;
        s->other = *header;
    }
}

static void take(survey *s, size_t i_file, int64_t position, const wfi_vdif_header *header)
{
    if (header->frame_bytes != s->stream->frame_bytes)
        take_bad(s, i_file, position, header);
    else if (header->invalid || wfi_vdif_header_fault(header) != NULL)
        s->n_invalid++;
    else
        take_good(s, header);
}

static wf_status look(survey *s, size_t i_file, int64_t first, int64_t n, wf_error *err)
{
    const int64_t n_frames = s->stream->files[i_file].n_frames;
    const int64_t end = first + n < n_frames ? first + n : n_frames;
    for (int64_t position = first < 0 ? 0 : first; position < end; position++) {
        wfi_vdif_header header;
        bool found = false;
        WFI_TRY(wfi_vdif_stream_read_header(s->stream, i_file, position, &header, &found, err));
        if (found)
            take(s, i_file, position, &header);
    }
    return WF_OK;
}

static wf_status look_all_over(survey *s, size_t i_file, int64_t n_head, wf_error *err)
{
    const int64_t n_frames = s->stream->files[i_file].n_frames;
    WFI_TRY(look(s, i_file, 0, n_head, err));
    if (n_frames <= n_head)
        return WF_OK;
    for (int64_t i = 1; i <= N_PLACES; i++)
        WFI_TRY(look(s, i_file, n_head + (n_frames - n_head) / (N_PLACES + 1) * i, FRAMES_PER_PLACE,
                     err));
    const int64_t tail = n_frames - TAIL_FRAMES;
    const int64_t from = tail > n_head ? tail : n_head;
    return look(s, i_file, from, n_frames - from, err);
}

static int64_t frames_at_head(const wfi_vdif_stream *stream)
{
    const int64_t n = HEAD_BYTES / (int64_t)stream->frame_bytes / (int64_t)stream->n_files;
    return n < HEAD_LEAST ? HEAD_LEAST : n > HEAD_MOST ? HEAD_MOST : n;
}

static wf_status check_lengths(const survey *s, wf_error *err)
{
    const wfi_vdif_stream *stream = s->stream;
    if (s->n_other * TOLERANCE > s->n_good)
        return wfi_fail(err, WF_UNSUPPORTED,
                        "%s: thread %" PRIu32 " has frames of %" PRIu32 " bytes and thread %" PRIu32
                        " of %" PRIu32
                        "; frames of different length are not handled in one recording: split them "
                        "into files and recordings of their own",
                        stream->files[s->other_file].input.path, s->first_good.thread,
                        stream->frame_bytes, s->other.thread, s->other.frame_bytes);
    if (s->n_good * TOLERANCE < s->n_bad)
        return wfi_fail(err, WF_FORMAT,
                        "%s: frame %" PRId64 " (byte %" PRId64 "): length word says %" PRIu32
                        " bytes, expected %" PRIu32
                        " as in the first frame; bytes were lost there, or this is no VDIF file: "
                        "copy it again",
                        stream->files[s->bad_file].input.path, s->bad_position,
                        s->bad_position * stream->frame_bytes, s->bad.frame_bytes,
                        stream->frame_bytes);
    if (s->n_good == 0)
        return wfi_fail(err, WF_FORMAT,
                        "%s: no valid frame among the %" PRId64
                        " looked at: all are marked invalid; nothing can be correlated from it",
                        stream->files[0].input.path, s->n_invalid);
    return WF_OK;
}

static bool is_power_of_two(uint32_t value)
{
    return value != 0 && (value & (value - 1)) == 0;
}

static wf_status check_layout(const wfi_vdif_stream *stream, const wfi_vdif_header *h,
                              wf_error *err)
{
    enum { LARGEST_BITS = 16, LARGEST_LOG2_CHANNELS = 20, EXTENDED_OTHER_BIT_ORDER = 0xAB };
    const char *path = stream->files[0].input.path;
    if (!is_power_of_two(h->bits) || h->bits > LARGEST_BITS)
        return wfi_fail(err, WF_UNSUPPORTED,
                        "%s: thread %" PRIu32 ": header word 3 states %" PRIu32
                        " bits a sample; 1, 2, 4, 8 and 16 are handled: record with one of these",
                        path, h->thread, h->bits);
    if (h->log2_channels > LARGEST_LOG2_CHANNELS)
        return wfi_fail(err, WF_UNSUPPORTED,
                        "%s: thread %" PRIu32 ": header word 2 states 2^%" PRIu32
                        " channels; at most 2^%d are handled",
                        path, h->thread, h->log2_channels, LARGEST_LOG2_CHANNELS);
    if (!h->legacy && h->extended[0] >> 24 == EXTENDED_OTHER_BIT_ORDER)
        return wfi_fail(err, WF_UNSUPPORTED,
                        "%s: thread %" PRIu32
                        ": extended data version 0xAB in header word 4: the payload is not in "
                        "VDIF's bit order, which is not handled; convert the file to plain VDIF",
                        path, h->thread);
    return WF_OK;
}

static void describe_thread(wfi_vdif_thread *thread, uint32_t id, const wfi_vdif_header *pattern)
{
    thread->id = id;
    thread->pattern = *pattern;
    thread->header_bytes = wfi_vdif_header_bytes(pattern);
    thread->samples_per_frame = wfi_vdif_samples_per_frame(pattern);
    thread->sample_bytes =
        (size_t)((uint64_t)thread->samples_per_frame * wfi_vdif_sample_bits(pattern) / 8);
}

/* A thread that was seen once, where others were seen often, is a damaged header. */
static bool is_thread(const survey *s, uint32_t id, int64_t most_frames)
{
    const int64_t n = s->votes[id].n_frames;
    return n > 1 || (n == 1 && most_frames < ENOUGH_TO_DOUBT);
}

static wf_status list_threads(survey *s, wf_error *err)
{
    wfi_vdif_stream *stream = s->stream;
    int64_t most = 0;
    for (size_t i = 0; i < WFI_VDIF_N_THREADS; i++)
        most = s->votes[i].n_frames > most ? s->votes[i].n_frames : most;
    WFI_TRY(wfi_allocate(&stream->threads, WFI_VDIF_N_THREADS, sizeof *stream->threads,
                         "the threads of a recording", err));
    for (uint32_t id = 0; id < WFI_VDIF_N_THREADS; id++) {
        stream->thread_index[id] = -1;
        if (!is_thread(s, id, most))
            continue;
        WFI_TRY(check_layout(stream, &s->votes[id].pattern, err));
        stream->thread_index[id] = (int16_t)stream->n_threads;
        describe_thread(&stream->threads[stream->n_threads++], id, &s->votes[id].pattern);
    }
    return WF_OK;
}

static wf_status check_frame_numbers(const survey *s, wf_error *err)
{
    if (s->n_over < 2 || s->n_over * TOLERANCE < s->n_good)
        return WF_OK;
    const int64_t samples = wfi_vdif_samples_per_frame(&s->over);
    return wfi_fail(err, WF_FORMAT,
                    "%s: thread %" PRIu32 " counts frames up to number %" PRIu32
                    " in a second, but sample_rate_hz %" PRId64 " and %" PRId64
                    " samples a frame make %" PRId64
                    " frames a second: correct the rate in the job",
                    s->stream->files[0].input.path, s->over.thread, s->over.frame,
                    s->stream->sample_rate_hz, samples, s->stream->sample_rate_hz / samples);
}

static int compare_seconds(const void *a, const void *b)
{
    const int64_t *x = a;
    const int64_t *y = b;
    return (*x > *y) - (*x < *y);
}

static int64_t median_second(survey *s)
{
    const size_t n = s->n_good < N_SECONDS ? (size_t)s->n_good : N_SECONDS;
    qsort(s->seconds, n, sizeof s->seconds[0], compare_seconds);
    return s->seconds[n / 2];
}

wf_status wfi_vdif_survey(wfi_vdif_stream *stream, wf_error *err)
{
    survey s = {.stream = stream};
    WFI_TRY(wfi_allocate(&s.votes, WFI_VDIF_N_THREADS, sizeof *s.votes, "the survey of a recording",
                         err));
    const int64_t n_head = frames_at_head(stream);
    wf_status status = WF_OK;
    for (size_t i = 0; i < stream->n_files && status == WF_OK; i++)
        status = look_all_over(&s, i, n_head, err);
    if (status == WF_OK)
        status = check_lengths(&s, err);
    if (status == WF_OK)
        status = list_threads(&s, err);
    if (status == WF_OK)
        status = check_frame_numbers(&s, err);
    stream->origin_second = median_second(&s);
    wfi_free(s.votes);
    return status;
}
