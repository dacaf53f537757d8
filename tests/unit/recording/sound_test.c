/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Sound files, written here through libsndfile itself: what is read back is what was written. */
#include "unit/recording/scratch.h"

#include <pthread.h>
#include <sndfile.h>
#include <unistd.h>
#include <whitefringe/recording.h>

#include "base/memory.h"

enum { RATE_HZ = 48000, N_SAMPLES = 5000 };

static int32_t value_of(int64_t sample, int channel)
{
    return (int32_t)((uint32_t)(sample * 2 + channel + 1) * UINT32_C(2654435761));
}

typedef struct file_spec {
    const char *path;
    int format;
    int channels;
    int rate_hz;
    int64_t first; /* number of the first sample, for value_of */
    int64_t n;
    const char *date; /* of a broadcast extension; NULL: none */
    const char *time;
    uint32_t count;
} file_spec;

static void write_broadcast_extension(SNDFILE *file, const file_spec *spec)
{
    SF_BROADCAST_INFO info;
    memset(&info, 0, sizeof info);
    memcpy(info.origination_date, spec->date, sizeof info.origination_date);
    memcpy(info.origination_time, spec->time, sizeof info.origination_time);
    info.time_reference_low = spec->count;
    info.version = 1;
    assert_int_equal(sf_command(file, SFC_SET_BROADCAST_INFO, &info, sizeof info), SF_TRUE);
}

static void write_values(SNDFILE *file, const file_spec *spec)
{
    for (int64_t i = 0; i < spec->n; i++) {
        int32_t integers[8];
        float floats[8];
        for (int c = 0; c < spec->channels; c++) {
            integers[c] = value_of(spec->first + i, c);
            floats[c] = (float)integers[c];
        }
        const int subtype = spec->format & SF_FORMAT_SUBMASK;
        const bool is_float = subtype == SF_FORMAT_FLOAT || subtype == SF_FORMAT_DOUBLE;
        assert_int_equal(
            is_float ? sf_writef_float(file, floats, 1) : sf_writef_int(file, integers, 1), 1);
    }
}

static void write_file(const file_spec *spec)
{
    SF_INFO info = {
        .samplerate = spec->rate_hz, .channels = spec->channels, .format = spec->format};
    SNDFILE *file = sf_open(spec->path, SFM_WRITE, &info);
    assert_non_null(file);
    if (spec->date != NULL)
        write_broadcast_extension(file, spec);
    write_values(file, spec);
    assert_int_equal(sf_close(file), 0);
}

static wf_instant instant(const char *text)
{
    wf_instant t = {0, 0};
    wf_error err = WF_ERROR_INIT;
    wf_check_ok(wf_instant_parse(&t, text, &err), &err);
    return t;
}

static wf_status open_files(wf_recording **out, const char *const *paths, size_t n_paths,
                            wf_sampling sampling, const char *start, wf_error *err)
{
    wf_recording_entry entry = {.paths = paths, .n_paths = n_paths, .sampling = sampling};
    if (start != NULL) {
        entry.has_start = true;
        entry.start = instant(start);
    }
    return wf_recording_open(out, &entry, err);
}

static wf_recording *open_file(const char *path, wf_sampling sampling)
{
    wf_recording *recording = NULL;
    wf_error err = WF_ERROR_INIT;
    wf_check_ok(open_files(&recording, &path, 1, sampling, "2026-03-01T12:00:00.5", &err), &err);
    return recording;
}

static wf_window *load(const wf_recording *recording, int64_t first, int64_t n)
{
    wf_window *window = NULL;
    wf_error err = WF_ERROR_INIT;
    wf_check_ok(wf_window_create(&window, recording, n, &err), &err);
    wf_check_ok(wf_window_load(window, first, n, &err), &err);
    return window;
}

/* The value that a complete sample's channel has in a file of this subtype. */
static int64_t kept(int32_t value, int subtype)
{
    switch (subtype) {
    case SF_FORMAT_PCM_16:
        return value >> 16;
    case SF_FORMAT_PCM_U8:
        return (value >> 24) * 256;
    case SF_FORMAT_PCM_24:
        return (value >> 8) * 256;
    default:
        return value;
    }
}

