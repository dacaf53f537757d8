/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Tables whose rows are known one after another while UV_DATA is being written: they wait in a
 * spool and stand behind it. The convention leaves the order free but for the four tables that
 * readers want before the visibilities. */
#ifndef WFI_VISIBILITY_FITS_IDI_EXTRAS_H
#define WFI_VISIBILITY_FITS_IDI_EXTRAS_H

#include "base/spool.h"
#include "visibility/fits_idi.h"

typedef struct wfi_fits_idi_extras {
    wfi_spool phase_cal; /* rows in the file's byte order */
    wfi_spool flags;
    size_t n_tones; /* 0: no PHASE-CAL */
} wfi_fits_idi_extras;

/** given  beside  the file in the making */
wf_status wfi_fits_idi_spool_phase_cal(wfi_fits_idi_extras *extras, const wfi_fits_idi_setup *setup,
                                       const wf_phase_cal *row, const char *beside, wf_error *err);
wf_status wfi_fits_idi_spool_flag(wfi_fits_idi_extras *extras, const wfi_fits_idi_setup *setup,
                                  const wf_flag *flag, const char *beside, wf_error *err);

/** Write the tables that have rows; PHASE-CAL where it was asked for. */
wf_status wfi_fits_idi_write_extras(const wfi_fits_idi_extras *extras,
                                    const wfi_fits_idi_setup *setup, fitsfile *file, int *fits,
                                    wf_error *err);
void wfi_fits_idi_release_extras(wfi_fits_idi_extras *extras);

#endif
