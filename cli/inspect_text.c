/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What inspect found, as text. */
#include <inttypes.h>
#include <math.h>
#include <string.h>

#include "inspect_result.h"
#include "measure.h"
#include "sampler.h"

static const double DEG_PER_RAD = 57.29577951308232088;
enum { TIME_DIGITS = 9, GAPS_SHOWN = 20, STREAMS_SHOWN = 256, TONES_SHOWN = 6 };

static void append_time(wfi_text *out, const char *label, const inspect_result *r, int64_t sample)
{
    char text[WF_INSTANT_TEXT_BYTES];
    wf_instant_format(text, inspect_time(r, sample), TIME_DIGITS);
    wfi_text_append(out, "  %-12s %s UTC\n", label, text);
}

static void append_times(wfi_text *out, const inspect_result *r)
{
    const wf_recording_info *info = r->info;
    const double length_s = (double)(info->end - info->first) / (double)info->sample_rate_hz;
    if (r->start_known) {
        append_time(out, "start", r, info->first);
        append_time(out, "end", r, info->end);
    } else {
        wfi_text_append(out, "  %-12s not stated in the file\n", "start");
    }
    wfi_text_append(out, "  %-12s %.9g s, %" PRId64 " samples of %" PRId64 " a second\n", "length",
                    length_s, info->end - info->first, info->sample_rate_hz);
}

static void append_frames(wfi_text *out, const inspect_result *r)
{
    inspect_frames frames;
    if (!inspect_count_frames(r, &frames))
        return;
    wfi_text_append(out,
                    "  %-12s %" PRId64 " of %" PRId64 " bytes found, %" PRId64 " expected, %" PRId64
                    " lost, %" PRId64 " duplicated, %" PRId64 " invalid%s\n",
                    "frames", frames.found, r->info->frame_bytes, frames.expected, frames.lost,
                    r->faults[WF_FAULT_DUPLICATE].n_frames,
                    r->faults[WF_FAULT_INVALID_FLAG].n_frames + r->faults[WF_FAULT_FILL].n_frames,
                    r->seen->all ? "" : " in the places");
}

static void append_head(wfi_text *out, const inspect_result *r)
{
    const wf_recording_info *info = r->info;
    const wf_inspection *seen = r->seen;
    for (size_t i = 0; i < r->n_files; i++)
        wfi_text_append(out, "%s\n", r->files[i]);
    const wf_sample_format *f = &info->threads[0].format;
    wfi_text_append(out, "\n  %-12s %s, %zu thread%s, %zu stream%s of %u bit%s %s\n", "format",
                    info->format_name, info->n_threads, info->n_threads == 1 ? "" : "s",
                    seen->n_streams, seen->n_streams == 1 ? "" : "s", inspect_bits(f),
                    inspect_bits(f) == 1 ? "" : "s", f->is_complex ? "complex" : "real");
    append_times(out, r);
    append_frames(out, r);
    const double length = (double)(info->end - info->first);
    const double part = (double)seen->n_places * (double)seen->place_samples / length;
    if (seen->all)
        wfi_text_append(out, "  %-12s every sample in %.3g s; spectra from %.3g %% of them\n",
                        "looked at", r->elapsed_s, 100 * part);
    else
        wfi_text_append(out,
                        "  %-12s %" PRId64 " place%s of %" PRId64
                        " samples in %.3g s: %.3g %% of the recording\n",
                        "looked at", seen->n_places, seen->n_places == 1 ? "" : "s",
                        seen->place_samples, r->elapsed_s, 100 * part);
}

static void append_place(wfi_text *out, const inspect_result *r, const wf_fault_place *p)
{
    char time[WF_INSTANT_TEXT_BYTES] = "";
    if (p->has_time && r->start_known)
        wf_instant_format(time, p->t, 6);
    const char *file = p->i_file < r->n_files ? r->files[p->i_file] : "?";
    wfi_text_append(out, "  %-26s  %s", time, file);
    if (p->offset_bytes >= 0)
        wfi_text_append(out, ", byte %" PRId64, p->offset_bytes);
    if (p->thread >= 0)
        wfi_text_append(out, ", thread %" PRId32, p->thread);
    wfi_text_append(out, "\n");
}

