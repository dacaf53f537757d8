/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Recordings of any format behind one interface. */
#include <whitefringe/recording.h>

#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "base/memory.h"
#include "base/status.h"
#include "base/text.h"
#include "recording/format.h"
#include "recording/input_file.h"
#include "recording/invalid_runs.h"

static const wfi_format *const formats[] = {&wfi_vdif, &wfi_sound};
enum { N_FORMATS = sizeof formats / sizeof formats[0], PROBE_BYTES = 1 << 16 };

/* Sample numbers beyond this are no place in any recording; sums of two do not overflow. */
static const int64_t FARTHEST_SAMPLE = INT64_C(1) << 60;

struct wf_recording {
    const wfi_format *format;
    void *state;
    wf_recording_info info;
    char owner[WF_NAME_BYTES]; /* empty: nobody's */
    wf_sample_range *excluded; /* [n_excluded] ascending, disjoint, not adjacent */
    size_t n_excluded;
    wfi_fault_log *log; /* its own allocation: asking a const recording puts it in order */
};

struct wf_window {
    const wf_recording *recording;
    int64_t capacity;
    void *reader;
    wf_packed *threads;     /* [n_threads] */
    wfi_invalid_runs *runs; /* [n_threads] where the job excludes samples; else NULL */
};

static wf_status refuse_unknown(const char *path, const uint8_t *head, size_t n, wf_error *err)
{
    wfi_text names = {0};
    for (size_t i = 0; i < N_FORMATS; i++)
        wfi_text_append(&names, "%s%s", i > 0 ? ", " : "", formats[i]->name);
    wfi_text bytes = {0};
    for (size_t i = 0; i < n && i < 8; i++)
        wfi_text_append(&bytes, " %02x", head[i]);
    const wf_status status = wfi_fail(
        err, WF_FORMAT,
        "%s: begins with the bytes%s, which is none of the formats that can be read (%s); check "
        "that this is the recording, or state its format in the job",
        path, bytes.failed ? " ?" : bytes.bytes, names.failed ? "?" : names.bytes);
    wfi_text_release(&names);
    wfi_text_release(&bytes);
    return status;
}

static wf_status choose(const wfi_format **out, const char *path, const uint8_t *head, size_t n,
                        wf_error *err)
{
    int best = 0;
    int second = 0;
    const wfi_format *other = NULL;
    for (size_t i = 0; i < N_FORMATS; i++) {
        const int score = formats[i]->probe(head, n);
        if (score > best) {
            second = best;
            other = *out;
            best = score;
            *out = formats[i];
        } else if (score > second) {
            second = score;
            other = formats[i];
        }
    }
    if (best == 0)
        return refuse_unknown(path, head, n, err);
    if (best == second)
        return wfi_fail(err, WF_FORMAT, "%s: may be %s or %s; state its format in the job", path,
                        (*out)->name, other->name);
    return WF_OK;
}

static wf_status probe_file(const wfi_format **out, const char *path, wf_error *err)
{
    wfi_input_file file;
    uint8_t *head = NULL;
    size_t n = 0;
    *out = NULL;
    wf_status status = wfi_input_file_open(&file, path, err);
    if (status == WF_OK)
        status = wfi_allocate(&head, PROBE_BYTES, 1, "the beginning of a file", err);
    if (status == WF_OK)
        status = wfi_input_file_read(&file, 0, head, PROBE_BYTES, &n, err);
    if (status == WF_OK)
        status = choose(out, path, head, n, err);
    wfi_free(head);
    wfi_input_file_close(&file);
    return status;
}

static wf_status find_format(const wfi_format **out, const wf_recording_entry *entry, wf_error *err)
{
    for (size_t i = 0; i < N_FORMATS; i++) {
        if (formats[i]->code == entry->format) {
            *out = formats[i];
            return WF_OK;
        }
    }
    return probe_file(out, entry->paths[0], err);
}

/* The sample that is taken at an instant, or the next one. */
static int64_t sample_at(const wf_recording_info *info, wf_instant t)
{
    const double rate_hz = (double)info->sample_rate_hz;
    const int64_t seconds = t.second - info->origin.second;
    const double fraction = t.fraction - info->origin.fraction;
    if (seconds > FARTHEST_SAMPLE / info->sample_rate_hz)
        return FARTHEST_SAMPLE;
    if (seconds < -(FARTHEST_SAMPLE / info->sample_rate_hz))
        return -FARTHEST_SAMPLE;
    /* half a thousandth of a sample: times of the job are rounded */
    return seconds * info->sample_rate_hz + (int64_t)ceil(fraction * rate_hz - 5e-4);
}

static int compare_ranges(const void *p, const void *q)
{
    const wf_sample_range *a = p;
    const wf_sample_range *b = q;
    return (a->first > b->first) - (a->first < b->first);
}

