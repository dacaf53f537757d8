/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What inspect found, as one JSON object. */
#include <math.h>

#include "inspect_result.h"
#include "sampler.h"

static const double DEG_PER_RAD = 57.29577951308232088;
enum { TIME_DIGITS = 9 };

static void add_time(json *out, const char *key, wf_instant t)
{
    char text[WF_INSTANT_TEXT_BYTES];
    wf_instant_format(text, t, TIME_DIGITS);
    json_text(out, key, text);
}

static void add_place(json *out, const char *key, const inspect_result *r, const wf_fault_place *p)
{
    json_open(out, key, '{');
    json_text(out, "file", p->i_file < r->n_files ? r->files[p->i_file] : NULL);
    if (p->offset_bytes >= 0)
        json_count(out, "byte", p->offset_bytes);
    json_count(out, "frame", p->frame);
    if (p->thread >= 0)
        json_count(out, "thread", p->thread);
    if (p->has_time && r->start_known)
        add_time(out, "utc", p->t);
    json_close(out);
}

static void add_faults(json *out, const inspect_result *r)
{
    json_open(out, "faults", '[');
    for (int k = 0; k < WF_FAULT_N_KINDS; k++) {
        const wf_fault *f = &r->faults[k];
        if (f->n_places == 0)
            continue;
        json_open(out, NULL, '{');
        json_text(out, "kind", wf_fault_key((wf_fault_kind)k));
        json_text(out, "text", wf_fault_text((wf_fault_kind)k));
        json_count(out, "places", f->n_places);
        json_count(out, "frames", f->n_frames);
        json_count(out, "bytes", f->n_bytes);
        json_count(out, "lost_samples", f->lost_samples);
        add_place(out, "first", r, &f->first);
        add_place(out, "last", r, &f->last);
        json_close(out);
    }
    json_close(out);
    json_open(out, "warnings", '[');
    for (size_t i = 0; i < wf_recording_n_warnings(r->recording); i++)
        json_text(out, NULL, wf_recording_warning(r->recording, i));
    json_close(out);
}

static void add_gaps(json *out, const inspect_result *r)
{
    json_count(out, "gaps_seen", r->seen->n_gaps_seen);
    json_open(out, "gaps", '[');
    for (size_t i = 0; i < r->seen->n_gaps; i++) {
        const wf_gap *g = &r->seen->gaps[i];
        json_open(out, NULL, '{');
        json_count(out, "thread", r->info->threads[g->i_thread].thread);
        add_time(out, "start_utc", inspect_time(r, g->first));
        json_number(out, "length_s", (double)g->n / (double)r->info->sample_rate_hz);
        json_count(out, "first_sample", g->first);
        json_count(out, "samples", g->n);
        json_close(out);
    }
    json_close(out);
}

static void add_comb(json *out, const wf_comb *c)
{
    if (c->spacing_hz <= 0) {
        json_text(out, "comb", NULL);
        return;
    }
    json_open(out, "comb", '{');
    json_number(out, "spacing_hz", c->spacing_hz);
    json_number(out, "offset_hz", c->offset_hz);
    json_number(out, "delay_s", c->delay_s);
    json_number(out, "delay_error_s", c->delay_error_s);
    json_number(out, "amplitude", c->amplitude);
    json_number(out, "coherence", c->coherence);
    json_number(out, "significance", c->significance);
    json_open(out, "tones", '[');
    for (size_t i = 0; i < c->n_tones; i++) {
        json_open(out, NULL, '{');
        json_number(out, "frequency_hz", c->tones[i].frequency_hz);
        json_number(out, "amplitude", c->tones[i].amplitude);
        json_number(out, "phase_deg", DEG_PER_RAD * c->tones[i].phase_rad);
        json_number(out, "phase_error_deg", DEG_PER_RAD * c->tones[i].phase_error_rad);
        json_close(out);
    }
    json_close(out);
    json_close(out);
}

