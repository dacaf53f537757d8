/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Every packing, both headers, and the calendar: samples stand bit by bit where they belong. */
#include "unit/recording/vdif_scene.h"

enum { PAYLOAD_BYTES = 64, FRAMES_PER_SECOND = 10, N_FRAMES = 40 };

static frame_spec layout;

static frame_spec frame_at(uint32_t thread, int64_t frame)
{
    frame_spec f = layout;
    f.thread = thread;
    f.second = layout.second + (uint32_t)(frame / FRAMES_PER_SECOND);
    f.frame = (uint32_t)(frame % FRAMES_PER_SECOND);
    return f;
}

/* Frame 13 is missing. */
static const frame_spec *expect(uint32_t thread, int64_t frame)
{
    static frame_spec expected;
    if (frame < 0 || frame >= N_FRAMES || frame == 13)
        return NULL;
    expected = frame_at(thread, frame);
    return &expected;
}

static void check_layout(uint32_t bits, uint32_t is_complex, uint32_t log2_channels,
                         uint32_t legacy)
{
    layout = (frame_spec){.epoch = 50,
                          .second = 86400,
                          .bits = bits,
                          .is_complex = is_complex,
                          .log2_channels = log2_channels,
                          .frame_bytes = PAYLOAD_BYTES + (legacy ? 16u : 32u),
                          .legacy = legacy};
    const uint32_t sample_bits = (bits << is_complex) << log2_channels;
    const int64_t samples = 8 * PAYLOAD_BYTES / sample_bits;
    FILE *file = create_file("a.vdif");
    for (int64_t i = 0; i < N_FRAMES; i++) {
        const frame_spec f = frame_at(511, i);
        if (i != 13)
            write_frame(file, &f);
    }
    fclose(file);
    wf_recording *recording = open_vdif_file("a.vdif", samples * FRAMES_PER_SECOND);
    const wf_sample_format *format = &wf_recording_describe(recording)->threads[0].format;
    assert_int_equal(wf_recording_describe(recording)->frame_samples, samples);
    assert_int_equal(format->bits, bits);
    assert_int_equal(format->is_complex, is_complex);
    assert_int_equal(format->n_channels, 1u << log2_channels);
    wf_window *window = open_window(recording, N_FRAMES * samples);
    load_and_check(window, recording, samples, 0, N_FRAMES * samples, expect);
    for (int64_t first = 3; first + samples + 1 < N_FRAMES * samples; first += 5 * samples - 1)
        load_and_check(window, recording, samples, first, samples + 1, expect);
    wf_window_destroy(window);
    wf_recording_close(recording);
}

static void vdif_packs_all_bits_and_channels(void **state)
{
    (void)state;
    for (uint32_t bits = 1; bits <= 16; bits *= 2)
        for (uint32_t is_complex = 0; is_complex < 2; is_complex++)
            for (uint32_t log2_channels = 0; log2_channels < 5; log2_channels++)
                if ((bits << is_complex) << log2_channels <= 8 * PAYLOAD_BYTES)
                    check_layout(bits, is_complex, log2_channels, 0);
}

static void vdif_legacy_headers_are_16_bytes(void **state)
{
    (void)state;
    check_layout(2, 0, 0, 1);
    check_layout(8, 1, 1, 1);
}

/* A payload of which a complete sample of 128 bits leaves 8 bytes unused. */
static void vdif_unused_bytes_of_a_payload_are_skipped(void **state)
{
    (void)state;
    layout = (frame_spec){
        .epoch = 50, .second = 5, .bits = 8, .log2_channels = 4, .frame_bytes = 32 + 3 * 16 + 8};
    FILE *file = create_file("a.vdif");
    for (int64_t i = 0; i < N_FRAMES; i++) {
        const frame_spec f = frame_at(0, i);
        if (i != 13)
            write_frame(file, &f);
    }
    fclose(file);
    wf_recording *recording = open_vdif_file("a.vdif", 3 * FRAMES_PER_SECOND);
    assert_int_equal(wf_recording_describe(recording)->frame_samples, 3);
    wf_window *window = open_window(recording, 3 * N_FRAMES);
    load_and_check(window, recording, 3, 0, 3 * N_FRAMES, expect);
    wf_window_destroy(window);
    wf_recording_close(recording);
}