static int64_t packed_integer(const wf_packed *packed, unsigned bits, int64_t i)
{
    if (bits == 16) {
        int16_t v = 0;
        memcpy(&v, packed->bytes + 2 * i, sizeof v);
        return v;
    }
    int32_t v = 0;
    memcpy(&v, packed->bytes + 4 * i, sizeof v);
    return v;
}

static void check_values(const wf_recording *recording, const file_spec *spec, int64_t first,
                         int64_t n)
{
    const wf_sample_format *format = &wf_recording_describe(recording)->threads[0].format;
    wf_window *window = load(recording, first, n);
    const wf_packed *packed = wf_window_thread(window, 0);
    assert_int_equal(packed->first, first);
    assert_int_equal(packed->n, n);
    assert_int_equal(packed->n_invalid, 0);
    for (int64_t i = 0; i < n; i++)
        for (int c = 0; c < spec->channels; c++) {
            const int32_t written = value_of(first + i, c);
            const int64_t at = i * spec->channels + c;
            if (format->encoding == WF_ENCODING_FLOAT) {
                float v = 0;
                memcpy(&v, packed->bytes + 4 * at, sizeof v);
                assert_true(v == (float)written);
            } else {
                assert_int_equal(packed_integer(packed, format->bits, at),
                                 kept(written, spec->format & SF_FORMAT_SUBMASK));
            }
        }
    wf_window_destroy(window);
}

static void sound_reads_every_lossless_kind(void **state)
{
    (void)state;
    static const struct {
        int format;
        wf_encoding encoding;
        unsigned bits;
        const char *name;
    } kinds[] = {
        {SF_FORMAT_WAV | SF_FORMAT_PCM_16, WF_ENCODING_SIGNED, 16, "WAV"},
        {SF_FORMAT_WAV | SF_FORMAT_PCM_U8, WF_ENCODING_SIGNED, 16, "WAV"},
        {SF_FORMAT_WAV | SF_FORMAT_PCM_24, WF_ENCODING_SIGNED, 32, "WAV"},
        {SF_FORMAT_WAV | SF_FORMAT_PCM_32, WF_ENCODING_SIGNED, 32, "WAV"},
        {SF_FORMAT_WAV | SF_FORMAT_FLOAT, WF_ENCODING_FLOAT, 32, "WAV"},
        {SF_FORMAT_WAV | SF_FORMAT_DOUBLE, WF_ENCODING_FLOAT, 32, "WAV"},
        {SF_FORMAT_RF64 | SF_FORMAT_PCM_16, WF_ENCODING_SIGNED, 16, "RF64"},
        {SF_FORMAT_W64 | SF_FORMAT_PCM_24, WF_ENCODING_SIGNED, 32, "W64"},
        {SF_FORMAT_FLAC | SF_FORMAT_PCM_16, WF_ENCODING_SIGNED, 16, "FLAC"},
        {SF_FORMAT_FLAC | SF_FORMAT_PCM_24, WF_ENCODING_SIGNED, 32, "FLAC"},
        {SF_FORMAT_AIFF | SF_FORMAT_PCM_16, WF_ENCODING_SIGNED, 16, "AIFF"},
    };
    for (size_t i = 0; i < sizeof kinds / sizeof kinds[0]; i++) {
        const file_spec spec = {"a.sound", kinds[i].format, 3, RATE_HZ, 0, N_SAMPLES, 0, 0, 0};
        write_file(&spec);
        wf_recording *recording = open_file("a.sound", WF_SAMPLING_PROBE);
        const wf_recording_info *info = wf_recording_describe(recording);
        assert_string_equal(info->format_name, kinds[i].name);
        assert_int_equal(info->sample_rate_hz, RATE_HZ);
        assert_int_equal(info->first, 0);
        assert_int_equal(info->end, N_SAMPLES);
        assert_int_equal(info->n_threads, 1);
        assert_int_equal(info->threads[0].thread, 0);
        assert_int_equal(info->threads[0].format.n_channels, 3);
        assert_int_equal(info->threads[0].format.encoding, kinds[i].encoding);
        assert_int_equal(info->threads[0].format.bits, kinds[i].bits);
        assert_false(info->threads[0].format.is_complex);
        check_values(recording, &spec, 0, N_SAMPLES);
        check_values(recording, &spec, 4097, 333);
        check_values(recording, &spec, 17, 1);
        wf_recording_close(recording);
    }
}

