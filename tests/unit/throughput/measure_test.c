/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/check.h"

#include <string.h>
#include <whitefringe/throughput.h>

/* A clock that goes on by a millisecond whenever it is read: what is measured then takes the same
 * time on every machine. */
static double ticks;

static double tick_s(void)
{
    return 1e-3 * ++ticks;
}

static int calls_left;

static int cancel_soon(void)
{
    return calls_left-- <= 0;
}

static wf_throughput_setup small(void)
{
    wf_throughput_setup setup = wf_throughput_setup_default();
    setup.n_channels = 16;
    setup.sample_rate_hz = 1000000;
    setup.integration_s = 0.001024;
    return setup;
}

static wf_throughput_options few_milliseconds(void)
{
    return (wf_throughput_options){.n_threads = 1, .budget_s = 0.1, .now_s = tick_s};
}

static void check_row(const wf_throughput_row *row, size_t n_stations, double rate_hz)
{
    assert_int_equal(row->n_stations, n_stations);
    assert_int_equal(row->n_streams, 2 * n_stations);
    assert_true(row->measured);
    assert_true(row->stream_rate_hz > 0);
    wf_check_near("real time", row->real_time, row->stream_rate_hz / rate_hz,
                  1e-12 * row->real_time, "");
}

static void figures_belong_together(void **state)
{
    (void)state;
    wf_error err = WF_ERROR_INIT;
    const wf_throughput_setup setup = small();
    const wf_throughput_options options = few_milliseconds();
    wf_throughput t;
    wf_check_ok(wf_throughput_measure(&t, &setup, NULL, &options, &err), &err);
    check_row(&t.own, 2, 1e6);
    for (size_t i = 0; i < WF_THROUGHPUT_ROWS; i++)
        check_row(&t.rows[i], (size_t)2 << i, 1e6);
    double sum = 0;
    for (int i = 0; i < WF_N_STAGES; i++) {
        assert_true(t.stage_share[i] >= 0);
        sum += t.stage_share[i];
    }
    wf_check_near("sum of the shares", sum, 1, 1e-12, "");
    /* The definition: bare transforms of 4 streams of 32 samples, and 3 baselines x 4 products x
     * 16 channels of 8 operations, over the time of a segment. */
    const double limit_s = 4 * 32 / t.fft_samples_per_s + 3 * 4 * 16 * 8 / t.fma_flops_per_s;
    const double segment_s = 32 / t.own.stream_rate_hz;
    wf_check_near("fraction of the limit", t.own.fraction_of_limit, limit_s / segment_s,
                  1e-9 * t.own.fraction_of_limit, "");
    assert_false(t.disk.measured);
}

/* Two-bit real samples in transforms that batches serve go in them where the kernels have them;
 * other samples go segment by segment. */
static void stages_are_those_of_the_route(void **state)
{
    (void)state;
    for (unsigned bits = 2; bits <= 4; bits += 2) {
        wf_error err = WF_ERROR_INIT;
        wf_throughput_setup setup = small();
        const wf_throughput_options options = few_milliseconds();
        wf_throughput t;
        setup.bits = bits;
        setup.n_channels = 128;
        wf_check_ok(wf_throughput_measure(&t, &setup, NULL, &options, &err), &err);
        const bool in_batches = bits == 2 && strcmp(t.kernels, "avx512") == 0;
        const wf_throughput_stage taken[] = {in_batches ? WF_STAGE_EARLY : WF_STAGE_TRANSFORM,
                                             in_batches ? WF_STAGE_LATE : WF_STAGE_PHASE};
        const wf_throughput_stage left[] = {in_batches ? WF_STAGE_TRANSFORM : WF_STAGE_EARLY,
                                            in_batches ? WF_STAGE_PHASE : WF_STAGE_LATE};
        for (int i = 0; i < 2; i++) {
            assert_true(t.stage_share[taken[i]] > 0);
            assert_true(t.stage_share[left[i]] == 0);
        }
        assert_int_equal(t.stage_share[WF_STAGE_UNPACK] > 0, !in_batches);
    }
}

/* The sums of the whole scene take one tick here, normalising them another: 32 segments in 2 ms. */
static void a_segment_takes_its_share_of_a_tick(void **state)
{
    (void)state;
    wf_error err = WF_ERROR_INIT;
    const wf_throughput_setup setup = small();
    const wf_throughput_options options = few_milliseconds();
    wf_throughput t;
    wf_check_ok(wf_throughput_measure(&t, &setup, NULL, &options, &err), &err);
    wf_check_near("samples a second of a stream", t.own.stream_rate_hz, 32 * 32 / 2e-3, 1e-3, "Hz");
}

static void two_threads_share_the_work(void **state)
{
    (void)state;
    wf_error err = WF_ERROR_INIT;
    const wf_throughput_setup setup = small();
    wf_throughput_options options = few_milliseconds();
    options.n_threads = 2;
    wf_throughput t;
    wf_check_ok(wf_throughput_measure(&t, &setup, NULL, &options, &err), &err);
    assert_int_equal(t.n_threads, 2);
    wf_check_near("samples a second of a stream", t.own.stream_rate_hz, 2 * 32 * 32 / 2e-3, 1e-3,
                  "Hz");
}

static void set_ups_that_cannot_be_are_refused(void **state)
{
    (void)state;
    const wf_throughput_options options = few_milliseconds();
    const struct {
        wf_throughput_setup setup;
        const char *text;
    } cases[] = {
        {{.n_stations = 0}, "0 stations"},
        {{.n_stations = 2, .n_channels = 0}, "0 channels"},
        {{.n_stations = 2, .n_channels = 16, .n_bands = 1, .bits = 3}, "3 bits"},
        {{.n_stations = 2,
          .n_channels = 16,
          .n_bands = 1,
          .bits = 2,
          .n_polarizations = 1,
          .n_products = 4},
         "1 polarizations and 4 products"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        wf_error err = WF_ERROR_INIT;
        wf_throughput t;
        wf_check_refused(wf_throughput_measure(&t, &cases[i].setup, NULL, &options, &err),
                         WF_ARGUMENT, &err, cases[i].text);
    }
}

static void request_to_stop_is_heard(void **state)
{
    (void)state;
    const wf_throughput_setup setup = small();
    wf_throughput_options options = few_milliseconds();
    options.cancelled = cancel_soon;
    for (int n = 0; n < 4; n++) {
        wf_error err = WF_ERROR_INIT;
        wf_throughput t;
        calls_left = n;
        wf_check_refused(wf_throughput_measure(&t, &setup, NULL, &options, &err), WF_CANCELLED,
                         &err, "stopped");
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(figures_belong_together),
        cmocka_unit_test(stages_are_those_of_the_route),
        cmocka_unit_test(a_segment_takes_its_share_of_a_tick),
        cmocka_unit_test(two_threads_share_the_work),
        cmocka_unit_test(set_ups_that_cannot_be_are_refused),
        cmocka_unit_test(request_to_stop_is_heard),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
