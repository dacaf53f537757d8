/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Reads stretches of a recording that is made of sound files. */
#include <math.h>
#include <string.h>

#include "base/memory.h"
#include "base/status.h"
#include "recording/invalid_runs.h"
#include "recording/sound_parts.h"

enum {
    GUARD_BYTES = 64,    /* readable beyond the last sample: wf_packed */
    BAD_SAMPLES = 1 << 9 /* given up at once where a disk fails */
};

typedef struct reader {
    const wfi_sound_recording *sound;
    wfi_sound_file file;
    const wfi_sound_part *opened; /* the part that `file` is; NULL: none */
    uint8_t *bytes;
    wfi_invalid_runs invalid;
    wfi_fault_list faults; /* of the load at hand */
} reader;

void wfi_sound_reader_destroy(void *p)
{
    reader *r = p;
    if (r == NULL)
        return;
    wfi_sound_file_close(&r->file);
    wfi_invalid_runs_release(&r->invalid);
    wfi_fault_list_release(&r->faults);
    wfi_free(r->bytes);
    wfi_free(r);
}

wf_status wfi_sound_reader_create(void **out, const void *state, int64_t capacity, wf_error *err)
{
    reader *r = NULL;
    WFI_TRY(wfi_allocate(&r, 1, sizeof *r, "a window", err));
    r->sound = state;
    *out = r;
    const size_t guard = GUARD_BYTES / r->sound->sample_bytes + 1;
    return wfi_allocate(&r->bytes, (size_t)capacity + guard, r->sound->sample_bytes,
                        "the packed samples of a window", err);
}

static void close_part(reader *r)
{
    wfi_sound_file_close(&r->file);
    r->opened = NULL;
}

static wf_status open_part(reader *r, const wfi_sound_part *p, wf_error *err)
{
    if (r->opened == p)
        return WF_OK;
    close_part(r);
    WFI_TRY(wfi_sound_file_open(&r->file, &p->input, &p->chunks, err));
    WFI_TRY(wfi_sound_file_leave_header(&r->file, err));
    r->opened = p;
    return WF_OK;
}

static wf_status lose(reader *r, const wfi_sound_part *p, wf_fault_kind kind, int64_t first,
                      int64_t n, wf_error *err)
{
    WFI_TRY(wfi_invalid_runs_append(&r->invalid, first, n, err));
    return wfi_fault_list_append(&r->faults, wfi_sound_fault(r->sound, p, kind, first, n), err);
}

/* Floats that are no numbers are no samples either. */
static wf_status drop_non_finite(reader *r, const wfi_sound_part *p, uint8_t *bytes, int64_t first,
                                 int64_t n, wf_error *err)
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
        WFI_TRY(lose(r, p, WF_FAULT_NON_FINITE, first + i, 1, err));
    }
    return WF_OK;
}

/* Samples of a part from `first` on; `n_read` is less than n where the file ends too early or
 * cannot be decoded, and `refused` true where the system does not give them. */
static wf_status read_samples(reader *r, const wfi_sound_part *p, int64_t first, int64_t n,
                              uint8_t *bytes, int64_t *n_read, bool *refused, wf_error *err)
{
    wf_error own = WF_ERROR_INIT;
    wf_error *to = r->sound->keep_going ? &own : err;
    *n_read = 0;
    wf_status status = open_part(r, p, to);
    if (status == WF_OK)
        status = wfi_sound_file_read(&r->file, first - p->first, n, bytes, n_read, to);
    if (status != WF_OK || *n_read < n)
        close_part(r); /* a decoder that stumbled starts afresh: no load depends on another */
    *refused = status != WF_OK && r->sound->keep_going;
    if (*refused)
        *n_read = 0;
    return *refused ? WF_OK : status;
}

/* Why fewer samples came than were there when the file was opened. */
static wf_status why_short(const wfi_sound_part *p, wf_fault_kind *kind, wf_error *err)
{
    uint8_t last = 0;
    size_t n = 0;
    WFI_TRY(wfi_input_file_read(&p->input, p->input.n_bytes - 1, &last, 1, &n, err));
    *kind = n == 0 ? WF_FAULT_CHANGED : WF_FAULT_UNDECODABLE;
    return WF_OK;
}

static wf_status take_samples(reader *r, const wfi_sound_part *p, int64_t first, int64_t n,
                              uint8_t *bytes, bool *refused, wf_error *err)
{
    int64_t n_read = 0;
    wf_fault_kind kind = WF_FAULT_CHANGED;
    WFI_TRY(read_samples(r, p, first, n, bytes, &n_read, refused, err));
    if (*refused)
        return WF_OK;
    if (r->sound->kind->encoding == WF_ENCODING_FLOAT)
        WFI_TRY(drop_non_finite(r, p, bytes, first, n_read, err));
    if (n_read == n)
        return WF_OK;
    WFI_TRY(why_short(p, &kind, err));
    return lose(r, p, kind, first + n_read, n - n_read, err);
}

/* Samples [first, end) of a part, which holds them by its header. */
static wf_status load_part(reader *r, const wfi_sound_part *p, int64_t first, int64_t end,
                           uint8_t *bytes, wf_error *err)
{
    bool refused = false;
    WFI_TRY(take_samples(r, p, first, end - first, bytes, &refused, err));
    /* one bad place on a disk must not take its neighbours along */
    for (int64_t at = first; refused && at < end; at += BAD_SAMPLES) {
        const int64_t n = end - at < BAD_SAMPLES ? end - at : BAD_SAMPLES;
        bool bad = false;
        WFI_TRY(take_samples(r, p, at, n, bytes + (size_t)(at - first) * r->sound->sample_bytes,
                             &bad, err));
        if (bad)
            WFI_TRY(lose(r, p, WF_FAULT_READ_ERROR, at, n, err));
    }
    return WF_OK;
}

wf_status wfi_sound_reader_load(void *state, wf_packed *packed, int64_t first, int64_t n,
                                wf_error *err)
{
    reader *r = state;
    const wfi_sound_recording *s = r->sound;
    const int64_t end = first + n;
    int64_t done = first;
    r->invalid.n = 0;
    r->faults.n = 0;
    for (size_t i = 0; i < s->n_parts && done < end; i++) {
        const wfi_sound_part *p = &s->parts[i];
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
    return wfi_fault_log_take(s->log, &r->faults, err);
}
