/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Whole recordings, read back by plain code and held against theory. Statistical limits are 5
 * standard deviations, 6e-7 of false alarm each, at a fixed seed. */
#include "sky_text.h"

#include <complex.h>
#include <sndfile.h>

#include "base/memory.h"
#include "simulate/sky.h"

static void make(const wf_sky *sky, size_t i_recording, const char *folder)
{
    wf_error err = WF_ERROR_INIT;
    wf_check_ok(wf_simulate_recording(sky, i_recording, folder, NULL, NULL, &err), &err);
}

/* A sky without the line and its channel-dependent correlation. */
static wf_sky *load_continuum(void)
{
    return load_edited("correlation: 0.1, line", "correlation: 0.0, line");
}

static int64_t noon_second(void)
{
    wf_error err = WF_ERROR_INIT;
    wf_instant t;
    wf_check_ok(wf_instant_parse(&t, "2026-03-01T12:00:00", &err), &err);
    return t.second;
}

/* Samples of one stream, by their number since noon. */
typedef struct stream {
    double complex *z; /* [n] */
    int64_t first;
    int64_t n;
} stream;

/* alder.vdif: frames of 32 + 8000 bytes, 4000 complex samples of two bytes, thread by thread. Each
 * frame is placed by its header; the first of a thread opens the stream, gaps stay 0. */
static stream read_alder(uint32_t thread)
{
    enum { FRAME_BYTES = 8032, FRAME_SAMPLES = 4000, RATE_HZ = 1000000 };
    size_t n_bytes;
    unsigned char *const bytes = whole_file("alder.vdif", &n_bytes);
    assert_int_equal(n_bytes % FRAME_BYTES, 0);
    stream s = {.z = calloc(2 * RATE_HZ, sizeof *s.z)};
    /* 2026-01-01 to 2026-03-01T12:00 are 59.5 days. */
    const int64_t noon_of_epoch = 5140800;
    for (size_t at = 0; at < n_bytes; at += FRAME_BYTES) {
        const unsigned char *const b = bytes + at;
        if ((uint32_t)(b[14] | (b[15] & 3) << 8) != thread)
            continue;
        assert_int_equal(b[7], 52);
        const int64_t second = (int64_t)(b[0] | b[1] << 8 | b[2] << 16 | (b[3] & 0x3f) << 24);
        const int64_t number = (second - noon_of_epoch) * RATE_HZ +
                               (int64_t)(b[4] | b[5] << 8 | b[6] << 16) * FRAME_SAMPLES;
        if (s.n == 0)
            s.first = number;
        for (int k = 0; k < FRAME_SAMPLES; k++)
            s.z[number - s.first + k] = (b[32 + 2 * k] - 127.5) + I * (b[32 + 2 * k + 1] - 127.5);
        s.n = number - s.first + FRAME_SAMPLES;
    }
    free(bytes);
    return s;
}

/* cedar.wav: I and Q of two streams, lower sideband: conj z is the sky's sense. */
static stream read_cedar(int pair)
{
    SF_INFO info = {0};
    SNDFILE *const file = sf_open("cedar.wav", SFM_READ, &info);
    assert_non_null(file);
    assert_int_equal(info.channels, 4);
    int16_t *const samples = malloc((size_t)info.frames * 4 * sizeof *samples);
    assert_int_equal(sf_readf_short(file, samples, info.frames), info.frames);
    sf_close(file);
    stream s = {
        .z = malloc((size_t)info.frames * sizeof *s.z), .first = -1000000, .n = info.frames};
    for (int64_t k = 0; k < s.n; k++)
        s.z[k] = samples[4 * k + 2 * pair] - I * samples[4 * k + 2 * pair + 1];
    free(samples);
    return s;
}

static double complex at(const stream *s, int64_t number)
{
    assert_true(number >= s->first && number < s->first + s->n);
    return s->z[number - s->first];
}

static double power_between(const stream *s, int64_t first, int64_t end)
{
    double sum = 0.0;
    for (int64_t k = first; k < end; k++)
        sum += creal(at(s, k) * conj(at(s, k)));
    return sum / (double)(end - first);
}

/* Delay, clock included, of what is tagged `tag_s` after noon: tag = t + delay(t). */
static double delay_at_tag_s(const wf_sky *sky, size_t i_station, double tag_s)
{
    wf_error err = WF_ERROR_INIT;
    double total_s = 0.0;
    for (int i = 0; i < 4; i++) {
        wf_delay delay;
        const wf_instant t = wf_instant_add((wf_instant){noon_second(), 0.0}, tag_s - total_s);
        wf_check_ok(wf_delay_evaluate(sky->directions.model, i_station, 0, t, &delay, &err), &err);
        total_s = delay.tau_s + delay.clock_ahead_s;
    }
    return total_s;
}

