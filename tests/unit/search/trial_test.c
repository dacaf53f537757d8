/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A stretch of a scan for a window of delays and rates: expected values by hand, from what a window
 * asks for: a segment of four windows, a quarter of a turn within an integration. */
#include "support/check.h"

#include <base/memory.h>
#include <complex.h>
#include <search/trial.h>

enum { N_STATIONS = 3, N_RECORDINGS = 2 };

typedef struct invented {
    wf_observation observation;
    wf_station stations[N_STATIONS];
    wf_scan scan;
    wf_band bands[2];
    wf_recording_entry recordings[N_RECORDINGS];
    bool takes_part[N_STATIONS];
    wf_clock clocks[N_STATIONS];
    int64_t rates_hz[N_RECORDINGS];
    wf_product products[4];
    wfi_trial_setup setup;
} invented;

static const wf_instant START = {.second = 1000};

static void invent(invented *in)
{
    *in = (invented){
        .scan = {.name = "S01", .start = START, .duration_s = 60},
        .bands = {{"low", 8400e6, 4e6, WF_SIDEBAND_UPPER},
                  {"high", 8408e6, 4e6, WF_SIDEBAND_LOWER}},
        .takes_part = {true, true, true},
        .rates_hz = {8000000, 4000000},
        .products = {{WF_POLARIZATION_R, WF_POLARIZATION_R},
                     {WF_POLARIZATION_L, WF_POLARIZATION_L}},
    };
    in->observation = (wf_observation){
        .stations = in->stations,
        .n_stations = N_STATIONS,
        .scans = &in->scan,
        .n_scans = 1,
        .bands = in->bands,
        .n_bands = 2,
        .recordings = in->recordings,
        .n_recordings = N_RECORDINGS,
        .correlation = {.n_channels = 160, .integration_s = 0.5, .n_products = 1},
        .kurtosis_flag_sigma = 5,
    };
    for (size_t i = 0; i < N_STATIONS; i++)
        in->clocks[i] = (wf_clock){START, 1e-6 * (double)(i + 1), 0};
    in->setup = (wfi_trial_setup){
        .span = {wf_instant_add(START, 4), wf_instant_add(START, 24)},
        .length_s = 1,
        .window_delay_s = 100e-6,
        .window_rate_s_per_s = 1e-10,
        .stations = in->takes_part,
        .clocks = in->clocks,
        .sample_rates_hz = in->rates_hz,
        .products = in->products,
        .n_products = 2,
    };
}

static wfi_trial create(const invented *in)
{
    wf_error err = WF_ERROR_INIT;
    wfi_trial trial;
    wf_check_ok(wfi_trial_create(&trial, &in->observation, &in->setup, &err), &err);
    return trial;
}

static size_t channels(const invented *in)
{
    wfi_trial trial = create(in);
    const size_t n = trial.observation.correlation.n_channels;
    wfi_trial_release(&trial);
    return n;
}

static void channels_are_as_many_as_the_window_asks(void **state)
{
    (void)state;
    invented in;
    invent(&in);
    /* 4 MHz / n <= 1 / (4 * 100 us) = 2.5 kHz: of 160, 320 ... the first is 2560 (1.5625 kHz). */
    assert_int_equal(channels(&in), 2560);
    /* 250 kHz would do: 160, then 80 of 50 kHz; 40 are fewer than the least, 64. */
    in.setup.window_delay_s = 1e-6;
    assert_int_equal(channels(&in), 80);
    /* A segment of 100 kHz channels would be 80.5 samples at 8.05 MHz; of 50 kHz it is 161. */
    for (size_t b = 0; b < 2; b++)
        in.bands[b].bandwidth_hz = 8e6;
    in.observation.correlation.n_channels = 640;
    in.rates_hz[0] = 8050000;
    assert_int_equal(channels(&in), 160);
    /* Never more than 2^20, in steps of two from the job's. */
    invent(&in);
    in.setup.window_delay_s = 1;
    in.setup.length_s = 20;
    assert_int_equal(channels(&in), 160 * 4096);
}

static void integrations_resolve_the_rates(void **state)
{
    (void)state;
    invented in;
    invent(&in);
    const double segment_s = 2560 / 4e6;
    /* 1 / 16 s holds 97 segments; a rate of 1e-10 needs no shorter ones: 0.25 / 0.84 s. */
    wfi_trial trial = create(&in);
    wf_check_near("interval", trial.observation.correlation.integration_s, 97 * segment_s, 1e-15,
                  "s");
    assert_int_equal(trial.n_times, 16);
    wf_check_near("rate", trial.window_rate_s_per_s, 1e-10, 0, "s/s");
    assert_true(trial.observation.kurtosis_flag_sigma == 0);
    wfi_trial_release(&trial);
    /* 1e-8 turns 8408 MHz by a quarter in 0.25 / 84.08 s = 2.973 ms: 4 segments. */
    in.setup.window_rate_s_per_s = 1e-8;
    trial = create(&in);
    wf_check_near("interval", trial.observation.correlation.integration_s, 4 * segment_s, 1e-15,
                  "s");
    wfi_trial_release(&trial);
    /* One segment resolves rates up to half a turn, less the outermost 2 %. */
    in.setup.window_rate_s_per_s = 1e-6;
    trial = create(&in);
    wf_check_near("interval", trial.observation.correlation.integration_s, segment_s, 1e-15, "s");
    wf_check_near("rate", trial.window_rate_s_per_s, 0.98 * 0.5 / (segment_s * 8408e6), 1e-20,
                  "s/s");
    wfi_trial_release(&trial);
}