static void sound_pairs_are_complex_when_the_job_says_so(void **state)
{
    (void)state;
    const file_spec spec = {
        "a.wav", SF_FORMAT_WAV | SF_FORMAT_PCM_16, 4, RATE_HZ, 0, N_SAMPLES, 0, 0, 0};
    write_file(&spec);
    wf_recording *recording = open_file("a.wav", WF_SAMPLING_COMPLEX);
    const wf_recording_info *info = wf_recording_describe(recording);
    assert_true(info->threads[0].format.is_complex);
    assert_int_equal(info->threads[0].format.n_channels, 2);
    assert_int_equal(info->sample_rate_hz, RATE_HZ);
    check_values(recording, &spec, 100, 200);
    wf_recording_close(recording);
}

static void check_invalid(const wf_packed *packed, size_t i, int64_t first, int64_t n)
{
    assert_true(i < packed->n_invalid);
    assert_int_equal(packed->invalid[i].first, first);
    assert_int_equal(packed->invalid[i].n, n);
}

static void sound_outside_the_file_is_invalid(void **state)
{
    (void)state;
    const file_spec spec = {
        "a.wav", SF_FORMAT_WAV | SF_FORMAT_PCM_16, 1, RATE_HZ, 0, N_SAMPLES, 0, 0, 0};
    write_file(&spec);
    wf_recording *recording = open_file("a.wav", WF_SAMPLING_REAL);
    wf_window *window = load(recording, -10, N_SAMPLES + 30);
    const wf_packed *packed = wf_window_thread(window, 0);
    assert_int_equal(packed->n_invalid, 2);
    check_invalid(packed, 0, -10, 10);
    check_invalid(packed, 1, N_SAMPLES, 20);
    assert_int_equal(packed_integer(packed, 16, 10), value_of(0, 0) >> 16);
    wf_window_destroy(window);
    window = load(recording, N_SAMPLES, 5);
    assert_int_equal(wf_window_thread(window, 0)->n_invalid, 1);
    check_invalid(wf_window_thread(window, 0), 0, N_SAMPLES, 5);
    wf_window_destroy(window);
    wf_recording_close(recording);
}

static void sound_start_comes_from_the_job_or_the_broadcast_extension(void **state)
{
    (void)state;
    const char *path = "a.wav";
    file_spec spec = {
        path, SF_FORMAT_WAV | SF_FORMAT_PCM_16, 1, RATE_HZ, 0, N_SAMPLES, "2026-03-01", 0, 0};
    spec.time = "00:00:07";
    spec.count = 7 * RATE_HZ + RATE_HZ / 4;
    write_file(&spec);
    wf_recording *recording = NULL;
    wf_error err = WF_ERROR_INIT;
    wf_check_ok(open_files(&recording, &path, 1, WF_SAMPLING_REAL, NULL, &err), &err);
    wf_instant origin = wf_recording_describe(recording)->origin;
    assert_int_equal(origin.second, instant("2026-03-01T00:00:07").second);
    assert_true(origin.fraction == 0.25);
    wf_recording_close(recording);

    wf_check_ok(open_files(&recording, &path, 1, WF_SAMPLING_REAL, "2026-03-02T00:00:00.125", &err),
                &err);
    origin = wf_recording_describe(recording)->origin;
    assert_int_equal(origin.second, instant("2026-03-02T00:00:00").second);
    assert_true(origin.fraction == 0.125);
    wf_recording_close(recording);

    spec.count = 0;
    write_file(&spec);
    wf_check_ok(open_files(&recording, &path, 1, WF_SAMPLING_REAL, NULL, &err), &err);
    assert_int_equal(wf_recording_describe(recording)->origin.second,
                     instant("2026-03-01T00:00:07").second);
    wf_recording_close(recording);

    spec.count = 60 * RATE_HZ;
    write_file(&spec);
    wf_check_refused(open_files(&recording, &path, 1, WF_SAMPLING_REAL, NULL, &err), WF_FORMAT,
                     &err, "contradicts itself");
    assert_null(recording);
}