static size_t join_ranges(wf_sample_range *ranges, size_t n)
{
    size_t last = 0;
    qsort(ranges, n, sizeof *ranges, compare_ranges);
    for (size_t i = 1; i < n; i++) {
        const int64_t end = ranges[last].first + ranges[last].n;
        if (ranges[i].first > end) {
            ranges[++last] = ranges[i];
            continue;
        }
        if (ranges[i].first + ranges[i].n > end)
            ranges[last].n = ranges[i].first + ranges[i].n - ranges[last].first;
    }
    return last + 1;
}

static wf_status log_excluded(wf_recording *recording, wf_error *err)
{
    wfi_fault_list list = {0};
    wf_status status = WF_OK;
    for (size_t t = 0; t < recording->info.n_threads; t++)
        for (size_t i = 0; i < recording->n_excluded && status == WF_OK; i++)
            status = wfi_fault_list_append(&list,
                                           (wfi_fault){.kind = WF_FAULT_EXCLUDED,
                                                       .i_thread = (int32_t)t,
                                                       .loses_samples = true,
                                                       .has_time = true,
                                                       .first = recording->excluded[i].first,
                                                       .n = recording->excluded[i].n},
                                           err);
    if (status == WF_OK)
        status = wfi_fault_log_take(recording->log, &list, err);
    wfi_fault_list_release(&list);
    return status;
}

/* What the job excludes, as far as the recording reaches. */
static wf_status exclude(wf_recording *recording, const wf_recording_entry *entry, wf_error *err)
{
    const wf_recording_info *info = &recording->info;
    WFI_TRY(wfi_allocate(&recording->excluded, entry->n_excluded, sizeof *recording->excluded,
                         "exclusions", err));
    size_t n = 0;
    for (size_t i = 0; i < entry->n_excluded; i++) {
        int64_t first = sample_at(info, entry->excluded[i].start);
        int64_t end = sample_at(info, entry->excluded[i].stop);
        first = first > info->first ? first : info->first;
        end = end < info->end ? end : info->end;
        if (first < end)
            recording->excluded[n++] = (wf_sample_range){first, end - first};
    }
    recording->n_excluded = n > 0 ? join_ranges(recording->excluded, n) : 0;
    return log_excluded(recording, err);
}

wf_status wf_recording_open(wf_recording **out, const wf_recording_entry *entry, wf_error *err)
{
    *out = NULL;
    if (entry->n_paths == 0)
        return wfi_fail(err, WF_ARGUMENT, "a recording names no files");
    wf_recording *recording = NULL;
    WFI_TRY(wfi_allocate(&recording, 1, sizeof *recording, "a recording", err));
    wf_status status = find_format(&recording->format, entry, err);
    if (status == WF_OK)
        status = wfi_allocate(&recording->log, 1, sizeof *recording->log, "a recording", err);
    if (status == WF_OK) {
        wfi_fault_log_init(recording->log);
        status = recording->format->open(&recording->state, &recording->info, entry, recording->log,
                                         err);
    }
    if (entry->owner != NULL)
        snprintf(recording->owner, sizeof recording->owner, "%s", entry->owner);
    if (status == WF_OK && entry->n_excluded > 0)
        status = exclude(recording, entry, err);
    if (status != WF_OK) {
        wf_recording_close(recording);
        return status;
    }
    *out = recording;
    return WF_OK;
}

wf_status wfi_recording_create(wf_recording **out, const wfi_format *format, void *state,
                               const wf_recording_info *info, wf_error *err)
{
    *out = NULL;
    wf_recording *recording = NULL;
    WFI_TRY(wfi_allocate(&recording, 1, sizeof *recording, "a recording", err));
    const wf_status status =
        wfi_allocate(&recording->log, 1, sizeof *recording->log, "a recording", err);
    if (status != WF_OK) {
        wf_recording_close(recording);
        return status;
    }
    wfi_fault_log_init(recording->log);
    recording->format = format;
    recording->state = state;
    recording->info = *info;
    *out = recording;
    return WF_OK;
}

void wf_recording_close(wf_recording *recording)
{
    if (recording == NULL)
        return;
    if (recording->state != NULL)
        recording->format->close(recording->state);
    if (recording->log != NULL)
        wfi_fault_log_destroy(recording->log);
    wfi_free(recording->log);
    wfi_free(recording->excluded);
    wfi_free(recording);
}

const wf_recording_info *wf_recording_describe(const wf_recording *recording)
{
    return &recording->info;
}

wf_status wf_recording_faults(const wf_recording *recording, wf_fault faults[WF_FAULT_N_KINDS],
                              wf_error *err)
{
    const wf_recording_info *info = &recording->info;
    const wfi_fault_scale scale = {info->origin, info->sample_rate_hz,
                                   info->frame_bytes + info->frame_gap_bytes, info->threads};
    return wfi_fault_log_count(recording->log, &scale, faults, err);
}

wf_status wf_recording_losses(const wf_recording *recording, size_t i_thread, int64_t first,
                              int64_t n, int64_t lost[WF_FAULT_N_KINDS], wf_error *err)
{
    return wfi_fault_log_losses(recording->log, (int32_t)i_thread, first, n, lost, err);
}

size_t wf_recording_n_warnings(const wf_recording *recording)
{
    return recording->log->n_warnings;
}