static double sinc(double x)
{
    const double y = acos(-1.0) * x;
    return x == 0.0 ? 1.0 : sin(y) / y;
}

/* Correlation coefficient of stations 0 and 2, by time, with the delays taken out.
 *
 * z_i(T) = b(t_i) exp(-2 pi i nu0 D_i), T = t_i + D_i, b the sky's baseband signal about nu0, of
 * correlation rho sinc(fs (t_0 - t_2)). For each sample of one station that of the other is taken
 * whose t is nearest. The result is rho: real, positive. */
static double complex correlate(const wf_sky *sky, const stream *a, const stream *b, double zero_hz)
{
    enum { RATE_HZ = 1000000, BATCH = 1000, N_BATCHES = 380 };
    const double two_pi = 2.0 * acos(-1.0), rate_hz = RATE_HZ;
    double complex sum = 0.0;
    double weight = 0.0;
    for (int64_t k = 0; k < N_BATCHES; k++) {
        /* Wave times from 10 to 390 ms, given by station 0's tags. */
        const double offset_s = delay_at_tag_s(sky, 0, 0.2);
        const int64_t first = (int64_t)((0.01 + offset_s) * rate_hz) + k * BATCH;
        const double tag_s = (double)first / rate_hz, length_s = BATCH / rate_hz;
        const double a0 = delay_at_tag_s(sky, 0, tag_s);
        const double a1 = delay_at_tag_s(sky, 0, tag_s + length_s);
        const double near_s = delay_at_tag_s(sky, 2, tag_s);
        const int64_t shift = (int64_t)floor((near_s - a0) * rate_hz + 0.5);
        const double later_s = (double)shift / rate_hz;
        const double b0 = delay_at_tag_s(sky, 2, tag_s + later_s);
        const double b1 = delay_at_tag_s(sky, 2, tag_s + later_s + length_s);
        for (int64_t i = 0; i < BATCH; i++) {
            const double f = (double)i / BATCH;
            const double apart_s = (b0 - a0) + f * ((b1 - b0) - (a1 - a0));
            const double turns = zero_hz * apart_s;
            const double complex turn = cexp(-I * two_pi * (turns - rint(turns)));
            sum += at(a, first + i) * conj(at(b, first + shift + i)) * turn;
            weight += sinc((apart_s - later_s) * rate_hz);
        }
    }
    const double norm = sqrt(power_between(a, 10000, 370000) * power_between(b, 10000, 370000));
    return sum / weight / norm;
}

/* N = 380 000 independent complex samples: either part scatters by sqrt((1 + rho^2)/(2 N)) at most;
 * the sinc's weight is at least 0.8. 8 bits lose 4e-5. */
static const double CORRELATION_LIMIT = 5.0 * 1.12e-3 * 1.2;

static void check_correlations(const wf_sky *sky, double zero_hz)
{
    make(sky, 0, ".");
    make(sky, 2, ".");
    stream a[] = {read_alder(4), read_alder(1)}; /* R, L */
    stream b[] = {read_cedar(0), read_cedar(1)};
    const double complex rr = correlate(sky, &a[0], &b[0], zero_hz);
    const double complex ll = correlate(sky, &a[1], &b[1], zero_hz);
    const double complex rl = correlate(sky, &a[0], &b[1], zero_hz);
    const double complex lr = correlate(sky, &a[1], &b[0], zero_hz);
    wf_check_near("RR", cabs(rr - 0.5), 0.0, CORRELATION_LIMIT, "");
    wf_check_near("LL", cabs(ll - 0.5), 0.0, CORRELATION_LIMIT, "");
    wf_check_near("RL", cabs(rl - 0.5 * (0.3 - 0.4 * I)), 0.0, CORRELATION_LIMIT, "");
    wf_check_near("LR", cabs(lr - 0.5 * (0.3 + 0.4 * I)), 0.0, CORRELATION_LIMIT, "");
    for (int i = 0; i < 2; i++) {
        free(a[i].z);
        free(b[i].z);
    }
}

static void a_long_baseline_has_its_phase_delay_and_strength(void **state)
{
    (void)state;
    wf_sky *const sky = load_continuum();
    check_correlations(sky, 8400.5e6);
    wf_sky_destroy(sky);
}