static void stretch_is_the_middle_of_the_span(void **state)
{
    (void)state;
    invented in;
    invent(&in);
    for (double length_s = 1; length_s < 40; length_s *= 3) {
        in.setup.length_s = length_s;
        wfi_trial trial = create(&in);
        const double since_s = wf_instant_difference_s(trial.scan.start, in.setup.span.start);
        const double whole_s = (double)trial.n_times * trial.observation.correlation.integration_s;
        wf_check_near("length", trial.scan.duration_s, whole_s, 1e-12, "s");
        assert_true(whole_s <= 20 && whole_s > 0.9 * fmin(length_s, 20));
        wf_check_near("start", since_s, 0.5 * (20 - whole_s), 1.001e-3, "s");
        assert_true(since_s >= 0);
        assert_int_equal(trial.observation.n_scans, 1);
        wfi_trial_release(&trial);
    }
}

static void memory_bounds_a_long_stretch(void **state)
{
    (void)state;
    invented in;
    invent(&in);
    in.scan.duration_s = 5000;
    in.setup.span.stop = wf_instant_add(START, 4004);
    in.setup.length_s = 4000;
    in.setup.window_delay_s = 10e-3;
    in.setup.window_rate_s_per_s = 1e-9;
    wfi_trial trial = create(&in);
    /* 3 baselines, 2 products, 2 bands */
    const double bytes =
        12.0 * (double)trial.observation.correlation.n_channels * (double)sizeof(float complex);
    assert_true((double)trial.n_times * bytes <= (double)wfi_trial_bytes_max);
    assert_true((double)(trial.n_times + 1) * bytes > (double)wfi_trial_bytes_max);
    wfi_trial_release(&trial);
    /* Two stations take a third of it. */
    in.takes_part[2] = false;
    const size_t n_before = trial.n_times;
    trial = create(&in);
    assert_in_range(trial.n_times, 3 * n_before - 2, 3 * n_before + 3);
    wfi_trial_release(&trial);
}

static void clocks_and_bands_are_those_asked_for(void **state)
{
    (void)state;
    invented in;
    invent(&in);
    in.setup.first_band_only = true;
    wfi_trial trial = create(&in);
    assert_int_equal(trial.observation.n_bands, 1);
    assert_int_equal(trial.observation.correlation.n_products, 2);
    for (size_t i = 0; i < N_STATIONS; i++)
        wf_check_near("clock", trial.observation.stations[i].clock.ahead_s, 1e-6 * (double)(i + 1),
                      0, "s");
    assert_true(in.stations[1].clock.ahead_s == 0);
    wfi_trial_release(&trial);
}

static void widest_window_is_what_one_trial_spans(void **state)
{
    (void)state;
    invented in;
    invent(&in);
    const wf_observation *o = &in.observation;
    /* 40960 channels: a segment of 10.24 ms, a quarter of it; 655360 channels */
    wf_check_near("widest", wfi_trial_widest_delay_s(o, 1, 20, false), 2.56e-3, 1e-15, "s");
    wf_check_near("coarse", wfi_trial_widest_delay_s(o, 1, 20, true), 40.96e-3, 1e-15, "s");
    /* eight segments in 0.1 s: 12.5 ms; of 160 channels 40 us * 2^8 = 10.24 ms */
    wf_check_near("short span", wfi_trial_widest_delay_s(o, 1, 0.1, true), 2.56e-3, 1e-15, "s");
    wf_check_near("as asked", wfi_trial_widest_delay_s(o, 20e-6, 20, false), 20e-6, 0, "s");
}

static void span_without_a_segment_is_refused(void **state)
{
    (void)state;
    invented in;
    invent(&in);
    wf_error err = WF_ERROR_INIT;
    wfi_trial trial;
    in.setup.span.stop = wf_instant_add(in.setup.span.start, 0.6e-3);
    wf_check_refused(wfi_trial_create(&trial, &in.observation, &in.setup, &err), WF_RANGE, &err,
                     "narrow the window");
    assert_non_null(strstr(err.message, "S01"));
    wfi_trial_release(&trial);
}

static void short_memory_is_reported(void **state)
{
    (void)state;
#ifdef WFI_CHECKS
    invented in;
    invent(&in);
    wf_error err = WF_ERROR_INIT;
    wfi_trial trial;
    wfi_memory_fail_after(1);
    const wf_status status = wfi_trial_create(&trial, &in.observation, &in.setup, &err);
    wfi_memory_fail_after(0);
    wf_check_refused(status, WF_MEMORY, &err, "out of memory");
    wfi_trial_release(&trial);
#else
    skip();
#endif
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(channels_are_as_many_as_the_window_asks),
        cmocka_unit_test(integrations_resolve_the_rates),
        cmocka_unit_test(stretch_is_the_middle_of_the_span),
        cmocka_unit_test(memory_bounds_a_long_stretch),
        cmocka_unit_test(clocks_and_bands_are_those_asked_for),
        cmocka_unit_test(widest_window_is_what_one_trial_spans),
        cmocka_unit_test(span_without_a_segment_is_refused),
        cmocka_unit_test(short_memory_is_reported),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
