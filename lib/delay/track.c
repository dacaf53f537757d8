/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Delay of one station over one scan as piecewise polynomials.
 *
 * The delay is smooth but where interpolation changes its nodes: at the rows of Earth orientation
 * (0h UTC), of weather, and of a delay table. Pieces end there, so that each is sampled from one
 * smooth function: by Chebyshev's nodes, whose interpolation error for a
 * delay of 21 ms and the Earth's turning is 5e-28 s (the degree is generous: what is left is the
 * rounding of the samples), and exactly for a table, whose interpolation is of the same degree.
 */
#include <math.h>

#include "base/memory.h"
#include "base/status.h"
#include "delay/moment.h"
#include "delay/track_fit.h"

enum { N_COEFFICIENTS = WFI_TRACK_NODES };

static const double LONGEST_PIECE_S = 120.0;
static const double SHORTEST_PIECE_S = 10.0;

/* A piece whose last term is larger is halved: the terms fall off at least twofold (a source on the
 * horizon is as fast as that), so that 2e-15 s are left at most. */
static const double LARGEST_LAST_TERM_S = 2e-15;

struct wf_track {
    wf_track_piece *pieces; /* [n_pieces] */
    size_t n_pieces;
    size_t capacity;
    /* [n_pieces] of even length over the span; each holds the piece at its start, so that finding
     * a piece is a division and very few steps */
    size_t *buckets;
    double buckets_per_s;
    double largest_rate_s_per_s;
};

static wf_track_piece span_of(wf_instant start, wf_instant end)
{
    return (wf_track_piece){.start = start, .length_s = wf_instant_difference_s(end, start)};
}

static wf_status append_piece(wf_track *track, const wf_track_piece *piece, wf_error *err)
{
    if (piece->length_s <= 0.0)
        return WF_OK;
    WFI_TRY(wfi_array_reserve(&track->pieces, &track->capacity, track->n_pieces + 1,
                              sizeof track->pieces[0], "a delay track", err));
    track->pieces[track->n_pieces++] = *piece;
    return WF_OK;
}

static wf_status append_span(wf_track *track, wf_instant start, wf_instant end, wf_error *err)
{
    const wf_track_piece span = span_of(start, end);
    return append_piece(track, &span, err);
}

static wf_status append_even_pieces(wf_track *track, wf_instant start, wf_instant end,
                                    wf_error *err)
{
    const double span_s = wf_instant_difference_s(end, start);
    const double n = ceil(span_s / LONGEST_PIECE_S);
    wf_instant border = start;
    for (double i = 1.0; i <= n; i += 1.0) {
        const wf_instant next = i < n ? wf_instant_add(start, span_s * (i / n)) : end;
        WFI_TRY(append_span(track, border, next, err));
        border = next;
    }
    return WF_OK;
}

static void keep_earlier(bool *found, wf_instant candidate, wf_instant *next)
{
    if (!*found || wf_instant_difference_s(candidate, *next) < 0.0)
        *next = candidate;
    *found = true;
}

/* The first instant after t at which Earth orientation, or the air above a station, changes the
 * way in which it is interpolated. */
static bool next_kink(const wf_delay_model *model, wf_instant t, wf_instant *next)
{
    wf_instant candidate;
    bool found = false;
    if (wfi_eop_next_row(&model->eop, t, &candidate))
        keep_earlier(&found, candidate, next);
    for (size_t i = 0; i < model->n_stations; i++)
        if (wfi_atmosphere_next_record(&model->sites[i].atmosphere, t, &candidate))
            keep_earlier(&found, candidate, next);
    return found;
}

/* Even pieces between the kinks. One near another, or an end, is passed over: a kink of Earth
 * orientation, 1e-16 s/s, does less harm than the rounding in a polynomial over a few seconds. */
static wf_status divide_evenly(wf_track *track, const wf_delay_model *model, wf_instant first,
                               wf_instant last, wf_error *err)
{
    wf_instant start = first, kink = first;
    while (next_kink(model, kink, &kink) &&
           wf_instant_difference_s(last, kink) >= SHORTEST_PIECE_S) {
        if (wf_instant_difference_s(kink, start) < SHORTEST_PIECE_S)
            continue;
        WFI_TRY(append_even_pieces(track, start, kink, err));
        start = kink;
    }
    return append_even_pieces(track, start, last, err);
}

