/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Whole recordings: every sample stands where its header says, or is invalid. Expected values come
 * from the frames as written by tests/support/vdif_frames.h. */
#include "unit/recording/vdif_scene.h"

/* 64 samples of 8 bits a frame, 100 frames a second. */
enum { RATE_HZ = 6400, SAMPLES = 64, FRAMES_PER_SECOND = 100 };

/* 2026-01-01T02:46:40 by epoch 52. */
static const frame_spec plain = {.epoch = 52, .second = 10000, .bits = 8, .frame_bytes = 96};

static frame_spec expected;

/* The frame that stands `frame` frames after second 10000. */
static frame_spec frame_at(frame_spec like, uint32_t thread, int64_t frame)
{
    like.thread = thread;
    like.second = (uint32_t)(10000 + frame / FRAMES_PER_SECOND);
    like.frame = (uint32_t)(frame % FRAMES_PER_SECOND);
    return like;
}

static void write_stretch(FILE *file, uint32_t thread, int64_t first, int64_t end)
{
    for (int64_t i = first; i < end; i++) {
        const frame_spec f = frame_at(plain, thread, i);
        write_frame(file, &f);
    }
}

static const frame_spec *between(int64_t first, int64_t end, uint32_t thread, int64_t frame)
{
    if (frame < first || frame >= end)
        return NULL;
    expected = frame_at(plain, thread, frame);
    return &expected;
}

static const frame_spec *frames_0_to_300(uint32_t thread, int64_t frame)
{
    return between(0, 300, thread, frame);
}

static void vdif_describes_what_it_holds(void **state)
{
    (void)state;
    FILE *file = create_file("a.vdif");
    write_stretch(file, 5, 30, 300);
    fclose(file);
    wf_recording *recording = open_vdif_file("a.vdif", RATE_HZ);
    const wf_recording_info *info = wf_recording_describe(recording);
    assert_string_equal(info->format_name, "VDIF");
    assert_int_equal(info->sample_rate_hz, RATE_HZ);
    assert_int_equal(info->n_threads, 1);
    assert_int_equal(info->threads[0].thread, 5);
    assert_int_equal(info->threads[0].format.encoding, WF_ENCODING_OFFSET_BINARY);
    assert_int_equal(info->threads[0].format.bits, 8);
    assert_int_equal(info->threads[0].format.n_channels, 1);
    assert_false(info->threads[0].format.is_complex);
    /* the origin is the whole second, the first sample 30 frames later */
    char text[WF_INSTANT_TEXT_BYTES];
    wf_instant_format(text, info->origin, 3);
    assert_string_equal(text, "2026-01-01T02:46:40.000");
    assert_int_equal(info->first, 30 * SAMPLES);
    assert_int_equal(info->end, 300 * SAMPLES);
    wf_recording_close(recording);
}

static void vdif_reads_any_stretch(void **state)
{
    (void)state;
    FILE *file = create_file("a.vdif");
    write_stretch(file, 0, 0, 300);
    fclose(file);
    wf_recording *recording = open_vdif_file("a.vdif", RATE_HZ);
    wf_window *window = open_window(recording, 300 * SAMPLES);
    static const int64_t stretches[][2] = {
        {0, 1},      {0, 64},      {63, 2},      {1, 300 * SAMPLES - 1}, {0, 300 * SAMPLES},
        {6399, 2},   {12800, 777}, {19199, 1},   {-500, 1000},           {19000, 1000},
        {-900, 300}, {19200, 64},  {100000, 64}, {-100000, 64},          {500, 0},
    };
    for (size_t i = 0; i < sizeof stretches / sizeof stretches[0]; i++)
        load_and_check(window, recording, SAMPLES, stretches[i][0], stretches[i][1],
                       frames_0_to_300);
    wf_window_destroy(window);
    wf_recording_close(recording);
}

static bool is_lost(int64_t frame)
{
    return frame == 3 || (frame >= 90 && frame < 111) || frame == 298;
}

static const frame_spec *with_losses(uint32_t thread, int64_t frame)
{
    return is_lost(frame) ? NULL : between(0, 600, thread, frame);
}

static void check_losses(void (*lose)(FILE *, frame_spec))
{
    FILE *file = create_file("a.vdif");
    for (int64_t i = 0; i < 600; i++) {
        const frame_spec f = frame_at(plain, 1, i);
        if (is_lost(i))
            lose(file, f);
        else
            write_frame(file, &f);
    }
    fclose(file);
    wf_recording *recording = open_vdif_file("a.vdif", RATE_HZ);
    wf_window *window = open_window(recording, 600 * SAMPLES);
    load_and_check(window, recording, SAMPLES, 0, 600 * SAMPLES, with_losses);
    for (int64_t first = 80 * SAMPLES; first < 120 * SAMPLES; first += 101)
        load_and_check(window, recording, SAMPLES, first, 101, with_losses);
    wf_window_destroy(window);
    wf_recording_close(recording);
}

