/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Payloads that are not packed as engines like it become what the rest of the program knows. */
#ifndef WFI_RECORDING_VDIF_CONVERT_H
#define WFI_RECORDING_VDIF_CONVERT_H

#include <stddef.h>
#include <stdint.h>
#include <whitefringe/observation.h>
#include <whitefringe/recording.h>

#include "recording/vdif_header.h"

/** How a payload becomes samples of `format`: codes of a width that is no power of two move into
 *  the next wider container, level for level; the orders that the job states are undone. */
typedef struct wfi_convert {
    wf_sample_format format; /* of what comes out */
    wf_payload_order order;
    unsigned bits;         /* of a code in the payload */
    unsigned codes_a_word; /* where the container is another */
    uint32_t flip;         /* xor on every 32-bit word of codes that stay as wide as they are */
    bool plain;            /* a copy will do */
    bool repack;           /* into another container */
    uint8_t byte_map[256]; /* bits reversed, sign and magnitude swapped */
    bool uses_map;
} wfi_convert;

/** status  OK | UNSUPPORTED: the message says what and begins with `what` */
wf_status wfi_convert_init(wfi_convert *out, const wfi_vdif_header *pattern, wf_payload_order order,
                           const char *what, wf_error *err);

/** Bytes that n samples take once converted; n * bits is a multiple of 8. */
size_t wfi_convert_bytes(const wfi_convert *convert, int64_t n);

/** Convert the samples of a payload.
 *
 *  given     n_samples  of the frame
 *  returned  out        wfi_convert_bytes of them
 */
void wfi_convert_payload(const wfi_convert *convert, const uint8_t *payload, int64_t n_samples,
                         uint8_t *out);

#endif