/* The same at 1.3 mm: the phase turns 10^5 times in the scan. */
static void millimetre_phases_hold_too(void **state)
{
    (void)state;
    static const char *const changes[][2] = {
        {"edge_hz: 8400.0e6", "edge_hz: 230000.0e6"},
        {"centre_hz: 8400.5e6", "centre_hz: 230000.5e6"},
        {"centre_hz: 8400.5e6", "centre_hz: 230000.5e6"},
        {"centre_hz: 8400.5e6", "centre_hz: 230000.5e6"},
        {"centre_hz: 8400.5e6", "centre_hz: 230000.5e6"},
        {"correlation: 0.1, line", "correlation: 0.0, line"},
    };
    char *text = strdup(SKY);
    for (size_t i = 0; i < sizeof changes / sizeof *changes; i++) {
        char *const next = edited(text, changes[i][0], changes[i][1]);
        free(text);
        text = next;
    }
    wf_sky *const sky = load_sky(text);
    free(text);
    check_correlations(sky, 230000.5e6);
    wf_sky_destroy(sky);
}

/* Off the sky, between scans, a station hears its receiver alone: no correlation with itself at
 * other times is asked for here, only that the power stays 1. A component of the line is 0.1 at
 * its peak. sigma of 8 bits is 1/0.030762 steps, of 16 bits 2048; of either part of a complex
 * sample. */
static void the_power_is_one_on_and_off_the_sky(void **state)
{
    (void)state;
    wf_sky *const sky = load_sky(SKY);
    make(sky, 0, ".");
    make(sky, 2, ".");
    stream a = read_alder(1), b = read_cedar(1);
    const double step = 0.030762;
    /* Quantisation adds step^2/12 to either part. */
    wf_check_near("8 bits", power_between(&a, 0, 400000) * step * step / 2.0,
                  1.0 + step * step / 12.0, 5.0 / sqrt(400000.0), "");
    wf_check_near("16 bits", power_between(&b, 0, 400000) / 2048.0 / 2048.0 / 2.0, 1.0,
                  5.0 / sqrt(400000.0), "");
    wf_check_near("off the sky", power_between(&b, -900000, -500000) / 2048.0 / 2048.0 / 2.0, 1.0,
                  5.0 / sqrt(400000.0), "");
    free(a.z);
    free(b.z);
    wf_sky_destroy(sky);
}

/* Power of z between two baseband frequencies, by plain sums over segments of 200 samples. */
static double band_power(const stream *s, int low_line, int high_line)
{
    enum { N = 200 };
    double complex turn[N];
    for (int k = 0; k < N; k++)
        turn[k] = cexp(-2.0 * I * acos(-1.0) * k / N);
    double sum = 0.0;
    for (int64_t first = 0; first + N <= 400000; first += N)
        for (int line = low_line; line <= high_line; line++) {
            double complex x = 0.0;
            for (int k = 0; k < N; k++)
                x += at(s, first + k) * turn[((line * k) % N + N) % N];
            sum += creal(x * conj(x));
        }
    return sum;
}

/* The line at 8400.7 MHz is 0.2 MHz, 40 lines of 5 kHz, above the middle. Within a quarter of its
 * width on either side it has 0.9450 of its peak on average: (sqrt(pi)/2) erf(x)/x with
 * x = sqrt(ln 2)/2. The rest of the spectrum is 1 - 0.1 * 0.10645. */
static void the_line_stands_at_its_frequency(void **state)
{
    (void)state;
    wf_sky *const sky = load_sky(SKY);
    make(sky, 0, ".");
    make(sky, 2, ".");
    stream streams[] = {read_alder(4), read_cedar(0)};
    for (int i = 0; i < 2; i++) {
        const double on = band_power(&streams[i], 36, 44);
        const double off = band_power(&streams[i], -44, -36);
        /* 18 000 independent values each; the spread of a line's power over its neighbours by
         * the segments' 5 kHz takes 1 % of it. */
        wf_check_near("line over continuum", on / off, 1.0 + 0.1 * 0.9450 / (1.0 - 0.1 * 0.10645),
                      5.0 * sqrt(2.0 / 18000.0) + 0.001, "");
        free(streams[i].z);
    }
    wf_sky_destroy(sky);
}

/* Source: signal theory, fractions of a Gaussian beyond 0.98159 sigma, 0.1632 on either side
 * (Thompson, Moran and Swenson 2017, ch. 8); inner states 0.3368. */
