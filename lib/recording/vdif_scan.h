/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Looks at the headers of a stretch of a VDIF file, all of them or single ones. */
#ifndef WFI_RECORDING_VDIF_SCAN_H
#define WFI_RECORDING_VDIF_SCAN_H

#include <stddef.h>
#include <stdint.h>
#include <whitefringe/status.h>

#include "recording/vdif_findings.h"
#include "recording/vdif_stream.h"

/** A look into one file. Create one for each thread of the program. */
typedef struct wfi_scanner {
    const wfi_vdif_stream *stream;
    size_t i_file;
    uint8_t *block;
    int64_t block_offset;
    size_t block_bytes; /* valid ones */
} wfi_scanner;

wf_status wfi_scanner_create(wfi_scanner *out, const wfi_vdif_stream *stream, size_t i_file,
                             wf_error *err);
void wfi_scanner_release(wfi_scanner *scanner);

/** Judge what stands at a byte of the file. */
wf_status wfi_scanner_judge(wfi_scanner *scanner, int64_t offset, wfi_frame *out, wf_error *err);

/** Does a frame, or the end of the file, stand where a frame of that length at `offset` ends? Two
 *  headers in a row prove the first frame. */
wf_status wfi_scanner_is_followed(wfi_scanner *scanner, int64_t offset, uint32_t length,
                                  bool *followed, wf_error *err);

/** The first valid frame within [from, end) that another one, or the file's end, follows.
 *
 *  returned  offset  of it; -1: none
 */
wf_status wfi_scanner_search(wfi_scanner *scanner, int64_t from, int64_t end, int64_t *offset,
                             wf_error *err);

/** Look at every header in [from, end) and append what stands there. At `end` a frame begins, or
 *  the file ends.
 *
 *  A frame counts where another one, or the file's end, follows it, or where frames go on at a
 *  whole multiple of its length: else bytes were lost or added in it or after it, and it is
 *  UNPROVEN.
 */
wf_status wfi_scanner_scan(wfi_scanner *scanner, int64_t from, int64_t end, wfi_findings *findings,
                           wf_error *err);

#endif
