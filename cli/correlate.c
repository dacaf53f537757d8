/* SPDX-License-Identifier: GPL-3.0-or-later */
/* whitefringe correlate: the recordings of a job become a FITS-IDI file. */
#include <inttypes.h>
#include <stdio.h>
#include <string.h>
#include <whitefringe/observation.h>
#include <whitefringe/run.h>

#include "json.h"
#include "losses.h"
#include "progress.h"
#include "sampler.h"
#include "verbs.h"

/* A finished run. */
typedef struct result {
    wf_observation *observation;
    wf_correlate_summary summary;
    double elapsed_s;
} result;

static double speed(const result *r)
{
    return r->elapsed_s > 0 ? r->summary.data_s / r->elapsed_s : 0;
}

static const wf_stream *stream_of(const wf_observation *o, const wf_stream_summary *s)
{
    return &o->recordings[s->i_recording].streams[s->i_stream];
}

static void print_lines(const char *text, const char *indent)
{
    while (*text != '\0') {
        const size_t n = strcspn(text, "\n");
        printf("%s%.*s\n", indent, (int)n, text);
        text += n + (text[n] == '\n');
    }
}

/* States as they were counted in some thousand samples of each integration. */
static void print_samplers(const wf_observation *o, const wf_correlate_summary *s)
{
    printf("\n  %-8s  %-9s  %6s  %7s   %-32s  %9s  %8s  %s\n", "station", "recording", "thread",
           "channel", "sampler", "v0/sigma", "offset", "verdict");
    for (size_t i = 0; i < s->n_streams; i++) {
        const wf_stream *stream = stream_of(o, &s->streams[i]);
        for (size_t p = 0; p < (s->streams[i].is_complex ? 2u : 1u); p++) {
            const wf_sampler_statistics *c = &s->streams[i].component[p];
            char states[SAMPLER_STATES_BYTES];
            char threshold[32] = "-";
            sampler_format_states(states, c);
            if (c->n_states == 4)
                snprintf(threshold, sizeof threshold, "%.4f", 1 / c->sigma_steps);
            printf("  %-8s  %9zu  %6" PRIu32 "  %7" PRIu32 " %s %-32s  %9s  %8.4f  %s\n",
                   o->stations[s->streams[i].i_station].name, s->streams[i].i_recording + 1,
                   stream->thread, stream->channel,
                   !s->streams[i].is_complex ? " "
                   : p == 0                  ? "I"
                                             : "Q",
                   states, threshold, c->offset_sigma, wf_sampler_verdict_text(c->verdict));
        }
    }
}

static void print_watched(const wf_correlate_summary *s)
{
    if (s->n_tone_rows > 0)
        printf("\nphase-calibration tones of %" PRId64
               " integrations of stations are in PHASE-CAL\n",
               s->n_tone_rows);
    if (s->n_uncalibrated > 0)
        printf("\n%" PRId64 " times the tones of a band were too weak to be applied\n",
               s->n_uncalibrated);
    if (s->n_flagged > 0)
        printf("\n%" PRId64 " times a channel was no Gaussian noise: table FLAG\n", s->n_flagged);
}

static void print_text(const settings *asked, const result *r)
{
    const wf_observation *o = r->observation;
    const wf_correlate_summary *s = &r->summary;
    printf("campaign %s -> %s\n\nplan\n", o->campaign, asked->output);
    print_lines(s->plan, "  ");
    printf("\n  %-8s  %-9s  %6s  %7s  %-26s  %9s  %13s  %12s\n", "station", "recording", "thread",
           "channel", "stream", "valid/%", "mean power", "efficiency");
    for (size_t i = 0; i < s->n_streams; i++) {
        const wf_stream *stream = stream_of(o, &s->streams[i]);
        char text[WF_STREAM_TEXT_BYTES];
        wf_stream_format(text, stream);
        printf("  %-8s  %9zu  %6" PRIu32 "  %7" PRIu32 "  %-26s  %9.4f  %13.6g  %12.6f\n",
               o->stations[s->streams[i].i_station].name, s->streams[i].i_recording + 1,
               stream->thread, stream->channel, text, 100 * s->streams[i].valid_fraction,
               s->streams[i].mean_power, s->streams[i].quantisation_efficiency);
    }
    print_samplers(o, s);
    print_watched(s);
    losses_print(o, s);
    printf("\n%" PRId64 " integrations, %" PRId64 " rows; at most %.2g of the amplitude is lost to "
           "fringe rotation\n",
           s->n_integrations, s->n_rows, s->rotation_loss);
    printf("%.6g s of observation in %.3g s on %d thread%s: %.3g data seconds a second\n",
           s->data_s, r->elapsed_s, s->n_threads, s->n_threads == 1 ? "" : "s", speed(r));
}

