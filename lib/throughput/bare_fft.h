/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The bare transforms of so many samples, data in cache: the limit of everything that begins with
 * a transform. */
#ifndef WFI_THROUGHPUT_BARE_FFT_H
#define WFI_THROUGHPUT_BARE_FFT_H

#include <stdbool.h>
#include <stddef.h>
#include <whitefringe/status.h>

/** Seconds from any origin. The library reads no clock: whoever wants something measured brings
 *  one. */
typedef double (*wfi_clock)(void);

typedef enum wfi_bare_kind {
    WFI_BARE_REAL,    /* n real numbers to n/2 + 1 complex ones */
    WFI_BARE_PACKED,  /* n real numbers, taken as n/2 complex ones */
    WFI_BARE_COMPLEX, /* n complex numbers */
} wfi_bare_kind;

typedef enum wfi_bare_effort {
    WFI_BARE_QUICK,   /* measured once */
    WFI_BARE_PATIENT, /* patient plans, the best of several */
} wfi_bare_effort;

typedef struct wfi_bare_fft wfi_bare_fft;

/** Plan out of place.
 *
 *  given   n_fft  samples a transform; even for PACKED
 *  status  OK | MEMORY
 *  note    FFTW's accumulated wisdom is as before afterwards
 */
wf_status wfi_bare_fft_create(wfi_bare_fft **out, wfi_bare_kind kind, size_t n_fft,
                              wfi_bare_effort effort, wfi_clock now_s, wf_error *err);
void wfi_bare_fft_destroy(wfi_bare_fft *bare);

/** n transforms, of a batch that stays in the second-level cache, one after the other. */
void wfi_bare_fft_run(const wfi_bare_fft *bare, size_t n);

#endif