static void append_faults(wfi_text *out, const inspect_result *r)
{
    bool any = false;
    for (int k = 0; k < WF_FAULT_N_KINDS; k++) {
        const wf_fault *f = &r->faults[k];
        if (f->n_places == 0)
            continue;
        if (!any)
            wfi_text_append(out, "\nfaults\n  %9s  %12s  %-26s  %s\n", "frames", "lost samples",
                            "first", "");
        any = true;
        wfi_text_append(out, "  %9" PRId64 "  %12" PRId64, f->n_frames, f->lost_samples);
        append_place(out, r, &f->first);
        wfi_text_append(out, "  %9s  %12s  %s", "", "", wf_fault_text((wf_fault_kind)k));
        if (f->n_places > 1)
            wfi_text_append(out, ", at %" PRId64 " places", f->n_places);
        if (f->n_bytes > 0)
            wfi_text_append(out, ", %" PRId64 " bytes", f->n_bytes);
        wfi_text_append(out, "\n");
    }
    for (size_t i = 0; i < wf_recording_n_warnings(r->recording); i++)
        wfi_text_append(out, "%s  warning: %s\n", i == 0 ? "\n" : "",
                        wf_recording_warning(r->recording, i));
}

static void append_gaps(wfi_text *out, const inspect_result *r)
{
    const wf_inspection *seen = r->seen;
    if (seen->n_gaps == 0) {
        wfi_text_append(out, "\nno gaps%s\n",
                        seen->all ? "" : " at the places looked at; --all finds every one");
        return;
    }
    wfi_text_append(out, "\ngaps\n  %-29s  %14s  %14s  %6s\n", "from (UTC)", "length / s",
                    "samples", "thread");
    for (size_t i = 0; i < seen->n_gaps && i < GAPS_SHOWN; i++) {
        const wf_gap *g = &seen->gaps[i];
        char text[WF_INSTANT_TEXT_BYTES];
        wf_instant_format(text, inspect_time(r, g->first), TIME_DIGITS);
        wfi_text_append(out, "  %-29s  %14.9f  %14" PRId64 "  %6" PRIu32 "\n", text,
                        (double)g->n / (double)r->info->sample_rate_hz, g->n,
                        r->info->threads[g->i_thread].thread);
    }
    if (seen->n_gaps_seen > GAPS_SHOWN)
        wfi_text_append(out, "  and %" PRId64 " more\n", seen->n_gaps_seen - GAPS_SHOWN);
}

/* "-", or a number where it is one. */
static void append_number(wfi_text *out, int width, int decimals, double value)
{
    if (isfinite(value))
        wfi_text_append(out, "  %*.*f", width, decimals, value);
    else
        wfi_text_append(out, "  %*s", width, "-");
}

static void append_sampler(wfi_text *out, const wf_stream_statistics *s, size_t part)
{
    const wf_sampler_statistics *c = &s->component[part];
    char states[SAMPLER_STATES_BYTES];
    const char *name = !s->format.is_complex ? "" : part == 0 ? "I" : "Q";
    wfi_text_append(out, "  %6" PRIu32 "  %7" PRIu32 " %-1s", s->thread, s->channel, name);
    append_number(out, 8, 3, s->n_asked > 0 ? 100 * s->n_valid / s->n_asked : NAN);
    sampler_format_states(states, c);
    wfi_text_append(out, "  %-32s", states);
    append_number(out, 9, 4, c->n_states == 4 ? 1 / c->sigma_steps : c->sigma_steps);
    append_number(out, 8, 4, c->offset_sigma);
    append_number(out, 10, 4, c->efficiency);
    wfi_text_append(out, "  %12.6g  %s\n", c->rms * c->rms, wf_sampler_verdict_text(c->verdict));
}

static void append_optimum(wfi_text *out, unsigned bits)
{
    double best[WF_SAMPLER_STATES_MAX];
    if (bits > 2 || !wf_sampler_optimum(bits, best))
        return;
    wfi_text_append(out, "  of Gaussian noise at the best levels:");
    for (size_t k = 0; k < (size_t)1 << bits; k++)
        wfi_text_append(out, " %.4f", best[k]);
    wfi_text_append(out, "\n");
}