static void add_lines(json *out, const inspect_result *r, const wf_stream_statistics *s)
{
    json_open(out, "tones", '[');
    for (size_t i = 0; i < s->n_tones; i++) {
        json_open(out, NULL, '{');
        json_number(out, "frequency_hz", s->tones[i].frequency_hz);
        json_number(out, "power_fraction", s->tones[i].power_fraction);
        json_number(out, "significance", s->tones[i].significance);
        json_bool(out, "of_comb", inspect_is_of_comb(s, &s->tones[i]));
        json_close(out);
    }
    json_close(out);
    add_comb(out, &s->comb);
    json_open(out, "repetitions", '[');
    for (size_t i = 0; i < s->n_repetitions; i++) {
        json_open(out, NULL, '{');
        json_count(out, "lag_samples", s->repetitions[i].lag_samples);
        json_number(out, "lag_s",
                    (double)s->repetitions[i].lag_samples / (double)r->info->sample_rate_hz);
        json_number(out, "coefficient", s->repetitions[i].coefficient);
        json_number(out, "significance", s->repetitions[i].significance);
        json_close(out);
    }
    json_close(out);
}

static void add_spectrum(json *out, const wf_stream_statistics *s)
{
    json_open(out, "spectrum", '{');
    json_number(out, "first_hz", s->first_hz);
    json_number(out, "channel_hz", s->channel_hz);
    json_number(out, "transforms", s->n_spectra);
    json_open(out, "power", '[');
    for (size_t k = 0; k < s->n_channels; k++)
        json_number(out, NULL, s->spectrum[k]);
    json_close(out);
    json_open(out, "kurtosis", '[');
    for (size_t k = 0; k < s->n_channels; k++)
        json_number(out, NULL, s->kurtosis[k]);
    json_close(out);
    json_number(out, "kurtosis_low", s->kurtosis_low);
    json_number(out, "kurtosis_high", s->kurtosis_high);
    json_count(out, "channels_outside", (int64_t)inspect_n_odd_channels(s));
    json_close(out);
}

static void add_stream(json *out, const inspect_result *r, const wf_stream_statistics *s)
{
    json_open(out, NULL, '{');
    json_count(out, "thread", s->thread);
    json_count(out, "channel", s->channel);
    json_count(out, "bits", inspect_bits(&s->format));
    json_text(out, "sampling", s->format.is_complex ? "complex" : "real");
    json_text(out, "verdict", wf_sampler_verdict_text(inspect_verdict(s)));
    json_number(out, "valid_fraction", s->n_asked > 0 ? s->n_valid / s->n_asked : NAN);
    json_number(out, "power", s->power);
    json_open(out, "samplers", '[');
    for (size_t p = 0; p < (s->format.is_complex ? 2u : 1u); p++)
        sampler_append_json(out, &s->component[p]);
    json_close(out);
    add_lines(out, r, s);
    add_spectrum(out, s);
    json_close(out);
}

static void add_frames(json *out, const inspect_result *r)
{
    inspect_frames frames;
    if (!inspect_count_frames(r, &frames)) {
        json_text(out, "frames", NULL);
        return;
    }
    json_open(out, "frames", '{');
    json_count(out, "bytes_each", r->info->frame_bytes);
    json_count(out, "expected", frames.expected);
    json_count(out, "found", frames.found);
    json_count(out, "lost", frames.lost);
    json_count(out, "duplicated", r->faults[WF_FAULT_DUPLICATE].n_frames);
    json_count(out, "invalid",
               r->faults[WF_FAULT_INVALID_FLAG].n_frames + r->faults[WF_FAULT_FILL].n_frames);
    json_close(out);
}

void inspect_append_json(json *out, const inspect_result *r)
{
    const wf_recording_info *info = r->info;
    json_open(out, NULL, '{');
    json_open(out, "files", '[');
    for (size_t i = 0; i < r->n_files; i++)
        json_text(out, NULL, r->files[i]);
    json_close(out);
    json_text(out, "format", info->format_name);
    json_bool(out, "start_known", r->start_known);
    add_time(out, "start_utc", inspect_time(r, info->first));
    add_time(out, "end_utc", inspect_time(r, info->end));
    json_number(out, "length_s", (double)(info->end - info->first) / (double)info->sample_rate_hz);
    json_count(out, "sample_rate_hz", info->sample_rate_hz);
    json_count(out, "bytes", r->n_bytes);
    json_count(out, "threads", (int64_t)info->n_threads);
    add_frames(out, r);
    json_bool(out, "all", r->seen->all);
    json_count(out, "places", r->seen->n_places);
    json_count(out, "samples_a_place", r->seen->place_samples);
    json_number(out, "elapsed_s", r->elapsed_s);
    add_faults(out, r);
    add_gaps(out, r);
    json_open(out, "streams", '[');
    for (size_t i = 0; i < r->seen->n_streams; i++)
        add_stream(out, r, &r->seen->streams[i]);
    json_close(out);
    json_close(out);
}
