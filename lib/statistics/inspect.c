/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Looking at a recording: at places here and there, or at all of it.
 *
 * Spectra are made from places alone, which say enough of them; validity and states of all samples
 * are looked at where that is asked for. Streams are taken a group at a time, so that a thread of
 * a thousand channels does not need a thousand streams' room.
 */
#include <whitefringe/statistics.h>

#include "base/memory.h"
#include "base/status.h"
#include "statistics/gaps.h"
#include "statistics/inspect_comb.h"
#include "statistics/inspect_stream.h"

enum {
    GROUP = 32,
    SAMPLES_OF_ALL_STREAMS = 1 << 25,
    PLACE_SAMPLES = 1 << 17,
    PLACES_MOST = 256,
    PLACES_LEAST = 2,
    COMB_PLACES = 16,
};
static const double KURTOSIS_SIGMA = 5.0;

typedef struct inspector {
    const wf_recording *recording;
    const wf_recording_info *info;
    const wf_inspect_options *options;
    wf_window *window;
    wfi_decoded scratch;
    wfi_stream_plans plans[2]; /* of real and of complex samples */
    wf_inspection *out;
    size_t first_stream; /* of the group */
    size_t n_streams;
    wfi_stream_sums sums[GROUP];
    wfi_comb_follow combs[GROUP];
    wfi_gaps gaps;
    int64_t n_done;
    int64_t n_total;
} inspector;

static wf_status tick(inspector *in, wf_error *err)
{
    const wf_inspect_options *o = in->options;
    in->n_done++;
    if (o->progress != NULL && o->progress(o->context, in->n_done, in->n_total) != 0)
        return wfi_fail(err, WF_CANCELLED, "stopped on request");
    return WF_OK;
}

static size_t count_streams(const wf_recording_info *info)
{
    size_t n = 0;
    for (size_t t = 0; t < info->n_threads; t++)
        n += info->threads[t].format.n_channels;
    return n;
}

static void choose_places(inspector *in)
{
    wf_inspection *out = in->out;
    const int64_t length = in->info->end - in->info->first;
    const int64_t n_streams = (int64_t)out->n_streams;
    out->place_samples = length < PLACE_SAMPLES ? length : PLACE_SAMPLES;
    if (n_streams > SAMPLES_OF_ALL_STREAMS / PLACE_SAMPLES / PLACES_LEAST && length > 1 << 15)
        out->place_samples = 1 << 15;
    int64_t n = SAMPLES_OF_ALL_STREAMS / (n_streams * out->place_samples);
    n = n > PLACES_MOST ? PLACES_MOST : n < PLACES_LEAST ? PLACES_LEAST : n;
    const int64_t fit = length / out->place_samples;
    out->n_places = n < fit ? n : fit;
}

/* The first place begins the recording, the last ends it. */
static int64_t place_first(const inspector *in, int64_t i)
{
    const wf_inspection *out = in->out;
    const int64_t room = in->info->end - in->info->first - out->place_samples;
    if (out->n_places < 2)
        return in->info->first;
    return in->info->first + room / (out->n_places - 1) * i +
           room % (out->n_places - 1) * i / (out->n_places - 1);
}

static wf_status create_group(inspector *in, wf_error *err)
{
    size_t i = 0;
    for (size_t t = 0; t < in->info->n_threads; t++) {
        const wf_sample_format *format = &in->info->threads[t].format;
        for (uint32_t c = 0; c < format->n_channels; c++, i++) {
            if (i < in->first_stream || i >= in->first_stream + in->n_streams)
                continue;
            WFI_TRY(wfi_stream_sums_create(&in->sums[i - in->first_stream], in->info, t, c,
                                           &in->plans[format->is_complex], err));
        }
    }
    return WF_OK;
}

static void release_group(inspector *in)
{
    for (size_t i = 0; i < in->n_streams; i++) {
        wfi_stream_sums_release(&in->sums[i]);
        wfi_comb_follow_release(&in->combs[i]);
        in->sums[i] = (wfi_stream_sums){0};
    }
    in->n_streams = 0;
}

static void count_validity(inspector *in, int64_t first, int64_t n)
{
    for (size_t i = 0; i < in->n_streams; i++) {
        wf_stream_statistics *s = &in->out->streams[in->first_stream + i];
        const wf_packed *packed = wf_window_thread(in->window, in->sums[i].i_thread);
        double n_valid = (double)n;
        for (size_t k = 0; k < packed->n_invalid; k++) {
            const wf_sample_range run = packed->invalid[k];
            const int64_t from = run.first > first ? run.first : first;
            const int64_t to = run.first + run.n < first + n ? run.first + run.n : first + n;
            n_valid -= to > from ? (double)(to - from) : 0.0;
        }
        s->n_asked += (double)n;
        s->n_valid += n_valid;
    }
}

