/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The most multiply-additions that a core does.
 *
 * A multiply-addition waits four cycles for the one before it in its chain, and a core starts two a
 * cycle: twelve chains keep it busy and fit into the registers of every width. Vectors are the
 * compiler's own, so that one text serves all widths; each function is compiled for its machine and
 * chosen at run time.
 */
#include "throughput/fma_peak.h"

enum { CHAINS = 12, STEPS = 64 };

/* Factor and addend keep the chains near one: nothing overflows or becomes denormal. */
#define RUN_CHAINS(lanes)                                                                          \
    do {                                                                                           \
        lanes chain[CHAINS];                                                                       \
        lanes factor;                                                                              \
        lanes addend;                                                                              \
        float sum = 0;                                                                             \
        for (size_t k = 0; k < sizeof(lanes) / sizeof(float); k++) {                               \
            factor[k] = 0.75f;                                                                     \
            addend[k] = 0.25f + 0.001f * (float)k;                                                 \
        }                                                                                          \
        for (int c = 0; c < CHAINS; c++)                                                           \
            chain[c] = factor + (float)c;                                                          \
        for (size_t r = 0; r < n_rounds; r++) {                                                    \
            for (int s = 0; s < STEPS; s++) {                                                      \
                for (int c = 0; c < CHAINS; c++)                                                   \
                    chain[c] = chain[c] * factor + addend;                                         \
            }                                                                                      \
        }                                                                                          \
        for (int c = 0; c < CHAINS; c++)                                                           \
            sum += chain[c][0];                                                                    \
        return sum;                                                                                \
    } while (0)

typedef float lanes4 __attribute__((vector_size(16)));

static float run_plain(size_t n_rounds)
{
    RUN_CHAINS(lanes4);
}

static const wfi_fma_peak plain = {"plain", sizeof(lanes4) / sizeof(float) * 2 * CHAINS *STEPS,
                                   run_plain};

#if defined(__x86_64__)
typedef float lanes8 __attribute__((vector_size(32)));
typedef float lanes16 __attribute__((vector_size(64)));

__attribute__((target("avx2,fma"))) static float run_avx2(size_t n_rounds)
{
    RUN_CHAINS(lanes8);
}

__attribute__((target("avx512f,fma"))) static float run_avx512(size_t n_rounds)
{
    RUN_CHAINS(lanes16);
}

static const wfi_fma_peak avx2 = {"AVX2", sizeof(lanes8) / sizeof(float) * 2 * CHAINS *STEPS,
                                  run_avx2};
static const wfi_fma_peak avx512 = {"AVX-512", sizeof(lanes16) / sizeof(float) * 2 * CHAINS *STEPS,
                                    run_avx512};

wfi_fma_peak wfi_fma_peak_here(void)
{
    if (__builtin_cpu_supports("avx512f"))
        return avx512;
    if (__builtin_cpu_supports("avx2") && __builtin_cpu_supports("fma"))
        return avx2;
    return plain;
}
#else
wfi_fma_peak wfi_fma_peak_here(void)
{
    return plain;
}
#endif
