/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Clocks from fringes: closed forms. */
#include "support/check.h"

#include <base/memory.h>
#include <delay/clock.h>
#include <search/clocks.h>

enum { N_STATIONS = 4, N_BASELINES = 6 };

/* Station clock minus UTC, term by term in long double: whole seconds first. */
static double ahead(const wf_clock *clock, wf_instant t, double later_s)
{
    const long double since_s = (long double)(t.second - clock->reference.second) +
                                ((long double)t.fraction - (long double)clock->reference.fraction) +
                                (long double)later_s;
    return (double)((long double)clock->ahead_s + (long double)clock->rate_s_per_s * since_s);
}

/* When the wave of `middle` arrives, tau_s later, the clock is off by the fringe's delay, and by
 * its rate more each second. 1e-15 s: clocks are
 * written to the femtosecond. */
static void mended_clock_is_the_old_one_and_the_fringe(void **state)
{
    (void)state;
    static const double ahead_s[] = {0, 1.25e-6, -95.123456789e-6, 0.9};
    static const double rates[] = {0, 2e-12, -0.9e-10, 1e-8};
    static const double taus_s[] = {0, 0.0213, -0.0167, 1.3};
    static const double delays_s[] = {0, 87.3e-6, -1e-12, 0.05};
    const wf_instant middle = {.second = 1500000731, .fraction = 0.7512345};
    for (size_t k = 0; k < 4 * 4 * 4 * 4; k++) {
        const wf_clock old = {
            {.second = 1500000000, .fraction = 0.25}, ahead_s[k % 4], rates[k / 4 % 4]};
        const double tau_s = taus_s[k / 16 % 4];
        const double delay_s = delays_s[k / 64];
        const double rate = rates[(k + 1) % 4];
        const wf_clock now = wfi_clock_mended(&old, middle, tau_s, delay_s, rate);
        assert_true(now.reference.second == middle.second);
        wf_check_near("rate", now.rate_s_per_s, old.rate_s_per_s + rate, 1e-24, "s/s");
        wf_check_near("at arrival", ahead(&now, middle, tau_s),
                      ahead(&old, middle, tau_s) + delay_s, 1e-15, "s");
        wf_check_near("later", ahead(&now, middle, 100 + tau_s),
                      ahead(&old, middle, 100 + tau_s) + delay_s + 100 * rate, 1e-15, "s");
        wf_check_near("model", wfi_clock_ahead_s(&now, middle, tau_s), ahead(&now, middle, tau_s),
                      1e-15, "s");
    }
}

static wf_search_baseline baseline(size_t i, size_t j, double delay_s, double rate)
{
    return (wf_search_baseline){.i_station = i,
                                .j_station = j,
                                .found = true,
                                .fit = {.delay_s = delay_s,
                                        .delay_error_s = 1e-11,
                                        .single_band_delay_s = delay_s + 3e-9,
                                        .single_band_delay_error_s = 1e-9,
                                        .delay_ambiguity_s = 0,
                                        .rate_s_per_s = rate,
                                        .rate_error_s_per_s = 1e-14}};
}

static void ambiguous_delays_are_not_believed(void **state)
{
    (void)state;
    wf_search_baseline b = baseline(0, 1, 5e-6, 0);
    wf_check_near("one band", wfi_clock_measure(&b).value, 5e-6, 0, "s");
    /* Half an ambiguity has to be five errors of the single-band delay: 10 ns. */
    b.fit.delay_ambiguity_s = 10.1e-9;
    wf_check_near("clear", wfi_clock_measure(&b).value, 5e-6, 0, "s");
    b.fit.delay_ambiguity_s = 9.9e-9;
    wf_check_near("not clear", wfi_clock_measure(&b).value, 5.003e-6, 1e-18, "s");
    wf_check_near("its error", wfi_clock_measure(&b).error, 1e-9, 0, "s");
    assert_false(wfi_clock_measure(&b).excluded);
    b.fit.single_band_delay_error_s = INFINITY;
    assert_true(wfi_clock_measure(&b).excluded);
    b = baseline(0, 1, 5e-6, 0);
    b.found = false;
    assert_true(wfi_clock_measure(&b).excluded);
}

static const double DELAYS_S[N_STATIONS] = {12e-6, -87e-6, 43e-6, 0.5e-6};
static const double RATES[N_STATIONS] = {1e-12, -8e-11, 9e-11, 0};