static void sound_files_follow_one_another(void **state)
{
    (void)state;
    const int format = SF_FORMAT_WAV | SF_FORMAT_PCM_16;
    const file_spec a = {"a.wav", format, 1, RATE_HZ, 0, 1000, NULL, NULL, 0};
    const file_spec b = {"b.wav", format, 1, RATE_HZ, 1000, 500, NULL, NULL, 0};
    write_file(&a);
    write_file(&b);
    const char *const paths[] = {"a.wav", "b.wav"};
    wf_recording *recording = NULL;
    wf_error err = WF_ERROR_INIT;
    wf_check_ok(open_files(&recording, paths, 2, WF_SAMPLING_REAL, "2026-03-01T12:00:00", &err),
                &err);
    assert_int_equal(wf_recording_describe(recording)->end, 1500);
    check_values(recording, &a, 900, 300);
    check_values(recording, &a, 0, 1500);
    wf_recording_close(recording);
}

static void sound_gap_between_dated_files_is_invalid(void **state)
{
    (void)state;
    const int format = SF_FORMAT_WAV | SF_FORMAT_PCM_16;
    file_spec a = {"a.wav", format, 1, RATE_HZ, 0, 1000, "2026-03-01", "00:00:01", RATE_HZ};
    file_spec b = {"b.wav", format,       1,          RATE_HZ,       3000,
                   500,     "2026-03-01", "00:00:01", RATE_HZ + 3000};
    write_file(&a);
    write_file(&b);
    const char *const paths[] = {"a.wav", "b.wav"};
    const char *const swapped[] = {"b.wav", "a.wav"};
    wf_recording *recording = NULL;
    wf_error err = WF_ERROR_INIT;
    wf_check_ok(open_files(&recording, paths, 2, WF_SAMPLING_REAL, NULL, &err), &err);
    assert_int_equal(wf_recording_describe(recording)->end, 3500);
    wf_window *window = load(recording, 900, 2200);
    const wf_packed *packed = wf_window_thread(window, 0);
    assert_int_equal(packed->n_invalid, 1);
    check_invalid(packed, 0, 1000, 2000);
    assert_int_equal(packed_integer(packed, 16, 99), value_of(999, 0) >> 16);
    assert_int_equal(packed_integer(packed, 16, 2100), value_of(3000, 0) >> 16);
    wf_window_destroy(window);
    wf_recording_close(recording);

    /* dated to the second only: a continuation, not an overlap */
    a.count = b.count = 0;
    write_file(&a);
    write_file(&b);
    wf_check_ok(open_files(&recording, paths, 2, WF_SAMPLING_REAL, NULL, &err), &err);
    assert_int_equal(wf_recording_describe(recording)->end, 1500);
    wf_recording_close(recording);

    a.count = RATE_HZ;
    b.count = RATE_HZ + 900;
    write_file(&a);
    write_file(&b);
    wf_check_refused(open_files(&recording, paths, 2, WF_SAMPLING_REAL, NULL, &err), WF_FORMAT,
                     &err, "b.wav: begins 0.002083 s before a.wav ends");
    err = (wf_error)WF_ERROR_INIT;
    wf_check_refused(open_files(&recording, swapped, 2, WF_SAMPLING_REAL, NULL, &err), WF_FORMAT,
                     &err, "time order");
}

