/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Finds threads and frame layouts by looking at a bounded number of headers: the beginning of each
 * file, places all over it, and its end. What most valid frames of a thread say is what holds. */
#include "recording/vdif_stream.h"

#include <inttypes.h>
#include <stdlib.h>

#include "base/memory.h"
#include "base/status.h"
#include "recording/vdif_change.h"
#include "recording/vdif_lock.h"
#include "recording/vdif_warnings.h"

enum {
    HEAD_BYTES = 64 << 20, /* looked at from the beginning, of all files together, but ... */
    HEAD_LEAST = 512,      /* ... no fewer frames than this of each, */
    HEAD_MOST = 1024,      /* nor more than this */
    N_PLACES = 15,         /* in the middle of a file */
    FRAMES_PER_PLACE = 128,
    TAIL_FRAMES = 512,
    N_LAYOUTS = 4,       /* of one thread; more are faults of frames */
    ENOUGH_TO_DOUBT = 8, /* frames of one thread, after which one of a lone thread is a fault */
    N_SECONDS = 65,      /* valid frames whose median is the reference second */
    TOLERANCE = 20,      /* one faulty frame in so many is a fault of the frame, not of the file */
    SEARCH_BYTES = 4 << 20, /* for frames in the middle of a file */
};

/* Frames of one thread that are cut alike. */
typedef struct layout {
    wfi_vdif_sight place; /* of the first */
    int64_t before;       /* byte of the file, from which on it may come; no frame before has it */
    int64_t n_frames;
} layout;

typedef struct thread_votes {
    layout layouts[N_LAYOUTS];
    int64_t n_frames;
    size_t last_file; /* of the frame seen last */
    int64_t last_offset;
} thread_votes;

typedef struct survey {
    wfi_vdif_stream *stream;
    thread_votes *votes; /* [n_votes] of the threads seen */
    size_t n_votes;
    size_t votes_capacity;
    int16_t vote_of[WFI_VDIF_N_THREADS]; /* one more than the index; 0: not seen */
    int64_t n_good;
    int64_t n_invalid;
    int64_t n_over; /* frame number too large for the sample rate */
    wfi_vdif_header over;
    int64_t seconds[N_SECONDS]; /* of the first valid frames */
} survey;

static void vote(thread_votes *votes, const wfi_vdif_header *header, size_t i_file, int64_t offset)
{
    const bool same_file = votes->n_frames > 0 && votes->last_file == i_file;
    const int64_t before = same_file && votes->last_offset < offset ? votes->last_offset : 0;
    votes->n_frames++;
    votes->last_file = i_file;
    votes->last_offset = offset;
    for (size_t i = 0; i < N_LAYOUTS; i++) {
        layout *l = &votes->layouts[i];
        if (l->n_frames == 0)
            *l = (layout){{*header, i_file, offset}, before, 0};
        if (wfi_vdif_same_cut(&l->place.header, header)) {
            l->n_frames++;
            return;
        }
    }
}

static int64_t samples_per_frame(const wfi_vdif_stream *stream, const wfi_vdif_header *header)
{
    const wfi_vdif_header stated = wfi_vdif_as_stated(stream, header);
    return wfi_vdif_samples_per_frame(&stated);
}

static wf_status take(survey *s, size_t i_file, int64_t offset, const wfi_vdif_header *header,
                      wf_error *err)
{
    if (header->invalid) {
        s->n_invalid++;
        return WF_OK;
    }
    if (s->vote_of[header->thread] == 0) {
        WFI_TRY(wfi_array_reserve(&s->votes, &s->votes_capacity, s->n_votes + 1, sizeof *s->votes,
                                  "the survey of a recording", err));
        s->vote_of[header->thread] = (int16_t)++s->n_votes;
    }
    if (s->n_good < N_SECONDS)
        s->seconds[s->n_good] = s->stream->epoch_second[header->epoch] + header->second;
    s->n_good++;
    vote(&s->votes[s->vote_of[header->thread] - 1], header, i_file, offset);
    const int64_t rate_hz = s->stream->sample_rate_hz;
    const int64_t samples = samples_per_frame(s->stream, header);
    if (rate_hz != 0 && samples != 0 && header->frame >= rate_hz / samples) {
        if (s->n_over == 0)
            s->over = *header;
        s->n_over++;
    }
    return WF_OK;
}

/* Follow frames by their own lengths; where they break off, search for the next. */
static wf_status look(survey *s, size_t i_file, int64_t offset, int64_t n, wf_error *err)
{
    for (int64_t i = 0; i < n; i++) {
        wfi_vdif_header header;
        bool found = false;
        WFI_TRY(wfi_vdif_header_at(s->stream, i_file, offset, &header, &found, err));
        const int64_t left = s->stream->files[i_file].input.n_bytes - offset;
        if (!found || header.frame_bytes > left || !wfi_vdif_is_plausible(&header)) {
            WFI_TRY(wfi_vdif_lock(s->stream, i_file, offset + 1, SEARCH_BYTES, &offset, err));
            if (offset < 0)
                return WF_OK;
            continue;
        }
        WFI_TRY(take(s, i_file, offset, &header, err));
        offset += wfi_vdif_pitch(s->stream, i_file, header.frame_bytes);
    }
    return WF_OK;
}

