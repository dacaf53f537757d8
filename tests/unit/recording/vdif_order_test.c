/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Frames out of order, twice, in several files, in long files: time decides, never position. */
#include "unit/recording/vdif_scene.h"

#include <pthread.h>
#include <time.h>

/* 16 samples of 8 bits a frame, 500 frames a second. */
enum { RATE_HZ = 8000, SAMPLES = 16, FRAMES_PER_SECOND = 500, FRAME_BYTES = 48 };

static const frame_spec plain = {
    .epoch = 52, .second = 10000, .bits = 8, .frame_bytes = FRAME_BYTES};

static frame_spec frame_at(uint32_t thread, int64_t frame)
{
    frame_spec f = plain;
    f.thread = thread;
    f.second = (uint32_t)(10000 + frame / FRAMES_PER_SECOND);
    f.frame = (uint32_t)(frame % FRAMES_PER_SECOND);
    return f;
}

static void write_stretch(FILE *file, uint32_t thread, int64_t first, int64_t end)
{
    for (int64_t i = first; i < end; i++) {
        const frame_spec f = frame_at(thread, i);
        write_frame(file, &f);
    }
}

static const frame_spec *between(int64_t first, int64_t end, uint32_t thread, int64_t frame)
{
    static _Thread_local frame_spec expected;
    if (frame < first || frame >= end)
        return NULL;
    expected = frame_at(thread, frame);
    return &expected;
}

static const frame_spec *frames_0_to_4000(uint32_t thread, int64_t frame)
{
    return between(0, 4000, thread, frame);
}

static void check_whole(const wf_recording *recording, int64_t n_frames, expectation expect)
{
    wf_window *window = open_window(recording, (n_frames + 20) * SAMPLES);
    load_and_check(window, recording, SAMPLES, -10 * SAMPLES, (n_frames + 20) * SAMPLES, expect);
    wf_window_destroy(window);
}

static void check_random_stretches(const wf_recording *recording, int64_t n_frames, int n_loads,
                                   uint32_t seed, expectation expect)
{
    wf_window *window = open_window(recording, 40 * SAMPLES);
    for (int i = 0; i < n_loads; i++) {
        const int64_t n = 1 + next_random(&seed) % (40 * SAMPLES);
        const int64_t first =
            (int64_t)(next_random(&seed) % (uint32_t)((n_frames + 40) * SAMPLES)) - 20 * SAMPLES;
        load_and_check(window, recording, SAMPLES, first, n, expect);
    }
    wf_window_destroy(window);
}

/* The farthest that the reader must cope with: a frame 64 places per thread from its own. */
static void vdif_frames_out_of_order_find_their_place(void **state)
{
    (void)state;
    FILE *file = create_file("a.vdif");
    uint32_t random = 7;
    enum { N = 4000, GROUP = 64 };
    for (int64_t begin = 0; begin < N; begin += GROUP) {
        int64_t order[GROUP];
        for (int64_t i = 0; i < GROUP; i++)
            order[i] = begin + i;
        for (uint32_t i = GROUP - 1; i > 0; i--) {
            const uint32_t j = next_random(&random) % (i + 1);
            const int64_t swapped = order[i];
            order[i] = order[j];
            order[j] = swapped;
        }
        for (int64_t i = 0; i < GROUP; i++)
            if (order[i] < N)
                write_stretch(file, 3, order[i], order[i] + 1);
    }
    fclose(file);
    wf_recording *recording = open_vdif_file("a.vdif", RATE_HZ);
    assert_int_equal(wf_recording_describe(recording)->first, 0);
    check_whole(recording, N, frames_0_to_4000);
    check_random_stretches(recording, N, 200, 11, frames_0_to_4000);
    wf_recording_close(recording);
}

/* Thread after thread in blocks of 64 frames. */
static void vdif_threads_in_blocks_find_their_place(void **state)
{
    (void)state;
    FILE *file = create_file("a.vdif");
    for (int64_t i = 0; i < 4000; i += 64)
        for (uint32_t thread = 0; thread < 4; thread++)
            write_stretch(file, 100 + 7 * thread, i, i + 64 < 4000 ? i + 64 : 4000);
    fclose(file);
    wf_recording *recording = open_vdif_file("a.vdif", RATE_HZ);
    assert_int_equal(wf_recording_describe(recording)->n_threads, 4);
    check_whole(recording, 4000, frames_0_to_4000);
    check_random_stretches(recording, 4000, 50, 5, frames_0_to_4000);
    wf_recording_close(recording);
}

