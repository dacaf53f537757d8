/* SPDX-License-Identifier: GPL-3.0-or-later */
/* whitefringe inspect: what is in a recording, and what is wrong with it. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "base/memory.h"
#include "base/status.h"
#include "gnuplot.h"
#include "inspect_result.h"
#include "progress.h"
#include "staging.h"
#include "verbs.h"

static const char SCRIPT[] = "page.gp";

wf_instant inspect_time(const inspect_result *r, int64_t sample)
{
    return wf_instant_add_samples(r->info->origin, sample, r->info->sample_rate_hz);
}

unsigned inspect_bits(const wf_sample_format *format)
{
    return format->sampler_bits != 0 ? format->sampler_bits : format->bits;
}

/* Samples of a frame: complete values in words of 32 bits. Its header has 32 bytes, or 16 where
 * only then whole frames make a second. */
static double samples_of_frame(const wf_recording_info *info, const wf_sample_format *f)
{
    static const double header_bytes[] = {32, 16};
    const double values_a_word = floor(32.0 / (inspect_bits(f) * (f->is_complex ? 2.0 : 1.0)));
    double samples[2];
    for (size_t i = 0; i < 2; i++) {
        const double words = ((double)info->frame_bytes - header_bytes[i]) / 4;
        samples[i] = floor(words * values_a_word / f->n_channels);
    }
    const bool fits = samples[0] >= 1 && fmod((double)info->sample_rate_hz, samples[0]) == 0;
    return fits || samples[1] < 1 ? fmax(samples[0], 1) : samples[1];
}

bool inspect_count_frames(const inspect_result *r, inspect_frames *out)
{
    const wf_recording_info *info = r->info;
    if (info->frame_bytes <= 0 || r->n_bytes < info->frame_bytes)
        return false;
    const wf_fault *faults = r->faults;
    const int64_t elsewhere = faults[WF_FAULT_GARBAGE].n_bytes + faults[WF_FAULT_TRUNCATED].n_bytes;
    /* the gap may be missing at either end of the file */
    const int64_t pitch = info->frame_bytes + info->frame_gap_bytes;
    out->found = (r->n_bytes - elsewhere + info->frame_gap_bytes) / pitch;
    out->expected = 0;
    for (size_t t = 0; t < info->n_threads; t++) {
        const double samples = samples_of_frame(info, &info->threads[t].format);
        out->expected += (int64_t)rint((double)(info->end - info->first) / samples);
    }
    out->lost = out->expected - out->found + faults[WF_FAULT_DUPLICATE].n_frames;
    out->lost = out->lost > 0 ? out->lost : 0;
    return true;
}

inspect_unit inspect_frequency_unit(const inspect_result *r)
{
    return r->info->sample_rate_hz >= 2000000 ? (inspect_unit){"MHz", 1e6}
                                              : (inspect_unit){"kHz", 1e3};
}

wf_sampler_verdict inspect_verdict(const wf_stream_statistics *s)
{
    const wf_sampler_verdict first = s->component[0].verdict;
    if (!s->format.is_complex)
        return first;
    const wf_sampler_verdict second = s->component[1].verdict;
    return second < first ? second : first;
}

size_t inspect_n_odd_channels(const wf_stream_statistics *s)
{
    size_t n = 0;
    if (s->n_spectra < 2)
        return 0;
    for (size_t k = 0; k < s->n_channels; k++)
        n += s->kurtosis[k] < s->kurtosis_low || s->kurtosis[k] > s->kurtosis_high;
    return n;
}

bool inspect_is_of_comb(const wf_stream_statistics *s, const wf_tone *tone)
{
    const wf_comb *c = &s->comb;
    if (c->spacing_hz <= 0)
        return false;
    const double off_hz = remainder(tone->frequency_hz - c->offset_hz, c->spacing_hz);
    return fabs(off_hz) < 0.002 * c->spacing_hz;
}

static int show_inspection(void *context, int64_t n_done, int64_t n_total)
{
    const wf_progress now = {.n_done = n_done, .n_total = n_total, .unit = "places"};
    return progress_show(context, &now);
}

static int64_t size_of(const char *path)
{
    struct stat entry;
    return stat(path, &entry) == 0 ? (int64_t)entry.st_size : 0;
}

/* A sound file need not say when it begins: then times count from 2000-01-01. */
static wf_status open_recording(wf_recording **out, const settings *asked, bool *start_known,
                                wf_error *err)
{
    const bool complex = asked->sampling != NULL && strcmp(asked->sampling, "complex") == 0;
    const bool real = asked->sampling != NULL && strcmp(asked->sampling, "real") == 0;
    wf_recording_entry entry = {
        .paths = asked->operands,
        .n_paths = asked->n_operands,
        .sample_rate_hz = (int64_t)asked->sample_rate_hz,
        .sampling = complex ? WF_SAMPLING_COMPLEX
                    : real  ? WF_SAMPLING_REAL
                            : WF_SAMPLING_PROBE,
    };
    wf_error first = WF_ERROR_INIT;
    wf_status status = wf_recording_open(out, &entry, &first);
    *start_known = status == WF_OK;
    if (status == WF_OK)
        return WF_OK;
    entry.has_start = true;
    if (strstr(first.message, "when it begins") != NULL)
        return wf_recording_open(out, &entry, err);
    if (asked->sample_rate_hz <= 0 && strstr(first.message, "sample_rate_hz") != NULL)
        return wfi_fail(err, status, "%s; inspect takes it as --sample-rate HZ", first.message);
    return wfi_fail(err, status, "%s", first.message);
}

