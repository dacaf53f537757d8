/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The header of a VDIF data frame.
 *
 *  source  VDIF Specification, Release 1.1.1 (VDIF Task Force 2014), vlbi.org
 */
#ifndef WFI_RECORDING_VDIF_HEADER_H
#define WFI_RECORDING_VDIF_HEADER_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <whitefringe/time.h>

enum {
    WFI_VDIF_HEADER_BYTES = 32,
    WFI_VDIF_LEGACY_HEADER_BYTES = 16,
    WFI_VDIF_N_EPOCHS = 64,
    WFI_VDIF_N_THREADS = 1024,
};

typedef struct wfi_vdif_header {
    bool invalid;     /* the payload is not valid */
    bool legacy;      /* 16 bytes, without the extended words */
    uint32_t epoch;   /* half years since 2000-01-01 */
    uint32_t second;  /* SI seconds since 0h UTC of the epoch, leap seconds counted */
    uint32_t frame;   /* number within the second */
    uint32_t version; /* 3 bits */
    uint32_t log2_channels;
    uint32_t frame_bytes; /* header included; a multiple of 8 */
    bool is_complex;
    uint32_t bits; /* of each component, 1..32 */
    uint32_t thread;
    uint32_t station;     /* two characters, the first in the high byte, or a number */
    uint32_t extended[4]; /* words 4..7; the highest byte of the first tells what they mean; of a
                             legacy header, which has none, what follows it */
} wfi_vdif_header;

/** Take a header apart; false where n bytes do not hold it whole. Every field is in the range of
 *  its bits, nothing more is checked. */
bool wfi_vdif_header_decode(wfi_vdif_header *out, const uint8_t *bytes, size_t n);

/** Put a header together; returns its length, 32 or 16 bytes. Fields are cut to their bits. */
size_t wfi_vdif_header_encode(uint8_t out[WFI_VDIF_HEADER_BYTES], const wfi_vdif_header *header);

/** What does not change from frame to frame of a thread, as it stands in the header. */
typedef struct wfi_vdif_bits {
    uint32_t flags; /* of word 0: not invalid, legacy or not */
    uint32_t cut;   /* of word 2: channels, length */
    uint32_t kind;  /* of word 3: real or complex, bits, thread */
} wfi_vdif_bits;

enum {
    WFI_VDIF_SECOND_MASK = 0x3fffffff, /* of word 0 */
    WFI_VDIF_EPOCH_SHIFT = 24,         /* of word 1 */
    WFI_VDIF_FRAME_MASK = 0xffffff,
    WFI_VDIF_CUT_MASK = 0x1fffffff, /* of word 2 */
    WFI_VDIF_LENGTH_MASK = 0xffffff,
    WFI_VDIF_EXTENDED_VERSION_BYTE = 19, /* of the header */
    WFI_VDIF_CHANNEL_VALIDITY = 4,       /* the version with a validity bit for each channel */
};
#define WFI_VDIF_KIND_MASK UINT32_C(0xffff0000) /* of word 3 */
#define WFI_VDIF_SYNC UINT32_C(0xACABFEED)      /* word 5 of extended versions 1, 3 and 4 */

wfi_vdif_bits wfi_vdif_header_bits(const wfi_vdif_header *header);

/** 32, or 16 for a legacy header. */
uint32_t wfi_vdif_header_bytes(const wfi_vdif_header *header);

/** What makes a frame with this header impossible, in words; NULL: nothing. */
const char *wfi_vdif_header_fault(const wfi_vdif_header *header);

/** Complete samples of a frame. Where their bits are no power of two, as many as fit stand in each
 *  32-bit word. */
int64_t wfi_vdif_samples_per_frame(const wfi_vdif_header *header);

/** Bits of a complete sample. */
uint64_t wfi_vdif_sample_bits(const wfi_vdif_header *header);

/** The frames are cut alike: header, length, channels, bits, real or complex. */
bool wfi_vdif_same_layout(const wfi_vdif_header *a, const wfi_vdif_header *b);

/** 0h UTC of an epoch, as the second of a wf_instant. */
int64_t wfi_vdif_epoch_second(uint32_t epoch);

/** The latest epoch that is not after an instant; 0 before 2000, 63 from 2031-07-01 on. */
uint32_t wfi_vdif_epoch_of(wf_instant t);

#endif