/* Of frames that stand twice the first valid one counts. */
static void vdif_first_valid_duplicate_counts(void **state)
{
    (void)state;
    FILE *file = create_file("a.vdif");
    for (int64_t i = 0; i < 4000; i++) {
        frame_spec f = frame_at(3, i);
        if (i % 10 == 0) {
            frame_spec invalid = f;
            invalid.invalid = 1;
            invalid.seed = 1;
            write_frame(file, &invalid);
        }
        write_frame(file, &f);
        f.seed = 2;
        if (i % 7 == 0)
            write_frame(file, &f);
    }
    fclose(file);
    wf_recording *recording = open_vdif_file("a.vdif", RATE_HZ);
    check_whole(recording, 4000, frames_0_to_4000);
    check_random_stretches(recording, 4000, 50, 3, frames_0_to_4000);
    wf_recording_close(recording);
}

static const frame_spec *with_gaps(uint32_t thread, int64_t frame)
{
    const bool gap = (frame >= 700 && frame < 1800) || (frame >= 2500 && frame < 2600);
    return gap ? NULL : frames_0_to_4000(thread, frame);
}

static void write_gap_files(void)
{
    FILE *file = create_file("a.vdif");
    write_stretch(file, 3, 0, 700);
    fclose(file);
    file = create_file("b.vdif");
    write_stretch(file, 3, 1800, 2500);
    write_stretch(file, 3, 2600, 3000);
    fclose(file);
    file = create_file("c.vdif");
    write_stretch(file, 3, 3000, 4000);
    fclose(file);
}

static void vdif_files_make_one_recording(void **state)
{
    (void)state;
    write_gap_files();
    const char *const paths[] = {"a.vdif", "b.vdif", "c.vdif"};
    wf_recording *recording = open_vdif(paths, 3, RATE_HZ);
    const wf_recording_info *info = wf_recording_describe(recording);
    assert_int_equal(info->first, 0);
    assert_int_equal(info->end, 4000 * SAMPLES);
    check_whole(recording, 4000, with_gaps);
    check_random_stretches(recording, 4000, 300, 9, with_gaps);
    wf_recording_close(recording);
}

/* What a load yields depends on nothing but its stretch: two windows, one that has been all over
 * the recording and one that is new, agree in every valid byte and in what is valid. */
static void vdif_loads_do_not_depend_on_earlier_ones(void **state)
{
    (void)state;
    /* gaps, disorder farther than the reorder window, duplicates that differ far apart */
    FILE *file = create_file("a.vdif");
    uint32_t random = 77;
    for (int64_t i = 0; i < 6000; i++) {
        int64_t frame = i;
        if (next_random(&random) % 50 == 0)
            frame = next_random(&random) % 6000;
        frame_spec f = frame_at(3, frame);
        f.seed = (uint32_t)i;
        if (next_random(&random) % 20 != 0)
            write_frame(file, &f);
    }
    fclose(file);
    wf_recording *recording = open_vdif_file("a.vdif", RATE_HZ);
    wf_window *travelled = open_window(recording, 3000 * SAMPLES);
    wf_error err = WF_ERROR_INIT;
    for (int i = 0; i < 60; i++) {
        const int64_t n = 1 + next_random(&random) % (i % 3 == 0 ? 3000 * SAMPLES : 100);
        const int64_t first = next_random(&random) % (6000 * SAMPLES);
        wf_check_ok(wf_window_load(travelled, first, n, &err), &err);
        wf_window *fresh = open_window(recording, n);
        wf_check_ok(wf_window_load(fresh, first, n, &err), &err);
        const wf_packed *a = wf_window_thread(travelled, 0);
        const wf_packed *b = wf_window_thread(fresh, 0);
        assert_int_equal(a->first, b->first);
        assert_int_equal(a->n, b->n);
        for (int64_t k = a->first; k < a->first + a->n; k += SAMPLES) {
            assert_int_equal(is_invalid(a, k), is_invalid(b, k));
            if (!is_invalid(a, k))
                assert_memory_equal(a->bytes + (k - a->first), b->bytes + (k - a->first), SAMPLES);
        }
        wf_window_destroy(fresh);
    }
    /* nor on how much is asked for at once */
    wf_window *small = open_window(recording, SAMPLES);
    wf_check_ok(wf_window_load(travelled, 2000 * SAMPLES, 3000 * SAMPLES, &err), &err);
    const wf_packed *a = wf_window_thread(travelled, 0);
    for (int64_t k = a->first; k < a->first + a->n; k += SAMPLES) {
        wf_check_ok(wf_window_load(small, k, SAMPLES, &err), &err);
        const wf_packed *b = wf_window_thread(small, 0);
        assert_int_equal(is_invalid(a, k), is_invalid(b, k));
        if (!is_invalid(a, k))
            assert_memory_equal(a->bytes + (k - a->first), b->bytes, SAMPLES);
    }
    wf_window_destroy(small);
    wf_window_destroy(travelled);
    wf_recording_close(recording);
}

