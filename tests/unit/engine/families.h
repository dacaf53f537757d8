/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The kernel families that run on this machine. */
#ifndef TEST_ENGINE_FAMILIES_H
#define TEST_ENGINE_FAMILIES_H

#include "engine/kernels.h"

/* The i-th of them, plain C first; NULL beyond the last. */
static inline const wfi_kernels *family(size_t i)
{
    static const char *const names[] = {"plain", "avx2", "avx512"};
    for (size_t k = 0; k < sizeof names / sizeof names[0]; k++) {
        wf_error err = WF_ERROR_INIT;
        const wfi_kernels *kernels = NULL;
        if (wfi_kernels_choose(&kernels, names[k], &err) == WF_OK && i-- == 0)
            return kernels;
    }
    return NULL;
}

#endif
