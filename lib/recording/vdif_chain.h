/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The chain: of the runs of a file, in its order, the heaviest sequence that ascends in time. */
#ifndef WFI_RECORDING_VDIF_CHAIN_H
#define WFI_RECORDING_VDIF_CHAIN_H

#include <stdbool.h>
#include <whitefringe/status.h>

#include "recording/vdif_findings.h"

/** Set in_chain [list->n], which is false, where a run belongs to the chain: that with most frames
 *  of those in which every run begins when the one before it has ended, or later. */
wf_status wfi_vdif_mark_chain(const wfi_run_list *list, bool *in_chain, wf_error *err);

#endif
