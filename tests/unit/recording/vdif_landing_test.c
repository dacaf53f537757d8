/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Frames so long that their payloads are read straight to their places: every fault is met as that
 * of a short frame is. Expected values come from the frames as written by
 * tests/support/vdif_frames.h. */
#include "unit/recording/vdif_scene.h"

#include <unistd.h>

/* 8 bits a sample, ten frames a second; a load of all makes several reads. */
enum {
    FRAME_BYTES = 8032,
    SAMPLES = FRAME_BYTES - 32,
    FRAMES_PER_SECOND = 10,
    RATE_HZ = FRAMES_PER_SECOND * SAMPLES,
    N_THREADS = 2,
    N_FRAMES = 70, /* of each thread */
    FILL_BYTES = 64,
};

static const frame_spec plain = {
    .epoch = 52, .second = 10000, .bits = 8, .frame_bytes = FRAME_BYTES};

static frame_spec expected;

static frame_spec frame_at(uint32_t thread, int64_t frame)
{
    frame_spec f = plain;
    f.thread = thread;
    f.second += (uint32_t)(frame / FRAMES_PER_SECOND);
    f.frame = (uint32_t)(frame % FRAMES_PER_SECOND);
    return f;
}

static const frame_spec *all_frames(uint32_t thread, int64_t frame)
{
    if (frame < 0 || frame >= N_FRAMES)
        return NULL;
    expected = frame_at(thread, frame);
    return &expected;
}

static bool is_hit(uint32_t thread, int64_t frame)
{
    return thread == 1 && (frame == 3 || frame == 20 || frame == 21 || frame == 52);
}

static const frame_spec *frames_not_hit(uint32_t thread, int64_t frame)
{
    return is_hit(thread, frame) ? NULL : all_frames(thread, frame);
}

/* ----- damage, done to the bytes of a frame */

static void mark_invalid(uint8_t *bytes)
{
    bytes[3] |= 0x80;
}

static void change_number(uint8_t *bytes)
{
    bytes[4] ^= 0x40;
}

static void change_bits(uint8_t *bytes)
{
    bytes[15] ^= 4;
}

static void change_length(uint8_t *bytes)
{
    bytes[8] ^= 2;
}

static void put_fill(uint8_t *bytes, size_t n)
{
    for (size_t i = 0; i < n; i += 4)
        put_word(bytes + i, 0x11223344);
}

static void fill_payload(uint8_t *bytes)
{
    put_fill(bytes + 32, SAMPLES);
}

static void overwrite(uint8_t *bytes)
{
    memset(bytes, 0xff, FRAME_BYTES);
}

static void (*const damages[])(uint8_t *) = {mark_invalid,  change_number, change_bits,
                                             change_length, fill_payload,  overwrite};
enum { N_DAMAGES = sizeof damages / sizeof damages[0] };

/* ----- files */

static int64_t place_of(uint32_t thread, int64_t frame)
{
    return (N_THREADS * frame + thread) * FRAME_BYTES;
}

static void write_all(const char *path)
{
    FILE *file = create_file(path);
    for (int64_t i = 0; i < N_FRAMES; i++) {
        for (uint32_t t = 0; t < N_THREADS; t++) {
            const frame_spec f = frame_at(t, i);
            write_frame(file, &f);
        }
    }
    fclose(file);
}

static void put_frame(const char *path, int64_t offset, const frame_spec *f,
                      void (*damage)(uint8_t *))
{
    uint8_t bytes[FRAME_BYTES];
    frame_bytes_of(f, bytes);
    if (damage != NULL)
        damage(bytes);
    FILE *file = fopen(path, "r+b");
    assert_non_null(file);
    assert_int_equal(fseek(file, (long)offset, SEEK_SET), 0);
    assert_int_equal(fwrite(bytes, 1, sizeof bytes, file), sizeof bytes);
    fclose(file);
}

static void damage_hit(const char *path, void (*damage)(uint8_t *))
{
    for (int64_t i = 0; i < N_FRAMES; i++) {
        const frame_spec f = frame_at(1, i);
        if (is_hit(1, i))
            put_frame(path, place_of(1, i), &f, damage);
    }
}

static void check(wf_window *window, const wf_recording *recording, expectation expect)
{
    load_and_check(window, recording, SAMPLES, 0, N_FRAMES * SAMPLES, expect);
    load_and_check(window, recording, SAMPLES, 19 * SAMPLES + 5, 3 * SAMPLES, expect);
    load_and_check(window, recording, SAMPLES, 21 * SAMPLES, 10, expect);
}

/* ----- tests */

static void frames_damaged_before_the_opening_are_invalid(void **state)
{
    (void)state;
    for (int d = 0; d < N_DAMAGES; d++) {
        write_all("a.vdif");
        damage_hit("a.vdif", damages[d]);
        wf_recording *recording = open_vdif_file("a.vdif", RATE_HZ);
        wf_window *window = open_window(recording, N_FRAMES * SAMPLES);
        check(window, recording, frames_not_hit);
        wf_window_destroy(window);
        wf_recording_close(recording);
    }
}