static wf_status look_from(survey *s, size_t i_file, int64_t offset, int64_t n, wf_error *err)
{
    int64_t place = -1;
    WFI_TRY(wfi_vdif_lock(s->stream, i_file, offset, SEARCH_BYTES, &place, err));
    return place >= 0 ? look(s, i_file, place, n, err) : WF_OK;
}

static int64_t frames_at_head(const wfi_vdif_stream *stream, int64_t frame_bytes)
{
    const int64_t n = HEAD_BYTES / frame_bytes / (int64_t)stream->n_files;
    return n < HEAD_LEAST ? HEAD_LEAST : n > HEAD_MOST ? HEAD_MOST : n;
}

static wf_status look_all_over(survey *s, size_t i_file, wf_error *err)
{
    const int64_t n_bytes = s->stream->files[i_file].input.n_bytes;
    int64_t first = -1;
    WFI_TRY(wfi_vdif_lock_first(s->stream, i_file, &first, err));
    if (first < 0)
        return WF_OK;
    wfi_vdif_header header;
    bool found = false;
    WFI_TRY(wfi_vdif_header_at(s->stream, i_file, first, &header, &found, err));
    const int64_t length = wfi_vdif_pitch(
        s->stream, i_file, found ? header.frame_bytes : (uint32_t)WFI_VDIF_HEADER_BYTES);
    const int64_t n_head = frames_at_head(s->stream, length);
    WFI_TRY(look(s, i_file, first, n_head, err));
    const int64_t head_end = first + n_head * length;
    if (n_bytes <= head_end)
        return WF_OK;
    /* whole frames from the first on, where as a rule headers are */
    const int64_t step = (n_bytes - head_end) / (N_PLACES + 1) / length * length;
    for (int64_t i = 1; i <= N_PLACES && step > 0; i++)
        WFI_TRY(look_from(s, i_file, head_end + i * step, FRAMES_PER_PLACE, err));
    const int64_t tail = n_bytes - TAIL_FRAMES * length;
    const int64_t from =
        tail > head_end ? head_end + (tail - head_end) / length * length : head_end;
    return look_from(s, i_file, from, TAIL_FRAMES, err);
}

static wf_status check_found(const survey *s, wf_error *err)
{
    const char *path = s->stream->files[0].input.path;
    if (s->n_good > 0)
        return WF_OK;
    if (s->n_invalid > 0)
        return wfi_fail(err, WF_FORMAT,
                        "%s: no valid frame among the %" PRId64
                        " looked at: all are marked invalid; nothing can be correlated from it",
                        path, s->n_invalid);
    return wfi_fail(err, WF_FORMAT,
                    "%s: no VDIF frames: at no place within the first %d MiB do headers follow one "
                    "another by the lengths that they state; check the format stated in the job, "
                    "or copy the file again",
                    path, WFI_VDIF_LOCK_BYTES >> 20);
}

static const layout *prevailing(const thread_votes *votes)
{
    const layout *best = &votes->layouts[0];
    for (size_t i = 1; i < N_LAYOUTS; i++)
        if (votes->layouts[i].n_frames > best->n_frames)
            best = &votes->layouts[i];
    return best;
}

static bool comes_later(const layout *a, const layout *b)
{
    return a->place.i_file != b->place.i_file ? a->place.i_file > b->place.i_file
                                              : a->place.offset > b->place.offset;
}

/* A thread whose frames change is no thread to go on with. */
static wf_status check_change(const survey *s, uint32_t id, wf_error *err)
{
    const thread_votes *votes = &s->votes[s->vote_of[id] - 1];
    const layout *a = prevailing(votes);
    for (size_t i = 0; i < N_LAYOUTS; i++) {
        const layout *b = &votes->layouts[i];
        if (b == a || b->n_frames < ENOUGH_TO_DOUBT || b->n_frames * TOLERANCE < a->n_frames)
            continue;
        const layout *later = comes_later(b, a) ? b : a;
        const layout *earlier = later == a ? b : a;
        return wfi_vdif_refuse_change(s->stream, &earlier->place.header, later->before,
                                      &later->place, err);
    }
    return WF_OK;
}