/* Threads of 1 and of 4 channels in frames of one length: four times the frames. */
static const frame_spec *two_layouts(uint32_t thread, int64_t frame)
{
    static frame_spec expected;
    expected = layout;
    expected.thread = thread;
    expected.log2_channels = thread == 1 ? 0 : 2;
    const int64_t rate = thread == 1 ? FRAMES_PER_SECOND : 4 * FRAMES_PER_SECOND;
    expected.second += (uint32_t)(frame / rate);
    expected.frame = (uint32_t)(frame % rate);
    return frame >= 0 && frame < 3 * rate ? &expected : NULL;
}

static void vdif_threads_may_differ_in_channels(void **state)
{
    (void)state;
    layout = (frame_spec){.epoch = 50, .second = 5, .bits = 8, .frame_bytes = 96};
    FILE *file = create_file("a.vdif");
    for (int64_t i = 0; i < 3 * FRAMES_PER_SECOND; i++) {
        write_frame(file, two_layouts(1, i));
        for (int64_t k = 0; k < 4; k++)
            write_frame(file, two_layouts(2, 4 * i + k));
    }
    fclose(file);
    wf_recording *recording = open_vdif_file("a.vdif", 64 * FRAMES_PER_SECOND);
    const wf_recording_info *info = wf_recording_describe(recording);
    assert_int_equal(info->n_threads, 2);
    assert_int_equal(info->threads[0].format.n_channels, 1);
    assert_int_equal(info->threads[1].format.n_channels, 4);
    wf_window *window = open_window(recording, 64 * N_FRAMES);
    static const int64_t stretches[][2] = {{0, 64 * 30}, {17, 3}, {100, 500}};
    wf_error err = WF_ERROR_INIT;
    for (size_t i = 0; i < 3; i++) {
        wf_check_ok(wf_window_load(window, stretches[i][0], stretches[i][1], &err), &err);
        check_load(window, 0, &info->threads[0], 64, stretches[i][0], stretches[i][1], two_layouts);
        check_load(window, 1, &info->threads[1], 16, stretches[i][0], stretches[i][1], two_layouts);
    }
    wf_window_destroy(window);
    wf_recording_close(recording);
}

/* An epoch that is kept over the leap second at the end of 2016 (IERS Bulletin C 52): 184 days
 * after 2016-07-01 came 23:59:60, so a stream that changes its epoch there goes on evenly. */
static const frame_spec *over_new_year(uint32_t thread, int64_t frame)
{
    static frame_spec expected;
    expected = layout;
    expected.thread = thread;
    expected.second = 184 * 86400 - 1 + (uint32_t)(frame / FRAMES_PER_SECOND);
    expected.frame = (uint32_t)(frame % FRAMES_PER_SECOND);
    return frame >= 0 && frame < N_FRAMES ? &expected : NULL;
}

static void vdif_time_runs_on_over_a_leap_second(void **state)
{
    (void)state;
    layout = (frame_spec){.epoch = 33, .bits = 8, .frame_bytes = 96};
    for (int change_epoch = 0; change_epoch < 2; change_epoch++) {
        FILE *file = create_file("a.vdif");
        for (int64_t i = 0; i < N_FRAMES; i++) {
            const frame_spec f = *over_new_year(0, i);
            uint8_t bytes[96];
            frame_bytes_of(&f, bytes);
            if (change_epoch && i >= 2 * FRAMES_PER_SECOND) { /* 2017-01-01T00:00:00 = epoch 34 */
                put_word(bytes, (uint32_t)(i / FRAMES_PER_SECOND - 2));
                put_word(bytes + 4, UINT32_C(34) << 24 | f.frame);
            }
            assert_int_equal(fwrite(bytes, 1, sizeof bytes, file), sizeof bytes);
        }
        fclose(file);
        wf_recording *recording = open_vdif_file("a.vdif", 64 * FRAMES_PER_SECOND);
        const wf_recording_info *info = wf_recording_describe(recording);
        char text[WF_INSTANT_TEXT_BYTES];
        wf_instant_format(text, info->origin, 0);
        assert_string_equal(text, "2016-12-31T23:59:59");
        wf_instant_format(text, wf_instant_add_samples(info->origin, 2 * 640, 640), 0);
        assert_string_equal(text, "2017-01-01T00:00:00");
        wf_window *window = open_window(recording, 64 * N_FRAMES);
        load_and_check(window, recording, 64, 0, 64 * N_FRAMES, over_new_year);
        wf_window_destroy(window);
        wf_recording_close(recording);
    }
}

