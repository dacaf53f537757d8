/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Memory that runs short anywhere on the way from a fringe to its events: said, and nothing lost.
 */
#include "support/check.h"

#include <base/memory.h>

#include "power_law.h"

enum { N = 64 };

/* All results of one run; what failed is NULL. */
typedef struct results {
    wf_fringe_series *mean;
    wf_coherence *coherence;
    wf_fringe_phase *phase;
    wf_allan *allan;
    wf_phase_events *events;
    wf_phase_spectrum *spectrum;
    wf_station_events *told;
} results;

static wf_status run(results *r, const wf_fringe_series *series, wf_error *err)
{
    wf_allan_station_point points[3];
    *r = (results){0};
    wf_status status = wf_fringe_series_average(&r->mean, series, 2, err);
    if (status == WF_OK)
        status = wf_coherence_measure(&r->coherence, series, err);
    if (status == WF_OK)
        status = wf_fringe_phase_create(&r->phase, series, err);
    if (status == WF_OK)
        status = wf_allan_measure(&r->allan, r->phase, err);
    if (status == WF_OK) {
        const wf_allan_baseline of[3] = {{0, 1, r->allan}, {0, 2, r->allan}, {1, 2, r->allan}};
        status = wf_allan_stations(points, 1, 3, of, 3, err);
    }
    if (status == WF_OK)
        status = wf_phase_events_find(&r->events, r->phase, 0.01, err);
    if (status == WF_OK)
        status = wf_phase_spectrum_measure(&r->spectrum, r->events->phase_rad, N, 1, 0.01, err);
    if (status == WF_OK) {
        const wf_event_baseline of[2] = {{0, 1, r->events, r->spectrum},
                                         {0, 2, r->events, r->spectrum}};
        status = wf_station_events_find(&r->told, of, 2, 1, err);
    }
    return status;
}

static void release(results *r)
{
    wf_fringe_series_destroy(r->mean);
    wf_coherence_destroy(r->coherence);
    wf_fringe_phase_destroy(r->phase);
    wf_allan_destroy(r->allan);
    wf_phase_events_destroy(r->events);
    wf_phase_spectrum_destroy(r->spectrum);
    wf_station_events_destroy(r->told);
}

static void every_failed_allocation_is_survived(void **state)
{
    (void)state;
#ifdef WFI_CHECKS
    double truth[N];
    for (size_t t = 0; t < N; t++)
        truth[t] = (t >= 30 ? 2.5 : 0) + 0.5 * sin(1.9 * (double)t);
    invented_series in = invented_series_create(truth, N, 0.02, 5);
    for (long n = 1;; n++) {
        wf_error err = WF_ERROR_INIT;
        results r;
        wfi_memory_fail_after(n);
        const wf_status status = run(&r, &in.series, &err);
        wfi_memory_fail_after(0);
        const bool whole = r.told != NULL;
        release(&r);
        if (status == WF_OK) {
            assert_true(whole);
            assert_in_range(n, 50, 500);
            break;
        }
        wf_check_refused(status, WF_MEMORY, &err, "out of memory");
    }
    invented_series_destroy(&in);
#else
    (void)run;
    (void)release;
    skip();
#endif
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_failed_allocation_is_survived),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
