/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Delay of one station over one scan as piecewise polynomials.
 *
 * The delay is smooth but at 0h UTC, where the interpolation of Earth orientation changes its
 * nodes, and at the rows of a delay table, where it changes its window. Pieces end there, so that
 * each is sampled from one smooth function: by Chebyshev's nodes, whose interpolation error for a
 * delay of 21 ms and the Earth's turning is 5e-28 s (the degree is generous: what is left is the
 * rounding of the samples), and exactly for a table, whose interpolation is of the same degree.
 */
#include "delay/model.h"

#include <erfam.h>
#include <math.h>

#include "base/memory.h"
#include "base/status.h"

enum { N_COEFFICIENTS = WF_TRACK_DEGREE + 1 };

static const double LONGEST_PIECE_S = 120.0;
static const double SHORTEST_PIECE_S = 10.0;

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

static wf_status append_piece(wf_track *track, wf_instant start, wf_instant end, wf_error *err)
{
    const double length_s = wf_instant_difference_s(end, start);
    if (length_s <= 0.0)
        return WF_OK;
    WFI_TRY(wfi_array_reserve(&track->pieces, &track->capacity, track->n_pieces + 1,
                              sizeof track->pieces[0], "a delay track", err));
    track->pieces[track->n_pieces++] = (wf_track_piece){.start = start, .length_s = length_s};
    return WF_OK;
}

static wf_status append_even_pieces(wf_track *track, wf_instant start, wf_instant end,
                                    wf_error *err)
{
    const double span_s = wf_instant_difference_s(end, start);
    const double n = ceil(span_s / LONGEST_PIECE_S);
    wf_instant border = start;
    for (double i = 1.0; i <= n; i += 1.0) {
        const wf_instant next = i < n ? wf_instant_add(start, span_s * (i / n)) : end;
        WFI_TRY(append_piece(track, border, next, err));
        border = next;
    }
    return WF_OK;
}

/* Even pieces between the midnights of UTC. A midnight near an end is passed over: the kink there,
 * 1e-16 s/s, does less harm than the rounding in a polynomial over a few seconds. */
static wf_status divide_evenly(wf_track *track, wf_instant first, wf_instant last, wf_error *err)
{
    int32_t mjd = 0;
    int32_t second_of_day = 0;
    wf_instant_utc(first, &mjd, &second_of_day);
    wf_instant start = first;
    for (;;) {
        const wf_instant midnight = wf_instant_of_mjd(++mjd);
        if (wf_instant_difference_s(last, midnight) < SHORTEST_PIECE_S)
            break;
        if (wf_instant_difference_s(midnight, start) < SHORTEST_PIECE_S)
            continue;
        WFI_TRY(append_even_pieces(track, start, midnight, err));
        start = midnight;
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
        WFI_TRY(append_piece(track, start, end, err));
        start = end;
    }
    return append_piece(track, start, last, err);
}

static double node(size_t i)
{
    return cos(ERFA_DPI * ((double)i + 0.5) / N_COEFFICIENTS);
}

/* Coefficients of the interpolating series of Chebyshev polynomials on [-1, 1]. */
static void chebyshev_series(const double value[N_COEFFICIENTS], double series[N_COEFFICIENTS])
{
    for (size_t k = 0; k < N_COEFFICIENTS; k++) {
        double sum = 0;
        for (size_t i = 0; i < N_COEFFICIENTS; i++)
            sum += value[i] * cos(ERFA_DPI * (double)k * ((double)i + 0.5) / N_COEFFICIENTS);
        series[k] = sum * (k == 0 ? 1.0 : 2.0) / N_COEFFICIENTS;
    }
}

/* The same polynomial in powers of u = 1 + x, in [0, 2]: T_k(u - 1) by its recurrence. */
static void powers_from_start(const double series[N_COEFFICIENTS], double power[N_COEFFICIENTS])
{
    double before[N_COEFFICIENTS] = {1.0};        /* T_0 */
    double current[N_COEFFICIENTS] = {-1.0, 1.0}; /* T_1 */
    for (size_t j = 0; j < N_COEFFICIENTS; j++)
        power[j] = series[0] * before[j] + series[1] * current[j];
    for (size_t k = 2; k < N_COEFFICIENTS; k++) {
        double next[N_COEFFICIENTS];
        for (size_t j = 0; j < N_COEFFICIENTS; j++)
            next[j] = 2.0 * ((j > 0 ? current[j - 1] : 0.0) - current[j]) - before[j];
        for (size_t j = 0; j < N_COEFFICIENTS; j++) {
            power[j] += series[k] * next[j];
            before[j] = current[j];
            current[j] = next[j];
        }
    }
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

static wf_status fit_piece(wf_track_piece *piece, const wf_delay_model *model, size_t i_station,
                           size_t i_source, wf_error *err)
{
    double value[N_COEFFICIENTS];
    double series[N_COEFFICIENTS];
    const double half_s = piece->length_s / 2.0;
    for (size_t i = 0; i < N_COEFFICIENTS; i++) {
        const wf_instant t = wf_instant_add(piece->start, half_s * (1.0 + node(i)));
        wf_delay delay;
        WFI_TRY(wf_delay_evaluate(model, i_station, i_source, t, &delay, err));
        value[i] = delay.tau_s;
    }
    chebyshev_series(value, series);
    powers_from_start(series, piece->coefficient);
    double scale = 1.0;
    for (size_t k = 0; k < N_COEFFICIENTS; k++, scale /= half_s)
        piece->coefficient[k] *= scale;
    if (model->terms.clock)
        add_clock(piece, &model->stations[i_station].clock);
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

static wf_status build(wf_track *track, const wf_delay_model *model, size_t i_station,
                       size_t i_scan, wf_error *err)
{
    const wf_scan *scan = &model->scans[i_scan];
    const wf_instant first = wfi_scan_first(scan);
    const wf_instant last = wfi_scan_last(scan);
    if (model->tables[i_station].n_rows > 0)
        WFI_TRY(divide_at_rows(track, &model->tables[i_station], first, last, err));
    else
        WFI_TRY(divide_evenly(track, first, last, err));
    for (size_t i = 0; i < track->n_pieces; i++) {
        WFI_TRY(fit_piece(&track->pieces[i], model, i_station, scan->i_source, err));
        track->largest_rate_s_per_s =
            fmax(track->largest_rate_s_per_s, largest_rate(&track->pieces[i]));
    }
    return fill_buckets(track, err);
}

wf_status wf_track_create(wf_track **out, const wf_delay_model *model, size_t i_station,
                          size_t i_scan, wf_error *err)
{
    *out = NULL;
    if (i_station >= model->n_stations || i_scan >= model->n_scans)
        return wfi_fail(err, WF_ARGUMENT, "the delay model has no station %zu or scan %zu",
                        i_station, i_scan);
    wf_track *track = NULL;
    WFI_TRY(wfi_allocate(&track, 1, sizeof *track, "a delay track", err));
    const wf_status status = build(track, model, i_station, i_scan, err);
    if (status != WF_OK) {
        wf_track_destroy(track);
        return status;
    }
    *out = track;
    return WF_OK;
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
