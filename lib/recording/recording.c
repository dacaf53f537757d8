/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Recordings of any format behind one interface. */
#include <whitefringe/recording.h>

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>

#include "base/memory.h"
#include "base/status.h"
#include "base/text.h"
#include "recording/input_file.h"
#include "recording/recording_state.h"

static const wfi_format *const formats[] = {&wfi_vdif, &wfi_sound};
enum { N_FORMATS = sizeof formats / sizeof formats[0], PROBE_BYTES = 1 << 16 };

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
    if (status == WF_OK)
        status = wfi_exclusions_create(&recording->exclusions, entry, &recording->info,
                                       recording->log, err);
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
    wfi_exclusions_release(&recording->exclusions);
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

wf_status wf_recording_losses(const wf_recording *recording, size_t i_thread, size_t i_exclusion,
                              int64_t first, int64_t n, int64_t lost[WF_FAULT_N_KINDS],
                              wf_error *err)
{
    return wfi_fault_log_losses(recording->log, (int32_t)i_thread, wfi_exclusion_part(i_exclusion),
                                first, n, lost, err);
}

size_t wf_recording_exclusion(const wf_recording *recording, size_t i_stream)
{
    const wfi_exclusions *e = &recording->exclusions;
    return i_stream < e->n_streams ? e->of_stream[i_stream] : WF_NO_EXCLUSION;
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