/* Without a rate from the job the frame numbers tell it. */
static void vdif_rate_is_measured_where_the_job_states_none(void **state)
{
    (void)state;
    layout = (frame_spec){.epoch = 50, .second = 5, .bits = 8, .frame_bytes = 96};
    FILE *file = create_file("a.vdif");
    for (int64_t i = 4; i < N_FRAMES; i++) {
        const frame_spec f = frame_at(7, i);
        if (i != 19) /* the last one of a second, lost */
            write_frame(file, &f);
    }
    fclose(file);
    wf_recording *recording = open_vdif_file("a.vdif", 0);
    assert_int_equal(wf_recording_describe(recording)->sample_rate_hz, 64 * FRAMES_PER_SECOND);
    assert_int_equal(wf_recording_describe(recording)->first, 64 * 4);
    wf_recording_close(recording);
}

/* VDIF 1.1.1, word 3: bit 31. 16 bytes a frame: 16 real samples of 8 bits are 8 complex ones, so
 * that 500 frames a second are 4000 of them. */
static const frame_spec *hundred_frames(uint32_t thread, int64_t frame)
{
    static frame_spec expected;
    expected = (frame_spec){.epoch = 52,
                            .second = 10000,
                            .frame = (uint32_t)frame,
                            .thread = thread,
                            .bits = 8,
                            .frame_bytes = 48};
    return frame >= 0 && frame < 100 ? &expected : NULL;
}

static void word_of_the_job_on_real_or_complex_counts(void **state)
{
    (void)state;
    const char *path = "real-or-complex.vdif";
    FILE *file = create_file(path);
    for (int64_t i = 0; i < 100; i++)
        write_frame(file, hundred_frames(0, i));
    fclose(file);
    wf_recording *recording = NULL;
    wf_error err = WF_ERROR_INIT;
    wf_recording_entry entry = {
        .paths = &path, .n_paths = 1, .sample_rate_hz = 4000, .sampling = WF_SAMPLING_COMPLEX};
    wf_check_ok(wf_recording_open(&recording, &entry, &err), &err);
    assert_true(wf_recording_describe(recording)->threads[0].format.is_complex);
    assert_int_equal(wf_recording_describe(recording)->end, 800);
    assert_int_equal(wf_recording_n_warnings(recording), 1);
    assert_non_null(strstr(wf_recording_warning(recording, 0), "headers say"));
    wf_window *window = open_window(recording, 900);
    load_and_check(window, recording, 8, -40, 880, hundred_frames);
    wf_window_destroy(window);
    wf_recording_close(recording);
}

/* VDIF 1.1.1, words 4 to 7: versions and the sync word ACABFEED of 1 and 3 are those of the
 * registry of extended data versions (vlbi.org). What contradicts itself is told once. */
static void oddities_of_extended_headers_are_told(void **state)
{
    (void)state;
    const struct {
        uint32_t words[4];
        const char *text; /* NULL: nothing is said */
    } cases[] = {
        {{0, 0, 0, 0}, NULL},
        {{0, 0, 7, 0}, "is of version 0, which says nothing, but is not zero"},
        {{UINT32_C(3) << 24, UINT32_C(0xACABFEED), 7, 0}, NULL},
        {{UINT32_C(3) << 24, UINT32_C(0xACABFEEC), 7, 0}, "lacks its sync word"},
        {{UINT32_C(0x77) << 24, 1, 7, 0}, NULL},
    };
    for (size_t c = 0; c < sizeof cases / sizeof cases[0]; c++) {
        FILE *file = create_file("extended.vdif");
        for (int64_t i = 0; i < 100; i++) {
            frame_spec f = *hundred_frames(0, i);
            memcpy(f.extended, cases[c].words, sizeof f.extended);
            write_frame(file, &f);
        }
        fclose(file);
        wf_recording *recording = open_vdif_file("extended.vdif", 8000);
        assert_int_equal(wf_recording_n_warnings(recording), cases[c].text != NULL);
        if (cases[c].text != NULL)
            assert_non_null(strstr(wf_recording_warning(recording, 0), cases[c].text));
        wf_recording_close(recording);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(vdif_packs_all_bits_and_channels),
        cmocka_unit_test(vdif_legacy_headers_are_16_bytes),
        cmocka_unit_test(vdif_unused_bytes_of_a_payload_are_skipped),
        cmocka_unit_test(vdif_threads_may_differ_in_channels),
        cmocka_unit_test(vdif_time_runs_on_over_a_leap_second),
        cmocka_unit_test(vdif_rate_is_measured_where_the_job_states_none),
        cmocka_unit_test(word_of_the_job_on_real_or_complex_counts),
        cmocka_unit_test(oddities_of_extended_headers_are_told),
    };
    return cmocka_run_group_tests(tests, enter_scratch_folder, leave_scratch_folder);
}
