/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Reads stretches of a VDIF recording; the functions are those of a wfi_format. */
#ifndef WFI_RECORDING_VDIF_READER_H
#define WFI_RECORDING_VDIF_READER_H

#include <stdint.h>
#include <whitefringe/recording.h>
#include <whitefringe/status.h>

#include "recording/vdif_convert.h"
#include "recording/vdif_index.h"
#include "recording/vdif_stream.h"

/** given     index     outlives the reader
 *            converts  [n_threads] of the index's stream; outlive the reader
 *            capacity  largest number of samples of one load
 *  returned  out  to be destroyed, on failure too where it is not NULL
 */
wf_status wfi_vdif_reader_create(void **out, wfi_vdif_index *index, const wfi_convert *converts,
                                 int64_t capacity, wf_error *err);
void wfi_vdif_reader_destroy(void *reader);

/** Fill packed[n_threads] with whole frames that hold samples [first, first + n). */
wf_status wfi_vdif_reader_load(void *reader, wf_packed *packed, int64_t first, int64_t n,
                               wf_error *err);

#endif
