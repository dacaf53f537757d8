/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A recording that stands in memory. */
#include "recording/synthetic.h"

#include <string.h>

#include "base/memory.h"
#include "base/status.h"
#include "recording/format.h"

/* Eight samples fill whole bytes whatever their width: loads begin there. */
enum { GRAIN = 8, BYTE_BITS = 8, READABLE_BEYOND = 64 };

typedef struct synthetic {
    wfi_synthetic setup;
    size_t grain_bytes;  /* of GRAIN samples */
    size_t period_bytes; /* of a thread */
    wf_thread_info *threads;
    uint8_t *bytes; /* [n_threads][period_bytes], READABLE_BEYOND more at the end */
} synthetic;

typedef struct reader {
    const synthetic *state;
    size_t buffer_bytes; /* of a thread */
    uint8_t *buffer;     /* [n_threads][buffer_bytes], for what crosses the end of the period */
} reader;

static uint64_t next_random(uint64_t *state)
{
    *state ^= *state << 13;
    *state ^= *state >> 7;
    *state ^= *state << 17;
    return *state;
}

static void fill(synthetic *state)
{
    const size_t n = state->setup.n_threads * state->period_bytes;
    uint64_t random = state->setup.seed * UINT64_C(0x9e3779b97f4a7c15) | 1;
    for (size_t i = 0; i < n; i += sizeof random) {
        const uint64_t word = next_random(&random);
        memcpy(state->bytes + i, &word, n - i < sizeof word ? n - i : sizeof word);
    }
}

static wf_status create_state(synthetic **out, const wfi_synthetic *setup, wf_error *err)
{
    const wf_sample_format *format = &setup->format;
    if (setup->period <= 0 || setup->period % GRAIN != 0 ||
        format->encoding != WF_ENCODING_OFFSET_BINARY)
        return wfi_fail(err, WF_ARGUMENT,
                        "samples in memory: a period of a multiple of %d samples in offset binary",
                        GRAIN);
    WFI_TRY(wfi_allocate(out, 1, sizeof **out, "samples in memory", err));
    synthetic *state = *out;
    state->setup = *setup;
    state->grain_bytes = (size_t)format->bits * (format->is_complex ? 2 : 1) * format->n_channels *
                         GRAIN / BYTE_BITS;
    state->period_bytes = (size_t)(setup->period / GRAIN) * state->grain_bytes;
    WFI_TRY(wfi_allocate(&state->threads, setup->n_threads, sizeof *state->threads,
                         "samples in memory", err));
    for (size_t t = 0; t < setup->n_threads; t++)
        state->threads[t] = (wf_thread_info){(uint32_t)t, *format};
    WFI_TRY(wfi_allocate(&state->bytes, setup->n_threads * state->period_bytes + READABLE_BEYOND, 1,
                         "samples in memory", err));
    fill(state);
    return WF_OK;
}

static void synthetic_close(void *opened)
{
    synthetic *state = opened;
    wfi_free(state->threads);
    wfi_free(state->bytes);
    wfi_free(state);
}

static void synthetic_reader_destroy(void *made)
{
    reader *r = made;
    if (r == NULL)
        return;
    wfi_free(r->buffer);
    wfi_free(r);
}

static wf_status synthetic_reader_create(void **out, const void *opened, int64_t capacity,
                                         wf_error *err)
{
    reader *r = NULL;
    WFI_TRY(wfi_allocate(&r, 1, sizeof *r, "a window", err));
    r->state = opened;
    r->buffer_bytes = (size_t)(capacity / GRAIN + 2) * r->state->grain_bytes + READABLE_BEYOND;
    const wf_status status =
        wfi_allocate(&r->buffer, r->state->setup.n_threads * r->buffer_bytes, 1, "a window", err);
    if (status == WF_OK)
        *out = r;
    else
        synthetic_reader_destroy(r);
    return status;
}

/* n bytes from a place in the period, round and round. */
static const uint8_t *stretch(const synthetic *state, size_t i_thread, size_t begin, size_t n,
                              uint8_t *buffer)
{
    const uint8_t *bytes = state->bytes + i_thread * state->period_bytes;
    if (begin + n <= state->period_bytes)
        return bytes + begin;
    for (size_t done = 0; done < n; begin = 0) {
        const size_t left = n - done;
        const size_t fit = state->period_bytes - begin;
        memcpy(buffer + done, bytes + begin, left < fit ? left : fit);
        done += left < fit ? left : fit;
    }
    return buffer;
}

static int64_t floor_to(int64_t value, int64_t step)
{
    const int64_t rest = value % step;
    return value - (rest < 0 ? rest + step : rest);
}

static wf_status synthetic_load(void *made, wf_packed *packed, int64_t first, int64_t n,
                                wf_error *err)
{
    (void)err;
    const reader *r = made;
    const synthetic *state = r->state;
    const int64_t begin = floor_to(first, GRAIN);
    const int64_t end = floor_to(first + n + GRAIN - 1, GRAIN);
    const int64_t phase = begin - floor_to(begin, state->setup.period);
    for (size_t t = 0; t < state->setup.n_threads; t++)
        packed[t] = (wf_packed){
            .bytes = stretch(state, t, (size_t)(phase / GRAIN) * state->grain_bytes,
                             (size_t)((end - begin) / GRAIN) * state->grain_bytes,
                             r->buffer + t * r->buffer_bytes),
            .first = begin,
            .n = end - begin,
        };
    return WF_OK;
}

/* Of no file: it stands in no table of formats, and is never probed or opened by name. */
static const wfi_format format_synthetic = {
    .name = "samples in memory",
    .code = WF_FILE_FORMAT_PROBE,
    .close = synthetic_close,
    .reader_create = synthetic_reader_create,
    .reader_destroy = synthetic_reader_destroy,
    .load = synthetic_load,
};

wf_status wfi_synthetic_open(wf_recording **out, const wfi_synthetic *setup, wf_error *err)
{
    synthetic *state = NULL;
    *out = NULL;
    wf_status status = create_state(&state, setup, err);
    if (status == WF_OK) {
        const wf_recording_info info = {
            .format_name = format_synthetic.name,
            .origin = setup->origin,
            .sample_rate_hz = setup->sample_rate_hz,
            .first = 0,
            .end = INT64_C(1) << 60,
            .threads = state->threads,
            .n_threads = setup->n_threads,
        };
        status = wfi_recording_create(out, &format_synthetic, state, &info, err);
    }
    if (status != WF_OK && state != NULL)
        synthetic_close(state);
    return status;
}