static wf_status add_gaps(inspector *in, int64_t first, int64_t n, wf_error *err)
{
    if (in->first_stream > 0)
        return WF_OK; /* the first group has seen them */
    for (size_t t = 0; t < in->info->n_threads; t++)
        WFI_TRY(wfi_gaps_add(&in->gaps, t, wf_window_thread(in->window, t), first, n, err));
    return WF_OK;
}

/* Validity, gaps and states of a stretch. */
static wf_status count_stretch(inspector *in, int64_t first, int64_t n, wf_error *err)
{
    WFI_TRY(wf_window_load(in->window, first, n, err));
    count_validity(in, first, n);
    WFI_TRY(add_gaps(in, first, n, err));
    for (size_t i = 0; i < in->n_streams; i++)
        wfi_stream_count(&in->sums[i], wf_window_thread(in->window, in->sums[i].i_thread), first,
                         (size_t)n, &in->scratch);
    return tick(in, err);
}

static wf_status count_all(inspector *in, wf_error *err)
{
    const int64_t step = in->out->place_samples;
    for (int64_t at = in->info->first; at < in->info->end; at += step) {
        const int64_t left = in->info->end - at;
        WFI_TRY(count_stretch(in, at, left < step ? left : step, err));
    }
    return WF_OK;
}

static wf_status transform_places(inspector *in, wf_error *err)
{
    const int64_t n = in->out->place_samples;
    for (int64_t p = 0; p < in->out->n_places; p++) {
        const int64_t first = place_first(in, p);
        if (!in->options->all)
            WFI_TRY(count_stretch(in, first, n, err));
        else
            WFI_TRY(wf_window_load(in->window, first, n, err));
        for (size_t i = 0; i < in->n_streams; i++)
            wfi_stream_transform(&in->sums[i], wf_window_thread(in->window, in->sums[i].i_thread),
                                 first, (size_t)n, &in->scratch);
        WFI_TRY(tick(in, err));
    }
    return WF_OK;
}

typedef void (*comb_step)(wfi_comb_follow *follow, int64_t first, const float *x, size_t n);

/* The longest valid stretch of a place, decoded; its length. */
static size_t decode_longest(inspector *in, const wfi_stream_sums *s, int64_t *first)
{
    const wf_packed *packed = wf_window_thread(in->window, s->i_thread);
    const int64_t end = *first + in->out->place_samples;
    int64_t best = *first;
    size_t n = 0;
    for (int64_t at = *first; at < end;) {
        at = wfi_next_valid(packed, at, (size_t)(end - at));
        const size_t run = at < end ? wfi_valid_run(packed, at, (size_t)(end - at)) : 0;
        if (run > n) {
            n = run;
            best = at;
        }
        at += (int64_t)run;
    }
    if (s->decoder.n_codes > 0)
        wfi_decode_codes(&s->decoder, packed, s->channel, best, n, in->scratch.codes);
    wfi_decode_levels(&s->decoder, packed, s->channel, best, n, in->scratch.codes,
                      in->scratch.levels);
    *first = best;
    return n;
}

static wf_status follow_combs(inspector *in, comb_step step, wf_error *err)
{
    const int64_t n_places = in->out->n_places < COMB_PLACES ? in->out->n_places : COMB_PLACES;
    for (int64_t p = 0; p < n_places; p++) {
        const int64_t place = p * in->out->n_places / n_places;
        WFI_TRY(wf_window_load(in->window, place_first(in, place), in->out->place_samples, err));
        for (size_t i = 0; i < in->n_streams; i++) {
            int64_t first = place_first(in, place);
            if (in->combs[i].setup.n_tones == 0)
                continue;
            const size_t n = decode_longest(in, &in->sums[i], &first);
            if (n >= (size_t)in->out->place_samples / 2)
                step(&in->combs[i], first, in->scratch.levels, n);
        }
        WFI_TRY(tick(in, err));
    }
    return WF_OK;
}

static wf_status find_combs(inspector *in, bool *any, wf_error *err)
{
    const double rate_hz = (double)in->info->sample_rate_hz;
    for (size_t i = 0; i < in->n_streams; i++) {
        wf_comb *comb = &in->out->streams[in->first_stream + i].comb;
        bool found = false;
        WFI_TRY(wfi_comb_search(&in->sums[i], rate_hz, in->options->spacing_hz, &found, comb, err));
        *any = *any || found;
        if (found)
            WFI_TRY(wfi_comb_follow_create(&in->combs[i], in->info->sample_rate_hz,
                                           in->sums[i].decoder.n_parts, comb, err));
    }
    return WF_OK;
}

static wf_status correct_combs(inspector *in, wf_error *err)
{
    for (size_t i = 0; i < in->n_streams; i++) {
        wf_comb *comb = &in->out->streams[in->first_stream + i].comb;
        if (in->combs[i].setup.n_tones == 0)
            continue;
        wfi_comb_follow_correct(&in->combs[i], comb);
        wfi_comb_follow_release(&in->combs[i]);
        WFI_TRY(wfi_comb_follow_create(&in->combs[i], in->info->sample_rate_hz,
                                       in->sums[i].decoder.n_parts, comb, err));
    }
    return WF_OK;
}