static void add_streams(json *out, const wf_observation *o, const wf_correlate_summary *s)
{
    json_open(out, "streams", '[');
    for (size_t i = 0; i < s->n_streams; i++) {
        const wf_stream *stream = stream_of(o, &s->streams[i]);
        const char polarization[] = {wf_polarization_letter(stream->polarization), '\0'};
        json_open(out, NULL, '{');
        json_text(out, "station", o->stations[s->streams[i].i_station].name);
        json_count(out, "recording", (int64_t)s->streams[i].i_recording);
        json_count(out, "stream", (int64_t)s->streams[i].i_stream);
        json_count(out, "thread", stream->thread);
        json_count(out, "channel", stream->channel);
        json_text(out, "polarization", polarization);
        json_number(out, "valid_fraction", s->streams[i].valid_fraction);
        json_number(out, "mean_power_steps_squared", s->streams[i].mean_power);
        json_number(out, "quantisation_efficiency", s->streams[i].quantisation_efficiency);
        json_open(out, "samplers", '[');
        for (size_t p = 0; p < (s->streams[i].is_complex ? 2u : 1u); p++)
            sampler_append_json(out, &s->streams[i].component[p]);
        json_close(out);
        losses_add_stream(out, &s->streams[i]);
        json_close(out);
    }
    json_close(out);
}

static wf_status print_json(const settings *asked, const result *r, wf_error *err)
{
    const wf_observation *o = r->observation;
    const wf_correlate_summary *s = &r->summary;
    json out = {0};
    json_open(&out, NULL, '{');
    json_text(&out, "campaign", o->campaign);
    json_text(&out, "output", asked->output);
    json_count(&out, "integrations", s->n_integrations);
    json_count(&out, "rows", s->n_rows);
    json_number(&out, "data_s", s->data_s);
    json_number(&out, "elapsed_s", r->elapsed_s);
    json_number(&out, "data_seconds_per_second", speed(r));
    json_count(&out, "threads", s->n_threads);
    json_number(&out, "rotation_loss", s->rotation_loss);
    json_count(&out, "phase_cal_rows", s->n_tone_rows);
    json_count(&out, "phase_cal_too_weak", s->n_uncalibrated);
    json_count(&out, "flagged_channel_integrations", s->n_flagged);
    json_text(&out, "plan", s->plan);
    add_streams(&out, o, s);
    losses_add_faults(&out, o, s);
    json_close(&out);
    const wf_status status = json_write(&out, stdout, err);
    json_release(&out);
    return status;
}

static wf_status run(const settings *asked, wf_error *err)
{
    result r = {0};
    wf_status status = wf_observation_load(&r.observation, asked->operand, err);
    if (status == WF_OK) {
        progress bar = progress_start("correlate");
        const wf_correlate_options options = {.n_threads = asked->threads,
                                              .scan_name = asked->scan,
                                              .kernels = asked->kernels,
                                              .keep_going = asked->keep_going,
                                              .progress = progress_show,
                                              .warn = progress_warn,
                                              .context = &bar};
        status = wf_correlate(r.observation, asked->output, &options, &r.summary, err);
        r.elapsed_s = progress_end(&bar);
    }
    if (status == WF_OK && asked->json)
        status = print_json(asked, &r, err);
    else if (status == WF_OK)
        print_text(asked, &r);
    wf_correlate_summary_release(&r.summary);
    wf_observation_destroy(r.observation);
    return status;
}

static const option option_file = {.name = "output",
                                   .letter = 'o',
                                   .value = "OUT.fits",
                                   .help =
                                       "the FITS-IDI file to write; it appears when it is whole",
                                   .offset = offsetof(settings, output),
                                   .kind = OPTION_TEXT,
                                   .required = true};
static const option option_keep_going = {
    .name = "keep-going",
    .help = "what of a recording cannot be read counts as lost, and the run goes on",
    .offset = offsetof(settings, keep_going),
    .kind = OPTION_FLAG};
static const option *const options[] = {
    &option_file, &option_scan, &option_threads, &option_kernels, &option_keep_going,
    &option_json, NULL};

const verb verb_correlate = {
    .name = "correlate",
    .summary = "the recordings of a job become visibilities in a FITS-IDI file",
    .operand = "JOB.yaml",
    .details =
        "The output holds correlation coefficients with their weights and u,v,w, and is the\n"
        "same byte for byte for any number of threads. An interrupted run leaves nothing\n"
        "behind.\n",
    .options = options,
    .run = run,
};
