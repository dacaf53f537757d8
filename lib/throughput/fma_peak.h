/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The most multiply-additions that a core does: independent chains in registers, nothing else. */
#ifndef WFI_THROUGHPUT_FMA_PEAK_H
#define WFI_THROUGHPUT_FMA_PEAK_H

#include <stddef.h>

/** One way to do it, the widest vectors that this machine has. */
typedef struct wfi_fma_peak {
    const char *name; /* "AVX-512", "AVX2", "plain" */
    size_t flops;     /* of a round: a multiply-addition counts as two */
    float (*run)(size_t n_rounds);
} wfi_fma_peak;

wfi_fma_peak wfi_fma_peak_here(void);

#endif
