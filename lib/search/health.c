/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A station by itself: power, states, band-pass, repetition, tones; its place. */
#include "search/health.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <whitefringe/statistics.h>

#include "base/memory.h"
#include "base/status.h"

/* A channel this far below the band's mean holds nothing; a band is dead where most do. */
static const double EMPTY_CHANNEL = 0.05;
static const double DEAD_FRACTION = 0.5;
/* Antennas stand further apart. */
static const double SAME_PLACE_M = 30;
/* Band noise of a station repeats by chance far below this. */
static const double REPETITION_COEFFICIENT = 0.2;

typedef struct findings {
    wf_finding *list;
    size_t n;
    size_t capacity;
    const wf_observation *observation;
    const wf_recording_entry *entry;
} findings;

static wf_status add(findings *to, wf_error *err, wf_finding_kind kind, bool is_fatal,
                     const char *format, ...) __attribute__((format(printf, 5, 6)));

static wf_status add(findings *to, wf_error *err, wf_finding_kind kind, bool is_fatal,
                     const char *format, ...)
{
    WFI_TRY(
        wfi_array_reserve(&to->list, &to->capacity, to->n + 1, sizeof *to->list, "findings", err));
    wf_finding *finding = &to->list[to->n++];
    *finding = (wf_finding){.kind = kind, .is_fatal = is_fatal};
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(finding->text, sizeof finding->text, format, arguments);
    va_end(arguments);
    return WF_OK;
}

static const wf_stream *stream_of_job(const wf_recording_entry *entry,
                                      const wf_stream_statistics *seen)
{
    for (size_t k = 0; k < entry->n_streams; k++)
        if (entry->streams[k].thread == seen->thread && entry->streams[k].channel == seen->channel)
            return &entry->streams[k];
    return NULL;
}

static bool is_constant(const wf_sampler_statistics *component)
{
    return component->lowest == component->highest;
}

static wf_status check_samplers(findings *to, const wf_stream_statistics *seen, const char *name,
                                wf_error *err)
{
    for (size_t p = 0; p < (seen->format.is_complex ? 2u : 1u); p++) {
        const wf_sampler_statistics *c = &seen->component[p];
        const char *part = !seen->format.is_complex ? "" : p == 0 ? ", I" : ", Q";
        if (is_constant(c))
            return add(to, err, WF_FINDING_NO_POWER, true, "%s%s: no power, all samples are %g",
                       name, part, c->mean);
        if (c->verdict != WF_SAMPLER_HEALTHY)
            WFI_TRY(add(to, err, WF_FINDING_SAMPLER, c->verdict <= WF_SAMPLER_ONE_SIDED,
                        "%s%s: %s; %.3g of the sensitivity is left by its quantisation", name, part,
                        wf_sampler_verdict_text(c->verdict), c->efficiency / c->best_efficiency));
    }
    return WF_OK;
}

static wf_status check_band_pass(findings *to, const wf_stream_statistics *seen, const char *name,
                                 wf_error *err)
{
    size_t n_empty = 0;
    for (size_t c = 0; c < seen->n_channels; c++)
        n_empty += seen->spectrum[c] < EMPTY_CHANNEL;
    const double empty = (double)n_empty / (double)seen->n_channels;
    if (empty < DEAD_FRACTION)
        return WF_OK;
    return add(to, err, WF_FINDING_DEAD_BAND, empty > 0.95,
               "%s: %.0f %% of the band-pass is empty; look at filters and at the mixing", name,
               100 * empty);
}

static wf_status check_repetition(findings *to, const wf_stream_statistics *seen, const char *name,
                                  int64_t sample_rate_hz, wf_error *err)
{
    if (seen->n_repetitions == 0 || seen->repetitions[0].coefficient < REPETITION_COEFFICIENT)
        return WF_OK;
    const wf_repetition *strongest = &seen->repetitions[0];
    return add(to, err, WF_FINDING_REPETITION, strongest->coefficient > 0.5,
               "%s: the samples come again after %.9g s (coefficient %.2f), as stale buffers of a "
               "recorder do",
               name, (double)strongest->lag_samples / (double)sample_rate_hz,
               strongest->coefficient);
}

