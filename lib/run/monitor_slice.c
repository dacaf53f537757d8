/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Watching one slice: the samples that a station took while the integration's waves arrived. */
#include <math.h>
#include <string.h>

#include "base/memory.h"
#include "base/status.h"
#include "base/turns.h"
#include "engine/plan.h"
#include "run/monitor.h"
#include "statistics/kurtosis.h"

enum { COUNTED_SAMPLES = 4096 };

struct wfi_monitor_worker {
    const wfi_monitor *monitor;
    wf_window **windows;       /* [n_recordings] */
    wfi_comb_sums *combs;      /* [n_streams][2] halves of the integration */
    wfi_spectrum_sums *powers; /* [n_streams] */
    double complex *tones;     /* [2][most tones of a stream] */
    uint8_t *codes;            /* [largest chunk][2] */
    float *levels;
    double bounds_n; /* of which the bounds below are */
    double low[2];   /* d = 1, d = 1/2 */
    double high[2];
};

static wf_status create_sums(wfi_monitor_worker *w, wf_error *err)
{
    const wfi_monitor *m = w->monitor;
    size_t most_tones = 0;
    WFI_TRY(wfi_allocate(&w->combs, 2 * m->n_streams, sizeof *w->combs, "tones", err));
    WFI_TRY(wfi_allocate(&w->powers, m->n_streams, sizeof *w->powers, "kurtosis", err));
    for (size_t i = 0; i < m->n_streams; i++) {
        const wfi_monitor_stream *s = &m->streams[i];
        most_tones = s->comb.n_tones > most_tones ? s->comb.n_tones : most_tones;
        for (size_t half = 0; half < 2 && s->comb.n_tones > 0; half++)
            WFI_TRY(wfi_comb_sums_create(&w->combs[2 * i + half], &s->comb, err));
        if (s->kurtosis.transform != NULL)
            WFI_TRY(wfi_spectrum_sums_create(&w->powers[i], &s->kurtosis, err));
    }
    return wfi_allocate(&w->tones, 2 * most_tones, sizeof *w->tones, "tones", err);
}

static wf_status create_windows(wfi_monitor_worker *w, wf_error *err)
{
    const wfi_monitor *m = w->monitor;
    const size_t n = m->observation->n_recordings;
    int64_t largest = 0;
    WFI_TRY(wfi_allocate(&w->windows, n, sizeof *w->windows, "windows", err));
    for (size_t r = 0; r < n; r++) {
        largest = m->chunk[r] > largest ? m->chunk[r] : largest;
        WFI_TRY(wf_window_create(&w->windows[r], m->recordings[r], m->chunk[r], err));
    }
    WFI_TRY(wfi_allocate(&w->codes, 2 * (size_t)largest, 1, "decoded samples", err));
    return wfi_allocate(&w->levels, 2 * (size_t)largest, sizeof(float), "decoded samples", err);
}

wf_status wfi_monitor_worker_create(wfi_monitor_worker **out, const wfi_monitor *monitor,
                                    wf_error *err)
{
    wfi_monitor_worker *w = NULL;
    *out = NULL;
    WFI_TRY(wfi_allocate(&w, 1, sizeof *w, "a worker", err));
    w->monitor = monitor;
    wf_status status = create_windows(w, err);
    if (status == WF_OK)
        status = create_sums(w, err);
    if (status == WF_OK)
        *out = w;
    else
        wfi_monitor_worker_destroy(w);
    return status;
}

void wfi_monitor_worker_destroy(wfi_monitor_worker *worker)
{
    if (worker == NULL)
        return;
    const wfi_monitor *m = worker->monitor;
    for (size_t r = 0; worker->windows != NULL && r < m->observation->n_recordings; r++)
        wf_window_destroy(worker->windows[r]);
    for (size_t i = 0; worker->combs != NULL && i < 2 * m->n_streams; i++)
        wfi_comb_sums_release(&worker->combs[i]);
    for (size_t i = 0; worker->powers != NULL && i < m->n_streams; i++)
        wfi_spectrum_sums_release(&worker->powers[i]);
    wfi_free(worker->windows);
    wfi_free(worker->combs);
    wfi_free(worker->powers);
    wfi_free(worker->tones);
    wfi_free(worker->codes);
    wfi_free(worker->levels);
    wfi_free(worker);
}

