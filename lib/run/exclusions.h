/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the job excludes by hand, in the output. */
#ifndef WFI_RUN_EXCLUSIONS_H
#define WFI_RUN_EXCLUSIONS_H

#include <whitefringe/visibility.h>

#include "run/session.h"

/** Append a flag for every scan, station, band and polarization of which the job excludes
 *  something. */
wf_status wfi_exclusions_flag(const wfi_session *session, wf_fits_idi_writer *writer,
                              wf_error *err);

#endif
