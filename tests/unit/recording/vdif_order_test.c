/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Frames out of order, twice, in several files, in long files: time decides, never position. */
#include "unit/recording/vdif_scene.h"

#include <pthread.h>

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
    static _Thread_local frame_spec expected; /* a test reads from several threads */
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

/* As far as the reader promises to cope with: up to 128 places from where a frame belongs. */
static void vdif_frames_out_of_order_find_their_place(void **state)
{
    (void)state;
    FILE *file = create_file("a.vdif");
    uint32_t random = 7;
    enum { N = 4000, GROUP = 128 };
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
    int n_wrong; /* frames that are not as they should be; checked by the main thread */
} errand;

static int count_wrong(const wf_packed *packed)
{
    int n = 0;
    for (int64_t k = packed->first; k < packed->first + packed->n; k += SAMPLES) {
        const frame_spec *want = with_gaps(3, k >= 0 ? k / SAMPLES : -1);
        const bool right = want == NULL
                               ? is_invalid(packed, k)
                               : !is_invalid(packed, k) && packed->bytes[k - packed->first + 5] ==
                                                               frame_payload_byte(want, 5);
        n += right ? 0 : 1;
    }
    return n;
}

static void *run_errand(void *context)
{
    errand *e = context;
    wf_window *window = NULL;
    e->n_wrong = wf_window_create(&window, e->recording, 100 * SAMPLES, NULL) == WF_OK ? 0 : 1;
    for (int i = 0; i < 300 && e->n_wrong == 0; i++) {
        const int64_t first = next_random(&e->seed) % (4000 * SAMPLES);
        if (wf_window_load(window, first, 100 * SAMPLES, NULL) != WF_OK)
            e->n_wrong++;
        else
            e->n_wrong += count_wrong(wf_window_thread(window, 0));
    }
    wf_window_destroy(window);
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
        errands[i] = (errand){recording, 100 + i, 0};
        assert_int_equal(pthread_create(&threads[i], NULL, run_errand, &errands[i]), 0);
    }
    for (size_t i = 0; i < 4; i++) {
        assert_int_equal(pthread_join(threads[i], NULL), 0);
        assert_int_equal(errands[i].n_wrong, 0);
    }
    wf_recording_close(recording);
}

/* Reads of this process so far, as Linux counts them; -1 where it does not. */
static long n_reads(void)
{
    long n = -1;
    char line[100];
    FILE *file = fopen("/proc/self/io", "r");
    while (file != NULL && fgets(line, sizeof line, file) != NULL)
        if (sscanf(line, "syscr: %ld", &n) == 1)
            break;
    if (file != NULL)
        fclose(file);
    return n;
}

enum { LONG_FRAMES = 2000000 };

static const frame_spec *ends_of_long_file(uint32_t thread, int64_t frame)
{
    const bool written = frame < 10000 || frame >= LONG_FRAMES - 3000;
    return written ? between(0, LONG_FRAMES, thread, frame) : NULL;
}

/* 96 MB of which all but the ends is a hole, with as many positions as a recording of 16 GB has.
 * Limit: the survey's 8192 + 15 * 128 + 512 headers, as many again for the ends and the rate, and
 * the searches; what matters is that it does not grow with the 2 million there are. */
static void vdif_long_files_open_at_once(void **state)
{
    (void)state;
    FILE *file = create_file("a.vdif");
    write_stretch(file, 3, 0, 10000);
    assert_int_equal(fseeko(file, (off_t)(LONG_FRAMES - 3000) * FRAME_BYTES, SEEK_SET), 0);
    write_stretch(file, 3, LONG_FRAMES - 3000, LONG_FRAMES);
    fclose(file);
    const long before = n_reads();
    wf_recording *recording = open_vdif_file("a.vdif", RATE_HZ);
    assert_in_range(n_reads() - before, 0, 40000);
    assert_int_equal(wf_recording_describe(recording)->end, (int64_t)LONG_FRAMES * SAMPLES);
    wf_recording_close(recording);
}

