/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Makes the index of a VDIF recording. */
#ifndef WFI_RECORDING_VDIF_INDEX_MAKE_H
#define WFI_RECORDING_VDIF_INDEX_MAKE_H

#include <stdbool.h>
#include <whitefringe/status.h>

#include "recording/vdif_index.h"

/** Fill an index whose arrays are there and empty.
 *
 *  given  exact  look at every header
 */
wf_status wfi_vdif_index_make(wfi_vdif_index *index, bool exact, wf_error *err);

#endif
