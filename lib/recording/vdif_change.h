/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A thread whose frames are cut otherwise from some place on. */
#ifndef WFI_RECORDING_VDIF_CHANGE_H
#define WFI_RECORDING_VDIF_CHANGE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <whitefringe/status.h>

#include "recording/vdif_stream.h"

/** A header and where it was seen. */
typedef struct wfi_vdif_sight {
    wfi_vdif_header header;
    size_t i_file;
    int64_t offset;
} wfi_vdif_sight;

/** Are frames of these headers cut alike: in length too? */
bool wfi_vdif_same_cut(const wfi_vdif_header *a, const wfi_vdif_header *b);

/** Refuse a thread that changes, naming the first frame of the new cut.
 *
 *  earlier  of a frame before the change
 *  before   byte of the file of `later` that is known to stand before the change
 *  later    a frame after it
 *
 *  returned  WF_UNSUPPORTED, or what reading met
 */
wf_status wfi_vdif_refuse_change(const wfi_vdif_stream *stream, const wfi_vdif_header *earlier,
                                 int64_t before, const wfi_vdif_sight *later, wf_error *err);

#endif
