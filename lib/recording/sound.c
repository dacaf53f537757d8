/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Sound files as recordings: every channel a real stream, or every pair of channels a complex one
 * (I, then Q). Samples are numbered from the first of the first file. */
#include "recording/format.h"

#include <inttypes.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/memory.h"
#include "base/status.h"
#include "recording/invalid_runs.h"
#include "recording/sound_file.h"
#include "recording/sound_start.h"

enum { GUARD_BYTES = 64 /* readable beyond the last sample: wf_packed */ };

/* Files of one recording are not farther apart than this. */
static const double HORIZON_S = 400.0 * 86400;
/* A start that is stated to the second only does not make a gap between files. */
static const double SECOND_RESOLUTION_S = 1.5;

typedef struct part {
    wfi_input_file input;
    int64_t first; /* sample number of its first sample */
    int64_t n;
    wfi_sound_start stated;
} part;

typedef struct sound {
    part *parts; /* [n_parts], in time order */
    size_t n_parts;
    SF_INFO format; /* of all files: channels, rate */
    const wfi_sound_kind *kind;
    const char *format_name;
    size_t sample_bytes; /* all channels */
    wf_instant origin;
    wf_thread_info thread;
} sound;

typedef struct reader {
    const sound *sound;
    wfi_sound_file file;
    const part *opened; /* the part that `file` is; NULL: none */
    uint8_t *bytes;
    wfi_invalid_runs invalid;
} reader;

/* First bytes of the usual kinds; others are reached by stating the format in the job. */
static const struct {
    const char *first;
    const char *at_byte_8; /* four characters; empty: any */
} signatures[] = {
    {"RIFF", "WAVE"}, {"RIFX", "WAVE"}, {"RF64", "WAVE"}, {"riff", ""}, {"fLaC", ""},
    {"FORM", "AIFF"}, {"FORM", "AIFC"}, {".snd", ""},     {"caff", ""},
};

static int probe(const uint8_t *head, size_t n)
{
    enum { SURE = 100 };
    for (size_t i = 0; n >= 12 && i < sizeof signatures / sizeof signatures[0]; i++) {
        const char *inner = signatures[i].at_byte_8;
        if (memcmp(head, signatures[i].first, 4) == 0 &&
            memcmp(head + 8, inner, strlen(inner)) == 0)
            return SURE;
    }
    return 0;
}

static void close_sound(void *state)
{
    sound *s = state;
    if (s == NULL)
        return;
    for (size_t i = 0; i < s->n_parts; i++)
        wfi_input_file_close(&s->parts[i].input);
    wfi_free(s->parts);
    wfi_free(s);
}

static wf_status check_alike(const sound *s, const wfi_sound_file *file, wf_error *err)
{
    if (file->info.samplerate == s->format.samplerate &&
        file->info.channels == s->format.channels && file->kind->encoding == s->kind->encoding &&
        file->kind->bits == s->kind->bits)
        return WF_OK;
    return wfi_fail(err, WF_UNSUPPORTED,
                    "%s: %d channels of %u bits at %d Hz, but %s has %d of %u at %d; files of one "
                    "recording are alike: make them recordings of their own",
                    file->input->path, file->info.channels, file->kind->bits, file->info.samplerate,
                    s->parts[0].input.path, s->format.channels, s->kind->bits,
                    s->format.samplerate);
}

static wf_status inspect_part(sound *s, part *p, wfi_sound_file *file, wf_error *err)
{
    WFI_TRY(wfi_sound_file_open(file, &p->input, err));
    if (s->kind == NULL) {
        s->format = file->info;
        s->kind = file->kind;
        s->format_name = wfi_sound_file_format_name(file);
    }
    WFI_TRY(check_alike(s, file, err));
    p->n = file->info.frames;
    return wfi_sound_start_read(&p->stated, file->handle, file->info.samplerate, p->input.path,
                                err);
}

static wf_status open_parts(sound *s, const wf_recording_entry *entry, wf_error *err)
{
    WFI_TRY(
        wfi_allocate(&s->parts, entry->n_paths, sizeof *s->parts, "the files of a recording", err));
    for (size_t i = 0; i < entry->n_paths; i++) {
        s->n_parts = i + 1;
        WFI_TRY(wfi_input_file_open(&s->parts[i].input, entry->paths[i], err));
        wfi_sound_file file;
        const wf_status status = inspect_part(s, &s->parts[i], &file, err);
        wfi_sound_file_close(&file);
        WFI_TRY(status);
    }
    return WF_OK;
}

