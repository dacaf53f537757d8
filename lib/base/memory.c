/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The one place that allocates, and that can be told to fail. */
#define _DEFAULT_SOURCE /* madvise, posix_memalign */
#include "base/memory.h"

#include <stdatomic.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>

#include "base/status.h"

enum { ALIGNMENT = 64, LARGE_PAGE = 1 << 21 };

#ifdef WFI_CHECKS
static atomic_long allocations_left;

void wfi_memory_fail_after(long n)
{
    atomic_store(&allocations_left, n);
}

static int must_fail(void)
{
    if (atomic_load(&allocations_left) <= 0)
        return 0;
    return atomic_fetch_sub(&allocations_left, 1) == 1;
}
#else
void wfi_memory_fail_after(long n)
{
    (void)n;
}

static int must_fail(void)
{
    return 0;
}
#endif

/* Large arrays are walked by strides of many pages of 4 KB, whose addresses a core cannot all
 * remember. Only whole large pages are asked for: no memory beyond the array's own is used. A
 * kernel that refuses gives small ones. */
static void ask_for_large_pages(void *memory, size_t bytes)
{
#ifdef MADV_HUGEPAGE
    if (bytes >= LARGE_PAGE)
        (void)madvise(memory, bytes / LARGE_PAGE * LARGE_PAGE, MADV_HUGEPAGE);
#else
    (void)memory;
    (void)bytes;
#endif
}

void *wfi_array_alloc(size_t n, size_t size)
{
    if (size != 0 && n > (PTRDIFF_MAX - ALIGNMENT) / size)
        return NULL;
    if (must_fail())
        return NULL;
    const size_t bytes = (n * size + ALIGNMENT) / ALIGNMENT * ALIGNMENT;
    const size_t alignment = bytes < LARGE_PAGE ? ALIGNMENT : LARGE_PAGE;
    void *memory = NULL;
    if (posix_memalign(&memory, alignment, bytes) != 0)
        return NULL;
    ask_for_large_pages(memory, bytes);
    memset(memory, 0, bytes);
    return memory;
}

wf_status wfi_allocate(void *out, size_t n, size_t size, const char *what, wf_error *err)
{
    void *memory = wfi_array_alloc(n, size);
    memcpy(out, &memory, sizeof memory);
    if (memory == NULL)
        return wfi_fail(err, WF_MEMORY, "out of memory: %zu x %zu bytes for %s were refused", n,
                        size, what);
    return WF_OK;
}

wf_status wfi_array_reserve(void *array, size_t *capacity, size_t n, size_t size, const char *what,
                            wf_error *err)
{
    if (n <= *capacity)
        return WF_OK;
    void *old = NULL;
    memcpy(&old, array, sizeof old);
    const size_t grown = n > 2 * *capacity ? n : 2 * *capacity;
    void *memory = NULL;
    WFI_TRY(wfi_allocate(&memory, grown, size, what, err));
    if (*capacity > 0)
        memcpy(memory, old, *capacity * size);
    wfi_free(old);
    memcpy(array, &memory, sizeof memory);
    *capacity = grown;
    return WF_OK;
}

wf_status wfi_string_copy(char **out, const char *text, wf_error *err)
{
    const size_t n = strlen(text) + 1;
    WFI_TRY(wfi_allocate(out, n, 1, "a text", err));
    memcpy(*out, text, n);
    return WF_OK;
}

void wfi_free(const void *memory)
{
    /* const here lets owners of read-only views free them without a cast of their own */
    union {
        const void *in;
        void *out;
    } pointer = {memory};
    free(pointer.out);
}
