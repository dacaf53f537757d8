/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The header that the next frame of a thread has while nothing is odd, as it stands in the file. */
#ifndef WFI_RECORDING_VDIF_EXPECTED_H
#define WFI_RECORDING_VDIF_EXPECTED_H

#include <stdbool.h>
#include <stdint.h>

#include "base/bytes.h"
#include "recording/vdif_stream.h"

/** Start from {0}, which expects nothing. */
typedef struct wfi_expected {
    uint64_t time;   /* words 0 and 1 */
    uint64_t layout; /* words 2 and 3 */
    int64_t n;       /* frames that follow by their number alone, within the second */
} wfi_expected;

#define WFI_EXPECTED_TIME_MASK UINT64_C(0x3fffffffffffffff) /* epoch, number, all of word 0 */
#define WFI_EXPECTED_TIME_STEP (UINT64_C(1) << 32)          /* one frame */
#define WFI_EXPECTED_LAYOUT_MASK ((uint64_t)WFI_VDIF_KIND_MASK << 32 | WFI_VDIF_CUT_MASK)

/** Is this the frame that is expected? Where it is, wfi_vdif_is_frame would say so too; the other
 *  way round it need not be, as for the first frame of a second. */
static inline bool wfi_expected_meets(const wfi_expected *expected, const uint8_t *bytes)
{
    const uint64_t time = wfi_le64(bytes) ^ expected->time;
    const uint64_t layout = wfi_le64(bytes + 8) ^ expected->layout;
    return ((time & WFI_EXPECTED_TIME_MASK) | (layout & WFI_EXPECTED_LAYOUT_MASK)) == 0 &&
           bytes[WFI_VDIF_EXTENDED_VERSION_BYTE] != WFI_VDIF_CHANNEL_VALIDITY && expected->n > 0;
}

/** Expect the frame after the one that was expected. */
static inline void wfi_expected_advance(wfi_expected *expected)
{
    expected->time += WFI_EXPECTED_TIME_STEP;
    expected->n--;
}

/** Expect the frame after one for which wfi_vdif_is_frame is true. */
static inline void wfi_expected_follow(wfi_expected *expected, const wfi_vdif_thread *thread,
                                       const uint8_t *bytes)
{
    const int64_t number = wfi_le32(bytes + 4) & WFI_VDIF_FRAME_MASK;
    const int64_t largest = thread->frames_per_second <= WFI_VDIF_FRAME_MASK
                                ? thread->frames_per_second - 1
                                : WFI_VDIF_FRAME_MASK;
    *expected = (wfi_expected){.time = wfi_le64(bytes) + WFI_EXPECTED_TIME_STEP,
                               .layout = wfi_le64(bytes + 8),
                               .n = largest - number};
}

#endif
