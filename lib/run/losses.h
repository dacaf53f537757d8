/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Why samples that the scans asked for were not used. */
#ifndef WFI_RUN_LOSSES_H
#define WFI_RUN_LOSSES_H

#include <whitefringe/run.h>

#include "run/session.h"

/** Fill in why each stream of the summary lost samples, and what was wrong with each recording.
 *
 *  given  asked_samples  [n_streams] that the scans asked for
 */
wf_status wfi_summarise_losses(const wfi_session *session, const double *asked_samples,
                               wf_correlate_summary *summary, wf_error *err);

#endif
