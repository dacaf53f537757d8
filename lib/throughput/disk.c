/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How fast the disks under a job's files are. */
#include "throughput/disk.h"

#include <fcntl.h>

#include "base/memory.h"
#include "base/status.h"
#include "recording/input_file.h"

enum { STRETCH_BYTES = 32 << 20, READ_BYTES = 1 << 20 };

typedef struct reading {
    wfi_clock now_s;
    double end_s;
    uint8_t *buffer; /* [READ_BYTES] */
    double bytes;
    double seconds;
} reading;

/* A stretch of one file, from a place on. */
static wf_status read_stretch(reading *run, const wfi_input_file *file, int64_t offset,
                              wf_error *err)
{
    /* Advice only: where it is refused, the figure is that of the cache. */
    (void)posix_fadvise(file->fd, offset, STRETCH_BYTES, POSIX_FADV_DONTNEED);
    const double begin = run->now_s();
    for (int64_t done = 0; done < STRETCH_BYTES && run->now_s() < run->end_s;) {
        size_t n = 0;
        WFI_TRY(wfi_input_file_read(file, offset + done, run->buffer, READ_BYTES, &n, err));
        run->bytes += (double)n;
        done += (int64_t)n;
        if (n < READ_BYTES)
            break;
    }
    run->seconds += run->now_s() - begin;
    return WF_OK;
}

static wf_status read_file(reading *run, const char *path, int64_t offset, bool *more,
                           wf_error *err)
{
    wfi_input_file file;
    wf_status status = wfi_input_file_open(&file, path, err);
    if (status == WF_OK && offset < file.n_bytes)
        status = read_stretch(run, &file, offset, err);
    if (status == WF_OK)
        *more = *more || offset + STRETCH_BYTES < file.n_bytes;
    wfi_input_file_close(&file);
    return status;
}

static wf_status read_all(reading *run, const wf_observation *job, wf_error *err)
{
    bool more = true;
    for (int64_t offset = 0; more; offset += STRETCH_BYTES) {
        more = false;
        for (size_t r = 0; r < job->n_recordings; r++) {
            for (size_t k = 0; k < job->recordings[r].n_paths; k++) {
                if (run->now_s() >= run->end_s)
                    return WF_OK;
                WFI_TRY(read_file(run, job->recordings[r].paths[k], offset, &more, err));
            }
        }
    }
    return WF_OK;
}

/* Bytes of its files for a second of each recording, summed. */
static wf_status count_needed(const wf_observation *job, const wf_recording *const *recordings,
                              double *needed, wf_error *err)
{
    *needed = 0;
    for (size_t r = 0; r < job->n_recordings; r++) {
        const wf_recording_info *info = wf_recording_describe(recordings[r]);
        double bytes = 0;
        for (size_t k = 0; k < job->recordings[r].n_paths; k++) {
            wfi_input_file file;
            const wf_status status = wfi_input_file_open(&file, job->recordings[r].paths[k], err);
            bytes += status == WF_OK ? (double)file.n_bytes : 0;
            wfi_input_file_close(&file);
            WFI_TRY(status);
        }
        if (info->end > info->first)
            *needed += bytes * (double)info->sample_rate_hz / (double)(info->end - info->first);
    }
    return WF_OK;
}

wf_status wfi_disk_measure(wf_throughput_disk *out, const wf_observation *job,
                           const wf_recording *const *recordings, double budget_s, wfi_clock now_s,
                           wf_error *err)
{
    reading run = {.now_s = now_s, .end_s = now_s() + budget_s};
    *out = (wf_throughput_disk){0};
    WFI_TRY(count_needed(job, recordings, &out->needed_bytes_per_s, err));
    WFI_TRY(wfi_allocate(&run.buffer, READ_BYTES, 1, "a read", err));
    const wf_status status = read_all(&run, job, err);
    wfi_free(run.buffer);
    if (status != WF_OK || run.seconds <= 0)
        return status;
    out->measured = true;
    out->bytes = run.bytes;
    out->bytes_per_s = run.bytes / run.seconds;
    out->real_time = out->needed_bytes_per_s > 0 ? out->bytes_per_s / out->needed_bytes_per_s : 0;
    return WF_OK;
}