/* Number of the sample at hand when a wave of geocentre time t arrives. */
static int64_t sample_at(const wf_track *track, const wf_recording_info *info, wf_instant t)
{
    double tau_s = 0;
    double rate = 0;
    wf_track_evaluate(track, t, &tau_s, &rate);
    return (int64_t)llround((wf_instant_difference_s(t, info->origin) + tau_s) *
                            (double)info->sample_rate_hz);
}

/* A sample's number since 2000-01-01T00:00:00, and the rest of a sample in seconds. */
static int64_t since_epoch(const wf_recording_info *info, int64_t sample, double *rest_s)
{
    const double in_second = info->origin.fraction * (double)info->sample_rate_hz;
    *rest_s = (in_second - floor(in_second)) / (double)info->sample_rate_hz;
    return info->origin.second * info->sample_rate_hz + (int64_t)floor(in_second) + sample;
}

static void decode(wfi_monitor_worker *w, const wfi_monitor_stream *s, const wf_packed *packed,
                   int64_t first, size_t n)
{
    if (s->decoder.n_codes > 0)
        wfi_decode_codes(&s->decoder, packed, s->channel, first, n, w->codes);
    wfi_decode_levels(&s->decoder, packed, s->channel, first, n, w->codes, w->levels);
}

static void count(wfi_monitor_worker *w, const wfi_monitor_stream *s, wfi_sampler_counts *counts,
                  size_t n)
{
    const size_t parts = s->decoder.n_parts;
    for (size_t p = 0; p < parts; p++) {
        if (s->decoder.n_codes > 0)
            wfi_sampler_count_codes(&counts[p], w->codes + p, n, parts);
        else
            wfi_sampler_count_levels(&counts[p], &s->decoder, w->levels + p, n, parts);
    }
}

/* A chunk of one recording: where it begins, how many of its samples are counted, and which half
 * of the integration it belongs to. */
typedef struct chunk {
    int64_t first;
    int64_t n;
    size_t n_counted;
    size_t half;
} chunk;

static void watch_run(wfi_monitor_worker *w, size_t i, const wf_packed *packed, int64_t first,
                      size_t n, const chunk *c, wfi_monitor_result *out)
{
    const wfi_monitor_stream *s = &w->monitor->streams[i];
    const wf_recording_info *info = wf_recording_describe(w->monitor->recordings[s->i_recording]);
    double rest_s = 0;
    decode(w, s, packed, first, n);
    const int64_t end_counted = c->first + (int64_t)c->n_counted;
    if (first < end_counted)
        count(w, s, &out->counts[2 * i],
              first + (int64_t)n < end_counted ? n : (size_t)(end_counted - first));
    if (s->comb.n_tones > 0)
        wfi_comb_sums_add(&w->combs[2 * i + c->half], since_epoch(info, first, &rest_s), w->levels,
                          n);
    if (s->kurtosis.transform == NULL)
        return;
    for (size_t k = 0; k + s->kurtosis.n_fft <= n; k += s->kurtosis.n_fft)
        wfi_spectrum_add(&w->powers[i], w->levels + k * s->decoder.n_parts);
}

static wf_status watch_chunk(wfi_monitor_worker *w, size_t i_recording, const chunk *c,
                             wfi_monitor_result *out, wf_error *err)
{
    const int64_t end = c->first + c->n;
    WFI_TRY(wf_window_load(w->windows[i_recording], c->first, c->n, err));
    for (size_t i = 0; i < w->monitor->n_streams; i++) {
        const wfi_monitor_stream *s = &w->monitor->streams[i];
        if (s->i_recording != i_recording)
            continue;
        const wf_packed *packed =
            wf_window_thread_without(w->windows[i_recording], s->i_thread, s->i_exclusion);
        int64_t at = wfi_next_valid(packed, c->first, (size_t)c->n);
        while (at < end) {
            const size_t run = wfi_valid_run(packed, at, (size_t)(end - at));
            watch_run(w, i, packed, at, run, c, out);
            at += (int64_t)run;
            at = at < end ? wfi_next_valid(packed, at, (size_t)(end - at)) : end;
        }
    }
    return WF_OK;
}