static void sound_numbers_that_are_none_are_invalid(void **state)
{
    (void)state;
    SF_INFO info = {
        .samplerate = RATE_HZ, .channels = 2, .format = SF_FORMAT_WAV | SF_FORMAT_FLOAT};
    SNDFILE *file = sf_open("a.wav", SFM_WRITE, &info);
    assert_non_null(file);
    float values[20] = {0};
    for (int i = 0; i < 20; i++)
        values[i] = (float)(i + 1);
    values[7] = NAN;
    values[8] = -INFINITY;
    values[19] = INFINITY;
    assert_int_equal(sf_writef_float(file, values, 10), 10);
    sf_close(file);
    wf_recording *recording = open_file("a.wav", WF_SAMPLING_COMPLEX);
    wf_window *window = load(recording, 0, 10);
    const wf_packed *packed = wf_window_thread(window, 0);
    assert_int_equal(packed->n_invalid, 2);
    check_invalid(packed, 0, 3, 2);
    check_invalid(packed, 1, 9, 1);
    for (int64_t i = 0; i < 20; i++) {
        float v = 0;
        memcpy(&v, packed->bytes + 4 * i, sizeof v);
        assert_true(isfinite(v));
    }
    wf_window_destroy(window);
    wf_recording_close(recording);
}

static void check_refused(const file_spec *spec, const wf_recording_entry *wanted, wf_status status,
                          const char *text)
{
    write_file(spec);
    const char *path = spec->path;
    wf_recording_entry entry = *wanted;
    entry.paths = &path;
    entry.n_paths = 1;
    wf_recording *recording = NULL;
    wf_error err = WF_ERROR_INIT;
    wf_check_refused(wf_recording_open(&recording, &entry, &err), status, &err, text);
    assert_null(recording);
    assert_non_null(strstr(err.message, path));
}

static void sound_refuses_what_does_not_fit_the_job(void **state)
{
    (void)state;
    file_spec spec = {"a.wav", SF_FORMAT_WAV | SF_FORMAT_PCM_16, 3, RATE_HZ, 0, 100, 0, 0, 0};
    wf_recording_entry entry = {.has_start = true, .start = {800000000, 0.0}};
    entry.sample_rate_hz = 44100;
    check_refused(&spec, &entry, WF_FORMAT,
                  "sampled at 48000 Hz by its header, but the job states");
    entry.sample_rate_hz = RATE_HZ;
    entry.sampling = WF_SAMPLING_COMPLEX;
    check_refused(&spec, &entry, WF_FORMAT, "3 channels cannot be pairs of I and Q");
    entry.sampling = WF_SAMPLING_REAL;
    entry.has_start = false;
    check_refused(&spec, &entry, WF_FORMAT, "add start to the recording");
    entry.has_start = true;
    spec.n = 0;
    check_refused(&spec, &entry, WF_FORMAT, "nothing to correlate");
    spec.n = 1000;
    spec.channels = 1;
    spec.format = SF_FORMAT_WAV | SF_FORMAT_MS_ADPCM;
    check_refused(&spec, &entry, WF_UNSUPPORTED, "losslessly compressed");
}

static void sound_refuses_files_that_are_not_alike(void **state)
{
    (void)state;
    const file_spec a = {"a.wav", SF_FORMAT_WAV | SF_FORMAT_PCM_16, 1, RATE_HZ, 0, 100, NULL, NULL,
                         0};
    file_spec b = a;
    b.path = "b.wav";
    b.rate_hz = 96000;
    write_file(&a);
    write_file(&b);
    const char *const paths[] = {"a.wav", "b.wav"};
    wf_recording *recording = NULL;
    wf_error err = WF_ERROR_INIT;
    wf_check_refused(
        open_files(&recording, paths, 2, WF_SAMPLING_REAL, "2026-03-01T12:00:00", &err),
        WF_UNSUPPORTED, &err, "b.wav: 1 channels of 16 bits at 96000 Hz, but a.wav has 1 of 16");
}

