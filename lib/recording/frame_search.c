/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Searching by time in files that are in time order up to a bounded disorder.
 *
 *  A recording mostly runs at an even pace, so the place is guessed by interpolation and bracketed
 *  closely; where the guess is wrong (gaps) the bracket is halved. Single frames with a wrong time
 *  are outvoted: the time at a place is the median of a few frames. Every step depends on the
 *  files' contents only, so that any reader finds the same frames whatever it read before.
 */
#include "recording/frame_search.h"

#include "base/memory.h"
#include "base/status.h"

enum {
    N_MEDIAN = 5,           /* frames that vote on the time at a place */
    N_NEAR = 16,            /* positions looked at to find them */
    N_LANDING = 4,          /* the same at the places beyond a stretch without valid frames */
    LONGEST_STEP = 512,     /* a run of so many valid frames is not stepped over ... */
    LARGEST_HOLE = 16384,   /* ... within so many invalid ones; from there on steps double */
    MEMORY_PER_REORDER = 8, /* a load's margins fit into the memory */
    SMALLEST_MEMORY = 1024,
    BLOCK_BYTES = 4096, /* headers of short frames are read several at once */
};

static const int64_t NO_SAMPLE = INT64_MIN;

typedef struct wfi_frame_memory {
    int64_t position; /* one more than the position, so that 0 is none */
    int64_t first;
    int32_t i_thread;
    uint32_t i_file;
} wfi_frame_memory;

wf_status wfi_frame_search_create(wfi_frame_search *out, const wfi_vdif_stream *stream,
                                  wf_error *err)
{
    size_t n = SMALLEST_MEMORY;
    while (n < (size_t)(MEMORY_PER_REORDER * stream->reorder_frames))
        n *= 2;
    *out = (wfi_frame_search){.stream = stream, .mask = n - 1};
    return wfi_allocate(&out->memory, n, sizeof *out->memory, "the frame headers seen", err);
}

void wfi_frame_search_release(wfi_frame_search *search)
{
    wfi_free(search->memory);
    search->memory = NULL;
}

static wfi_frame_memory *slot_of(const wfi_frame_search *search, size_t i_file, int64_t position)
{
    return &search->memory[((size_t)position + 7919 * i_file) & search->mask];
}

void wfi_frame_search_remember(wfi_frame_search *search, size_t i_file, int64_t position,
                               wfi_frame frame)
{
    *slot_of(search, i_file, position) =
        (wfi_frame_memory){position + 1, frame.first, frame.i_thread, (uint32_t)i_file};
}

static wf_status read_headers(wfi_frame_search *search, size_t i_file, int64_t position,
                              wfi_frame *out, wf_error *err)
{
    const wfi_vdif_stream *stream = search->stream;
    const size_t frame_bytes = stream->frame_bytes;
    const size_t n_block = frame_bytes < BLOCK_BYTES ? BLOCK_BYTES / frame_bytes : 1;
    uint8_t bytes[BLOCK_BYTES + WFI_VDIF_HEADER_BYTES];
    size_t n = 0;
    WFI_TRY(wfi_input_file_read(&stream->files[i_file].input, position * (int64_t)frame_bytes,
                                bytes, (n_block - 1) * frame_bytes + WFI_VDIF_HEADER_BYTES, &n,
                                err));
    for (size_t i = n_block; i-- > 0;) {
        const size_t at = i * frame_bytes;
        *out = wfi_vdif_stream_place(stream, bytes + (at < n ? at : 0), at < n ? n - at : 0);
        wfi_frame_search_remember(search, i_file, position + (int64_t)i, *out);
    }
    return WF_OK;
}

wf_status wfi_frame_search_peek(wfi_frame_search *search, size_t i_file, int64_t position,
                                wfi_frame *out, wf_error *err)
{
    const wfi_frame_memory *slot = slot_of(search, i_file, position);
    if (slot->position == position + 1 && slot->i_file == i_file) {
        *out = (wfi_frame){slot->i_thread, slot->first};
        return WF_OK;
    }
    return read_headers(search, i_file, position, out, err);
}

