/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Files that are not what they should be, systems that refuse: the right status, a message with
 * place and remedy, nothing leaked, nothing changed. */
#include "unit/recording/vdif_scene.h"

#include "base/memory.h"

enum { RATE_HZ = 6400, SAMPLES = 64, FRAMES_PER_SECOND = 100, FRAME_BYTES = 96 };

static const frame_spec plain = {.epoch = 52, .second = 100, .bits = 8, .frame_bytes = FRAME_BYTES};

static frame_spec frame_at(int64_t frame)
{
    frame_spec f = plain;
    f.second += (uint32_t)(frame / FRAMES_PER_SECOND);
    f.frame = (uint32_t)(frame % FRAMES_PER_SECOND);
    return f;
}

static void write_file(const char *path, frame_spec like, int64_t n)
{
    FILE *file = create_file(path);
    for (int64_t i = 0; i < n; i++) {
        like.second = plain.second + (uint32_t)(i / FRAMES_PER_SECOND);
        like.frame = (uint32_t)(i % FRAMES_PER_SECOND);
        write_frame(file, &like);
    }
    fclose(file);
}

static int64_t n_there;

static const frame_spec *frames_there(uint32_t thread, int64_t frame)
{
    static frame_spec expected;
    (void)thread;
    if (frame < 0 || frame >= n_there)
        return NULL;
    expected = frame_at(frame);
    return &expected;
}

static void check_refused_with(const char *path, int64_t rate_hz, wf_status status,
                               const char *text)
{
    const wf_recording_entry entry = {
        .paths = &path, .n_paths = 1, .format = WF_FILE_FORMAT_VDIF, .sample_rate_hz = rate_hz};
    wf_recording *recording = NULL;
    wf_error err = WF_ERROR_INIT;
    wf_check_refused(wf_recording_open(&recording, &entry, &err), status, &err, text);
    assert_non_null(strstr(err.message, path));
    assert_null(recording);
}

static void check_refused(const char *path, wf_status status, const char *text)
{
    check_refused_with(path, RATE_HZ, status, text);
}

static void vdif_truncated_last_frame_is_dropped(void **state)
{
    (void)state;
    write_file("a.vdif", plain, 20);
    for (int cut = 1; cut <= FRAME_BYTES; cut++) {
        assert_int_equal(truncate("a.vdif", 20 * FRAME_BYTES - cut), 0);
        n_there = 19;
        wf_recording *recording = open_vdif_file("a.vdif", RATE_HZ);
        assert_int_equal(wf_recording_describe(recording)->end, 19 * SAMPLES);
        wf_window *window = open_window(recording, 20 * SAMPLES);
        load_and_check(window, recording, SAMPLES, 0, 20 * SAMPLES, frames_there);
        wf_window_destroy(window);
        wf_recording_close(recording);
    }
}

static void vdif_file_cut_within_its_first_frame_is_refused(void **state)
{
    (void)state;
    write_file("a.vdif", plain, 1);
    for (int left = FRAME_BYTES - 1; left > 0; left--) {
        assert_int_equal(truncate("a.vdif", left), 0);
        check_refused("a.vdif", WF_FORMAT,
                      left >= 32 ? "no VDIF frames" : "less than a VDIF frame header");
    }
    assert_int_equal(truncate("a.vdif", 0), 0);
    check_refused("a.vdif", WF_FORMAT, "is empty");
}

static void vdif_file_cut_while_open_gives_invalid_samples(void **state)
{
    (void)state;
    for (int warm = 0; warm < 2; warm++) {
        write_file("a.vdif", plain, 1000);
        wf_recording *recording = open_vdif_file("a.vdif", RATE_HZ);
        wf_window *window = open_window(recording, 1000 * SAMPLES);
        n_there = 1000;
        if (warm) /* with the headers known already */
            load_and_check(window, recording, SAMPLES, 0, 1000 * SAMPLES, frames_there);
        assert_int_equal(truncate("a.vdif", 700 * FRAME_BYTES + 50), 0);
        n_there = 700;
        load_and_check(window, recording, SAMPLES, 0, 1000 * SAMPLES, frames_there);
        load_and_check(window, recording, SAMPLES, 690 * SAMPLES, 20 * SAMPLES, frames_there);
        load_and_check(window, recording, SAMPLES, 900 * SAMPLES, 20 * SAMPLES, frames_there);
        wf_window_destroy(window);
        wf_recording_close(recording);
    }
}