/* A file that shrinks while it is open: what is gone is invalid, and what is left is right. */
static void sound_file_cut_short_gives_invalid_samples(void **state)
{
    (void)state;
    static const int formats[] = {SF_FORMAT_WAV | SF_FORMAT_PCM_16,
                                  SF_FORMAT_FLAC | SF_FORMAT_PCM_16};
    for (size_t i = 0; i < 2; i++) {
        const file_spec spec = {"a.sound", formats[i], 1, RATE_HZ, 0, 40000, NULL, NULL, 0};
        write_file(&spec);
        wf_recording *recording = open_file("a.sound", WF_SAMPLING_REAL);
        assert_int_equal(truncate("a.sound", 44 + 2 * 20000), 0);
        wf_window *window = load(recording, 0, 40000);
        const wf_packed *packed = wf_window_thread(window, 0);
        assert_int_equal(packed->n_invalid, 1);
        const int64_t n_good = packed->invalid[0].first;
        assert_int_equal(n_good + packed->invalid[0].n, 40000);
        assert_in_range(n_good, 15000, 25000);
        for (int64_t k = 0; k < n_good; k++)
            assert_int_equal(packed_integer(packed, 16, k), value_of(k, 0) >> 16);
        /* and the reader goes on after that */
        wf_error err = WF_ERROR_INIT;
        wf_check_ok(wf_window_load(window, 100, 50, &err), &err);
        assert_int_equal(wf_window_thread(window, 0)->n_invalid, 0);
        assert_int_equal(packed_integer(wf_window_thread(window, 0), 16, 0),
                         value_of(100, 0) >> 16);
        wf_window_destroy(window);
        wf_recording_close(recording);
    }
}

static void sound_system_refusal_names_file_and_place(void **state)
{
    (void)state;
    const file_spec spec = {
        "a.wav", SF_FORMAT_WAV | SF_FORMAT_PCM_16, 1, RATE_HZ, 0, N_SAMPLES, NULL, NULL, 0};
    write_file(&spec);
    wf_recording *recording = open_file("a.wav", WF_SAMPLING_REAL);
    wf_window *window = NULL;
    wf_error err = WF_ERROR_INIT;
    wf_check_ok(wf_window_create(&window, recording, 100, &err), &err);
    wf_check_ok(wf_window_load(window, 0, 100, &err), &err);
    replace_descriptor_by_folder("a.wav");
    wf_check_refused(wf_window_load(window, 4000, 100, &err), WF_IO, &err,
                     "a.wav: reading at byte 8044 of 10044 failed");
    wf_window_destroy(window);
    wf_recording_close(recording);
}

static void sound_loads_do_not_depend_on_earlier_ones(void **state)
{
    (void)state;
    static const int formats[] = {SF_FORMAT_WAV | SF_FORMAT_PCM_24,
                                  SF_FORMAT_FLAC | SF_FORMAT_PCM_16,
                                  SF_FORMAT_W64 | SF_FORMAT_FLOAT};
    for (size_t f = 0; f < 3; f++) {
        const file_spec spec = {"a.sound", formats[f], 2, RATE_HZ, 0, N_SAMPLES, NULL, NULL, 0};
        write_file(&spec);
        wf_recording *recording = open_file("a.sound", WF_SAMPLING_REAL);
        wf_window *all = load(recording, 0, N_SAMPLES);
        wf_window *some = load(recording, 0, 700);
        const unsigned sample_bytes =
            2 * wf_recording_describe(recording)->threads[0].format.bits / 8;
        uint32_t random = 1;
        for (int i = 0; i < 100; i++) {
            const int64_t n = 1 + next_random(&random) % 700;
            const int64_t first = next_random(&random) % (N_SAMPLES - (uint32_t)n);
            wf_error err = WF_ERROR_INIT;
            wf_check_ok(wf_window_load(some, first, n, &err), &err);
            assert_int_equal(wf_window_thread(some, 0)->n_invalid, 0);
            assert_memory_equal(wf_window_thread(some, 0)->bytes,
                                wf_window_thread(all, 0)->bytes + first * sample_bytes,
                                (size_t)n * sample_bytes);
        }
        wf_window_destroy(all);
        wf_window_destroy(some);
        wf_recording_close(recording);
    }
}

typedef struct errand {
    const wf_recording *recording;
    uint32_t seed;
    int n_wrong; /* samples; checked by the main thread */
} errand;

