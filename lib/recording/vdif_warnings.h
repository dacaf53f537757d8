/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What is odd about the headers of a VDIF recording that can be read all the same. */
#ifndef WFI_RECORDING_VDIF_WARNINGS_H
#define WFI_RECORDING_VDIF_WARNINGS_H

#include <whitefringe/status.h>

#include "recording/vdif_stream.h"

/** Warn in the log, of a stream whose threads are known: bytes between frames, extended headers
 *  that do not fit, reference epochs apart, samples that the job calls something else. */
wf_status wfi_vdif_warn(const wfi_vdif_stream *stream, wf_error *err);

#endif