/* A piece for every step of the table. */
static wf_status divide_at_rows(wf_track *track, const wfi_delay_table *table, wf_instant first,
                                wf_instant last, wf_error *err)
{
    wf_instant start = first;
    for (size_t i = wfi_delay_table_find(table, first) + 1; i < table->n_rows; i++) {
        const wf_instant end = table->rows[i].t;
        if (wf_instant_difference_s(end, last) >= 0.0)
            break;
        WFI_TRY(append_span(track, start, end, err));
        start = end;
    }
    return append_span(track, start, last, err);
}

/* Add the clock at arrival: ahead + rate (t - reference + tau). */
static void add_clock(wf_track_piece *piece, const wf_clock *clock)
{
    double *c = piece->coefficient;
    const double at_start_s =
        clock->ahead_s +
        clock->rate_s_per_s * wf_instant_difference_s(piece->start, clock->reference);
    piece->clock_coefficient[0] = at_start_s + clock->rate_s_per_s * c[0];
    piece->clock_coefficient[1] = clock->rate_s_per_s + clock->rate_s_per_s * c[1];
    c[0] += piece->clock_coefficient[0];
    c[1] += piece->clock_coefficient[1];
    for (size_t k = 2; k < N_COEFFICIENTS; k++)
        c[k] += clock->rate_s_per_s * c[k];
}

/* What all stations of a scan share while their tracks are made. */
typedef struct builder {
    const wf_delay_model *model;
    const wf_scan *scan;
    wf_track **tracks; /* [n_stations] */
    /* [n_stations]: how often the span at hand was halved for the station's sake; NOT_WANTED where
     * it has no track, or a table */
    int *depth;
} builder;

enum { NOT_WANTED = -1, DEEPEST = 6 };

static wf_status fit_piece(wf_track_piece *piece, const builder *b, size_t i_station,
                           const wfi_moment moments[WFI_TRACK_NODES], double *last_s, wf_error *err)
{
    double tau_s[WFI_TRACK_NODES];
    double atmosphere_s[WFI_TRACK_NODES];
    for (size_t i = 0; i < WFI_TRACK_NODES; i++) {
        wf_delay delay;
        WFI_TRY(wfi_delay_at(b->model, i_station, &moments[i], &delay, err));
        tau_s[i] = delay.tau_s;
        atmosphere_s[i] = delay.troposphere_hydrostatic_s + delay.troposphere_wet_s +
                          delay.troposphere_gradients_s;
    }
    *last_s = wfi_track_fit(tau_s, piece->length_s, piece->coefficient);
    wfi_track_fit(atmosphere_s, piece->length_s, piece->atmosphere_coefficient);
    if (b->model->terms.clock)
        add_clock(piece, &b->model->stations[i_station].clock);
    return WF_OK;
}

static wf_status set_moments(wfi_moment moments[WFI_TRACK_NODES], const builder *b,
                             const wf_track_piece *piece, wf_error *err)
{
    for (size_t i = 0; i < WFI_TRACK_NODES; i++)
        WFI_TRY(wfi_moment_set(&moments[i], b->model, b->scan->i_source,
                               wfi_track_node(piece->start, piece->length_s, i), err));
    return WF_OK;
}

/* One piece for every station that still wants this span; those whose delay turns too fast for it,
 * low in the troposphere, are left for its halves. */
static wf_status fit_span(const builder *b, const wf_track_piece *span, int depth, bool *halve,
                          wf_error *err)
{
    wfi_moment moments[WFI_TRACK_NODES];
    *halve = false;
    WFI_TRY(set_moments(moments, b, span, err));
    for (size_t i = 0; i < b->model->n_stations; i++) {
        if (b->depth[i] != depth)
            continue;
        wf_track_piece piece = *span;
        double last_s = 0;
        WFI_TRY(fit_piece(&piece, b, i, moments, &last_s, err));
        if (last_s > LARGEST_LAST_TERM_S && depth < DEEPEST) {
            b->depth[i] = depth + 1;
            *halve = true;
        } else {
            WFI_TRY(append_piece(b->tracks[i], &piece, err));
        }
    }
    return WF_OK;
}