static wf_status check_entry(const sound *s, const wf_recording_entry *entry, wf_error *err)
{
    const char *path = s->parts[0].input.path;
    if (entry->sample_rate_hz != 0 && entry->sample_rate_hz != s->format.samplerate)
        return wfi_fail(err, WF_FORMAT,
                        "%s: sampled at %d Hz by its header, but the job states sample_rate_hz "
                        "%" PRId64 ": correct or drop the latter",
                        path, s->format.samplerate, entry->sample_rate_hz);
    if (entry->sampling == WF_SAMPLING_COMPLEX && s->format.channels % 2 != 0)
        return wfi_fail(err, WF_FORMAT,
                        "%s: %d channels cannot be pairs of I and Q, which sampling: complex asks "
                        "for; state sampling: real, or record both",
                        path, s->format.channels);
    if (!entry->has_start && !s->parts[0].stated.known)
        return wfi_fail(
            err, WF_FORMAT,
            "%s: does not say when it begins (no broadcast extension): add start to the "
            "recording in the job, such as start: 2026-03-01T12:00:00",
            path);
    return WF_OK;
}

/* Sample number at which a part begins by what it states. */
static wf_status stated_first(const sound *s, const part *p, int64_t *first, wf_error *err)
{
    const wfi_sound_start *reference = &s->parts[0].stated;
    const wf_instant zero = reference->known ? reference->start : s->origin;
    const double apart_s = wf_instant_difference_s(p->stated.start, zero);
    if (fabs(apart_s) > HORIZON_S)
        return wfi_fail(err, WF_FORMAT,
                        "%s: begins %.0f s from the first file, %s: are they of one recording? "
                        "state start for each as recordings of their own",
                        p->input.path, apart_s, s->parts[0].input.path);
    *first = (p->stated.start.second - zero.second) * s->format.samplerate +
             llround((p->stated.start.fraction - zero.fraction) * s->format.samplerate);
    return WF_OK;
}

/* Each file begins where it says, and where it says nothing (or not to the sample) at the end of
 * the one before. */
static wf_status line_up(sound *s, wf_error *err)
{
    for (size_t i = 1; i < s->n_parts; i++) {
        part *p = &s->parts[i];
        const int64_t follows = s->parts[i - 1].first + s->parts[i - 1].n;
        p->first = follows;
        if (!p->stated.known)
            continue;
        int64_t stated = 0;
        WFI_TRY(stated_first(s, p, &stated, err));
        const double apart_s = (double)(stated - follows) / s->format.samplerate;
        const bool exact =
            p->stated.exact && (s->parts[0].stated.exact || !s->parts[0].stated.known);
        if (!exact && fabs(apart_s) <= SECOND_RESOLUTION_S)
            continue;
        if (stated < follows)
            return wfi_fail(err, WF_FORMAT,
                            "%s: begins %.6f s before %s ends; the files of a recording are listed "
                            "in time order and do not overlap: correct the list",
                            p->input.path, -apart_s, s->parts[i - 1].input.path);
        p->first = stated;
    }
    return WF_OK;
}

static void describe(sound *s, wf_recording_info *info, const wf_recording_entry *entry)
{
    const bool is_complex = entry->sampling == WF_SAMPLING_COMPLEX;
    const uint32_t n_channels = (uint32_t)s->format.channels / (is_complex ? 2 : 1);
    s->sample_bytes = (size_t)s->format.channels * s->kind->bits / 8;
    s->thread.format = (wf_sample_format){.encoding = s->kind->encoding,
                                          .bits = s->kind->bits,
                                          .is_complex = is_complex,
                                          .n_channels = n_channels};
    const part *last = &s->parts[s->n_parts - 1];
    *info = (wf_recording_info){
        .format_name = s->format_name,
        .origin = s->origin,
        .sample_rate_hz = s->format.samplerate,
        .first = 0,
        .end = last->first + last->n,
        .threads = &s->thread,
        .n_threads = 1,
    };
}

static wf_status open_sound(void **state, wf_recording_info *info, const wf_recording_entry *entry,
                            wfi_fault_log *log, wf_error *err)
{
    (void)log; /* what libsndfile lets pass has no faults that it would tell */
    sound *s = NULL;
    WFI_TRY(wfi_allocate(&s, 1, sizeof *s, "a recording", err));
    *state = s;
    WFI_TRY(open_parts(s, entry, err));
    WFI_TRY(check_entry(s, entry, err));
    s->origin = entry->has_start ? entry->start : s->parts[0].stated.start;
    WFI_TRY(line_up(s, err));
    describe(s, info, entry);
    return WF_OK;
}