static bool needs_all(const wfi_monitor *m, size_t i_recording)
{
    for (size_t i = 0; i < m->n_streams; i++) {
        const wfi_monitor_stream *s = &m->streams[i];
        if (s->i_recording == i_recording && (s->comb.n_tones > 0 || s->kurtosis.transform != NULL))
            return true;
    }
    return false;
}

static wf_status watch_recording(wfi_monitor_worker *w, size_t i_recording, const wf_slice *slice,
                                 wfi_monitor_result *out, wf_error *err)
{
    const wfi_monitor *m = w->monitor;
    const wf_track *track = slice->tracks[m->observation->recordings[i_recording].i_station];
    const wf_recording_info *info = wf_recording_describe(m->recordings[i_recording]);
    if (track == NULL)
        return WF_OK;
    const double length_s = (double)slice->n_segments / m->plan->grid->channel_width_hz;
    const int64_t first = sample_at(track, info, slice->start);
    const int64_t end = sample_at(track, info, wf_instant_add(slice->start, length_s));
    const int64_t step = m->chunk[i_recording];
    const int64_t wanted = needs_all(m, i_recording) ? end - first
                           : end - first < step      ? end - first
                                                     : step;
    for (int64_t at = 0; at < wanted; at += step) {
        const chunk c = {
            .first = first + at,
            .n = wanted - at < step ? wanted - at : step,
            .n_counted = at == 0 ? COUNTED_SAMPLES : 0,
            .half = 2 * at < wanted ? 0 : 1,
        };
        WFI_TRY(watch_chunk(w, i_recording, &c, out, err));
    }
    return WF_OK;
}

/* Both halves together, in the sense of the sky, ascending. */
static void read_tones(wfi_monitor_worker *w, size_t i, wfi_monitor_result *out)
{
    const wfi_monitor_stream *s = &w->monitor->streams[i];
    const wf_recording_info *info = wf_recording_describe(w->monitor->recordings[s->i_recording]);
    const wfi_comb_sums *a = &w->combs[2 * i];
    const wfi_comb_sums *b = &w->combs[2 * i + 1];
    const size_t n = s->comb.n_tones;
    const double samples = a->n + b->n;
    const double norm = sqrt(samples * (a->power + b->power));
    double rest_s = 0;
    (void)since_epoch(info, 0, &rest_s);
    wfi_comb_tones(a, w->tones);
    wfi_comb_tones(b, w->tones + n);
    out->sigma[i] = samples > 0 ? wfi_comb_sigma(a) * sqrt(a->n / samples) : INFINITY;
    if (a->n == 0 && samples > 0)
        out->sigma[i] = wfi_comb_sigma(b);
    for (size_t k = 0; k < n; k++) {
        const double hz = s->comb.offset_hz + (double)k * (double)s->comb.spacing_hz;
        const double complex first = w->tones[k] * sqrt(a->n * a->power);
        const double complex second = w->tones[n + k] * sqrt(b->n * b->power);
        const double complex turned =
            norm > 0 ? (first + second) / norm *
                           cexp(-I * WFI_RAD_PER_TURN * wfi_turns_reduce(hz * rest_s))
                     : 0;
        const size_t place = s->first_tone + (s->sideband > 0 ? k : n - 1 - k);
        const double sky_hz = s->zero_hz + s->sideband * hz;
        const double apart_s = 0.5 * samples / (double)info->sample_rate_hz;
        const double turn = s->sideband * carg(second * conj(first));
        out->tones[place] = s->sideband > 0 ? turned : conj(turned);
        out->tone_rates[place] =
            a->n > 0 && b->n > 0 ? turn / (WFI_RAD_PER_TURN * sky_hz * apart_s) : NAN;
    }
}

