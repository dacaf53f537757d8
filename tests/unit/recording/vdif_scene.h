/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Small invented VDIF recordings, and a check of every sample that a window hands out. */
#ifndef TESTS_RECORDING_VDIF_SCENE_H
#define TESTS_RECORDING_VDIF_SCENE_H

#include <whitefringe/recording.h>

#include "support/check.h"
#include "support/vdif_frames.h"
#include "unit/recording/scratch.h"

/** What should stand at a place: NULL for nothing. Valid until the next call. */
typedef const frame_spec *(*expectation)(uint32_t thread, int64_t frame_since_origin);

static inline FILE *create_file(const char *path)
{
    FILE *file = fopen(path, "wb");
    assert_non_null(file);
    return file;
}

static inline wf_recording *open_vdif(const char *const *paths, size_t n_paths, int64_t rate_hz)
{
    wf_recording *recording = NULL;
    wf_error err = WF_ERROR_INIT;
    const wf_recording_entry entry = {
        .paths = paths, .n_paths = n_paths, .sample_rate_hz = rate_hz};
    wf_check_ok(wf_recording_open(&recording, &entry, &err), &err);
    return recording;
}

static inline wf_recording *open_vdif_file(const char *path, int64_t rate_hz)
{
    return open_vdif(&path, 1, rate_hz);
}

static inline bool is_invalid(const wf_packed *packed, int64_t sample)
{
    for (size_t i = 0; i < packed->n_invalid; i++)
        if (sample >= packed->invalid[i].first &&
            sample < packed->invalid[i].first + packed->invalid[i].n)
            return true;
    return false;
}

static inline uint32_t bit_of(const uint8_t *bytes, int64_t i)
{
    return (uint32_t)bytes[i / 8] >> (i % 8) & 1u;
}

/** The runs are ascending, apart from one another and inside the window. */
static inline void check_runs(const wf_packed *packed)
{
    int64_t free_from = packed->first;
    for (size_t i = 0; i < packed->n_invalid; i++) {
        assert_true(packed->invalid[i].n > 0);
        assert_true(packed->invalid[i].first >= free_from);
        free_from = packed->invalid[i].first + packed->invalid[i].n + 1;
        assert_true(free_from - 1 <= packed->first + packed->n);
    }
}

/** Load a stretch and hold every sample of one thread against what should stand there. */
static inline void check_load(wf_window *window, size_t i_thread, const wf_thread_info *thread,
                              int64_t samples_per_frame, int64_t first, int64_t n,
                              expectation expect)
{
    const int64_t sample_bits = (int64_t)thread->format.bits * (thread->format.is_complex ? 2 : 1) *
                                thread->format.n_channels;
    const wf_packed *packed = wf_window_thread(window, i_thread);
    assert_true(packed->first <= first);
    assert_true(packed->first + packed->n >= first + n);
    check_runs(packed);
    for (int64_t k = first; k < first + n; k++) {
        int64_t frame = k / samples_per_frame;
        if (k < 0 && k % samples_per_frame != 0)
            frame--;
        const frame_spec *want = expect(thread->thread, frame);
        if (is_invalid(packed, k) != (want == NULL))
            fail_msg("thread %u sample %lld: %s, want %s", thread->thread, (long long)k,
                     want == NULL ? "valid" : "invalid", want == NULL ? "invalid" : "valid");
        if (want == NULL)
            continue;
        const int64_t in_frame = (k - frame * samples_per_frame) * sample_bits;
        for (int64_t b = 0; b < sample_bits; b++) {
            const uint8_t byte = frame_payload_byte(want, (uint32_t)((in_frame + b) / 8));
            const uint32_t got = bit_of(packed->bytes, (k - packed->first) * sample_bits + b);
            if (got != ((uint32_t)byte >> ((in_frame + b) % 8) & 1u))
                fail_msg("thread %u sample %lld bit %lld is wrong", thread->thread, (long long)k,
                         (long long)b);
        }
    }
}

static inline void load_and_check(wf_window *window, const wf_recording *recording,
                                  int64_t samples_per_frame, int64_t first, int64_t n,
                                  expectation expect)
{
    wf_error err = WF_ERROR_INIT;
    wf_check_ok(wf_window_load(window, first, n, &err), &err);
    const wf_recording_info *info = wf_recording_describe(recording);
    for (size_t i = 0; i < info->n_threads; i++)
        check_load(window, i, &info->threads[i], samples_per_frame, first, n, expect);
}

static inline wf_window *open_window(const wf_recording *recording, int64_t capacity)
{
    wf_window *window = NULL;
    wf_error err = WF_ERROR_INIT;
    wf_check_ok(wf_window_create(&window, recording, capacity, &err), &err);
    return window;
}

#endif