static void sort(int64_t *values, size_t n)
{
    for (size_t i = 1; i < n; i++)
        for (size_t j = i; j > 0 && values[j - 1] > values[j]; j--) {
            const int64_t swapped = values[j];
            values[j] = values[j - 1];
            values[j - 1] = swapped;
        }
}

/* A stretch of positions [begin, end) that is looked through in one direction. */
typedef struct stretch {
    int64_t begin;
    int64_t end;
    int direction; /* +1 from the beginning, -1 from the last */
} stretch;

/* Where valid frames were met, and the median of their first samples. */
typedef struct sighting {
    int64_t position;
    int64_t sample; /* NO_SAMPLE: none */
} sighting;

/* The valid frames among the n_positions from the i-th of a stretch on. */
static wf_status look_near(wfi_frame_search *search, size_t i_file, stretch s, int64_t i,
                           int64_t n_positions, sighting *out, wf_error *err)
{
    const int64_t from = s.direction > 0 ? s.begin : s.end - 1;
    int64_t votes[N_MEDIAN];
    size_t n = 0;
    for (int64_t k = i; k < i + n_positions && k < s.end - s.begin && n < N_MEDIAN; k++) {
        wfi_frame frame;
        WFI_TRY(wfi_frame_search_peek(search, i_file, from + s.direction * k, &frame, err));
        if (frame.i_thread >= 0)
            votes[n++] = frame.first;
    }
    sort(votes, n);
    out->position = from + s.direction * i;
    out->sample = n > 0 ? votes[n / 2] : NO_SAMPLE;
    return WF_OK;
}

/* The valid frames nearest to the beginning of a stretch. Across frames that are not valid the
 * number of places looked at is bounded, so that a file full of fill costs little. */
static wf_status look(wfi_frame_search *search, size_t i_file, stretch s, sighting *out,
                      wf_error *err)
{
    WFI_TRY(look_near(search, i_file, s, 0, N_NEAR, out, err));
    int64_t step = N_NEAR;
    for (int64_t i = step; out->sample == NO_SAMPLE && i < s.end - s.begin; i += step) {
        WFI_TRY(look_near(search, i_file, s, i, N_LANDING, out, err));
        if (step < LONGEST_STEP || i >= LARGEST_HOLE)
            step *= 2;
    }
    return WF_OK;
}

wf_status wfi_frame_search_sample(wfi_frame_search *search, size_t i_file, int direction,
                                  int64_t *sample, wf_error *err)
{
    sighting seen;
    const stretch whole = {0, search->stream->files[i_file].n_frames, direction};
    WFI_TRY(look(search, i_file, whole, &seen, err));
    *sample = seen.sample;
    return WF_OK;
}

/* The frames at `low` and before are before the wanted sample, those at `high` and after are not;
 * at `met` stands the first valid frame that showed the latter. */
typedef struct bracket {
    int64_t low;
    int64_t low_sample; /* NO_SAMPLE: no valid frame was met there */
    int64_t high;
    int64_t high_sample;
    int64_t met;
} bracket;

static wf_status narrow(wfi_frame_search *search, size_t i_file, int64_t wanted, int64_t position,
                        bracket *b, wf_error *err)
{
    if (position <= b->low || position >= b->high)
        return WF_OK;
    sighting seen;
    WFI_TRY(look(search, i_file, (stretch){position, b->high, +1}, &seen, err));
    if (seen.sample != NO_SAMPLE && seen.sample < wanted) {
        b->low = seen.position;
        b->low_sample = seen.sample;
        return WF_OK;
    }
    b->high = position;
    if (seen.sample != NO_SAMPLE) {
        b->high_sample = seen.sample;
        b->met = seen.position;
    }
    return WF_OK;
}

