/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Which stations go together: connected by fringes, crossed against each other, stronger than the
 * others; and a job of some stations alone. */
#include "support/check.h"

#include <base/memory.h>
#include <search/crossed.h>
#include <search/detect.h>
#include <search/strength.h>
#include <search/subset.h>

enum { N = 5, N_BASELINES = N * (N - 1) / 2 };

typedef struct invented {
    wf_search_result result;
    wf_search_station stations[N];
    wf_search_baseline baselines[N_BASELINES];
} invented;

/* All baselines found. Crossed stations have their power in RL and LR with the others. */
static void invent(invented *in, const bool crossed[N], const double gains[N])
{
    *in = (invented){.result = {.n_stations = N,
                                .n_baselines = N_BASELINES,
                                .n_products = 4,
                                .products = {{WF_POLARIZATION_R, WF_POLARIZATION_R},
                                             {WF_POLARIZATION_L, WF_POLARIZATION_L},
                                             {WF_POLARIZATION_R, WF_POLARIZATION_L},
                                             {WF_POLARIZATION_L, WF_POLARIZATION_R}}}};
    in->result.stations = in->stations;
    in->result.baselines = in->baselines;
    size_t k = 0;
    for (size_t i = 0; i < N; i++)
        for (size_t j = i + 1; j < N; j++) {
            wf_search_baseline *b = &in->baselines[k++];
            const bool is_crossed = crossed[i] != crossed[j];
            *b = (wf_search_baseline){.i_station = i,
                                      .j_station = j,
                                      .found = true,
                                      .fit = {.amplitude = gains[i] * gains[j]}};
            for (size_t p = 0; p < 4; p++)
                b->product_snr[p] = is_crossed == (p >= 2) ? 30 : 6; /* leakage */
        }
}

static const double EQUAL[N] = {0.2, 0.2, 0.2, 0.2, 0.2};
static const bool NONE[N];

/* Between linear and circular feeds |<x_R conj(x_X)>|^2 is half of |<x_R conj(x_R)>|^2, in all four
 * products (Thompson, Moran, Swenson 2017, 3rd ed., section 4.7). */
static void feeds_of_the_other_kind_show_in_all_products(void **state)
{
    (void)state;
    static const bool none[N] = {false};
    invented in;
    invent(&in, none, EQUAL);
    in.result.i_reference = 0;
    for (size_t k = 0; k < in.result.n_baselines; k++) {
        wf_search_baseline *b = &in.result.baselines[k];
        if (b->i_station == 2 || b->j_station == 2)
            for (size_t p = 0; p < WF_SEARCH_PRODUCTS_MAX; p++)
                b->product_snr[p] = 21;
    }
    wf_error err = WF_ERROR_INIT;
    wf_check_ok(wfi_mark_crossed(&in.result, &err), &err);
    for (size_t i = 0; i < N; i++) {
        assert_int_equal(in.stations[i].is_mixed, i == 2);
        assert_false(in.stations[i].is_crossed);
    }
}

static void smaller_group_is_the_crossed_one(void **state)
{
    (void)state;
    static const struct {
        bool truth[N];
        size_t reference;
        bool marked[N];
    } cases[] = {
        {{false, false, false, false, false}, 0, {false, false, false, false, false}},
        {{false, true, false, false, false}, 0, {false, true, false, false, false}},
        {{true, false, false, false, false}, 0, {true, false, false, false, false}},
        {{true, true, false, true, true}, 1, {false, false, true, false, false}},
        {{true, false, true, false, false}, 4, {true, false, true, false, false}},
        {{true, true, true, true, true}, 2, {false, false, false, false, false}},
    };
    for (size_t k = 0; k < sizeof cases / sizeof cases[0]; k++) {
        wf_error err = WF_ERROR_INIT;
        invented in;
        invent(&in, cases[k].truth, EQUAL);
        in.result.i_reference = cases[k].reference;
        wf_check_ok(wfi_mark_crossed(&in.result, &err), &err);
        for (size_t i = 0; i < N; i++)
            assert_int_equal(in.stations[i].is_crossed, cases[k].marked[i]);
    }
}

/* Of two stations the reference is believed; one that no fringe reaches is not judged. */
static void equal_groups_leave_the_reference(void **state)
{
    (void)state;
    static const bool crossed[N] = {true, false, false, false, true};
    for (size_t reference = 0; reference < 2; reference++) {
        wf_error err = WF_ERROR_INIT;
        invented in;
        invent(&in, crossed, EQUAL);
        for (size_t k = 0; k < N_BASELINES; k++)
            in.baselines[k].found =
                in.baselines[k].i_station == 0 && in.baselines[k].j_station == 1;
        in.result.i_reference = reference;
        wf_check_ok(wfi_mark_crossed(&in.result, &err), &err);
        assert_int_equal(in.stations[0].is_crossed, reference == 1);
        assert_int_equal(in.stations[1].is_crossed, reference == 0);
        for (size_t i = 2; i < N; i++)
            assert_false(in.stations[i].is_crossed);
    }
}

