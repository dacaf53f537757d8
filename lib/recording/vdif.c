/* SPDX-License-Identifier: GPL-3.0-or-later */
/* VDIF as a format of recordings. */
#include "recording/format.h"

#include <inttypes.h>
#include <stdio.h>

#include "base/memory.h"
#include "base/status.h"
#include "recording/vdif_convert.h"
#include "recording/vdif_index.h"
#include "recording/vdif_lock.h"
#include "recording/vdif_reader.h"
#include "recording/vdif_stream.h"

/* Scores of probe: a header that is possible, and a second one that agrees with it or does not. */
enum { SURE = 90, LIKELY = 40, DOUBTFUL = 20 };

typedef struct vdif {
    wfi_vdif_stream stream;
    wfi_vdif_index *index; /* readers make it better where it was wrong */
    wfi_convert *converts; /* [n_threads] */
    wf_thread_info *threads;
} vdif;

static int probe(const uint8_t *head, size_t n)
{
    wfi_vdif_header first, next;
    if (wfi_vdif_has_frames(head, n))
        return SURE;
    if (!wfi_vdif_header_decode(&first, head, n) || wfi_vdif_header_fault(&first) != NULL)
        return 0;
    if (first.frame_bytes >= n ||
        !wfi_vdif_header_decode(&next, head + first.frame_bytes, n - first.frame_bytes))
        return LIKELY;
    return wfi_vdif_header_fault(&next) == NULL && next.frame_bytes == first.frame_bytes ? SURE
                                                                                         : DOUBTFUL;
}

static void close_vdif(void *state)
{
    vdif *v = state;
    if (v == NULL)
        return;
    wfi_vdif_index_destroy(v->index);
    wfi_free(v->index);
    wfi_vdif_stream_close(&v->stream);
    wfi_free(v->converts);
    wfi_free(v->threads);
    wfi_free(v);
}

static wf_status describe_threads(vdif *v, wf_error *err)
{
    const wfi_vdif_stream *stream = &v->stream;
    WFI_TRY(wfi_allocate(&v->threads, stream->n_threads, sizeof *v->threads,
                         "the threads of a recording", err));
    WFI_TRY(wfi_allocate(&v->converts, stream->n_threads, sizeof *v->converts,
                         "the threads of a recording", err));
    for (size_t i = 0; i < stream->n_threads; i++) {
        char what[512];
        snprintf(what, sizeof what, "%s: thread %" PRIu32, stream->files[0].input.path,
                 stream->threads[i].id);
        const wfi_vdif_header stated = wfi_vdif_as_stated(stream, &stream->threads[i].pattern);
        WFI_TRY(wfi_convert_init(&v->converts[i], &stated, stream->payload, what, err));
        v->threads[i] = (wf_thread_info){stream->threads[i].id, v->converts[i].format};
    }
    return WF_OK;
}

static void describe(const vdif *v, wf_recording_info *info)
{
    const wfi_vdif_stream *stream = &v->stream;
    *info = (wf_recording_info){
        .format_name = "VDIF",
        .origin = {stream->origin_second, 0.0},
        .sample_rate_hz = stream->sample_rate_hz,
        .first = stream->first_sample,
        .end = stream->end_sample,
        .frame_bytes = stream->threads[0].pattern.frame_bytes,
        .frame_samples = stream->threads[0].samples_per_frame,
        .frame_gap_bytes = stream->files[0].gap_bytes,
        .threads = v->threads,
        .n_threads = stream->n_threads,
    };
}

static wf_status open_vdif(void **state, wf_recording_info *info, const wf_recording_entry *entry,
                           wfi_fault_log *log, wf_error *err)
{
    vdif *v = NULL;
    WFI_TRY(wfi_allocate(&v, 1, sizeof *v, "a recording", err));
    *state = v;
    WFI_TRY(wfi_vdif_stream_open(&v->stream, entry, log, err));
    WFI_TRY(describe_threads(v, err));
    WFI_TRY(wfi_allocate(&v->index, 1, sizeof *v->index, "a recording", err));
    WFI_TRY(wfi_vdif_index_create(v->index, &v->stream, entry->frame_index_exact, err));
    describe(v, info);
    return WF_OK;
}

static wf_status reader_create(void **out, const void *state, int64_t capacity, wf_error *err)
{
    const vdif *v = state;
    return wfi_vdif_reader_create(out, v->index, v->converts, capacity, err);
}

const wfi_format wfi_vdif = {
    .name = "VDIF",
    .code = WF_FILE_FORMAT_VDIF,
    .probe = probe,
    .open = open_vdif,
    .close = close_vdif,
    .reader_create = reader_create,
    .reader_destroy = wfi_vdif_reader_destroy,
    .load = wfi_vdif_reader_load,
};