/* Lone frames with a wrong time lead the search astray nowhere. */
static const frame_spec *without_every_97th(uint32_t thread, int64_t frame)
{
    return frame % 97 == 50 ? NULL : frames_0_to_4000(thread, frame);
}

static void vdif_wrong_times_do_not_mislead(void **state)
{
    (void)state;
    FILE *file = create_file("a.vdif");
    uint32_t random = 3;
    for (int64_t i = 0; i < 4000; i++) {
        frame_spec f = frame_at(3, i);
        if (i % 97 == 50)
            f.second += 100 + next_random(&random) % 1000;
        write_frame(file, &f);
    }
    fclose(file);
    wf_recording *recording = open_vdif_file("a.vdif", RATE_HZ);
    check_whole(recording, 4000, without_every_97th);
    check_random_stretches(recording, 4000, 200, 21, without_every_97th);
    wf_recording_close(recording);
}

typedef struct errand {
    const wf_recording *recording;
    uint32_t seed;
} errand;

static void *run_errand(void *context)
{
    const errand *e = context;
    check_random_stretches(e->recording, 4000, 100, e->seed, with_gaps);
    return NULL;
}

static void vdif_threads_of_the_program_share_a_recording(void **state)
{
    (void)state;
    write_gap_files();
    const char *const paths[] = {"a.vdif", "b.vdif", "c.vdif"};
    wf_recording *recording = open_vdif(paths, 3, RATE_HZ);
    pthread_t threads[4];
    errand errands[4];
    for (uint32_t i = 0; i < 4; i++) {
        errands[i] = (errand){recording, 100 + i};
        assert_int_equal(pthread_create(&threads[i], NULL, run_errand, &errands[i]), 0);
    }
    for (size_t i = 0; i < 4; i++)
        assert_int_equal(pthread_join(threads[i], NULL), 0);
    wf_recording_close(recording);
}

static double now_s(void)
{
    struct timespec t;
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

enum { LONG_FRAMES = 2000000 };

static const frame_spec *ends_of_long_file(uint32_t thread, int64_t frame)
{
    const bool written = frame < 10000 || frame >= LONG_FRAMES - 3000;
    return written ? between(0, LONG_FRAMES, thread, frame) : NULL;
}

/* 96 MB of which all but the ends is a hole: as many positions as a recording of 16 GB has. Time
 * limit: a thousandth of what reading every header would take is far more than is needed. */
static void vdif_long_files_open_at_once(void **state)
{
    (void)state;
    FILE *file = create_file("a.vdif");
    write_stretch(file, 3, 0, 10000);
    assert_int_equal(fseeko(file, (off_t)(LONG_FRAMES - 3000) * FRAME_BYTES, SEEK_SET), 0);
    write_stretch(file, 3, LONG_FRAMES - 3000, LONG_FRAMES);
    fclose(file);
    const double begin_s = now_s();
    wf_recording *recording = open_vdif_file("a.vdif", RATE_HZ);
    assert_int_equal(wf_recording_describe(recording)->end, (int64_t)LONG_FRAMES * SAMPLES);
    wf_window *window = open_window(recording, 200 * SAMPLES);
    static const int64_t places[] = {0, 9900, 500000, LONG_FRAMES - 3100, LONG_FRAMES - 100};
    for (size_t i = 0; i < sizeof places / sizeof places[0]; i++)
        load_and_check(window, recording, SAMPLES, places[i] * SAMPLES, 200 * SAMPLES,
                       ends_of_long_file);
    assert_true(now_s() - begin_s < 5.0);
    wf_window_destroy(window);
    wf_recording_close(recording);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(vdif_frames_out_of_order_find_their_place),
        cmocka_unit_test(vdif_threads_in_blocks_find_their_place),
        cmocka_unit_test(vdif_first_valid_duplicate_counts),
        cmocka_unit_test(vdif_files_make_one_recording),
        cmocka_unit_test(vdif_loads_do_not_depend_on_earlier_ones),
        cmocka_unit_test(vdif_wrong_times_do_not_mislead),
        cmocka_unit_test(vdif_threads_of_the_program_share_a_recording),
        cmocka_unit_test(vdif_long_files_open_at_once),
    };
    return cmocka_run_group_tests(tests, enter_scratch_folder, leave_scratch_folder);
}