static wf_status check_layout(const wfi_vdif_stream *stream, const wfi_vdif_header *h,
                              wf_error *err)
{
    enum { EXTENDED_OTHER_BIT_ORDER = 0xAB };
    const wf_payload_order *order = &stream->payload;
    const bool order_stated = order->bytes != WF_BYTES_IN_ORDER || order->bits_reversed ||
                              order->sign_lowest || order->codes != WF_CODES_OFFSET_BINARY;
    if (!wfi_vdif_as_stated(stream, h).legacy && h->extended[0] >> 24 == EXTENDED_OTHER_BIT_ORDER &&
        !order_stated)
        return wfi_fail(err, WF_UNSUPPORTED,
                        "%s: thread %" PRIu32
                        ": extended data version 0xAB in header word 4: the payload is not in "
                        "VDIF's bit order; state in the recording what is (sign_bit, bit_order, "
                        "byte_order), or convert the file to plain VDIF",
                        stream->files[0].input.path, h->thread);
    if (samples_per_frame(stream, h) == 0)
        return wfi_fail(err, WF_FORMAT,
                        "%s: thread %" PRIu32
                        ": the frames are too short for one complex sample, which the job asks "
                        "for: state sampling: real",
                        stream->files[0].input.path, h->thread);
    return WF_OK;
}

static void describe_thread(const wfi_vdif_stream *stream, wfi_vdif_thread *thread, uint32_t id,
                            const wfi_vdif_header *pattern)
{
    const wfi_vdif_header stated = wfi_vdif_as_stated(stream, pattern);
    thread->id = id;
    thread->pattern = *pattern;
    thread->bits = wfi_vdif_header_bits(pattern);
    thread->header_bytes = wfi_vdif_header_bytes(&stated);
    thread->samples_per_frame = samples_per_frame(stream, pattern);
    thread->payload_bytes = pattern->frame_bytes - thread->header_bytes;
}

static void add_length(wfi_vdif_stream *stream, uint32_t length)
{
    for (size_t i = 0; i < stream->n_lengths; i++)
        if (stream->lengths[i] == length)
            return;
    stream->lengths[stream->n_lengths++] = length;
    stream->longest_frame = length > stream->longest_frame ? length : stream->longest_frame;
}

/* A thread that was seen once, where others were seen often, is a damaged header. */
static bool is_thread(const survey *s, uint32_t id, int64_t most_frames)
{
    const int64_t n = s->vote_of[id] > 0 ? s->votes[s->vote_of[id] - 1].n_frames : 0;
    return n > 1 || (n == 1 && most_frames < ENOUGH_TO_DOUBT);
}

static wf_status list_threads(survey *s, wf_error *err)
{
    wfi_vdif_stream *stream = s->stream;
    int64_t most = 0;
    for (size_t i = 0; i < s->n_votes; i++)
        most = s->votes[i].n_frames > most ? s->votes[i].n_frames : most;
    WFI_TRY(wfi_allocate(&stream->threads, s->n_votes, sizeof *stream->threads,
                         "the threads of a recording", err));
    WFI_TRY(wfi_allocate(&stream->lengths, s->n_votes, sizeof *stream->lengths,
                         "the threads of a recording", err));
    for (uint32_t id = 0; id < WFI_VDIF_N_THREADS; id++) {
        stream->thread_index[id] = -1;
        if (!is_thread(s, id, most))
            continue;
        const wfi_vdif_header *pattern = &prevailing(&s->votes[s->vote_of[id] - 1])->place.header;
        WFI_TRY(check_change(s, id, err));
        WFI_TRY(check_layout(stream, pattern, err));
        stream->thread_index[id] = (int16_t)stream->n_threads;
        describe_thread(stream, &stream->threads[stream->n_threads++], id, pattern);
        add_length(stream, pattern->frame_bytes);
    }
    return WF_OK;
}

static wf_status check_frame_numbers(const survey *s, wf_error *err)
{
    if (s->n_over < 2 || s->n_over * TOLERANCE < s->n_good)
        return WF_OK;
    const int64_t samples = samples_per_frame(s->stream, &s->over);
    char other[WFI_VDIF_SUGGESTION_BYTES];
    wfi_vdif_suggest_header_bytes(s->stream, &s->over, other);
    return wfi_fail(err, WF_FORMAT,
                    "%s: thread %" PRIu32 " counts frames up to number %" PRIu32
                    " in a second, but sample_rate_hz %" PRId64 " and %" PRId64
                    " samples a frame make %" PRId64
                    " frames a second: correct the rate in the job%s",
                    s->stream->files[0].input.path, s->over.thread, s->over.frame,
                    s->stream->sample_rate_hz, samples, s->stream->sample_rate_hz / samples, other);
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
    if (n == 0)
        return 0;
    qsort(s->seconds, n, sizeof s->seconds[0], compare_seconds);
    return s->seconds[n / 2];
}

wf_status wfi_vdif_survey(wfi_vdif_stream *stream, wf_error *err)
{
    survey s = {.stream = stream};
    wf_status status = WF_OK;
    for (size_t i = 0; i < stream->n_files && status == WF_OK; i++)
        status = look_all_over(&s, i, err);
    if (status == WF_OK)
        status = check_found(&s, err);
    if (status == WF_OK)
        status = list_threads(&s, err);
    if (status == WF_OK)
        status = check_frame_numbers(&s, err);
    if (status == WF_OK)
        status = wfi_vdif_warn(stream, err);
    stream->origin_second = median_second(&s);
    wfi_free(s.votes);
    return status;
}