/* A second of many frames is not read through to learn how many there are. Limit: the survey's
 * headers as above, and some thousand for the index and three ends of seconds. */
static void vdif_rate_is_measured_without_reading_whole_seconds(void **state)
{
    (void)state;
    enum { PER_SECOND = 40000, N = 4 * PER_SECOND };
    FILE *file = create_file("rate.vdif");
    for (int64_t i = 700; i < N; i++) {
        frame_spec f = {.epoch = 50,
                        .second = (uint32_t)(5 + i / PER_SECOND),
                        .frame = (uint32_t)(i % PER_SECOND),
                        .thread = 3,
                        .bits = 8,
                        .frame_bytes = FRAME_BYTES};
        if (i != PER_SECOND - 1 && i != 3 * PER_SECOND - 1) /* lost at the ends of two seconds */
            write_frame(file, &f);
    }
    fclose(file);
    const long before = n_reads();
    wf_recording *recording = open_vdif_file("rate.vdif", 0);
    assert_in_range(n_reads() - before, 0, 32000);
    assert_int_equal(wf_recording_describe(recording)->sample_rate_hz, PER_SECOND * SAMPLES);
    wf_recording_close(recording);
}

/* Whatever is asked for at the brinks of a hole and in it. */
static void vdif_long_holes_hide_nothing_at_their_brinks(void **state)
{
    (void)state;
    wf_recording *recording = open_vdif_file("a.vdif", RATE_HZ);
    wf_window *window = open_window(recording, 200 * SAMPLES);
    static const int64_t brinks[] = {0, 10000, 500000, LONG_FRAMES - 3000, LONG_FRAMES};
    for (size_t i = 0; i < sizeof brinks / sizeof brinks[0]; i++)
        for (int64_t before = -20; before <= 300; before += 16)
            load_and_check(window, recording, SAMPLES, (brinks[i] - before) * SAMPLES + 3,
                           1 + (before + 20) * SAMPLES / 2, ends_of_long_file);
    wf_window_destroy(window);
    wf_recording_close(recording);
}

/* Disks that drop out by turns: 600 valid frames between 5000 that are not. */
static const frame_spec *islands(uint32_t thread, int64_t frame)
{
    return frame >= 0 && frame % 5600 < 600 ? between(0, 112000, thread, frame) : NULL;
}

static void vdif_islands_of_valid_frames_are_found(void **state)
{
    (void)state;
    FILE *file = create_file("a.vdif");
    for (int64_t i = 0; i < 20; i++) {
        assert_int_equal(fseeko(file, (off_t)(i * 5600) * FRAME_BYTES, SEEK_SET), 0);
        write_stretch(file, 3, i * 5600, i * 5600 + 600);
    }
    fclose(file);
    wf_recording *recording = open_vdif_file("a.vdif", RATE_HZ);
    wf_window *window = open_window(recording, 6000 * SAMPLES);
    for (int64_t first = 0; first < 112000; first += 5600)
        load_and_check(window, recording, SAMPLES, first * SAMPLES, 600 * SAMPLES, islands);
    for (int64_t first = -1000; first < 112000; first += 777)
        load_and_check(window, recording, SAMPLES, first * SAMPLES, 7, islands);
    load_and_check(window, recording, SAMPLES, 50000 * SAMPLES, 6000 * SAMPLES, islands);
    wf_window_destroy(window);
    wf_recording_close(recording);
}

/* What is valid, frame by frame; the samples are not looked at. */
static void load_and_check_validity(wf_window *window, int64_t first, int64_t end,
                                    expectation expect)
{
    wf_error err = WF_ERROR_INIT;
    for (int64_t i = first; i < end; i++) {
        wf_check_ok(wf_window_load(window, i * SAMPLES, SAMPLES, &err), &err);
        const bool invalid = is_invalid(wf_window_thread(window, 0), i * SAMPLES);
        assert_int_equal(invalid, expect(3, i) == NULL);
    }
}

/* The frame number goes on for 7 frames after every tick: those say a time nearly a second off,
 * which stands nowhere else in the file, and must not pass for what was lost there. */
