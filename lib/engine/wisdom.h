/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Measured plans of the lengths needed most, the same in every run: planning by measurement while a
 * job runs would take time and give other last bits each time. */
#ifndef WFI_ENGINE_WISDOM_H
#define WFI_ENGINE_WISDOM_H

/** Lines as FFTW exports them, NULL behind the last: complex transforms of 2^k, 3 2^k and 5 2^k
 *  points. FFTW ignores them where its version or the processor differs. */
extern const char *const wfi_wisdom[];

#endif