static void two_bit_states_are_in_the_best_proportion(void **state)
{
    (void)state;
    wf_sky *const sky = load_sky(SKY);
    make(sky, 1, ".");
    size_t n_bytes;
    unsigned char *const bytes = whole_file("birch.vdif", &n_bytes);
    assert_int_equal(n_bytes % 1016, 0);
    double count[2][4] = {{0}};
    for (size_t at_frame = 0; at_frame < n_bytes; at_frame += 1016)
        for (size_t i = 16; i < 1016; i++)
            for (unsigned k = 0; k < 4; k++)
                count[k % 2][bytes[at_frame + i] >> (2 * k) & 3]++;
    const double n = (double)(n_bytes / 1016) * 2000.0;
    static const double want[] = {0.1632, 0.3368, 0.3368, 0.1632};
    for (int channel = 0; channel < 2; channel++)
        for (int i = 0; i < 4; i++)
            wf_check_near("fraction", count[channel][i] / n, want[i],
                          5.0 * sqrt(want[i] * (1.0 - want[i]) / n) + 5e-5, "");
    free(bytes);
    wf_sky_destroy(sky);
}

static void frames_follow_one_another(void **state)
{
    (void)state;
    wf_sky *const sky = load_sky(SKY);
    make(sky, 1, ".");
    size_t n_bytes;
    unsigned char *const bytes = whole_file("birch.vdif", &n_bytes);
    int64_t expected = sky->schedules[1].list[0].first / 2000;
    for (size_t at_frame = 0; at_frame < n_bytes; at_frame += 1016) {
        const unsigned char *const b = bytes + at_frame;
        const int64_t second = (int64_t)(b[0] | b[1] << 8 | b[2] << 16 | (b[3] & 0x3f) << 24);
        const int64_t frame = b[4] | b[5] << 8 | b[6] << 16;
        /* 2026-01-01 to noon of 2026-03-01 is 5140800 s. */
        const int64_t number = (second - 5140800 + noon_second()) * 1000 + frame;
        if (number != expected) /* once, between the scans */
            assert_int_equal(number, sky->schedules[1].list[1].first / 2000);
        assert_int_equal(b[12] | b[13] << 8, 'B' << 8 | 'i');
        expected = number + 1;
    }
    assert_int_equal(expected, sky->schedules[1].list[1].end / 2000);
    assert_int_equal(n_bytes / 1016, sky->schedules[1].n_samples / 2000);
    free(bytes);
    wf_sky_destroy(sky);
}

static void check_same(const char *path_a, const char *path_b, bool want)
{
    size_t n_a, n_b;
    unsigned char *const a = whole_file(path_a, &n_a), *const b = whole_file(path_b, &n_b);
    assert_int_equal(n_a, n_b);
    if ((memcmp(a, b, n_a) == 0) != want)
        fail_msg("%s and %s are %s", path_a, path_b, want ? "not the same" : "the same");
    free(a);
    free(b);
}

static void the_same_sky_gives_the_same_bytes(void **state)
{
    (void)state;
    assert_int_equal(mkdir("again", 0777), 0);
    assert_int_equal(mkdir("other", 0777), 0);
    wf_sky *const sky = load_sky(SKY);
    wf_sky *const again = load_sky(SKY);
    wf_sky *const other = load_edited("seed: 5", "seed: 6");
    static const char *const names[] = {"alder.vdif", "birch.vdif", "cedar.wav"};
    for (size_t i = 0; i < 3; i++) {
        make(sky, i, ".");
        make(again, 2 - i, "again");
    }
    for (size_t i = 0; i < 3; i++) {
        char path[32];
        snprintf(path, sizeof path, "again/%s", names[i]);
        check_same(names[i], path, true);
    }
    make(other, 0, "other");
    check_same("alder.vdif", "other/alder.vdif", false);
    wf_sky_destroy(sky);
    wf_sky_destroy(again);
    wf_sky_destroy(other);
}

typedef struct watcher {
    double last;
    int n_calls;
    int n_before_cancel;
} watcher;

static int watch(void *context, double fraction_done)
{
    watcher *const w = context;
    assert_true(fraction_done >= w->last && fraction_done <= 1.0);
    w->last = fraction_done;
    return ++w->n_calls > w->n_before_cancel;
}

static void progress_rises_to_one(void **state)
{
    (void)state;
    wf_sky *const sky = load_sky(SKY);
    for (size_t i = 0; i < 3; i++) {
        wf_error err = WF_ERROR_INIT;
        watcher w = {.n_before_cancel = 1000};
        wf_check_ok(wf_simulate_recording(sky, i, ".", watch, &w, &err), &err);
        assert_true(w.last == 1.0);
        assert_in_range(w.n_calls, 50, 110);
    }
    wf_sky_destroy(sky);
}

