/* SPDX-License-Identifier: GPL-3.0-or-later */
/* VDIF as a format of recordings. */
#include "recording/format.h"

#include "base/memory.h"
#include "base/status.h"
#include "recording/vdif_reader.h"
#include "recording/vdif_stream.h"

/* Scores of probe: a header that is possible, and a second one that agrees with it or does not. */
enum { SURE = 90, LIKELY = 40, DOUBTFUL = 20 };

typedef struct vdif {
    wfi_vdif_stream stream;
    wf_thread_info *threads;
    wfi_fault_log *log;
} vdif;

static int probe(const uint8_t *head, size_t n)
{
    wfi_vdif_header first, next;
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
    wfi_vdif_stream_close(&v->stream);
    wfi_free(v->threads);
    wfi_free(v);
}

static void describe(const vdif *v, wf_recording_info *info)
{
    const wfi_vdif_stream *stream = &v->stream;
    for (size_t i = 0; i < stream->n_threads; i++) {
        const wfi_vdif_header *h = &stream->threads[i].pattern;
        v->threads[i].thread = stream->threads[i].id;
        v->threads[i].format = (wf_sample_format){WF_ENCODING_OFFSET_BINARY, h->bits, h->is_complex,
                                                  UINT32_C(1) << h->log2_channels};
    }
    *info = (wf_recording_info){
        .format_name = "VDIF",
        .origin = {stream->origin_second, 0.0},
        .sample_rate_hz = stream->sample_rate_hz,
        .first = stream->first_sample,
        .end = stream->end_sample,
        .frame_bytes = stream->frame_bytes,
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
    v->log = log;
    WFI_TRY(wfi_vdif_stream_open(&v->stream, entry, err));
    WFI_TRY(wfi_allocate(&v->threads, v->stream.n_threads, sizeof *v->threads,
                         "the threads of a recording", err));
    describe(v, info);
    return WF_OK;
}

static wf_status reader_create(void **out, const void *state, int64_t capacity, wf_error *err)
{
    const vdif *v = state;
    return wfi_vdif_reader_create(out, &v->stream, capacity, v->log, err);
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
