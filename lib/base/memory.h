/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The one place that allocates. */
#ifndef WFI_BASE_MEMORY_H
#define WFI_BASE_MEMORY_H

#include <stddef.h>
#include <whitefringe/status.h>

/** Zeroed memory for n elements of `size` bytes, aligned to 64, from 2 MB on to 2 MB and in large
 *  pages where the kernel has them; NULL when the product overflows or memory is short. n = 0
 *  gives a pointer that may be freed. */
void *wfi_array_alloc(size_t n, size_t size);

/** wfi_array_alloc, or MEMORY with a message that says what it was for. */
wf_status wfi_allocate(void *out, size_t n, size_t size, const char *what, wf_error *err);

/** Grow an array to at least n elements, doubling; the content is kept, new elements are zero. */
wf_status wfi_array_reserve(void *array, size_t *capacity, size_t n, size_t size, const char *what,
                            wf_error *err);

/** A copy of a string. */
wf_status wfi_string_copy(char **out, const char *text, wf_error *err);

/** Accepts NULL. */
void wfi_free(const void *memory);

/** For tests: let the n-th allocation from now on fail (1 = the next); 0 = none. */
void wfi_memory_fail_after(long n);

#endif