static void a_cancelled_recording_leaves_nothing(void **state)
{
    (void)state;
    wf_sky *const sky = load_sky(SKY);
    for (size_t i = 0; i < 3; i++)
        for (int n = 0; n < 40; n += 13) {
            wf_error err = WF_ERROR_INIT;
            watcher w = {.n_before_cancel = n};
            wf_check_refused(wf_simulate_recording(sky, i, ".", watch, &w, &err), WF_CANCELLED,
                             &err, "stopped on request");
            assert_int_equal(n_entries("."), 1);
        }
    wf_sky_destroy(sky);
}

static void what_cannot_be_made_is_told(void **state)
{
    (void)state;
    wf_sky *const sky = load_sky(SKY);
    wf_error err = WF_ERROR_INIT;
    wf_check_refused(wf_simulate_recording(sky, 3, ".", NULL, NULL, &err), WF_ARGUMENT, &err,
                     "there is no recording 3");
    err = (wf_error)WF_ERROR_INIT;
    wf_check_refused(wf_simulate_recording(sky, 0, "none", NULL, NULL, &err), WF_MISSING, &err,
                     "none/alder.vdif");
    err = (wf_error)WF_ERROR_INIT;
    wf_check_refused(wf_simulate_recording(sky, 2, "none", NULL, NULL, &err), WF_MISSING, &err,
                     "none/cedar.wav");
    wf_sky_destroy(sky);
}

/* 700 components in two streams of three cells each are 4200 rays. */
static void too_many_rays_are_refused(void **state)
{
    (void)state;
    char *const text = malloc(sizeof SKY + 100000);
    const char *const at = strstr(SKY, "    - {source: Teme, corr");
    memcpy(text, SKY, (size_t)(at - SKY));
    text[at - SKY] = '\0';
    for (int i = 0; i < 700; i++)
        strcat(text, "    - {source: Ousel, correlation: 0.0001}\n");
    char *const cut = edited(text,
                             "      - {centre_hz: 8400.5e6, sideband: lower, polarization: R, "
                             "channel: 0}\n",
                             "      - {centre_hz: 8400.8e6, sideband: lower, polarization: R, "
                             "channel: 0}\n");
    free(text);
    char *const more = edited(cut, "- {centre_hz: 8400.5e6, sideband: lower, polarization: L",
                              "- {centre_hz: 8400.3e6, sideband: lower, polarization: L");
    free(cut);
    wf_sky *const sky = load_sky(more);
    free(more);
    wf_error err = WF_ERROR_INIT;
    wf_check_refused(wf_simulate_recording(sky, 0, ".", NULL, NULL, &err), WF_UNSUPPORTED, &err,
                     "alder.vdif: 4200 combinations");
    assert_int_equal(n_entries("."), 1);
    wf_sky_destroy(sky);
}

static void a_lack_of_memory_is_told(void **state)
{
    (void)state;
#ifdef WFI_CHECKS
    char *const text = edited(SKY, "duration_s: 0.4}", "duration_s: 0.05}");
    wf_sky *const sky = load_sky(text);
    free(text);
    for (size_t i = 0; i < 3; i += 2) {
        wf_status status = WF_MEMORY;
        long n = 1;
        for (; status != WF_OK; n++) {
            wf_error err = WF_ERROR_INIT;
            wfi_memory_fail_after(n);
            status = wf_simulate_recording(sky, i, ".", NULL, NULL, &err);
            wfi_memory_fail_after(0);
            if (status != WF_OK) {
                wf_check_refused(status, WF_MEMORY, &err, "");
                assert_int_equal(n_entries("."), i == 0 ? 1 : 2);
            }
        }
        assert_true(n > 20);
    }
    wf_sky_destroy(sky);
#else
    skip();
#endif
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST_IN_FOLDER(a_long_baseline_has_its_phase_delay_and_strength),
        TEST_IN_FOLDER(millimetre_phases_hold_too),
        TEST_IN_FOLDER(the_power_is_one_on_and_off_the_sky),
        TEST_IN_FOLDER(the_line_stands_at_its_frequency),
        TEST_IN_FOLDER(two_bit_states_are_in_the_best_proportion),
        TEST_IN_FOLDER(frames_follow_one_another),
        TEST_IN_FOLDER(the_same_sky_gives_the_same_bytes),
        TEST_IN_FOLDER(progress_rises_to_one),
        TEST_IN_FOLDER(a_cancelled_recording_leaves_nothing),
        TEST_IN_FOLDER(what_cannot_be_made_is_told),
        TEST_IN_FOLDER(too_many_rays_are_refused),
        TEST_IN_FOLDER(a_lack_of_memory_is_told),
    };
    return cmocka_run_group_tests_name("simulate.simulate", tests, NULL, NULL);
}