/* The payload lands before its header is seen. */
static void frames_damaged_while_open_are_invalid(void **state)
{
    (void)state;
    for (int d = 0; d < N_DAMAGES; d++) {
        write_all("a.vdif");
        wf_recording *recording = open_vdif_file("a.vdif", RATE_HZ);
        wf_window *window = open_window(recording, N_FRAMES * SAMPLES);
        check(window, recording, all_frames);
        damage_hit("a.vdif", damages[d]);
        check(window, recording, frames_not_hit);
        wf_window_destroy(window);
        wf_recording_close(recording);
    }
}

static void a_second_frame_stands_in_for_a_damaged_one(void **state)
{
    (void)state;
    for (int d = 0; d < N_DAMAGES; d++) {
        write_all("a.vdif");
        const frame_spec twice = frame_at(1, 20);
        const frame_spec last = frame_at(1, N_FRAMES - 1);
        put_frame("a.vdif", place_of(0, N_FRAMES), &twice, NULL);
        put_frame("a.vdif", place_of(1, N_FRAMES), &last, NULL); /* what proves it to be whole */
        wf_recording *recording = open_vdif_file("a.vdif", RATE_HZ);
        wf_window *window = open_window(recording, N_FRAMES * SAMPLES);
        put_frame("a.vdif", place_of(1, 20), &twice, damages[d]);
        check(window, recording, all_frames);
        wf_window_destroy(window);
        wf_recording_close(recording);
    }
}

static void frames_out_of_order_find_their_place(void **state)
{
    (void)state;
    write_all("a.vdif");
    const frame_spec early = frame_at(0, 30);
    const frame_spec late = frame_at(1, 44);
    put_frame("a.vdif", place_of(0, 30), &late, NULL);
    put_frame("a.vdif", place_of(1, 44), &early, NULL);
    wf_recording *recording = open_vdif_file("a.vdif", RATE_HZ);
    wf_window *window = open_window(recording, N_FRAMES * SAMPLES);
    check(window, recording, all_frames);
    wf_window_destroy(window);
    wf_recording_close(recording);
}

static const frame_spec *first_forty(uint32_t thread, int64_t frame)
{
    return frame < 40 ? all_frames(thread, frame) : NULL;
}

static void a_file_cut_while_open_gives_invalid_samples(void **state)
{
    (void)state;
    write_all("a.vdif");
    wf_recording *recording = open_vdif_file("a.vdif", RATE_HZ);
    wf_window *window = open_window(recording, N_FRAMES * SAMPLES);
    assert_int_equal(truncate("a.vdif", place_of(0, 40) + FRAME_BYTES - 1), 0);
    check(window, recording, first_forty);
    wf_window_destroy(window);
    wf_recording_close(recording);
}

static void fill_within_a_payload_is_invalid(void **state)
{
    (void)state;
    static const int64_t begins[] = {0, 4, 3996, SAMPLES - FILL_BYTES};
    for (size_t i = 0; i < sizeof begins / sizeof begins[0]; i++) {
        const int64_t first = 20 * SAMPLES + begins[i];
        write_all("a.vdif");
        wf_recording *recording = open_vdif_file("a.vdif", RATE_HZ);
        wf_window *window = open_window(recording, N_FRAMES * SAMPLES);
        FILE *file = fopen("a.vdif", "r+b");
        uint8_t fill[FILL_BYTES];
        put_fill(fill, sizeof fill);
        assert_int_equal(fseek(file, (long)(place_of(1, 20) + 32 + begins[i]), SEEK_SET), 0);
        assert_int_equal(fwrite(fill, 1, sizeof fill, file), sizeof fill);
        fclose(file);
        wf_error err = WF_ERROR_INIT;
        wf_check_ok(wf_window_load(window, 0, N_FRAMES * SAMPLES, &err), &err);
        assert_int_equal(wf_window_thread(window, 0)->n_invalid, 0);
        assert_int_equal(wf_window_thread(window, 1)->n_invalid, 1);
        assert_int_equal(wf_window_thread(window, 1)->invalid[0].first, first);
        assert_int_equal(wf_window_thread(window, 1)->invalid[0].n, FILL_BYTES);
        wf_window_destroy(window);
        wf_recording_close(recording);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(frames_damaged_before_the_opening_are_invalid),
        cmocka_unit_test(frames_damaged_while_open_are_invalid),
        cmocka_unit_test(a_second_frame_stands_in_for_a_damaged_one),
        cmocka_unit_test(frames_out_of_order_find_their_place),
        cmocka_unit_test(a_file_cut_while_open_gives_invalid_samples),
        cmocka_unit_test(fill_within_a_payload_is_invalid),
    };
    return cmocka_run_group_tests(tests, enter_scratch_folder, leave_scratch_folder);
}