const char *wf_recording_warning(const wf_recording *recording, size_t i)
{
    return recording->log->warnings[i];
}

const char *wf_fault_key(wf_fault_kind kind)
{
    static const char *const keys[] = {
#define KEY(name, key, text) key,
        WF_FAULT_MAP(KEY)
#undef KEY
    };
    return (unsigned)kind < WF_FAULT_N_KINDS ? keys[kind] : "unknown";
}

const char *wf_fault_text(wf_fault_kind kind)
{
    static const char *const texts[] = {
#define TEXT(name, key, text) text,
        WF_FAULT_MAP(TEXT)
#undef TEXT
    };
    return (unsigned)kind < WF_FAULT_N_KINDS ? texts[kind] : "unknown";
}

wf_status wf_window_create(wf_window **out, const wf_recording *recording, int64_t capacity,
                           wf_error *err)
{
    *out = NULL;
    if (capacity < 0 || capacity > FARTHEST_SAMPLE)
        return wfi_fail(err, WF_ARGUMENT, "a window of %" PRId64 " samples", capacity);
    wf_window *window = NULL;
    WFI_TRY(wfi_allocate(&window, 1, sizeof *window, "a window", err));
    window->recording = recording;
    window->capacity = capacity;
    wf_status status = wfi_allocate(&window->threads, recording->info.n_threads,
                                    sizeof *window->threads, "the threads of a window", err);
    if (status == WF_OK && recording->n_excluded > 0)
        status = wfi_allocate(&window->runs, recording->info.n_threads, sizeof *window->runs,
                              "the threads of a window", err);
    if (status == WF_OK)
        status = recording->format->reader_create(&window->reader, recording->state, capacity, err);
    if (status != WF_OK) {
        wf_window_destroy(window);
        return status;
    }
    *out = window;
    return WF_OK;
}

void wf_window_destroy(wf_window *window)
{
    if (window == NULL)
        return;
    window->recording->format->reader_destroy(window->reader);
    for (size_t i = 0; window->runs != NULL && i < window->recording->info.n_threads; i++)
        wfi_invalid_runs_release(&window->runs[i]);
    wfi_free(window->runs);
    wfi_free(window->threads);
    wfi_free(window);
}

/* Append a run to runs that ascend by their beginnings and may overlap. */
static wf_status append_run(wfi_invalid_runs *runs, wf_sample_range run, wf_error *err)
{
    const wf_sample_range *last = runs->n > 0 ? &runs->runs[runs->n - 1] : NULL;
    const int64_t free_from = last != NULL ? last->first + last->n : INT64_MIN;
    const int64_t end = run.first + run.n;
    const int64_t first = run.first > free_from ? run.first : free_from;
    return wfi_invalid_runs_append(runs, first, end - first, err);
}

static wf_sample_range clip(wf_sample_range run, const wf_packed *packed)
{
    const int64_t first = run.first > packed->first ? run.first : packed->first;
    const int64_t packed_end = packed->first + packed->n;
    const int64_t end = run.first + run.n < packed_end ? run.first + run.n : packed_end;
    return (wf_sample_range){first, end > first ? end - first : 0};
}

static wf_status add_excluded(wf_window *window, size_t i_thread, wf_error *err)
{
    const wf_recording *recording = window->recording;
    wf_packed *packed = &window->threads[i_thread];
    wfi_invalid_runs *runs = &window->runs[i_thread];
    size_t i = 0;
    size_t k = 0;
    runs->n = 0;
    while (i < packed->n_invalid || k < recording->n_excluded) {
        const bool take_invalid =
            k == recording->n_excluded ||
            (i < packed->n_invalid && packed->invalid[i].first <= recording->excluded[k].first);
        const wf_sample_range run =
            take_invalid ? packed->invalid[i++] : clip(recording->excluded[k++], packed);
        if (run.n > 0)
            WFI_TRY(append_run(runs, run, err));
    }
    packed->invalid = runs->runs;
    packed->n_invalid = runs->n;
    return WF_OK;
}

wf_status wf_window_load(wf_window *window, int64_t first, int64_t n, wf_error *err)
{
    if (n < 0 || n > window->capacity)
        return wfi_fail(err, WF_ARGUMENT,
                        "%" PRId64 " samples were asked of a window made for %" PRId64, n,
                        window->capacity);
    if (first < -FARTHEST_SAMPLE || first > FARTHEST_SAMPLE)
        return wfi_fail(err, WF_ARGUMENT, "sample number %" PRId64 " is in no recording", first);
    const wf_recording *recording = window->recording;
    const wf_status status =
        recording->format->load(window->reader, window->threads, first, n, err);
    if (status != WF_OK && recording->owner[0] != '\0')
        wfi_prefix(err, "station %s: ", recording->owner);
    WFI_TRY(status);
    for (size_t i = 0; window->runs != NULL && i < window->recording->info.n_threads; i++)
        WFI_TRY(add_excluded(window, i, err));
    return WF_OK;
}

const wf_packed *wf_window_thread(const wf_window *window, size_t i_thread)
{
    return &window->threads[i_thread];
}
