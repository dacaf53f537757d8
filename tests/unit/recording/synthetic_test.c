/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/check.h"

#include "recording/synthetic.h"

enum { PERIOD = 64, CAPACITY = 300 };

static wfi_synthetic two_bit(void)
{
    return (wfi_synthetic){
        .sample_rate_hz = 1000,
        .format = {WF_ENCODING_OFFSET_BINARY, 2, false, 1},
        .n_threads = 2,
        .period = PERIOD,
        .seed = 7,
    };
}

static unsigned code_of(const wf_packed *packed, int64_t sample)
{
    const int64_t k = sample - packed->first;
    return packed->bytes[k / 4] >> (2 * (k % 4)) & 3u;
}

typedef struct opened {
    wf_recording *recording;
    wf_window *window;
} opened;

static opened open_two_bit(void)
{
    wf_error err = WF_ERROR_INIT;
    opened made = {0};
    const wfi_synthetic setup = two_bit();
    wf_check_ok(wfi_synthetic_open(&made.recording, &setup, &err), &err);
    wf_check_ok(wf_window_create(&made.window, made.recording, CAPACITY, &err), &err);
    return made;
}

static void close_opened(opened *made)
{
    wf_window_destroy(made->window);
    wf_recording_close(made->recording);
}

static void first_period(opened *made, size_t i_thread, unsigned codes[PERIOD])
{
    wf_check_ok(wf_window_load(made->window, 0, PERIOD, NULL), NULL);
    for (int64_t i = 0; i < PERIOD; i++)
        codes[i] = code_of(wf_window_thread(made->window, i_thread), i);
}

/* By definition: sample s is sample s modulo the period, before the origin too. */
static void samples_begin_anew_after_a_period(void **state)
{
    (void)state;
    opened made = open_two_bit();
    static const wf_sample_range ranges[] = {{0, 64},     {5, 1},         {60, 9}, {-3, 10},
                                             {-200, 300}, {1000003, 299}, {64, 64}};
    for (size_t t = 0; t < 2; t++) {
        unsigned codes[PERIOD];
        first_period(&made, t, codes);
        for (size_t r = 0; r < sizeof ranges / sizeof ranges[0]; r++) {
            wf_check_ok(wf_window_load(made.window, ranges[r].first, ranges[r].n, NULL), NULL);
            const wf_packed *packed = wf_window_thread(made.window, t);
            const int64_t end = ranges[r].first + ranges[r].n;
            assert_true(packed->first <= ranges[r].first && packed->first + packed->n >= end);
            assert_int_equal(packed->n_invalid, 0);
            for (int64_t s = ranges[r].first; s < end; s++)
                assert_int_equal(code_of(packed, s), codes[(s % PERIOD + PERIOD) % PERIOD]);
        }
    }
    close_opened(&made);
}

static void threads_hold_different_samples(void **state)
{
    (void)state;
    opened made = open_two_bit();
    unsigned first[PERIOD];
    unsigned second[PERIOD];
    first_period(&made, 0, first);
    first_period(&made, 1, second);
    assert_memory_not_equal(first, second, sizeof first);
    close_opened(&made);
}

static void periods_of_broken_bytes_are_refused(void **state)
{
    (void)state;
    wf_error err = WF_ERROR_INIT;
    wfi_synthetic setup = two_bit();
    wf_recording *recording = NULL;
    setup.period = 60;
    wf_check_refused(wfi_synthetic_open(&recording, &setup, &err), WF_ARGUMENT, &err,
                     "multiple of 8");
    assert_null(recording);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(samples_begin_anew_after_a_period),
        cmocka_unit_test(threads_hold_different_samples),
        cmocka_unit_test(periods_of_broken_bytes_are_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
