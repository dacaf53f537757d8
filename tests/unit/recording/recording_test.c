/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Which format a file has, and files that have none. */
#include "unit/recording/vdif_scene.h"

#include <sndfile.h>

static wf_status open_path(wf_recording **out, const char *path, wf_file_format format,
                           wf_error *err)
{
    const wf_recording_entry entry = {.paths = &path,
                                      .n_paths = 1,
                                      .format = format,
                                      .sample_rate_hz = 6400,
                                      .has_start = true,
                                      .start = {800000000, 0.0}};
    return wf_recording_open(out, &entry, err);
}

static void check_refused(const char *path, wf_file_format format, wf_status status,
                          const char *text)
{
    wf_recording *recording = NULL;
    wf_error err = WF_ERROR_INIT;
    wf_check_refused(open_path(&recording, path, format, &err), status, &err, text);
    assert_null(recording);
    if (strstr(err.message, path) == NULL)
        fail_msg("%s is not named in \"%s\"", path, err.message);
}

static const wf_file_format all_formats[] = {WF_FILE_FORMAT_PROBE, WF_FILE_FORMAT_VDIF,
                                             WF_FILE_FORMAT_SOUND};

static void recording_refuses_what_is_no_file(void **state)
{
    (void)state;
    fclose(create_file("empty"));
    assert_int_equal(mkdir("folder", 0700), 0);
    assert_int_equal(mkfifo("pipe", 0600), 0);
    for (size_t i = 0; i < 3; i++) {
        check_refused("not_there", all_formats[i], WF_MISSING, "no such file: check the path");
        check_refused("empty/x", all_formats[i], WF_MISSING, "no such file");
        check_refused("empty", all_formats[i], WF_FORMAT, "is empty; leave it out");
        check_refused("folder", all_formats[i], WF_FORMAT, "is a directory; name the file in it");
        check_refused("pipe", all_formats[i], WF_FORMAT, "is a device or a pipe");
    }
}

static void recording_without_permission_is_refused_by_the_system(void **state)
{
    (void)state;
    FILE *file = create_file("secret");
    fputs("x", file);
    fclose(file);
    assert_int_equal(chmod("secret", 0), 0);
    if (access("secret", R_OK) == 0)
        skip(); /* the superuser may read everything */
    check_refused("secret", WF_FILE_FORMAT_PROBE, WF_IO, "Permission denied");
}

static void recording_refuses_unknown_contents(void **state)
{
    (void)state;
    FILE *file = create_file("letter.txt");
    for (int i = 0; i < 100; i++)
        fputs("Dear colleague, ", file);
    fclose(file);
    check_refused("letter.txt", WF_FILE_FORMAT_SOUND, WF_FORMAT, "cannot be read as a sound file");
    file = create_file("zeros");
    for (int i = 0; i < 5000; i++)
        fputc(0, file);
    fclose(file);
    check_refused("zeros", WF_FILE_FORMAT_PROBE, WF_FORMAT,
                  "begins with the bytes 00 00 00 00 00 00 00 00, which is none of the formats");
    check_refused("zeros", WF_FILE_FORMAT_VDIF, WF_FORMAT, "no VDIF frames");
}

static void write_wav(const char *path)
{
    SF_INFO info = {.samplerate = 6400, .channels = 1, .format = SF_FORMAT_WAV | SF_FORMAT_PCM_16};
    SNDFILE *file = sf_open(path, SFM_WRITE, &info);
    assert_non_null(file);
    const short values[100] = {0};
    assert_int_equal(sf_write_short(file, values, 100), 100);
    sf_close(file);
}

static void write_vdif(const char *path, uint32_t n)
{
    FILE *file = create_file(path);
    frame_spec f = {.epoch = 52, .second = 100, .bits = 8, .frame_bytes = 96};
    for (f.frame = 0; f.frame < n; f.frame++)
        write_frame(file, &f);
    fclose(file);
}

static void recording_is_known_by_its_contents(void **state)
{
    (void)state;
    write_wav("a.vdif"); /* the name means nothing */
    write_vdif("a.wav", 10);
    write_vdif("single.wav", 1);
    static const struct {
        const char *path;
        const char *name;
    } cases[] = {{"a.vdif", "WAV"}, {"a.wav", "VDIF"}, {"single.wav", "VDIF"}};
    for (size_t i = 0; i < 3; i++) {
        wf_recording *recording = NULL;
        wf_error err = WF_ERROR_INIT;
        wf_check_ok(open_path(&recording, cases[i].path, WF_FILE_FORMAT_PROBE, &err), &err);
        assert_string_equal(wf_recording_describe(recording)->format_name, cases[i].name);
        wf_recording_close(recording);
    }
    check_refused("a.vdif", WF_FILE_FORMAT_VDIF, WF_FORMAT, "a.vdif");
    check_refused("a.wav", WF_FILE_FORMAT_SOUND, WF_FORMAT, "cannot be read as a sound file");
}

