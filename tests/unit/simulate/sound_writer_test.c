/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/folder.h"

#include <signal.h>
#include <sndfile.h>
#include <sys/resource.h>
#include <whitefringe/time.h>

#include "simulate/sound_writer.h"

static int64_t start_second(void)
{
    wf_error err = WF_ERROR_INIT;
    wf_instant t;
    wf_check_ok(wf_instant_parse(&t, "2026-03-01T11:59:59", &err), &err);
    return t.second;
}

static wfi_sound_writer *create(size_t n_channels)
{
    wf_error err = WF_ERROR_INIT;
    wfi_sound_writer *writer = NULL;
    wf_check_ok(wfi_sound_writer_create(&writer, "a.wav", 96000, n_channels, start_second(), &err),
                &err);
    return writer;
}

/* Read back by libsndfile itself. */
static void a_file_holds_samples_and_start(void **state)
{
    (void)state;
    wf_error err = WF_ERROR_INIT;
    const int16_t samples[] = {0, 1, -1, 32767, -32768, 256, -257, 2, 3, 4, 5, 6};
    wfi_sound_writer *const writer = create(4);
    wf_check_ok(wfi_sound_writer_append(writer, samples, 2, &err), &err);
    wf_check_ok(wfi_sound_writer_append(writer, samples + 8, 1, &err), &err);
    assert_int_equal(access("a.wav", F_OK), -1);
    wf_check_ok(wfi_sound_writer_finish(writer, &err), &err);
    wfi_sound_writer_destroy(writer);

    SF_INFO info = {0};
    SNDFILE *const file = sf_open("a.wav", SFM_READ, &info);
    assert_non_null(file);
    /* WAV with the extensible format chunk, which more than two channels call for. */
    assert_int_equal(info.format & SF_FORMAT_TYPEMASK, SF_FORMAT_WAVEX);
    assert_int_equal(info.format & SF_FORMAT_SUBMASK, SF_FORMAT_PCM_16);
    assert_int_equal(info.samplerate, 96000);
    assert_int_equal(info.channels, 4);
    assert_int_equal(info.frames, 3);
    int16_t got[12];
    assert_int_equal(sf_readf_short(file, got, 3), 3);
    assert_memory_equal(got, samples, sizeof samples);
    SF_BROADCAST_INFO extension = {0};
    assert_int_equal(sf_command(file, SFC_GET_BROADCAST_INFO, &extension, sizeof extension),
                     SF_TRUE);
    assert_memory_equal(extension.origination_date, "2026-03-01", 10);
    assert_memory_equal(extension.origination_time, "11:59:59", 8);
    const uint64_t number =
        (uint64_t)extension.time_reference_high << 32 | extension.time_reference_low;
    assert_int_equal(number, UINT64_C(43199) * 96000);
    sf_close(file);
}

static void what_is_not_finished_leaves_nothing(void **state)
{
    (void)state;
    wf_error err = WF_ERROR_INIT;
    const int16_t samples[] = {1, 2};
    wfi_sound_writer *const writer = create(2);
    wf_check_ok(wfi_sound_writer_append(writer, samples, 1, &err), &err);
    wfi_sound_writer_destroy(writer);
    wfi_sound_writer_destroy(NULL);
    assert_int_equal(n_entries("."), 0);
}

static void a_full_disk_is_told(void **state)
{
    (void)state;
    const struct rlimit little = {20000, RLIM_INFINITY};
    struct rlimit before;
    assert_int_equal(getrlimit(RLIMIT_FSIZE, &before), 0);
    signal(SIGXFSZ, SIG_IGN);
    wf_error err = WF_ERROR_INIT;
    static const int16_t samples[2 * 5000];
    wfi_sound_writer *const writer = create(2);
    assert_int_equal(setrlimit(RLIMIT_FSIZE, &little), 0);
    wf_status status = WF_OK;
    for (int i = 0; i < 4 && status == WF_OK; i++)
        status = wfi_sound_writer_append(writer, samples, 5000, &err);
    wfi_sound_writer_destroy(writer);
    assert_int_equal(setrlimit(RLIMIT_FSIZE, &before), 0);
    wf_check_refused(status, WF_IO, &err, "a.wav: could not be written");
    assert_int_equal(n_entries("."), 0);
}

static void what_a_wav_file_cannot_hold_is_refused(void **state)
{
    (void)state;
    wf_error err = WF_ERROR_INIT;
    wfi_sound_writer *writer = NULL;
    wf_check_refused(wfi_sound_writer_create(&writer, "a.wav", 48000, 1025, 0, &err),
                     WF_UNSUPPORTED, &err, "1025 channels");
    err = (wf_error)WF_ERROR_INIT;
    wf_check_refused(wfi_sound_writer_create(&writer, "a.wav", 2000000000, 2, 0, &err),
                     WF_UNSUPPORTED, &err, "2000000000 Hz");
    assert_null(writer);
    assert_int_equal(n_entries("."), 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST_IN_FOLDER(a_file_holds_samples_and_start),
        TEST_IN_FOLDER(what_is_not_finished_leaves_nothing),
        TEST_IN_FOLDER(a_full_disk_is_told),
        TEST_IN_FOLDER(what_a_wav_file_cannot_hold_is_refused),
    };
    return cmocka_run_group_tests_name("simulate.sound_writer", tests, NULL, NULL);
}