static const frame_spec *without_the_late(uint32_t thread, int64_t frame)
{
    const int64_t within = frame % FRAMES_PER_SECOND;
    return frame >= 0 && within < FRAMES_PER_SECOND - 7 ? between(0, 2000, thread, frame) : NULL;
}

static void vdif_counters_reset_late_do_not_mislead(void **state)
{
    (void)state;
    FILE *file = create_file("a.vdif");
    for (int64_t i = 0; i < 2000; i++) {
        const int64_t within = i % FRAMES_PER_SECOND;
        frame_spec f = frame_at(3, i);
        f.frame = (uint32_t)((within - 7 + FRAMES_PER_SECOND) % FRAMES_PER_SECOND);
        if (i >= 7)
            write_frame(file, &f);
    }
    fclose(file);
    wf_recording *recording = open_vdif_file("a.vdif", RATE_HZ);
    wf_window *window = open_window(recording, 1000 * SAMPLES);
    wf_error err = WF_ERROR_INIT;
    wf_fault faults[WF_FAULT_N_KINDS];
    load_and_check_validity(window, 0, 1900, without_the_late);
    wf_check_ok(wf_recording_faults(recording, faults, &err), &err);
    assert_int_equal(faults[WF_FAULT_WRONG_TIME].n_frames, 3 * 7);
    wf_window_destroy(window);
    wf_recording_close(recording);
}

/* Frames that stand again in front of a frame marked invalid, of their neighbour and of an earlier
 * one: its own header says that nothing is lost there, and so their times are right. */
static const frame_spec *without_every_100th(uint32_t thread, int64_t frame)
{
    return frame % 100 == 0 ? NULL : frames_0_to_4000(thread, frame);
}

static void vdif_duplicates_before_invalid_frames_are_duplicates(void **state)
{
    (void)state;
    FILE *file = create_file("a.vdif");
    for (int64_t i = 0; i < 4000; i++) {
        frame_spec f = frame_at(3, i);
        const frame_spec again = frame_at(3, i - (i % 200 == 100 ? 1 : 7));
        f.invalid = i % 100 == 0;
        if (i > 0 && f.invalid)
            write_frame(file, &again);
        write_frame(file, &f);
    }
    fclose(file);
    wf_recording *recording = open_vdif_file("a.vdif", RATE_HZ);
    check_whole(recording, 4000, without_every_100th);
    wf_error err = WF_ERROR_INIT;
    wf_fault faults[WF_FAULT_N_KINDS];
    wf_check_ok(wf_recording_faults(recording, faults, &err), &err);
    assert_int_equal(faults[WF_FAULT_WRONG_TIME].n_frames, 0);
    assert_int_equal(faults[WF_FAULT_DUPLICATE].n_frames, 39);
    assert_int_equal(faults[WF_FAULT_INVALID_FLAG].n_frames, 40);
    wf_recording_close(recording);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(vdif_frames_out_of_order_find_their_place),
        cmocka_unit_test(vdif_threads_in_blocks_find_their_place),
        cmocka_unit_test(vdif_first_valid_duplicate_counts),
        cmocka_unit_test(vdif_duplicates_before_invalid_frames_are_duplicates),
        cmocka_unit_test(vdif_files_make_one_recording),
        cmocka_unit_test(vdif_loads_do_not_depend_on_earlier_ones),
        cmocka_unit_test(vdif_wrong_times_do_not_mislead),
        cmocka_unit_test(vdif_counters_reset_late_do_not_mislead),
        cmocka_unit_test(vdif_threads_of_the_program_share_a_recording),
        cmocka_unit_test(vdif_long_files_open_at_once),
        cmocka_unit_test(vdif_rate_is_measured_without_reading_whole_seconds),
        cmocka_unit_test(vdif_long_holes_hide_nothing_at_their_brinks),
        cmocka_unit_test(vdif_islands_of_valid_frames_are_found),
    };
    return cmocka_run_group_tests(tests, enter_scratch_folder, leave_scratch_folder);
}
