/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "base/memory.h"
#include "simulate/cells.h"
#include "support/check.h"

static void overlapping_bands_are_cut_at_every_edge(void **state)
{
    (void)state;
    wf_error err = WF_ERROR_INIT;
    const wfi_range ranges[] = {{100e6, 116e6}, {108e6, 124e6}, {200e6, 208e6}, {100e6, 116e6}};
    wfi_cells cells;
    wf_check_ok(wfi_cells_create(&cells, ranges, 4, &err), &err);
    static const double want[][2] = {
        {100e6, 108e6}, {108e6, 116e6}, {116e6, 124e6}, {200e6, 208e6}};
    assert_int_equal(cells.n, 4);
    for (size_t i = 0; i < 4; i++) {
        wf_check_near("low edge", cells.list[i].low_hz, want[i][0], 0.0, "Hz");
        wf_check_near("high edge", cells.list[i].high_hz, want[i][1], 0.0, "Hz");
    }
    size_t first, end;
    wfi_cells_of(&cells, &ranges[1], &first, &end);
    assert_int_equal(first, 1);
    assert_int_equal(end, 3);
    wfi_cells_of(&cells, &ranges[2], &first, &end);
    assert_int_equal(first, 3);
    assert_int_equal(end, 4);
    wfi_cells_release(&cells);
}

static void edges_that_differ_by_rounding_are_one(void **state)
{
    (void)state;
    wf_error err = WF_ERROR_INIT;
    const wfi_range ranges[] = {{100e6, 116e6}, {100e6 + 1e-3, 116e6 - 1e-3}};
    wfi_cells cells;
    wf_check_ok(wfi_cells_create(&cells, ranges, 2, &err), &err);
    assert_int_equal(cells.n, 1);
    wfi_cells_release(&cells);
}

static void a_stream_stands_where_its_anchor_says(void **state)
{
    (void)state;
    const struct {
        wf_anchor anchor;
        wf_sideband sideband;
        wf_sampling sampling;
        double low_hz, zero_hz;
    } known[] = {
        /* 16 Msamples a second at an anchor of 1000 MHz: 8 MHz real, 16 MHz complex. */
        {WF_ANCHOR_EDGE, WF_SIDEBAND_UPPER, WF_SAMPLING_REAL, 1000e6, 1000e6},
        {WF_ANCHOR_EDGE, WF_SIDEBAND_LOWER, WF_SAMPLING_REAL, 992e6, 1000e6},
        {WF_ANCHOR_CENTRE, WF_SIDEBAND_UPPER, WF_SAMPLING_REAL, 996e6, 996e6},
        {WF_ANCHOR_CENTRE, WF_SIDEBAND_LOWER, WF_SAMPLING_REAL, 996e6, 1004e6},
        {WF_ANCHOR_EDGE, WF_SIDEBAND_UPPER, WF_SAMPLING_COMPLEX, 1000e6, 1008e6},
        {WF_ANCHOR_EDGE, WF_SIDEBAND_LOWER, WF_SAMPLING_COMPLEX, 984e6, 992e6},
        {WF_ANCHOR_CENTRE, WF_SIDEBAND_LOWER, WF_SAMPLING_COMPLEX, 992e6, 1000e6},
    };
    for (size_t i = 0; i < sizeof known / sizeof *known; i++) {
        const wf_stream stream = {
            .anchor = known[i].anchor, .anchor_hz = 1000e6, .sideband = known[i].sideband};
        const wfi_range range = wfi_stream_range(&stream, 16000000, known[i].sampling);
        wf_check_near("low edge", range.low_hz, known[i].low_hz, 0.0, "Hz");
        wf_check_near("zero", wfi_stream_zero_hz(&stream, 16000000, known[i].sampling),
                      known[i].zero_hz, 0.0, "Hz");
    }
}

static void a_lack_of_memory_is_told(void **state)
{
    (void)state;
#ifdef WFI_CHECKS
    const wfi_range range = {1e6, 2e6};
    for (long n = 1; n <= 2; n++) {
        wf_error err = WF_ERROR_INIT;
        wfi_cells cells;
        wfi_memory_fail_after(n);
        wf_check_refused(wfi_cells_create(&cells, &range, 1, &err), WF_MEMORY, &err,
                         "recorded bands");
        wfi_memory_fail_after(0);
        wfi_cells_release(&cells);
    }
#else
    skip();
#endif
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(overlapping_bands_are_cut_at_every_edge),
        cmocka_unit_test(edges_that_differ_by_rounding_are_one),
        cmocka_unit_test(a_stream_stands_where_its_anchor_says),
        cmocka_unit_test(a_lack_of_memory_is_told),
    };
    return cmocka_run_group_tests_name("simulate.cells", tests, NULL, NULL);
}