/* What is written after the file was opened, half a frame that was there then made whole too, does
 * not count: a recording is what it was. */
static void vdif_file_that_grows_is_what_it_was_when_opened(void **state)
{
    (void)state;
    write_file("a.vdif", plain, 1000);
    for (int left = 0; left < FRAME_BYTES; left += FRAME_BYTES / 2) {
        write_file("b.vdif", plain, 1000);
        assert_int_equal(truncate("b.vdif", 700 * FRAME_BYTES + left), 0);
        wf_recording *recording = open_vdif_file("b.vdif", RATE_HZ);
        wf_window *window = open_window(recording, 1000 * SAMPLES);
        write_file("b.vdif", plain, 1000);
        n_there = 700;
        assert_int_equal(wf_recording_describe(recording)->end, n_there * SAMPLES);
        load_and_check(window, recording, SAMPLES, 0, 1000 * SAMPLES, frames_there);
        load_and_check(window, recording, SAMPLES, 690 * SAMPLES, 20 * SAMPLES, frames_there);
        wf_window_destroy(window);
        wf_recording_close(recording);
    }
}

static void vdif_system_refusal_names_file_and_place(void **state)
{
    (void)state;
    write_file("a.vdif", plain, 1000);
    wf_recording *recording = open_vdif_file("a.vdif", RATE_HZ);
    wf_window *window = open_window(recording, 100 * SAMPLES);
    replace_descriptor_by_folder("a.vdif");
    wf_error err = WF_ERROR_INIT;
    wf_check_refused(wf_window_load(window, 100 * SAMPLES, 100 * SAMPLES, &err), WF_IO, &err,
                     "a.vdif: reading at byte ");
    assert_non_null(strstr(err.message, "Is a directory"));
    wf_window_destroy(window);
    wf_recording_close(recording);
}

static void vdif_refuses_what_it_cannot_unpack(void **state)
{
    (void)state;
    frame_spec f = plain;
    f.bits = 3;
    f.log2_channels = 1;
    write_file("a.vdif", f, 20);
    check_refused("a.vdif", WF_UNSUPPORTED, "3 bits a sample in 2 channels of one thread");
    f.bits = 17;
    f.log2_channels = 0;
    f.is_complex = 1;
    write_file("a.vdif", f, 20);
    check_refused("a.vdif", WF_FORMAT, "no VDIF frames"); /* not one complete sample in a word */
    f = plain;
    f.extended[0] = 0xABADDEED;
    write_file("a.vdif", f, 20);
    check_refused("a.vdif", WF_UNSUPPORTED, "extended data version 0xAB");
    f = plain;
    f.log2_channels = 10;
    write_file("a.vdif", f, 20);
    check_refused("a.vdif", WF_FORMAT, "no VDIF frames");
}

static const frame_spec *threads_of_two_lengths(uint32_t thread, int64_t frame)
{
    static frame_spec expected;
    const int64_t n = thread == 9 ? 20 : 40;
    if (frame < 0 || frame >= n)
        return NULL;
    expected = frame_at(thread == 9 ? 2 * frame : frame);
    expected.thread = thread;
    if (thread == 9) {
        expected.frame /= 2;
        expected.frame_bytes = 160;
    }
    return &expected;
}

/* Thread 9 has frames twice as long, half as many a second. */
static void vdif_threads_may_differ_in_frame_length(void **state)
{
    (void)state;
    FILE *file = create_file("a.vdif");
    for (int64_t i = 0; i < 40; i++) {
        write_frame(file, threads_of_two_lengths(0, i));
        if (i % 2 == 0)
            write_frame(file, threads_of_two_lengths(9, i / 2));
    }
    fclose(file);
    wf_recording *recording = open_vdif_file("a.vdif", RATE_HZ);
    wf_window *window = open_window(recording, 60 * SAMPLES);
    wf_error err = WF_ERROR_INIT;
    wf_check_ok(wf_window_load(window, -SAMPLES, 50 * SAMPLES, &err), &err);
    const wf_recording_info *info = wf_recording_describe(recording);
    assert_int_equal(info->n_threads, 2);
    for (size_t t = 0; t < 2; t++)
        check_load(window, t, &info->threads[t], t == 0 ? SAMPLES : 2 * SAMPLES, -SAMPLES,
                   50 * SAMPLES, threads_of_two_lengths);
    wf_window_destroy(window);
    wf_recording_close(recording);
}