static void *run_errand(void *context)
{
    errand *e = context;
    wf_window *window = NULL;
    e->n_wrong = wf_window_create(&window, e->recording, 500, NULL) == WF_OK ? 0 : 1;
    for (int i = 0; i < 100 && e->n_wrong == 0; i++) {
        const int64_t first = next_random(&e->seed) % (N_SAMPLES - 500);
        if (wf_window_load(window, first, 500, NULL) != WF_OK) {
            e->n_wrong++;
            break;
        }
        const wf_packed *packed = wf_window_thread(window, 0);
        for (int64_t k = 0; k < 500; k++)
            e->n_wrong += packed_integer(packed, 16, k) == value_of(first + k, 0) >> 16 ? 0 : 1;
    }
    wf_window_destroy(window);
    return NULL;
}

static void sound_threads_of_the_program_share_a_recording(void **state)
{
    (void)state;
    const file_spec spec = {
        "a.flac", SF_FORMAT_FLAC | SF_FORMAT_PCM_16, 1, RATE_HZ, 0, N_SAMPLES, NULL, NULL, 0};
    write_file(&spec);
    wf_recording *recording = open_file("a.flac", WF_SAMPLING_REAL);
    pthread_t threads[4];
    errand errands[4];
    for (uint32_t i = 0; i < 4; i++) {
        errands[i] = (errand){recording, 50 + i, 0};
        assert_int_equal(pthread_create(&threads[i], NULL, run_errand, &errands[i]), 0);
    }
    for (size_t i = 0; i < 4; i++) {
        assert_int_equal(pthread_join(threads[i], NULL), 0);
        assert_int_equal(errands[i].n_wrong, 0);
    }
    wf_recording_close(recording);
}

/* One pass over open, window and load; the n-th allocation fails. */
static wf_status pass(const char *path, long n)
{
    wf_recording *recording = NULL;
    wf_window *window = NULL;
    wf_error err = WF_ERROR_INIT;
    wfi_memory_fail_after(n);
    wf_status status =
        open_files(&recording, &path, 1, WF_SAMPLING_REAL, "2026-03-01T12:00:00", &err);
    if (status == WF_OK)
        status = wf_window_create(&window, recording, 100, &err);
    if (status == WF_OK)
        status = wf_window_load(window, -10, 100, &err);
    wfi_memory_fail_after(0);
    if (status != WF_OK)
        wf_check_refused(status, WF_MEMORY, &err, "out of memory");
    wf_window_destroy(window);
    wf_recording_close(recording);
    return status;
}

static void sound_survives_every_failing_allocation(void **state)
{
    (void)state;
#ifndef WFI_CHECKS
    skip(); /* release builds have no way to let an allocation fail */
#endif
    const file_spec spec = {
        "a.wav", SF_FORMAT_WAV | SF_FORMAT_PCM_16, 1, RATE_HZ, 0, N_SAMPLES, NULL, NULL, 0};
    write_file(&spec);
    long n = 1;
    while (pass("a.wav", n) == WF_MEMORY)
        n++;
    assert_true(n > 5);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(sound_reads_every_lossless_kind),
        cmocka_unit_test(sound_pairs_are_complex_when_the_job_says_so),
        cmocka_unit_test(sound_outside_the_file_is_invalid),
        cmocka_unit_test(sound_start_comes_from_the_job_or_the_broadcast_extension),
        cmocka_unit_test(sound_files_follow_one_another),
        cmocka_unit_test(sound_gap_between_dated_files_is_invalid),
        cmocka_unit_test(sound_numbers_that_are_none_are_invalid),
        cmocka_unit_test(sound_refuses_what_does_not_fit_the_job),
        cmocka_unit_test(sound_refuses_files_that_are_not_alike),
        cmocka_unit_test(sound_file_cut_short_gives_invalid_samples),
        cmocka_unit_test(sound_system_refusal_names_file_and_place),
        cmocka_unit_test(sound_loads_do_not_depend_on_earlier_ones),
        cmocka_unit_test(sound_threads_of_the_program_share_a_recording),
        cmocka_unit_test(sound_survives_every_failing_allocation),
    };
    return cmocka_run_group_tests(tests, enter_scratch_folder, leave_scratch_folder);
}