static int64_t interpolate(const bracket *b, int64_t wanted)
{
    const double fraction =
        (double)(wanted - b->low_sample) / (double)(b->high_sample - b->low_sample);
    return b->low + (int64_t)((double)(b->high - b->low) * fraction);
}

/* Narrow by what the ends of the file say; they stay open where nothing valid stands there. */
static wf_status begin_bracket(wfi_frame_search *search, size_t i_file, int64_t wanted, bracket *b,
                               wf_error *err)
{
    const int64_t n_frames = search->stream->files[i_file].n_frames;
    sighting first, last;
    WFI_TRY(look_near(search, i_file, (stretch){0, n_frames, +1}, 0, N_NEAR, &first, err));
    WFI_TRY(look_near(search, i_file, (stretch){0, n_frames, -1}, 0, N_NEAR, &last, err));
    *b = (bracket){0, first.sample, n_frames, last.sample, n_frames};
    if (first.sample != NO_SAMPLE && first.sample >= wanted)
        b->high = b->met = 0;
    else if (last.sample != NO_SAMPLE && last.sample < wanted)
        b->low = n_frames;
    else if (last.sample != NO_SAMPLE)
        b->high = b->met = n_frames - 1;
    return WF_OK;
}

/* The first valid frames at or after each place say on which side of it the instant is. */
static wf_status close_in(wfi_frame_search *search, size_t i_file, int64_t wanted, bracket *b,
                          wf_error *err)
{
    while (b->high - b->low > WFI_FRAME_SEARCH_SPAN) {
        if (b->low_sample != NO_SAMPLE && b->high_sample != NO_SAMPLE) {
            const int64_t guess = interpolate(b, wanted);
            WFI_TRY(narrow(search, i_file, wanted, guess - WFI_FRAME_SEARCH_SPAN / 2, b, err));
            WFI_TRY(narrow(search, i_file, wanted, guess + WFI_FRAME_SEARCH_SPAN / 2, b, err));
        }
        if (b->high - b->low > WFI_FRAME_SEARCH_SPAN)
            WFI_TRY(narrow(search, i_file, wanted, b->low + (b->high - b->low) / 2, b, err));
    }
    return WF_OK;
}

/* Across a large hole that leaves open which of the frames at either brink are before the wanted
 * sample: look back from beyond the near one, and from before the far one. */
static wf_status look_back(wfi_frame_search *search, size_t i_file, int64_t wanted, bracket *b,
                           wf_error *err)
{
    int64_t low = b->low;
    while (b->met - low > WFI_FRAME_SEARCH_SPAN) {
        const int64_t brinks[] = {low + WFI_FRAME_SEARCH_SPAN, b->met - WFI_FRAME_SEARCH_SPAN,
                                  low + (b->met - low) / 2};
        for (size_t i = 0; i < sizeof brinks / sizeof brinks[0]; i++) {
            if (brinks[i] <= low || brinks[i] >= b->met)
                continue;
            sighting seen;
            WFI_TRY(look(search, i_file, (stretch){low, brinks[i] + 1, -1}, &seen, err));
            if (seen.sample != NO_SAMPLE && seen.sample >= wanted)
                b->met = seen.position;
            else
                low = brinks[i];
            if (seen.sample != NO_SAMPLE && seen.sample < wanted && seen.position > b->low)
                b->low = seen.position;
        }
    }
    return WF_OK;
}

wf_status wfi_frame_search_find(wfi_frame_search *search, size_t i_file, int64_t sample,
                                wfi_frame_place *out, wf_error *err)
{
    bracket b;
    WFI_TRY(begin_bracket(search, i_file, sample, &b, err));
    WFI_TRY(close_in(search, i_file, sample, &b, err));
    if (b.met - b.low > LARGEST_HOLE)
        WFI_TRY(look_back(search, i_file, sample, &b, err));
    const bool far = b.met - b.low > LARGEST_HOLE;
    out->begin = far ? b.met - LARGEST_HOLE : b.low;
    out->end = far ? b.low + LARGEST_HOLE : b.met;
    return WF_OK;
}