/* Depth first, so that every station gets its pieces in the order of time. */
static wf_status fit_halves(const builder *b, const wf_track_piece *span, wf_error *err)
{
    wf_track_piece waiting[DEEPEST + 1] = {*span};
    int depth_of[DEEPEST + 1] = {0};
    size_t n = 1;
    while (n > 0) {
        const wf_track_piece piece = waiting[--n];
        const int depth = depth_of[n];
        /* a station that came back from deeper wants the next span of this depth */
        for (size_t i = 0; i < b->model->n_stations; i++)
            b->depth[i] = b->depth[i] > depth ? depth : b->depth[i];
        bool halve = false;
        WFI_TRY(fit_span(b, &piece, depth, &halve, err));
        if (!halve)
            continue;
        const wf_instant middle = wf_instant_add(piece.start, piece.length_s / 2.0);
        const wf_instant end = wf_instant_add(piece.start, piece.length_s);
        waiting[n] = span_of(middle, end);
        depth_of[n++] = depth + 1;
        waiting[n] = span_of(piece.start, middle);
        depth_of[n++] = depth + 1;
    }
    return WF_OK;
}

static wf_status fill_buckets(wf_track *track, wf_error *err)
{
    const wf_track_piece *last = &track->pieces[track->n_pieces - 1];
    const wf_instant start = track->pieces[0].start;
    const double span_s = wf_instant_difference_s(last->start, start) + last->length_s;
    WFI_TRY(wfi_allocate(&track->buckets, track->n_pieces, sizeof track->buckets[0],
                         "a delay track", err));
    track->buckets_per_s = (double)track->n_pieces / span_s;
    size_t i_piece = 0;
    for (size_t i = 0; i < track->n_pieces; i++) {
        const double bucket_s = (double)i / track->buckets_per_s;
        while (i_piece + 1 < track->n_pieces &&
               wf_instant_difference_s(track->pieces[i_piece + 1].start, start) <= bucket_s)
            i_piece++;
        track->buckets[i] = i_piece;
    }
    return WF_OK;
}

static void evaluate_piece(const wf_track_piece *piece, double s, double *tau_s, double *rate)
{
    double value = piece->coefficient[WF_TRACK_DEGREE];
    double slope = 0.0;
    for (size_t k = WF_TRACK_DEGREE; k-- > 0;) {
        slope = slope * s + value;
        value = value * s + piece->coefficient[k];
    }
    *tau_s = value;
    *rate = slope;
}

/* The rate changes so little within a piece (1e-8 s/s in two minutes) that its ends and its nodes
 * tell the largest. */
static double largest_rate(const wf_track_piece *piece)
{
    double largest = 0, tau_s = 0, rate = 0;
    for (size_t i = 0; i <= N_COEFFICIENTS; i++) {
        evaluate_piece(piece, piece->length_s * (double)i / N_COEFFICIENTS, &tau_s, &rate);
        largest = fmax(largest, fabs(rate));
    }
    return largest;
}

/* A table is a polynomial between its rows: nothing but its values is needed. */
static wf_status fit_table(const builder *b, size_t i_station, wf_error *err)
{
    const wfi_delay_table *table = &b->model->tables[i_station];
    wf_track *track = b->tracks[i_station];
    WFI_TRY(divide_at_rows(track, table, wfi_scan_first(b->scan), wfi_scan_last(b->scan), err));
    for (size_t i = 0; i < track->n_pieces; i++) {
        wf_track_piece *piece = &track->pieces[i];
        double tau_s[WFI_TRACK_NODES];
        for (size_t k = 0; k < WFI_TRACK_NODES; k++)
            WFI_TRY(wfi_delay_table_evaluate(
                table, wfi_track_node(piece->start, piece->length_s, k), &tau_s[k], err));
        wfi_track_fit(tau_s, piece->length_s, piece->coefficient);
        if (b->model->terms.clock)
            add_clock(piece, &b->model->stations[i_station].clock);
    }
    return WF_OK;
}

static wf_status fit_model(const builder *b, wf_error *err)
{
    wf_track spans = {0};
    wf_status status =
        divide_evenly(&spans, b->model, wfi_scan_first(b->scan), wfi_scan_last(b->scan), err);
    for (size_t i = 0; status == WF_OK && i < spans.n_pieces; i++)
        status = fit_halves(b, &spans.pieces[i], err);
    wfi_free(spans.pieces);
    return status;
}