static void recording_files_stay_as_they_are(void **state)
{
    (void)state;
    write_vdif("a.vdif", 10);
    assert_int_equal(chmod("a.vdif", 0400), 0);
    wf_recording *recording = NULL;
    wf_error err = WF_ERROR_INIT;
    wf_check_ok(open_path(&recording, "a.vdif", WF_FILE_FORMAT_PROBE, &err), &err);
    /* the descriptor itself cannot write, whoever runs the test */
    DIR *folder = opendir("/proc/self/fd");
    if (folder == NULL)
        skip();
    int found = 0;
    for (struct dirent *e = readdir(folder); e != NULL; e = readdir(folder)) {
        char link[300];
        snprintf(link, sizeof link, "/proc/self/fd/%s", e->d_name);
        if (!names_file(link, "a.vdif"))
            continue;
        found++;
        assert_int_equal(fcntl(atoi(e->d_name), F_GETFL) & O_ACCMODE, O_RDONLY);
    }
    closedir(folder);
    assert_int_equal(found, 1);
    wf_recording_close(recording);
}

/* Of one thread of two channels, 0.1 s of one channel: the other loses nothing, both are read at
 * once, and overlapping spans count once. */
static void recording_excludes_streams_of_a_thread_apart(void **state)
{
    (void)state;
    static const char *const path = "two.vdif";
    FILE *file = create_file(path);
    for (uint32_t i = 0; i < 300; i++)
        write_frame(file, &(frame_spec){.epoch = 52,
                                        .second = 100 + i / 200,
                                        .frame = i % 200,
                                        .bits = 8,
                                        .log2_channels = 1,
                                        .frame_bytes = 96});
    fclose(file);
    wf_recording *recording = open_vdif_file(path, 6400);
    const wf_instant origin = wf_recording_describe(recording)->origin;
    wf_recording_close(recording);
    const wf_time_span spans[] = {
        {wf_instant_add(origin, 0.45), wf_instant_add(origin, 0.5)},
        {wf_instant_add(origin, 0.4), wf_instant_add(origin, 0.46)},
        {wf_instant_add(origin, 9.0), wf_instant_add(origin, 10.0)}, /* after the end */
    };
    const wf_stream streams[] = {{.channel = 0},
                                 {.channel = 1, .excluded = spans, .n_excluded = 3},
                                 {.channel = 1, .excluded = spans, .n_excluded = 2},
                                 {.channel = 0, .excluded = spans + 2, .n_excluded = 1}};
    const wf_recording_entry entry = {
        .paths = &path, .n_paths = 1, .sample_rate_hz = 6400, .streams = streams, .n_streams = 4};
    wf_error err = WF_ERROR_INIT;
    wf_check_ok(wf_recording_open(&recording, &entry, &err), &err);
    const size_t one = wf_recording_exclusion(recording, 1);
    assert_true(wf_recording_exclusion(recording, 0) == WF_NO_EXCLUSION);
    assert_true(one != WF_NO_EXCLUSION && wf_recording_exclusion(recording, 2) == one);
    assert_true(wf_recording_exclusion(recording, 3) == WF_NO_EXCLUSION);
    assert_true(wf_recording_exclusion(recording, 4) == WF_NO_EXCLUSION);
    wf_window *window = open_window(recording, 6400);
    wf_check_ok(wf_window_load(window, 0, 6400, &err), &err);
    const wf_packed *part = wf_window_thread_without(window, 0, one);
    assert_ptr_equal(wf_window_thread_without(window, 0, WF_NO_EXCLUSION),
                     wf_window_thread(window, 0));
    assert_int_equal(wf_window_thread(window, 0)->n_invalid, 0);
    assert_ptr_equal(part->bytes, wf_window_thread(window, 0)->bytes);
    assert_int_equal(part->n_invalid, 1);
    assert_int_equal(part->invalid[0].first, 2560); /* 0.4 s of 6400 Hz */
    assert_int_equal(part->invalid[0].n, 640);
    int64_t lost[WF_FAULT_N_KINDS];
    wf_check_ok(wf_recording_losses(recording, 0, one, 0, 9600, lost, &err), &err);
    assert_int_equal(lost[WF_FAULT_EXCLUDED], 640);
    wf_check_ok(wf_recording_losses(recording, 0, WF_NO_EXCLUSION, 0, 9600, lost, &err), &err);
    assert_int_equal(lost[WF_FAULT_EXCLUDED], 0);
    wf_fault faults[WF_FAULT_N_KINDS];
    wf_check_ok(wf_recording_faults(recording, faults, &err), &err);
    assert_int_equal(faults[WF_FAULT_EXCLUDED].n_places, 1);
    assert_int_equal(faults[WF_FAULT_EXCLUDED].lost_samples, 640);
    wf_window_destroy(window);
    wf_recording_close(recording);
}

static void recording_of_no_files_is_refused(void **state)
{
    (void)state;
    wf_recording *recording = NULL;
    wf_error err = WF_ERROR_INIT;
    const wf_recording_entry entry = {0};
    wf_check_refused(wf_recording_open(&recording, &entry, &err), WF_ARGUMENT, &err, "no files");
    assert_null(recording);
    wf_recording_close(NULL);
    wf_window_destroy(NULL);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(recording_refuses_what_is_no_file),
        cmocka_unit_test(recording_without_permission_is_refused_by_the_system),
        cmocka_unit_test(recording_refuses_unknown_contents),
        cmocka_unit_test(recording_is_known_by_its_contents),
        cmocka_unit_test(recording_files_stay_as_they_are),
        cmocka_unit_test(recording_excludes_streams_of_a_thread_apart),
        cmocka_unit_test(recording_of_no_files_is_refused),
    };
    return cmocka_run_group_tests(tests, enter_scratch_folder, leave_scratch_folder);
}
