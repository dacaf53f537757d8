/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What is made of the tones and of the kurtosis: rows of tables, and phases out of visibilities. */
#ifndef WFI_RUN_CALIBRATION_H
#define WFI_RUN_CALIBRATION_H

#include <whitefringe/visibility.h>

#include "run/monitor.h"

/** Fit phase and delay of every band and polarization of every station; result->bands. */
void wfi_calibration_fit(const wfi_monitor *monitor, wfi_monitor_result *result);

/** Take them out of the visibilities where the job asks for it.
 *
 *  returns  how many bands and polarizations of stations that ask had tones too weak for it, and
 *           were left as they are
 */
size_t wfi_calibration_apply(const wfi_monitor *monitor, const wf_slice *slice,
                             const wfi_monitor_result *result, wf_integration *integration);

/** Append the rows of PHASE-CAL.
 *
 *  returned  n_rows  grows by as many
 */
wf_status wfi_calibration_write(const wfi_monitor *monitor, const wf_slice *slice,
                                const wfi_monitor_result *result, const wf_integration *of,
                                wf_fits_idi_writer *writer, int64_t *n_rows, wf_error *err);

/** Flags that may still grow with the next integration. */
typedef struct wfi_flags {
    wf_flag *open;
    size_t n;
    size_t capacity;
    int64_t n_flagged; /* channels times integrations */
} wfi_flags;

/** Take the odd channels of one integration: flags that go on grow, the others are appended. */
wf_status wfi_flags_add(wfi_flags *flags, const wfi_monitor *monitor, const wf_slice *slice,
                        const wfi_monitor_result *result, wf_fits_idi_writer *writer,
                        wf_error *err);
/** Append what is open. */
wf_status wfi_flags_finish(wfi_flags *flags, wf_fits_idi_writer *writer, wf_error *err);
void wfi_flags_release(wfi_flags *flags);

#endif