static wf_status check_stream(findings *to, const wf_stream_statistics *seen,
                              int64_t sample_rate_hz, wf_error *err)
{
    const wf_stream *stream = stream_of_job(to->entry, seen);
    if (stream == NULL)
        return WF_OK;
    char name[WF_STREAM_TEXT_BYTES];
    wf_stream_format(name, stream);
    if (seen->n_valid < 1)
        return add(to, err, WF_FINDING_NO_SAMPLES, true, "%s: no valid samples", name);
    WFI_TRY(check_samplers(to, seen, name, err));
    if (!(seen->power > 0) || is_constant(&seen->component[0]))
        return WF_OK;
    WFI_TRY(check_band_pass(to, seen, name, err));
    WFI_TRY(check_repetition(to, seen, name, sample_rate_hz, err));
    const wf_station *station = &to->observation->stations[to->entry->i_station];
    if (station->phase_calibration.spacing_hz > 0 && !(seen->comb.spacing_hz > 0))
        return add(to, err, WF_FINDING_NO_TONES, false,
                   "%s: no phase-calibration tones %.9g MHz apart, which the job expects", name,
                   1e-6 * (double)station->phase_calibration.spacing_hz);
    return WF_OK;
}

static wf_status check_recording(findings *to, wf_error *err)
{
    const wf_phase_calibration *calibration =
        &to->observation->stations[to->entry->i_station].phase_calibration;
    const wf_inspect_options options = {.spacing_hz = (double)calibration->spacing_hz};
    wf_recording *recording = NULL;
    wf_inspection *seen = NULL;
    wf_status status = wf_recording_open(&recording, to->entry, err);
    if (status == WF_OK)
        status = wf_inspect(&seen, recording, &options, err);
    for (size_t k = 0; status == WF_OK && k < seen->n_streams; k++)
        status = check_stream(to, &seen->streams[k],
                              wf_recording_describe(recording)->sample_rate_hz, err);
    wf_inspection_destroy(seen);
    wf_recording_close(recording);
    return status;
}

static double distance_m(const wf_station *a, const wf_station *b)
{
    double square = 0;
    for (size_t k = 0; k < 3; k++) {
        const double d = a->position_itrf_m[k] - b->position_itrf_m[k];
        square += d * d;
    }
    return sqrt(square);
}

/* Where a position was copied, the right one stands nowhere in the job. */
static wf_status check_position(findings *to, size_t i_station, wf_error *err)
{
    const wf_observation *o = to->observation;
    for (size_t i = 0; i < o->n_stations; i++)
        if (i != i_station && distance_m(&o->stations[i], &o->stations[i_station]) < SAME_PLACE_M)
            WFI_TRY(add(to, err, WF_FINDING_POSITION, false,
                        "its position in the job is that of %s", o->stations[i].name));
    return WF_OK;
}

wf_status wfi_health_check(wf_finding **out, size_t *n_findings, const wf_observation *observation,
                           size_t i_station, wf_error *err)
{
    findings to = {.observation = observation};
    wf_status status = check_position(&to, i_station, err);
    for (size_t r = 0; status == WF_OK && r < observation->n_recordings; r++) {
        to.entry = &observation->recordings[r];
        if (to.entry->i_station == i_station)
            status = check_recording(&to, err);
    }
    if (status != WF_OK) {
        wfi_free(to.list);
        to = (findings){0};
    }
    *out = to.list;
    *n_findings = to.n;
    return status;
}

bool wfi_health_holds_nothing(const wf_finding *list, size_t n_findings,
                              const wf_observation *observation, size_t i_station)
{
    size_t n_streams = 0;
    size_t n_empty = 0;
    for (size_t r = 0; r < observation->n_recordings; r++)
        if (observation->recordings[r].i_station == i_station)
            n_streams += observation->recordings[r].n_streams;
    for (size_t f = 0; f < n_findings; f++)
        n_empty += list[f].kind == WF_FINDING_NO_POWER || list[f].kind == WF_FINDING_NO_SAMPLES;
    return n_streams > 0 && n_empty == n_streams;
}
