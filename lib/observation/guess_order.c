/* SPDX-License-Identifier: GPL-3.0-or-later */
/* In which order a station's bands may stand in threads and channels. */
#include "base/memory.h"
#include "observation/guess.h"

enum { ANY_POLARIZATION = -1 };

static bool comes_before(const wfi_guess_stream *a, const wfi_guess_stream *b)
{
    return a->thread != b->thread ? a->thread < b->thread : a->channel < b->channel;
}

/* The streams of a recording, of one polarization or all, by thread and channel. */
static size_t in_order(const wfi_guess *guess, size_t r, int polarization, size_t *order)
{
    size_t n = 0;
    for (size_t i = 0; i < guess->n_streams; i++) {
        const wfi_guess_stream *s = &guess->streams[i];
        if (s->i_recording != r ||
            (polarization != ANY_POLARIZATION && (int)s->polarization != polarization))
            continue;
        size_t k = n++;
        for (; k > 0 && comes_before(s, &guess->streams[order[k - 1]]); k--)
            order[k] = order[k - 1];
        order[k] = i;
    }
    return n;
}

/* Which place the stream at a place of n takes. */
typedef size_t permutation(size_t i, size_t n);

static size_t reversed(size_t i, size_t n)
{
    return n - 1 - i;
}

static size_t rotated_up(size_t i, size_t n)
{
    return (i + 1) % n;
}

static size_t rotated_down(size_t i, size_t n)
{
    return (i + n - 1) % n;
}

static size_t in_pairs(size_t i, size_t n)
{
    return (i ^ 1) < n ? i ^ 1 : i;
}

/* Halves become turns, and turns halves. */
static size_t to_turns(size_t i, size_t n)
{
    const size_t half = n / 2;
    return i % half * 2 + i / half;
}

static size_t to_halves(size_t i, size_t n)
{
    return i % 2 * (n / 2) + i / 2;
}

static void exchange(wfi_guess *guess, const size_t *order, size_t n, permutation *place)
{
    for (size_t i = 0; i < n; i++) {
        const wfi_guess_stream *from = &guess->streams[order[i]];
        const wfi_guess_stream *to = &guess->streams[order[place(i, n)]];
        if (from->thread != to->thread)
            wfi_guess_number(guess, (double)to->thread, "recordings[%zu].streams[%zu].thread",
                             from->i_recording, from->i_stream);
        if (from->channel != to->channel)
            wfi_guess_number(guess, (double)to->channel, "recordings[%zu].streams[%zu].channel",
                             from->i_recording, from->i_stream);
    }
}

/* Bands among themselves, in each polarization. */
static void order_bands(wfi_guess *guess, permutation *place, size_t *order)
{
    for (size_t r = 0; r < guess->n_recordings; r++) {
        for (int p = WF_POLARIZATION_R; p <= WF_POLARIZATION_Y; p++) {
            const size_t n = in_order(guess, r, p, order);
            if (n > 1)
                exchange(guess, order, n, place);
        }
    }
}

/* Recordings of two polarizations with as many bands each, at least two. */
static void order_all(wfi_guess *guess, permutation *place, size_t *order)
{
    for (size_t r = 0; r < guess->n_recordings; r++) {
        const size_t n = in_order(guess, r, ANY_POLARIZATION, order);
        const int first = n == 0 ? 0 : (int)guess->streams[order[0]].polarization;
        if (n < 4 || n % 2 != 0 || 2 * in_order(guess, r, first, order) != n)
            continue;
        (void)in_order(guess, r, ANY_POLARIZATION, order);
        exchange(guess, order, n, place);
    }
}

void wfi_guess_order(wfi_guess *guess)
{
    static const struct {
        const char *name;
        const char *detail;
        const char *words;
        permutation *place;
        bool of_all; /* polarizations too */
    } orders[] = {
        {"bands_reversed", "", "its bands stand in the opposite order", reversed, false},
        {"bands_rotated", "up", "its bands stand one place further on, the last one first",
         rotated_up, false},
        {"bands_rotated", "down", "its bands stand one place earlier, the first one last",
         rotated_down, false},
        {"bands_swapped_in_pairs", "", "its bands are exchanged two by two", in_pairs, false},
        {"streams_interleaved", "in turns", "its polarizations take turns, band by band", to_turns,
         true},
        {"streams_interleaved", "in halves",
         "all bands of one polarization stand before those of the other", to_halves, true},
    };
    size_t *order = NULL;
    if (guess->status == WF_OK)
        guess->status =
            wfi_allocate(&order, guess->n_streams, sizeof *order, "streams", guess->err);
    for (size_t k = 0; k < sizeof orders / sizeof orders[0] && guess->status == WF_OK; k++) {
        wfi_guess_begin(guess, orders[k].name, WFI_SHOWN_BY_CORRELATION, "%s", orders[k].detail);
        if (orders[k].of_all)
            order_all(guess, orders[k].place, order);
        else
            order_bands(guess, orders[k].place, order);
        wfi_guess_end(guess, "%s", orders[k].words);
    }
    wfi_free(order);
}