/* The folder that a picture is to stand in; to be freed. */
static wf_status folder_of(char **out, const char *path, wf_error *err)
{
    const char *slash = strrchr(path, '/');
    const size_t n = slash == NULL ? 1 : slash == path ? 1 : (size_t)(slash - path);
    WFI_TRY(wfi_allocate(out, n + 1, 1, "a file name", err));
    memcpy(*out, slash == NULL ? "." : path, n);
    return WF_OK;
}

static wf_status draw(const settings *asked, const inspect_result *r, const char *folder,
                      wf_error *err)
{
    const char *slash = strrchr(asked->plot, '/');
    const char *name = slash == NULL ? asked->plot : slash + 1;
    staging files = {0};
    wfi_text script = {0};
    wf_status status = staging_begin(&files, folder, err);
    if (status == WF_OK)
        status = gnuplot_check(files.folder, err);
    if (status == WF_OK)
        status = inspect_plot(&script, name, r, err);
    if (status == WF_OK)
        status = staging_write(&files, SCRIPT, &script, err);
    if (status == WF_OK)
        status = gnuplot_run(files.folder, SCRIPT, name, err);
    if (status == WF_OK)
        status = staging_keep(&files, name, err);
    if (status == WF_OK)
        status = staging_publish(&files, err);
    staging_end(&files);
    wfi_text_release(&script);
    return status;
}

static wf_status show(const settings *asked, const inspect_result *r, wf_error *err)
{
    if (asked->plot != NULL) {
        char *folder = NULL;
        wf_status status = folder_of(&folder, asked->plot, err);
        if (status == WF_OK)
            status = draw(asked, r, folder, err);
        wfi_free(folder);
        WFI_TRY(status);
    }
    if (asked->json) {
        json out = {0};
        inspect_append_json(&out, r);
        const wf_status status = json_write(&out, stdout, err);
        json_release(&out);
        return status;
    }
    wfi_text text = {0};
    inspect_append_text(&text, r);
    const bool failed = text.failed;
    if (!failed)
        fputs(text.bytes, stdout);
    wfi_text_release(&text);
    return failed ? wfi_fail(err, WF_MEMORY, "out of memory for the summary") : WF_OK;
}

static wf_status run(const settings *asked, wf_error *err)
{
    wf_recording *recording = NULL;
    wf_inspection *seen = NULL;
    inspect_result r = {.files = asked->operands, .n_files = asked->n_operands};
    progress bar = progress_start("inspect");
    wf_status status = open_recording(&recording, asked, &r.start_known, err);
    const wf_inspect_options options = {.all = asked->all,
                                        .spacing_hz = asked->spacing_hz,
                                        .progress = show_inspection,
                                        .context = &bar};
    if (status == WF_OK)
        status = wf_inspect(&seen, recording, &options, err);
    r.elapsed_s = progress_end(&bar);
    if (status == WF_OK)
        status = wf_recording_faults(recording, r.faults, err);
    if (status == WF_OK) {
        r.recording = recording;
        r.info = wf_recording_describe(recording);
        r.seen = seen;
        for (size_t i = 0; i < r.n_files; i++)
            r.n_bytes += size_of(r.files[i]);
        status = show(asked, &r, err);
    }
    wf_inspection_destroy(seen);
    wf_recording_close(recording);
    return status;
}

static const char *check(const settings *asked)
{
    const char *s = asked->sampling;
    if (s != NULL && strcmp(s, "real") != 0 && strcmp(s, "complex") != 0)
        return "--sampling is real or complex";
    const size_t n = asked->plot != NULL ? strlen(asked->plot) : 0;
    if (asked->plot != NULL && (n < 4 || strcmp(asked->plot + n - 4, ".png") != 0))
        return "--plot needs a file name that ends in .png";
    return NULL;
}

static const option option_all = {.name = "all",
                                  .help = "look at every sample, not at places here and there",
                                  .offset = offsetof(settings, all),
                                  .kind = OPTION_FLAG};
static const option option_rate = {.name = "sample-rate",
                                   .value = "HZ",
                                   .help = "samples a second, where the files do not tell",
                                   .offset = offsetof(settings, sample_rate_hz),
                                   .kind = OPTION_WHOLE_HERTZ};
static const option option_sampling = {.name = "sampling",
                                       .value = "KIND",
                                       .help = "of sound files: real, or complex (pairs of I, Q)",
                                       .offset = offsetof(settings, sampling),
                                       .kind = OPTION_TEXT};
static const option option_spacing = {.name = "tone-spacing",
                                      .value = "HZ",
                                      .help = "of a comb of tones (default: the usual ones)",
                                      .offset = offsetof(settings, spacing_hz),
                                      .kind = OPTION_WHOLE_HERTZ};
static const option option_plot = {.name = "plot",
                                   .value = "OUT.png",
                                   .help = "draw it, a row of panels a stream",
                                   .offset = offsetof(settings, plot),
                                   .kind = OPTION_TEXT};
static const option *const options[] = {
    &option_all, &option_rate, &option_sampling, &option_spacing, &option_plot, &option_json, NULL};

const verb verb_inspect = {
    .name = "inspect",
    .summary = "what is in a recording, and what is wrong with it",
    .operand = "FILE...",
    .takes_many = true,
    .details = "The files are one recording, in time order. Of each stream: states of the sampler\n"
               "against those of Gaussian noise, power, spectrum, spectral kurtosis, tones, the\n"
               "comb of a phase-calibration generator, and data that come again. Places here and\n"
               "there are looked at, in seconds whatever the length; --all looks at every sample\n"
               "and finds every gap. Frequencies are those of the recorded band, from 0.\n",
    .options = options,
    .check = check,
    .run = run,
};
