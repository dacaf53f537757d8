/* SPDX-License-Identifier: GPL-3.0-or-later */
/* FFTW's planner is process-wide state and not thread-safe: every call that plans or destroys a
 * plan stands between these two. Executing a plan needs no lock. */
#ifndef WFI_BASE_FFTW_LOCK_H
#define WFI_BASE_FFTW_LOCK_H

void wfi_fftw_lock(void);
void wfi_fftw_unlock(void);

#endif