static void invent(wf_search_baseline baselines[N_BASELINES])
{
    size_t k = 0;
    for (size_t i = 0; i < N_STATIONS; i++)
        for (size_t j = i + 1; j < N_STATIONS; j++)
            baselines[k++] = baseline(i, j, DELAYS_S[i] - DELAYS_S[j], RATES[i] - RATES[j]);
}

static void clocks_come_from_all_baselines(void **state)
{
    (void)state;
    wf_search_baseline baselines[N_BASELINES];
    invent(baselines);
    wf_error err = WF_ERROR_INIT;
    for (size_t reference = 0; reference < N_STATIONS; reference++) {
        wfi_clock_solution got;
        wf_check_ok(wfi_clocks_solve(&got, baselines, N_BASELINES, N_STATIONS, reference, &err),
                    &err);
        for (size_t i = 0; i < N_STATIONS; i++) {
            wf_check_near("delay", got.delay_s[i].value, DELAYS_S[i] - DELAYS_S[reference], 1e-18,
                          "s");
            wf_check_near("rate", got.rate_s_per_s[i].value, RATES[i] - RATES[reference], 1e-23,
                          "s/s");
            /* n equal stations, all baselines, one held: the error of a difference is
             * sqrt(2 / n) of one baseline's (normal equations n I - 1). */
            wf_check_near("error", got.delay_s[i].error,
                          i == reference ? 0 : 1e-11 * sqrt(2.0 / N_STATIONS), 1e-16, "s");
        }
        for (size_t k = 0; k < N_BASELINES; k++)
            wf_check_near("left", got.delay_residual_sigma[k], 0, 1e-6, "sigma");
        wf_check_near("chi2", got.delay_chi2, 0, 1e-9, "");
        wfi_clock_solution_release(&got);
    }
}

/* One fringe at a wrong delay, contradicted by the others, and a station that nobody sees. */
static void contradictions_are_left_out(void **state)
{
    (void)state;
    wf_search_baseline baselines[N_BASELINES];
    invent(baselines);
    wf_error err = WF_ERROR_INIT;
    wfi_clock_solution got;
    baselines[3].fit.delay_s += 1e-6; /* stations 1 and 2 */
    wf_check_ok(wfi_clocks_solve(&got, baselines, N_BASELINES, N_STATIONS, 0, &err), &err);
    for (size_t i = 0; i < N_STATIONS; i++)
        wf_check_near("delay", got.delay_s[i].value, DELAYS_S[i] - DELAYS_S[0], 1e-18, "s");
    wf_check_near("left", got.delay_residual_sigma[3], 1e5, 1, "sigma");
    wfi_clock_solution_release(&got);
    for (size_t k = 0; k < N_BASELINES; k++) {
        if (baselines[k].j_station == 3)
            baselines[k] = (wf_search_baseline){.i_station = baselines[k].i_station,
                                                .j_station = 3,
                                                .fit = {.delay_error_s = INFINITY}};
    }
    wf_check_ok(wfi_clocks_solve(&got, baselines, N_BASELINES, N_STATIONS, 0, &err), &err);
    assert_false(got.delay_s[3].solved);
    assert_true(got.delay_s[2].solved);
    wfi_clock_solution_release(&got);
}

static void every_failed_allocation_is_survived(void **state)
{
    (void)state;
#ifdef WFI_CHECKS
    wf_search_baseline baselines[N_BASELINES];
    invent(baselines);
    for (long n = 1;; n++) {
        wf_error err = WF_ERROR_INIT;
        wfi_clock_solution got;
        wfi_memory_fail_after(n);
        const wf_status status =
            wfi_clocks_solve(&got, baselines, N_BASELINES, N_STATIONS, 0, &err);
        wfi_memory_fail_after(0);
        if (status == WF_OK) {
            wfi_clock_solution_release(&got);
            assert_true(n > 5);
            break;
        }
        wf_check_refused(status, WF_MEMORY, &err, "out of memory");
        assert_null(got.delay_s);
    }
#else
    skip();
#endif
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(mended_clock_is_the_old_one_and_the_fringe),
        cmocka_unit_test(ambiguous_delays_are_not_believed),
        cmocka_unit_test(clocks_come_from_all_baselines),
        cmocka_unit_test(contradictions_are_left_out),
        cmocka_unit_test(every_failed_allocation_is_survived),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