static void reader_destroy(void *p)
{
    reader *r = p;
    if (r == NULL)
        return;
    wfi_sound_file_close(&r->file);
    wfi_invalid_runs_release(&r->invalid);
    wfi_free(r->bytes);
    wfi_free(r);
}

static wf_status reader_create(void **out, const void *state, int64_t capacity, wf_error *err)
{
    reader *r = NULL;
    WFI_TRY(wfi_allocate(&r, 1, sizeof *r, "a window", err));
    r->sound = state;
    *out = r;
    const size_t guard = GUARD_BYTES / r->sound->sample_bytes + 1;
    return wfi_allocate(&r->bytes, (size_t)capacity + guard, r->sound->sample_bytes,
                        "the packed samples of a window", err);
}

static wf_status open_part(reader *r, const part *p, wf_error *err)
{
    if (r->opened == p)
        return WF_OK;
    wfi_sound_file_close(&r->file);
    r->opened = NULL;
    WFI_TRY(wfi_sound_file_open(&r->file, &p->input, err));
    r->opened = p;
    return WF_OK;
}

/* Floats that are no numbers are no samples either. */
static wf_status drop_non_finite(reader *r, uint8_t *bytes, int64_t first, int64_t n, wf_error *err)
{
    const size_t n_channels = (size_t)r->sound->format.channels;
    for (int64_t i = 0; i < n; i++) {
        float values[1];
        bool finite = true;
        uint8_t *sample = bytes + (size_t)i * r->sound->sample_bytes;
        for (size_t c = 0; c < n_channels; c++) {
            memcpy(values, sample + c * sizeof values, sizeof values);
            finite = finite && isfinite(values[0]);
        }
        if (finite)
            continue;
        memset(sample, 0, r->sound->sample_bytes);
        WFI_TRY(wfi_invalid_runs_append(&r->invalid, first + i, 1, err));
    }
    return WF_OK;
}

/* Samples [first, end) of a part, which holds them by its header. */
static wf_status load_part(reader *r, const part *p, int64_t first, int64_t end, uint8_t *bytes,
                           wf_error *err)
{
    int64_t n_read = 0;
    wf_status status = open_part(r, p, err);
    if (status == WF_OK)
        status = wfi_sound_file_read(&r->file, first - p->first, end - first, bytes, &n_read, err);
    if (status != WF_OK || n_read < end - first) {
        /* a decoder that stumbled starts afresh, so that the next load does not depend on it */
        wfi_sound_file_close(&r->file);
        r->opened = NULL;
    }
    WFI_TRY(status);
    if (r->sound->kind->encoding == WF_ENCODING_FLOAT)
        WFI_TRY(drop_non_finite(r, bytes, first, n_read, err));
    return wfi_invalid_runs_append(&r->invalid, first + n_read, end - first - n_read, err);
}

static wf_status load(void *state, wf_packed *packed, int64_t first, int64_t n, wf_error *err)
{
    reader *r = state;
    const sound *s = r->sound;
    const int64_t end = first + n;
    int64_t done = first;
    r->invalid.n = 0;
    for (size_t i = 0; i < s->n_parts && done < end; i++) {
        const part *p = &s->parts[i];
        const int64_t from = p->first > done ? p->first : done;
        const int64_t to = p->first + p->n < end ? p->first + p->n : end;
        if (from >= to)
            continue;
        WFI_TRY(wfi_invalid_runs_append(&r->invalid, done, from - done, err));
        WFI_TRY(
            load_part(r, p, from, to, r->bytes + (size_t)(from - first) * s->sample_bytes, err));
        done = to;
    }
    WFI_TRY(wfi_invalid_runs_append(&r->invalid, done, end - done, err));
    *packed = (wf_packed){r->bytes, first, n, r->invalid.runs, r->invalid.n};
    return WF_OK;
}

const wfi_format wfi_sound = {
    .name = "sound file (WAV, RF64, W64, FLAC, ...)",
    .code = WF_FILE_FORMAT_SOUND,
    .probe = probe,
    .open = open_sound,
    .close = close_sound,
    .reader_create = reader_create,
    .reader_destroy = reader_destroy,
    .load = load,
};