static wf_status finish(wf_track *track, wf_error *err)
{
    for (size_t i = 0; i < track->n_pieces; i++)
        track->largest_rate_s_per_s =
            fmax(track->largest_rate_s_per_s, largest_rate(&track->pieces[i]));
    return fill_buckets(track, err);
}

static wf_status build(const builder *b, const bool *is_wanted, wf_error *err)
{
    bool any = false;
    for (size_t i = 0; i < b->model->n_stations; i++) {
        b->depth[i] = NOT_WANTED;
        if (is_wanted != NULL && !is_wanted[i])
            continue;
        WFI_TRY(wfi_allocate(&b->tracks[i], 1, sizeof *b->tracks[i], "a delay track", err));
        if (b->model->tables[i].n_rows > 0) {
            WFI_TRY(fit_table(b, i, err));
        } else {
            b->depth[i] = 0;
            any = true;
        }
    }
    if (any)
        WFI_TRY(fit_model(b, err));
    for (size_t i = 0; i < b->model->n_stations; i++)
        if (b->tracks[i] != NULL)
            WFI_TRY(finish(b->tracks[i], err));
    return WF_OK;
}

wf_status wf_tracks_create(wf_track **out, const wf_delay_model *model, size_t i_scan,
                           const bool *is_wanted, wf_error *err)
{
    for (size_t i = 0; i < model->n_stations; i++)
        out[i] = NULL;
    if (i_scan >= model->n_scans)
        return wfi_fail(err, WF_ARGUMENT, "the delay model has no scan %zu", i_scan);
    builder b = {.model = model, .scan = &model->scans[i_scan], .tracks = out};
    WFI_TRY(wfi_allocate(&b.depth, model->n_stations, sizeof b.depth[0], "delay tracks", err));
    const wf_status status = build(&b, is_wanted, err);
    wfi_free(b.depth);
    for (size_t i = 0; status != WF_OK && i < model->n_stations; i++) {
        wf_track_destroy(out[i]);
        out[i] = NULL;
    }
    return status;
}

wf_status wf_track_create(wf_track **out, const wf_delay_model *model, size_t i_station,
                          size_t i_scan, wf_error *err)
{
    *out = NULL;
    if (i_station >= model->n_stations)
        return wfi_fail(err, WF_ARGUMENT, "the delay model has no station %zu", i_station);
    wf_track **tracks = NULL;
    bool *is_wanted = NULL;
    wf_status status =
        wfi_allocate(&tracks, model->n_stations, sizeof tracks[0], "a delay track", err);
    if (status == WF_OK)
        status =
            wfi_allocate(&is_wanted, model->n_stations, sizeof is_wanted[0], "a delay track", err);
    if (status == WF_OK) {
        is_wanted[i_station] = true;
        status = wf_tracks_create(tracks, model, i_scan, is_wanted, err);
    }
    if (status == WF_OK)
        *out = tracks[i_station];
    wfi_free(is_wanted);
    wfi_free(tracks);
    return status;
}

void wf_track_destroy(wf_track *track)
{
    if (track == NULL)
        return;
    wfi_free(track->pieces);
    wfi_free(track->buckets);
    wfi_free(track);
}

size_t wf_track_n_pieces(const wf_track *track)
{
    return track->n_pieces;
}

const wf_track_piece *wf_track_get_piece(const wf_track *track, size_t i_piece)
{
    return i_piece < track->n_pieces ? &track->pieces[i_piece] : NULL;
}

void wf_track_evaluate(const wf_track *track, wf_instant t, double *tau_s, double *rate_s_per_s)
{
    const double since_s = wf_instant_difference_s(t, track->pieces[0].start);
    const double last_bucket = (double)(track->n_pieces - 1);
    const double bucket = fmin(fmax(since_s * track->buckets_per_s, 0.0), last_bucket);
    size_t i = track->buckets[(size_t)bucket];
    double s = wf_instant_difference_s(t, track->pieces[i].start);
    while (i + 1 < track->n_pieces && s >= track->pieces[i].length_s) {
        i++;
        s = wf_instant_difference_s(t, track->pieces[i].start);
    }
    double rate = 0;
    evaluate_piece(&track->pieces[i], s, tau_s, &rate);
    if (rate_s_per_s != NULL)
        *rate_s_per_s = rate;
}

double wf_track_largest_rate(const wf_track *track)
{
    return track->largest_rate_s_per_s;
}