static wf_status inspect_combs(inspector *in, wf_error *err)
{
    bool any = false;
    WFI_TRY(find_combs(in, &any, err));
    if (!any)
        return WF_OK;
    WFI_TRY(follow_combs(in, wfi_comb_follow_drift, err));
    WFI_TRY(correct_combs(in, err));
    WFI_TRY(follow_combs(in, wfi_comb_follow_add, err));
    for (size_t i = 0; i < in->n_streams; i++) {
        wf_comb *comb = &in->out->streams[in->first_stream + i].comb;
        if (in->combs[i].setup.n_tones > 0 && in->combs[i].n > 0)
            WFI_TRY(wfi_comb_follow_judge(&in->combs[i], comb, err));
        else
            comb->spacing_hz = 0;
    }
    return WF_OK;
}

static wf_status inspect_group(inspector *in, wf_error *err)
{
    const double asked = in->options->kurtosis_sigma;
    WFI_TRY(create_group(in, err));
    if (in->options->all)
        WFI_TRY(count_all(in, err));
    WFI_TRY(transform_places(in, err));
    for (size_t i = 0; i < in->n_streams; i++)
        WFI_TRY(wfi_stream_judge(&in->out->streams[in->first_stream + i], &in->sums[i], in->info,
                                 asked > 0 ? asked : KURTOSIS_SIGMA, err));
    return inspect_combs(in, err);
}

static wf_status prepare(inspector *in, wf_error *err)
{
    wf_inspection *out = in->out;
    out->all = in->options->all;
    out->n_streams = count_streams(in->info);
    WFI_TRY(wfi_allocate(&out->streams, out->n_streams, sizeof *out->streams, "streams", err));
    choose_places(in);
    const int64_t n_groups = (int64_t)(out->n_streams + GROUP - 1) / GROUP;
    const int64_t windows =
        (in->info->end - in->info->first + out->place_samples - 1) / out->place_samples;
    in->n_total = n_groups * (out->n_places + (out->all ? windows : out->n_places));
    bool needed[2] = {false, false};
    for (size_t t = 0; t < in->info->n_threads; t++)
        needed[in->info->threads[t].format.is_complex] = true;
    for (size_t k = 0; k < 2; k++) {
        if (needed[k])
            WFI_TRY(wfi_stream_plans_create(&in->plans[k], in->info, k + 1, out->place_samples,
                                            out->n_places, in->options->n_channels, err));
    }
    WFI_TRY(wf_window_create(&in->window, in->recording, out->place_samples, err));
    WFI_TRY(wfi_gaps_create(&in->gaps, in->recording, err));
    return wfi_decoded_create(&in->scratch, (size_t)out->place_samples, err);
}

static wf_status inspect_all(inspector *in, wf_error *err)
{
    WFI_TRY(prepare(in, err));
    for (size_t i = 0; i < in->out->n_streams; i += GROUP) {
        in->first_stream = i;
        in->n_streams = in->out->n_streams - i < GROUP ? in->out->n_streams - i : GROUP;
        const wf_status status = inspect_group(in, err);
        release_group(in);
        WFI_TRY(status);
    }
    WFI_TRY(wfi_gaps_finish(&in->gaps, err));
    in->out->gaps = in->gaps.list;
    in->out->n_gaps = in->gaps.n;
    in->out->n_gaps_seen = in->gaps.n_seen;
    in->gaps.list = NULL;
    return WF_OK;
}

wf_status wf_inspect(wf_inspection **out, const wf_recording *recording,
                     const wf_inspect_options *options, wf_error *err)
{
    inspector *in = NULL;
    *out = NULL;
    WFI_TRY(wfi_allocate(&in, 1, sizeof *in, "an inspection", err));
    in->recording = recording;
    in->info = wf_recording_describe(recording);
    in->options = options;
    wf_status status = wfi_allocate(&in->out, 1, sizeof *in->out, "an inspection", err);
    if (status == WF_OK)
        status = inspect_all(in, err);
    if (status == WF_OK)
        *out = in->out;
    else
        wf_inspection_destroy(in->out);
    wf_window_destroy(in->window);
    wfi_gaps_release(&in->gaps);
    wfi_decoded_release(&in->scratch);
    wfi_stream_plans_release(&in->plans[0]);
    wfi_stream_plans_release(&in->plans[1]);
    wfi_free(in);
    return status;
}

void wf_inspection_destroy(wf_inspection *inspection)
{
    if (inspection == NULL)
        return;
    for (size_t i = 0; inspection->streams != NULL && i < inspection->n_streams; i++) {
        wfi_free(inspection->streams[i].spectrum);
        wfi_free(inspection->streams[i].kurtosis);
        wfi_free(inspection->streams[i].tones);
        wfi_free(inspection->streams[i].repetitions);
        wfi_free(inspection->streams[i].comb.tones);
    }
    wfi_free(inspection->streams);
    wfi_free(inspection->gaps);
    wfi_free(inspection);
}