static void fringes_connect_stations(void **state)
{
    (void)state;
    invented in;
    invent(&in, NONE, EQUAL);
    size_t group[N];
    wfi_connect(group, N, in.baselines, N_BASELINES);
    for (size_t i = 0; i < N; i++)
        assert_int_equal(group[i], 0);
    for (size_t k = 0; k < N_BASELINES; k++) {
        wf_search_baseline *b = &in.baselines[k];
        b->found = (b->i_station == 1 && b->j_station == 4) ||
                   (b->i_station == 2 && b->j_station == 4) ||
                   (b->i_station == 0 && b->j_station == 3);
    }
    wfi_connect(group, N, in.baselines, N_BASELINES);
    static const size_t want[N] = {0, 1, 1, 0, 1};
    for (size_t i = 0; i < N; i++)
        assert_int_equal(group[i], want[i]);
    wfi_connect(group, N, in.baselines, 0);
    for (size_t i = 0; i < N; i++)
        assert_int_equal(group[i], i);
}

/* The amplitude of a point source is the product of the stations' gains: one station of 0.3 of the
 * others is named with 0.3, whatever the source. */
static void strength_is_the_gain_over_the_median(void **state)
{
    (void)state;
    static const double gains[N] = {0.2, 0.06, 0.2, 0.24, 0.2};
    wf_error err = WF_ERROR_INIT;
    invented in;
    invent(&in, NONE, gains);
    wf_check_ok(wfi_mark_strength(&in.result, &err), &err);
    for (size_t i = 0; i < N; i++)
        wf_check_near("strength", in.stations[i].strength, gains[i] / 0.2, 1e-12, "");
    /* Two stations have no triangle. */
    for (size_t k = 0; k < N_BASELINES; k++)
        in.baselines[k].found = k == 0;
    wf_check_ok(wfi_mark_strength(&in.result, &err), &err);
    for (size_t i = 0; i < N; i++)
        assert_true(isnan(in.stations[i].strength));
}

static void some_stations_alone(void **state)
{
    (void)state;
    static const bool takes_part[2][3] = {{true, true, false}, {true, true, true}};
    static const bool kept[3] = {true, false, true};
    const wf_scan scans[2] = {{.name = "S01", .station_takes_part = takes_part[0]},
                              {.name = "S02", .station_takes_part = takes_part[1]}};
    const wf_recording_entry recordings[4] = {
        {.i_station = 0}, {.i_station = 1}, {.i_station = 1}, {.i_station = 2}};
    const wf_observation whole = {
        .n_stations = 3, .scans = scans, .n_scans = 2, .recordings = recordings, .n_recordings = 4};
    wf_error err = WF_ERROR_INIT;
    wfi_subset subset;
    wf_check_ok(wfi_subset_create(&subset, &whole, kept, &err), &err);
    assert_int_equal(subset.observation.n_stations, 3);
    assert_int_equal(subset.observation.n_recordings, 2);
    assert_int_equal(subset.observation.recordings[0].i_station, 0);
    assert_int_equal(subset.observation.recordings[1].i_station, 2);
    for (size_t s = 0; s < 2; s++)
        for (size_t i = 0; i < 3; i++)
            assert_int_equal(subset.observation.scans[s].station_takes_part[i],
                             takes_part[s][i] && kept[i]);
    assert_string_equal(subset.observation.scans[1].name, "S02");
    wfi_subset_release(&subset);
}

#ifdef WFI_CHECKS
static wf_status all(wf_error *err)
{
    static const bool kept[1] = {true};
    const wf_observation whole = {.n_stations = 1};
    invented in;
    invent(&in, NONE, EQUAL);
    wfi_subset subset = {0};
    wf_status status = wfi_subset_create(&subset, &whole, kept, err);
    if (status == WF_OK)
        status = wfi_mark_strength(&in.result, err);
    if (status == WF_OK)
        status = wfi_mark_crossed(&in.result, err);
    wfi_subset_release(&subset);
    return status;
}
#endif

static void every_failed_allocation_is_survived(void **state)
{
    (void)state;
#ifdef WFI_CHECKS
    for (long n = 1;; n++) {
        wf_error err = WF_ERROR_INIT;
        wfi_memory_fail_after(n);
        const wf_status status = all(&err);
        wfi_memory_fail_after(0);
        if (status == WF_OK) {
            assert_int_equal(n, 6);
            break;
        }
        wf_check_refused(status, WF_MEMORY, &err, "out of memory");
    }
#else
    skip();
#endif
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(feeds_of_the_other_kind_show_in_all_products),
        cmocka_unit_test(smaller_group_is_the_crossed_one),
        cmocka_unit_test(equal_groups_leave_the_reference),
        cmocka_unit_test(fringes_connect_stations),
        cmocka_unit_test(strength_is_the_gain_over_the_median),
        cmocka_unit_test(some_stations_alone),
        cmocka_unit_test(every_failed_allocation_is_survived),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