static void vdif_refuses_a_thread_that_changes(void **state)
{
    (void)state;
    FILE *file = create_file("a.vdif");
    for (int64_t i = 0; i < 60; i++) {
        frame_spec f = frame_at(i);
        f.bits = i < 40 ? 8 : 4;
        write_frame(file, &f);
    }
    fclose(file);
    check_refused("a.vdif", WF_UNSUPPORTED,
                  "thread 0 changes: at byte 3840, 2026-01-01T00:01:40 UTC, its frames have 96 "
                  "bytes of 1 channel of 4 bits real, before that 96 bytes of 1 channel of 8 bits "
                  "real; split the file");
}

/* Far from any place that is looked at first: the change is found to the frame, behind frames of
 * another thread, frames marked invalid and garbage. */
static void vdif_tells_the_frame_from_which_a_thread_changes(void **state)
{
    enum { N = 60000, CHANGE = 22222, GARBAGE = 100 };
    (void)state;
    char text[80];
    FILE *file = create_file("a.vdif");
    for (int64_t i = 0; i < N; i++) {
        for (uint32_t thread = 0; thread < 2; thread++) {
            frame_spec f = frame_at(i);
            f.thread = thread;
            if (thread == 1 && i >= CHANGE)
                f.frame_bytes = 64;
            f.invalid = i % 1000 < 3;
            write_frame(file, &f);
        }
        for (int k = 0; i == CHANGE - 2 && k < GARBAGE; k++)
            fputc(k * 7 % 251, file);
    }
    fclose(file);
    snprintf(text, sizeof text, "thread 1 changes: at byte %d, 2026-01-01T00:05:22 UTC, its frames",
             2 * FRAME_BYTES * CHANGE + FRAME_BYTES + GARBAGE);
    check_refused("a.vdif", WF_UNSUPPORTED, text);
}

/* What is no frame any more takes the last one along, which nothing proves to be whole. */
static void vdif_keeps_the_frames_before_garbage(void **state)
{
    (void)state;
    write_file("a.vdif", plain, 30);
    FILE *file = fopen("a.vdif", "ab");
    assert_non_null(file);
    for (int i = 0; i < 100 * FRAME_BYTES; i++)
        fputc(i * 7 % 251, file);
    fclose(file);
    n_there = 29;
    wf_recording *recording = open_vdif_file("a.vdif", RATE_HZ);
    wf_window *window = open_window(recording, 40 * SAMPLES);
    load_and_check(window, recording, SAMPLES, -SAMPLES, 40 * SAMPLES, frames_there);
    wf_fault faults[WF_FAULT_N_KINDS];
    wf_error err = WF_ERROR_INIT;
    wf_check_ok(wf_recording_faults(recording, faults, &err), &err);
    assert_int_equal(faults[WF_FAULT_UNPROVEN].n_frames, 1);
    assert_int_equal(faults[WF_FAULT_UNPROVEN].first.frame, 29);
    assert_int_equal(faults[WF_FAULT_GARBAGE].n_bytes, 100 * FRAME_BYTES);
    assert_int_equal(faults[WF_FAULT_GARBAGE].first.offset_bytes, 30 * FRAME_BYTES);
    wf_window_destroy(window);
    wf_recording_close(recording);
}

static void vdif_refuses_a_file_of_invalid_frames(void **state)
{
    (void)state;
    frame_spec f = plain;
    f.invalid = 1;
    write_file("a.vdif", f, 20);
    check_refused("a.vdif", WF_FORMAT, "no valid frame among the 20 looked at");
}

static void vdif_refuses_a_rate_that_does_not_fit(void **state)
{
    (void)state;
    write_file("a.vdif", plain, 30);
    check_refused_with("a.vdif", 0, WF_FORMAT, "add sample_rate_hz to the recording");
    check_refused_with("a.vdif", -5, WF_UNSUPPORTED, "sample_rate_hz -5");
    write_file("a.vdif", plain, 300);
    check_refused_with("a.vdif", 6401, WF_FORMAT,
                       "sample_rate_hz 6401 is no multiple of the 64 samples in a frame");
    check_refused_with("a.vdif", 3200, WF_FORMAT,
                       "counts frames up to number 50 in a second, but sample_rate_hz 3200 and 64 "
                       "samples a frame make 50");
    check_refused_with("a.vdif", 12800, WF_FORMAT,
                       "sample_rate_hz is 12800 in the job, but the frame numbers within a second "
                       "go up to what makes 6400 Hz");
}

