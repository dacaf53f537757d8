/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/check.h"

#include <string.h>

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

static void large_memory_begins_a_large_page(void **state)
{
    (void)state;
    const size_t large = (size_t)1 << 21; /* of x86-64, common practice */
    const size_t sizes[] = {large, large + 1, 3 * large - 64};
    for (size_t k = 0; k < sizeof sizes / sizeof *sizes; k++) {
        unsigned char *bytes = wfi_array_alloc(sizes[k], 1);
        assert_non_null(bytes);
        assert_int_equal((uintptr_t)bytes % large, 0);
        size_t n_set = 0;
        for (size_t i = 0; i < sizes[k]; i++)
            n_set += bytes[i] != 0;
        assert_int_equal(n_set, 0);
        memset(bytes, 0xff, sizes[k]);
        wfi_free(bytes);
    }
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
        cmocka_unit_test(large_memory_begins_a_large_page),
        cmocka_unit_test(memory_refuses_a_product_that_overflows),
        cmocka_unit_test(memory_keeps_content_when_it_grows),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
