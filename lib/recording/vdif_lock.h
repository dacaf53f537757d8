/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Finds VDIF frames among other bytes while nothing is known of them yet. */
#ifndef WFI_RECORDING_VDIF_LOCK_H
#define WFI_RECORDING_VDIF_LOCK_H

#include <stdbool.h>
#include <stdint.h>
#include <whitefringe/status.h>

#include "recording/vdif_stream.h"

/** Bytes searched for the first frame: more than any recorder writes before it. */
enum { WFI_VDIF_LOCK_BYTES = 64 << 20 };

/** The largest number of bytes between a frame and the next header that is looked for: headers of a
 *  network and of a capture file, serial numbers of packets. */
enum { WFI_VDIF_LARGEST_GAP = 128 };

/** The first place from a byte on where five headers follow one another by their own lengths and
 *  the file's gap_bytes, and agree in epoch and time (fewer only where the file ends with them).
 *
 *  returned  offset  of it; -1: none within n_bytes
 */
wf_status wfi_vdif_lock(const wfi_vdif_stream *stream, size_t i_file, int64_t from, int64_t n_bytes,
                        int64_t *offset, wf_error *err);

/** As wfi_vdif_lock from the begin of a file of which nothing is known yet; the same number of
 *  bytes may stand between all frames, and becomes its gap_bytes. */
wf_status wfi_vdif_lock_first(wfi_vdif_stream *stream, size_t i_file, int64_t *offset,
                              wf_error *err);

/** Do headers follow one another in the first bytes of a file? What is needed to know the format of
 *  a file whose first frame stands anywhere. */
bool wfi_vdif_has_frames(const uint8_t *head, size_t n);

/** Read and decode the header at a place; false in `found` where the file does not hold it. */
wf_status wfi_vdif_header_at(const wfi_vdif_stream *stream, size_t i_file, int64_t offset,
                             wfi_vdif_header *out, bool *found, wf_error *err);

/** May this be a header, as far as it tells by itself? */
bool wfi_vdif_is_plausible(const wfi_vdif_header *header);

#endif