static void vdif_window_refuses_more_than_it_was_made_for(void **state)
{
    (void)state;
    write_file("a.vdif", plain, 30);
    wf_recording *recording = open_vdif_file("a.vdif", RATE_HZ);
    wf_window *window = open_window(recording, 100);
    wf_error err = WF_ERROR_INIT;
    wf_check_ok(wf_window_load(window, 0, 100, &err), &err);
    wf_check_refused(wf_window_load(window, 0, 101, &err), WF_ARGUMENT, &err, "made for 100");
    err = (wf_error)WF_ERROR_INIT;
    wf_check_refused(wf_window_load(window, 0, -1, &err), WF_ARGUMENT, &err, "-1 samples");
    err = (wf_error)WF_ERROR_INIT;
    wf_check_refused(wf_window_load(window, INT64_MIN, 1, &err), WF_ARGUMENT, &err,
                     "in no recording");
    wf_window_destroy(window);
    err = (wf_error)WF_ERROR_INIT;
    wf_check_refused(wf_window_create(&window, recording, -1, &err), WF_ARGUMENT, &err,
                     "a window of -1");
    assert_null(window);
    wf_check_ok(wf_window_create(&window, recording, 0, &(wf_error)WF_ERROR_INIT),
                &(wf_error)WF_ERROR_INIT);
    wf_window_destroy(window);
    wf_recording_close(recording);
}

/* One pass over open, window and load; the n-th allocation fails. */
static wf_status pass(const char *path, long n)
{
    wf_recording *recording = NULL;
    wf_window *window = NULL;
    wf_error err = WF_ERROR_INIT;
    const wf_recording_entry entry = {.paths = &path, .n_paths = 1, .sample_rate_hz = RATE_HZ};
    wfi_memory_fail_after(n);
    wf_status status = wf_recording_open(&recording, &entry, &err);
    if (status == WF_OK)
        status = wf_window_create(&window, recording, 10 * SAMPLES, &err);
    if (status == WF_OK)
        status = wf_window_load(window, -SAMPLES, 10 * SAMPLES, &err);
    wfi_memory_fail_after(0);
    if (status != WF_OK)
        wf_check_refused(status, WF_MEMORY, &err, "out of memory");
    wf_window_destroy(window);
    wf_recording_close(recording);
    return status;
}

static void vdif_survives_every_failing_allocation(void **state)
{
    (void)state;
#ifndef WFI_CHECKS
    skip(); /* release builds have no way to let an allocation fail */
#endif
    write_file("a.vdif", plain, 300);
    long n = 1;
    while (pass("a.vdif", n) == WF_MEMORY)
        n++;
    assert_true(n > 10);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(vdif_truncated_last_frame_is_dropped),
        cmocka_unit_test(vdif_file_cut_within_its_first_frame_is_refused),
        cmocka_unit_test(vdif_file_cut_while_open_gives_invalid_samples),
        cmocka_unit_test(vdif_file_that_grows_is_what_it_was_when_opened),
        cmocka_unit_test(vdif_system_refusal_names_file_and_place),
        cmocka_unit_test(vdif_refuses_what_it_cannot_unpack),
        cmocka_unit_test(vdif_threads_may_differ_in_frame_length),
        cmocka_unit_test(vdif_refuses_a_thread_that_changes),
        cmocka_unit_test(vdif_tells_the_frame_from_which_a_thread_changes),
        cmocka_unit_test(vdif_keeps_the_frames_before_garbage),
        cmocka_unit_test(vdif_refuses_a_file_of_invalid_frames),
        cmocka_unit_test(vdif_refuses_a_rate_that_does_not_fit),
        cmocka_unit_test(vdif_window_refuses_more_than_it_was_made_for),
        cmocka_unit_test(vdif_survives_every_failing_allocation),
    };
    return cmocka_run_group_tests(tests, enter_scratch_folder, leave_scratch_folder);
}
