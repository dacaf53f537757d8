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
#include "recording/sound_parts.h"

/* Files of one recording are not farther apart than this. */
static const double HORIZON_S = 400.0 * 86400;
/* A start that is stated to the second only does not make a gap between files. */
static const double SECOND_RESOLUTION_S = 1.5;

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
    wfi_sound_recording *s = state;
    if (s == NULL)
        return;
    for (size_t i = 0; i < s->n_parts; i++)
        wfi_input_file_close(&s->parts[i].input);
    wfi_free(s->parts);
    wfi_free(s);
}

static wf_status check_alike(const wfi_sound_recording *s, const wfi_sound_file *file,
                             wf_error *err)
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

static wf_status inspect_part(wfi_sound_recording *s, wfi_sound_part *p, wfi_sound_file *file,
                              wf_error *err)
{
    WFI_TRY(wfi_sound_chunks_read(&p->chunks, &p->input, err));
    WFI_TRY(wfi_sound_file_open(file, &p->input, &p->chunks, err));
    if (s->kind == NULL) {
        s->format = file->info;
        s->kind = file->kind;
        s->format_name = wfi_sound_file_format_name(file);
    }
    WFI_TRY(check_alike(s, file, err));
    WFI_TRY(
        wfi_sound_start_read(&p->stated, file->handle, file->info.samplerate, p->input.path, err));
    WFI_TRY(wfi_sound_file_leave_header(file, err));
    p->n = file->info.frames;
    p->n_stated = p->n;
    if (p->chunks.length == WFI_SOUND_LENGTH_CUT && p->chunks.sample_bytes > 0)
        p->n_stated = p->chunks.stated / p->chunks.sample_bytes;
    return WF_OK;
}

static wf_status open_parts(wfi_sound_recording *s, const wf_recording_entry *entry, wf_error *err)
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

static wf_status check_entry(const wfi_sound_recording *s, const wf_recording_entry *entry,
                             wf_error *err)
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
static wf_status stated_first(const wfi_sound_recording *s, const wfi_sound_part *p, int64_t *first,
                              wf_error *err)
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
 * the one before, had that not been cut off. */
