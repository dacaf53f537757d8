/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Faults that are met more than once, in pieces, and by several readers count once. Expected
 * counts are made by hand from what is put in. */
#include "recording/fault_log.h"

#include "support/check.h"

enum { FRAME = 100 };

static const wf_thread_info threads[] = {{.thread = 5}, {.thread = 9}};
static const wfi_fault_scale scale = {{1000, 0.0}, 1000, 48, threads};

static wfi_fault lost(wf_fault_kind kind, int32_t i_thread, int64_t frame, int64_t n_frames)
{
    return (wfi_fault){.kind = kind,
                       .i_thread = i_thread,
                       .loses_samples = true,
                       .has_time = true,
                       .offset_bytes = 48 * frame,
                       .n_bytes = 48 * n_frames,
                       .n_frames = n_frames,
                       .first = FRAME * frame,
                       .n = FRAME * n_frames};
}

static void put(wfi_fault_log *log, wfi_fault fault)
{
    wf_error err = WF_ERROR_INIT;
    wfi_fault_list list = {0};
    wf_check_ok(wfi_fault_list_append(&list, fault, &err), &err);
    wf_check_ok(wfi_fault_log_take(log, &list, &err), &err);
    assert_int_equal(list.n, 0);
    wfi_fault_list_release(&list);
}

static void fault_log_counts_each_place_once(void **state)
{
    (void)state;
    wfi_fault_log log;
    wfi_fault_log_init(&log);
    put(&log, lost(WF_FAULT_FILL, 0, 30, 1));
    put(&log, lost(WF_FAULT_FILL, 0, 10, 2));
    put(&log, lost(WF_FAULT_FILL, 0, 10, 2)); /* read again */
    put(&log, lost(WF_FAULT_FILL, 0, 11, 4)); /* overlaps and goes on */
    put(&log, lost(WF_FAULT_FILL, 1, 11, 1)); /* another thread */
    put(&log, lost(WF_FAULT_MISSING, 0, 12, 1));
    wf_fault faults[WF_FAULT_N_KINDS];
    wf_error err = WF_ERROR_INIT;
    for (int again = 0; again < 2; again++) {
        wf_check_ok(wfi_fault_log_count(&log, &scale, faults, &err), &err);
        const wf_fault *fill = &faults[WF_FAULT_FILL];
        assert_int_equal(fill->n_places, 3);
        assert_int_equal(fill->n_frames, 5 + 1 + 1);
        assert_int_equal(fill->n_bytes, 48 * 7);
        assert_int_equal(fill->lost_samples, 700);
        assert_int_equal(fill->first.offset_bytes, 480);
        assert_int_equal(fill->first.frame, 10);
        assert_int_equal(fill->first.thread, 5);
        assert_int_equal(fill->first.t.second, 1001);
        assert_int_equal(fill->last.frame, 30);
        assert_int_equal(fill->last.t.second, 1003);
        assert_int_equal(faults[WF_FAULT_MISSING].n_places, 1);
        assert_int_equal(faults[WF_FAULT_GARBAGE].n_places, 0);
    }
    wfi_fault_log_destroy(&log);
}

static void fault_log_tells_every_lost_sample_once(void **state)
{
    (void)state;
    wfi_fault_log log;
    wfi_fault_log_init(&log);
    put(&log, lost(WF_FAULT_FILL, 0, 10, 10));
    put(&log, lost(WF_FAULT_MISSING, 0, 15, 10)); /* stands before FILL in the list of kinds */
    put(&log, lost(WF_FAULT_FILL, 1, 0, 100));
    wfi_fault harmless = lost(WF_FAULT_OUT_OF_ORDER, 0, 12, 1);
    harmless.loses_samples = false;
    put(&log, harmless);
    int64_t n[WF_FAULT_N_KINDS];
    wf_error err = WF_ERROR_INIT;
    wf_check_ok(wfi_fault_log_losses(&log, 0, 0, 1150, 900, n, &err), &err);
    assert_int_equal(n[WF_FAULT_FILL], 1500 - 1150);
    assert_int_equal(n[WF_FAULT_MISSING], 2050 - 1500);
    assert_int_equal(n[WF_FAULT_OUT_OF_ORDER], 0);
    wf_check_ok(wfi_fault_log_losses(&log, 0, 0, 5000, 900, n, &err), &err);
    assert_int_equal(n[WF_FAULT_FILL] + n[WF_FAULT_MISSING], 0);
    wfi_fault part = lost(WF_FAULT_EXCLUDED, 0, 50, 1);
    part.part = 2;
    put(&log, part);
    wf_check_ok(wfi_fault_log_losses(&log, 0, 1, 5000, 900, n, &err), &err);
    assert_int_equal(n[WF_FAULT_EXCLUDED], 0);
    wf_check_ok(wfi_fault_log_losses(&log, 0, 2, 5000, 900, n, &err), &err);
    assert_int_equal(n[WF_FAULT_EXCLUDED], 100);
    wfi_fault_log_destroy(&log);
}

static void fault_list_joins_what_goes_on(void **state)
{
    (void)state;
    wf_error err = WF_ERROR_INIT;
    wfi_fault_list list = {0};
    for (int64_t i = 0; i < 1000; i++)
        wf_check_ok(wfi_fault_list_append(&list, lost(WF_FAULT_FILL, 0, i, 1), &err), &err);
    assert_int_equal(list.n, 1);
    assert_int_equal(list.entries[0].n, 1000 * FRAME);
    wf_check_ok(wfi_fault_list_append(&list, lost(WF_FAULT_FILL, 0, 1001, 1), &err), &err);
    wf_check_ok(wfi_fault_list_append(&list, lost(WF_FAULT_MISSING, 0, 1002, 1), &err), &err);
    assert_int_equal(list.n, 3);
    wfi_fault_list_release(&list);
}

static void fault_words_are_there_for_every_kind(void **state)
{
    (void)state;
    for (int k = 0; k < WF_FAULT_N_KINDS; k++) {
        assert_true(strlen(wf_fault_key((wf_fault_kind)k)) > 2);
        assert_true(strlen(wf_fault_text((wf_fault_kind)k)) > 5);
        for (int j = 0; j < k; j++)
            assert_string_not_equal(wf_fault_key((wf_fault_kind)k), wf_fault_key((wf_fault_kind)j));
    }
    assert_string_equal(wf_fault_key(WF_FAULT_N_KINDS), "unknown");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(fault_log_counts_each_place_once),
        cmocka_unit_test(fault_log_tells_every_lost_sample_once),
        cmocka_unit_test(fault_list_joins_what_goes_on),
        cmocka_unit_test(fault_words_are_there_for_every_kind),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
