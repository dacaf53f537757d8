/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Which kernels run. */
#include "engine/kernels.h"

#include <string.h>

#include "base/status.h"
#include "base/text.h"

typedef struct family {
    const wfi_kernels *kernels;
    bool (*runs_here)(void);
} family;

static bool always(void)
{
    return true;
}

#if defined(WFI_HAVE_X86_KERNELS)
static bool has_avx2(void)
{
    return __builtin_cpu_supports("avx2") && __builtin_cpu_supports("fma");
}

static bool has_avx512(void)
{
    return has_avx2() && __builtin_cpu_supports("avx512f") && __builtin_cpu_supports("avx512bw") &&
           __builtin_cpu_supports("avx512dq") && __builtin_cpu_supports("avx512vl");
}
#endif

/* The fastest first. */
static const family families[] = {
#if defined(WFI_HAVE_X86_KERNELS)
    {&wfi_kernels_avx512, has_avx512},
    {&wfi_kernels_avx2, has_avx2},
#endif
    {&wfi_kernels_plain, always},
};
enum { N_FAMILIES = sizeof families / sizeof families[0] };

static wf_status no_such_family(const char *name, wf_error *err)
{
    wfi_text known = {0};
    for (size_t i = 0; i < N_FAMILIES; i++) {
        if (families[i].runs_here())
            wfi_text_append(&known, " %s", families[i].kernels->name);
    }
    const wf_status status =
        wfi_fail(err, WF_UNSUPPORTED, "kernels \"%s\" do not run here; this processor has:%s", name,
                 known.bytes != NULL ? known.bytes : "");
    wfi_text_release(&known);
    return status;
}

wf_status wfi_kernels_choose(const wfi_kernels **out, const char *name, wf_error *err)
{
    *out = NULL;
    for (size_t i = 0; i < N_FAMILIES && *out == NULL; i++) {
        if ((name == NULL || strcmp(name, families[i].kernels->name) == 0) &&
            families[i].runs_here())
            *out = families[i].kernels;
    }
    return *out != NULL ? WF_OK : no_such_family(name, err);
}