static void update_bounds(wfi_monitor_worker *w, double n)
{
    if (w->bounds_n == n)
        return;
    const double sigma = w->monitor->observation->kurtosis_flag_sigma;
    wfi_kurtosis_bounds(n, 1.0, sigma, &w->low[0], &w->high[0]);
    wfi_kurtosis_bounds(n, 0.5, sigma, &w->low[1], &w->high[1]);
    w->bounds_n = n;
}

/* The bin of the sums that channel k of a piece takes; SIZE_MAX: none. */
static size_t bin_of(const wfi_monitor_stream *s, const wfi_grid_piece *piece, size_t k)
{
    const int64_t baseband = s->sideband * (piece->first_bin + (int64_t)k);
    const int64_t bin =
        baseband + (s->decoder.n_parts == 2 ? (int64_t)(s->kurtosis.n_bins / 2) : 0);
    return bin >= 0 && bin < (int64_t)s->kurtosis.n_bins ? (size_t)bin : SIZE_MAX;
}

static void judge_kurtosis(wfi_monitor_worker *w, size_t i, wfi_monitor_result *out)
{
    const wfi_monitor_stream *s = &w->monitor->streams[i];
    const wf_plan *plan = w->monitor->plan;
    const wfi_spectrum_sums *sums = &w->powers[i];
    if (sums->n < 2)
        return;
    update_bounds(w, sums->n);
    const double excess = wfi_sampler_excess(&s->decoder, &out->counts[2 * i]);
    const double bias =
        wfi_kurtosis_of_quantised(excess, (double)s->kurtosis.n_fft, (double)s->decoder.n_parts) -
        1.0;
    for (size_t p = 0; p < plan->grid->n_pieces; p++) {
        const wfi_grid_piece *piece = &plan->grid->pieces[p];
        if (piece->i_stream != i)
            continue;
        uint8_t *odd = out->odd + (piece->i_input * plan->shape.n_bands + piece->i_band) *
                                      plan->shape.n_channels;
        for (size_t k = 0; k < piece->n_channels; k++) {
            const size_t bin = bin_of(s, piece, k);
            if (bin == SIZE_MAX)
                continue;
            const size_t edge = s->decoder.n_parts == 1 && bin == 0;
            const double kurtosis =
                wfi_kurtosis(sums->n, edge ? 0.5 : 1.0, sums->power[bin], sums->power_square[bin]) -
                bias;
            odd[piece->first_channel + k] =
                sums->power[bin] > 0 && (kurtosis < w->low[edge] || kurtosis > w->high[edge]);
        }
    }
}

static void clear(wfi_monitor_worker *w, wfi_monitor_result *out)
{
    const wfi_monitor *m = w->monitor;
    const wf_shape *shape = wf_plan_shape(m->plan);
    memset(out->counts, 0, 2 * m->n_streams * sizeof *out->counts);
    if (m->any_kurtosis)
        memset(out->odd, 0,
               shape->n_stations * m->n_polarizations * shape->n_bands * shape->n_channels);
    for (size_t i = 0; i < m->n_streams; i++) {
        for (size_t half = 0; half < 2 && m->streams[i].comb.n_tones > 0; half++)
            wfi_comb_sums_clear(&w->combs[2 * i + half]);
        if (m->streams[i].kurtosis.transform != NULL)
            wfi_spectrum_sums_clear(&w->powers[i]);
        out->sigma[i] = INFINITY;
    }
}

wf_status wfi_monitor_slice(wfi_monitor_worker *worker, const wf_slice *slice,
                            wfi_monitor_result *out, wf_error *err)
{
    const wfi_monitor *m = worker->monitor;
    clear(worker, out);
    for (size_t r = 0; r < m->observation->n_recordings; r++)
        WFI_TRY(watch_recording(worker, r, slice, out, err));
    for (size_t i = 0; i < m->n_streams; i++) {
        if (m->streams[i].comb.n_tones > 0)
            read_tones(worker, i, out);
        if (m->streams[i].kurtosis.transform != NULL)
            judge_kurtosis(worker, i, out);
    }
    return WF_OK;
}
