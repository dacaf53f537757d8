/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/check.h"

#include "base/memory.h"

static void memory_is_zeroed_and_aligned(void **state)
{
    (void)state;
    unsigned char *bytes = wfi_array_alloc(1001, 1);
    assert_non_null(bytes);
    assert_int_equal((uintptr_t)bytes % 64, 0);
    for (size_t i = 0; i < 1001; i++)
        assert_int_equal(bytes[i], 0);
    wfi_free(bytes);
}

static void memory_refuses_a_product_that_overflows(void **state)
{
    (void)state;
    assert_null(wfi_array_alloc(SIZE_MAX / 2, 3));
    wf_error err = WF_ERROR_INIT;
    void *memory = NULL;
    wf_check_refused(wfi_allocate(&memory, SIZE_MAX, 8, "windows", &err), WF_MEMORY, &err,
                     "windows");
}

static void memory_keeps_content_when_it_grows(void **state)
{
    (void)state;
    wf_error err = WF_ERROR_INIT;
    int *numbers = NULL;
    size_t capacity = 0;
    for (size_t i = 0; i < 1000; i++) {
        wf_check_ok(wfi_array_reserve(&numbers, &capacity, i + 1, sizeof *numbers, "n", &err),
                    &err);
        numbers[i] = (int)i;
    }
    for (size_t i = 0; i < 1000; i++)
        assert_int_equal(numbers[i], i);
    wfi_free(numbers);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(memory_is_zeroed_and_aligned),
        cmocka_unit_test(memory_refuses_a_product_that_overflows),
        cmocka_unit_test(memory_keeps_content_when_it_grows),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