static void append_samplers(wfi_text *out, const inspect_result *r)
{
    const wf_inspection *seen = r->seen;
    const unsigned bits = inspect_bits(&r->info->threads[0].format);
    wfi_text_append(out, "\n  %6s  %9s  %8s  %-32s  %9s  %8s  %10s  %12s  %s\n", "thread",
                    "channel", "valid/%", bits <= 2 ? "states, lowest first" : "range",
                    bits == 2 ? "v0/sigma" : "sigma", "offset", "efficiency", "power", "verdict");
    for (size_t i = 0; i < seen->n_streams && i < STREAMS_SHOWN; i++) {
        append_sampler(out, &seen->streams[i], 0);
        if (seen->streams[i].format.is_complex)
            append_sampler(out, &seen->streams[i], 1);
    }
    if (seen->n_streams > STREAMS_SHOWN)
        wfi_text_append(out, "  and %zu more; --json has all\n", seen->n_streams - STREAMS_SHOWN);
    append_optimum(out, bits);
}

static void append_tones(wfi_text *out, const inspect_result *r, const wf_stream_statistics *s)
{
    const inspect_unit unit = inspect_frequency_unit(r);
    size_t n = 0;
    for (size_t i = 0; i < s->n_tones && n < TONES_SHOWN; i++) {
        if (inspect_is_of_comb(s, &s->tones[i]))
            continue;
        wfi_text_append(out, "%s %.6f %s (%.2g %% of the power)", n == 0 ? "    tones:" : ",",
                        s->tones[i].frequency_hz / unit.hz, unit.name,
                        100 * s->tones[i].power_fraction);
        n++;
    }
    if (n > 0)
        wfi_text_append(out, "\n");
}

static void append_comb(wfi_text *out, const inspect_result *r, const wf_comb *c)
{
    const inspect_unit unit = inspect_frequency_unit(r);
    char delay[MEASURE_BYTES];
    if (c->spacing_hz <= 0)
        return;
    measure_format(delay, c->delay_s, c->delay_error_s, "s");
    wfi_text_append(out,
                    "    comb: %zu tones every %.9g %s from %.9g %s, amplitude %.4f, delay %s, "
                    "coherence %.2f\n",
                    c->n_tones, c->spacing_hz / unit.hz, unit.name, c->offset_hz / unit.hz,
                    unit.name, c->amplitude, delay, c->coherence);
    for (size_t i = 0; i < c->n_tones; i++) {
        wfi_text_append(out, "%s%.6g %s %.4f %.1f°", i % 4 == 0 ? "      " : ",  ",
                        c->tones[i].frequency_hz / unit.hz, unit.name, c->tones[i].amplitude,
                        DEG_PER_RAD * c->tones[i].phase_rad);
        wfi_text_append(out, "%s", i % 4 == 3 || i + 1 == c->n_tones ? "\n" : "");
    }
}

static void append_findings(wfi_text *out, const inspect_result *r, const wf_stream_statistics *s)
{
    wfi_text line = {0};
    const size_t odd = inspect_n_odd_channels(s);
    append_tones(&line, r, s);
    append_comb(&line, r, &s->comb);
    if (odd > 0)
        wfi_text_append(&line,
                        "    kurtosis: %zu of %zu channels are outside %.4f to %.4f, no Gaussian "
                        "noise\n",
                        odd, s->n_channels, s->kurtosis_low, s->kurtosis_high);
    for (size_t i = 0; i < s->n_repetitions; i++)
        wfi_text_append(&line,
                        "    repetition: samples resemble those %" PRId64
                        " later (%.9g s), coefficient %.3g\n",
                        s->repetitions[i].lag_samples,
                        (double)s->repetitions[i].lag_samples / (double)r->info->sample_rate_hz,
                        s->repetitions[i].coefficient);
    if (line.n > 0)
        wfi_text_append(out, "  thread %" PRIu32 " channel %" PRIu32 "\n%s", s->thread, s->channel,
                        line.bytes);
    wfi_text_release(&line);
}

void inspect_append_text(wfi_text *out, const inspect_result *r)
{
    append_head(out, r);
    append_faults(out, r);
    append_gaps(out, r);
    append_samplers(out, r);
    wfi_text findings = {0};
    for (size_t i = 0; i < r->seen->n_streams; i++)
        append_findings(&findings, r, &r->seen->streams[i]);
    if (findings.n > 0)
        wfi_text_append(out, "\nin the spectra (frequencies of the recorded band)\n%s",
                        findings.bytes);
    wfi_text_release(&findings);
}