static void lose_wholly(FILE *file, frame_spec f)
{
    (void)file;
    (void)f;
}

static void mark_invalid(FILE *file, frame_spec f)
{
    f.invalid = 1;
    write_frame(file, &f);
}

static void change_bits(FILE *file, frame_spec f)
{
    f.bits = 4;
    write_frame(file, &f);
}

static void change_frame_number(FILE *file, frame_spec f)
{
    f.frame = FRAMES_PER_SECOND;
    write_frame(file, &f);
}

static void change_length(FILE *file, frame_spec f)
{
    uint8_t bytes[96];
    frame_bytes_of(&f, bytes);
    put_word(bytes + 8, 13);
    assert_int_equal(fwrite(bytes, 1, sizeof bytes, file), sizeof bytes);
}

/* The header of a fill frame: words 1 and 3 zero, the rest the fill word. */
static void fill_frame(FILE *file, frame_spec f)
{
    f.invalid = 1;
    uint8_t bytes[96];
    frame_bytes_of(&f, bytes);
    put_word(bytes + 4, 0);
    put_word(bytes + 12, 0);
    for (int i = 16; i < 96; i += 4)
        put_word(bytes + i, 0x11223344);
    assert_int_equal(fwrite(bytes, 1, sizeof bytes, file), sizeof bytes);
}

static void fill_payload(FILE *file, frame_spec f)
{
    uint8_t bytes[96];
    frame_bytes_of(&f, bytes);
    for (int i = 32; i < 96; i += 4)
        put_word(bytes + i, 0x11223344);
    assert_int_equal(fwrite(bytes, 1, sizeof bytes, file), sizeof bytes);
}

static void change_second_by_a_year(FILE *file, frame_spec f)
{
    f.second += 366 * 86400;
    write_frame(file, &f);
}

/* Extended data version 4, two channels of validity, one of them not valid. */
static void mask_channel(FILE *file, frame_spec f)
{
    f.extended[0] = 0x04020000;
    f.extended[1] = 0xACABFEED;
    f.extended[2] = 1;
    write_frame(file, &f);
}

static void vdif_missing_frames_are_invalid_samples(void **state)
{
    (void)state;
    check_losses(lose_wholly);
}

static void vdif_damaged_frames_are_invalid_samples(void **state)
{
    (void)state;
    check_losses(mark_invalid);
    check_losses(change_bits);
    check_losses(change_frame_number);
    check_losses(change_length);
    check_losses(fill_frame);
    check_losses(fill_payload);
    check_losses(change_second_by_a_year);
    check_losses(mask_channel);
}

static const frame_spec *two_threads(uint32_t thread, int64_t frame)
{
    return thread == 2 ? between(10, 250, thread, frame) : between(120, 300, thread, frame);
}

static void vdif_threads_may_start_and_end_apart(void **state)
{
    (void)state;
    FILE *file = create_file("a.vdif");
    for (int64_t i = 0; i < 300; i++)
        for (uint32_t thread = 2; thread <= 9; thread += 7)
            if (two_threads(thread, i) != NULL)
                write_stretch(file, thread, i, i + 1);
    fclose(file);
    wf_recording *recording = open_vdif_file("a.vdif", RATE_HZ);
    const wf_recording_info *info = wf_recording_describe(recording);
    assert_int_equal(info->n_threads, 2);
    assert_int_equal(info->threads[0].thread, 2);
    assert_int_equal(info->threads[1].thread, 9);
    assert_int_equal(info->first, 10 * SAMPLES);
    assert_int_equal(info->end, 300 * SAMPLES);
    wf_window *window = open_window(recording, 300 * SAMPLES);
    load_and_check(window, recording, SAMPLES, 0, 300 * SAMPLES, two_threads);
    load_and_check(window, recording, SAMPLES, 119 * SAMPLES + 3, 200, two_threads);
    wf_window_destroy(window);
    wf_recording_close(recording);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(vdif_describes_what_it_holds),
        cmocka_unit_test(vdif_reads_any_stretch),
        cmocka_unit_test(vdif_missing_frames_are_invalid_samples),
        cmocka_unit_test(vdif_damaged_frames_are_invalid_samples),
        cmocka_unit_test(vdif_threads_may_start_and_end_apart),
    };
    return cmocka_run_group_tests(tests, enter_scratch_folder, leave_scratch_folder);
}