static wf_status line_up(wfi_sound_recording *s, wf_error *err)
{
    for (size_t i = 1; i < s->n_parts; i++) {
        wfi_sound_part *p = &s->parts[i];
        const int64_t follows = s->parts[i - 1].first + s->parts[i - 1].n_stated;
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

static void describe(wfi_sound_recording *s, wf_recording_info *info,
                     const wf_recording_entry *entry)
{
    const bool is_complex = entry->sampling == WF_SAMPLING_COMPLEX;
    const uint32_t n_channels = (uint32_t)s->format.channels / (is_complex ? 2 : 1);
    s->sample_bytes = (size_t)s->format.channels * s->kind->bits / 8;
    s->thread.format = (wf_sample_format){.encoding = s->kind->encoding,
                                          .bits = s->kind->bits,
                                          .is_complex = is_complex,
                                          .n_channels = n_channels};
    const wfi_sound_part *last = &s->parts[s->n_parts - 1];
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

wfi_fault wfi_sound_fault(const wfi_sound_recording *sound, const wfi_sound_part *part,
                          wf_fault_kind kind, int64_t first, int64_t n)
{
    const wfi_sound_chunks *c = &part->chunks;
    const bool has_place = c->length != WFI_SOUND_LENGTH_UNKNOWN && c->sample_bytes > 0;
    return (wfi_fault){
        .kind = kind,
        .i_file = (uint32_t)(part - sound->parts),
        .loses_samples = true,
        .has_time = true,
        .offset_bytes = has_place ? c->data_offset + (first - part->first) * c->sample_bytes : -1,
        .first = first,
        .n = n};
}

/* What the header says of the length of a file. */
static wf_status warn_of_length(const wfi_sound_recording *s, const wfi_sound_part *p,
                                wf_error *err)
{
    const char *path = p->input.path;
    const wfi_sound_chunks *c = &p->chunks;
    switch (c->length) {
    case WFI_SOUND_LENGTH_OPEN:
    case WFI_SOUND_LENGTH_WRAPPED:
        return wfi_fault_log_warn(s->log, err,
                                  "%s: its header states %" PRId64 " bytes of samples, %s: read to "
                                  "the end of the file, %" PRId64 " bytes",
                                  path, c->stated,
                                  c->length == WFI_SOUND_LENGTH_OPEN
                                      ? "a length that was never filled in"
                                      : "the remainder of a length over 4 GiB",
                                  c->available);
    case WFI_SOUND_LENGTH_CUT:
        return wfi_fault_log_warn(s->log, err,
                                  "%s: cut off: its header states %" PRId64
                                  " bytes of samples, the file holds %" PRId64
                                  "; copy it again, if the original has more",
                                  path, c->stated, c->available);
    case WFI_SOUND_LENGTH_SHORT:
        return wfi_fault_log_warn(s->log, err,
                                  "%s: its header states %" PRId64 " bytes of samples, but %" PRId64
                                  " more follow that are no chunk of a sound file: not read; if "
                                  "they are samples, correct the header in a copy",
                                  path, c->stated, c->available - c->stated);
    default:
        return WF_OK;
    }
}

static wf_status log_length(const wfi_sound_recording *s, const wfi_sound_part *p,
                            wfi_fault_list *faults, wf_error *err)
{
    const wfi_sound_chunks *c = &p->chunks;
    WFI_TRY(warn_of_length(s, p, err));
    if (c->length == WFI_SOUND_LENGTH_CUT) {
        wfi_fault cut =
            wfi_sound_fault(s, p, WF_FAULT_TRUNCATED, p->first + p->n, p->n_stated - p->n);
        cut.n_bytes = c->stated - c->available;
        return wfi_fault_list_append(faults, cut, err);
    }
    if (c->length != WFI_SOUND_LENGTH_SHORT)
        return WF_OK;
    const wfi_fault rest = {.kind = WF_FAULT_GARBAGE,
                            .i_thread = -1,
                            .i_file = (uint32_t)(p - s->parts),
                            .offset_bytes = c->data_offset + c->stated,
                            .n_bytes = c->available - c->stated};
    return wfi_fault_list_append(faults, rest, err);
}

/* Nothing was recorded between two files. */
static wf_status log_gap(const wfi_sound_recording *s, size_t i, wfi_fault_list *faults,
                         wf_error *err)
{
    const wfi_sound_part *p = &s->parts[i];
    const int64_t from = s->parts[i - 1].first + s->parts[i - 1].n_stated;
    const int64_t n = p->first - from;
    if (n <= 0)
        return WF_OK;
    wfi_fault gap =
        wfi_sound_fault(s, p, n >= s->format.samplerate ? WF_FAULT_GAP : WF_FAULT_MISSING, from, n);
    gap.offset_bytes = 0; /* before all that stands in the file */
    return wfi_fault_list_append(faults, gap, err);
}

static wf_status log_faults(const wfi_sound_recording *s, wf_error *err)
{
    wfi_fault_list faults = {0};
    wf_status status = WF_OK;
    for (size_t i = 0; i < s->n_parts && status == WF_OK; i++) {
        status = log_length(s, &s->parts[i], &faults, err);
        if (status == WF_OK && i > 0)
            status = log_gap(s, i, &faults, err);
    }
    if (status == WF_OK)
        status = wfi_fault_log_take(s->log, &faults, err);
    wfi_fault_list_release(&faults);
    return status;
}

static wf_status open_sound(void **state, wf_recording_info *info, const wf_recording_entry *entry,
                            wfi_fault_log *log, wf_error *err)
{
    wfi_sound_recording *s = NULL;
    WFI_TRY(wfi_allocate(&s, 1, sizeof *s, "a recording", err));
    *state = s;
    s->log = log;
    s->keep_going = entry->keep_going;
    WFI_TRY(open_parts(s, entry, err));
    WFI_TRY(check_entry(s, entry, err));
    s->origin = entry->has_start ? entry->start : s->parts[0].stated.start;
    WFI_TRY(line_up(s, err));
    describe(s, info, entry);
    return log_faults(s, err);
}

const wfi_format wfi_sound = {
    .name = "sound file (WAV, RF64, W64, FLAC, ...)",
    .code = WF_FILE_FORMAT_SOUND,
    .probe = probe,
    .open = open_sound,
    .close = close_sound,
    .reader_create = wfi_sound_reader_create,
    .reader_destroy = wfi_sound_reader_destroy,
    .load = wfi_sound_reader_load,
};
