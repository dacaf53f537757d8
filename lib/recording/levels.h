/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the codes of offset-binary samples stand for.
 *
 *  1 bit, and 3 bits and more: code - 2^(bits - 1) + 1/2, equal steps about zero. 2 bits: -n, -1,
 *  1, n with the outer level below. Signed integers and floats stand for themselves.
 */
#ifndef WFI_RECORDING_LEVELS_H
#define WFI_RECORDING_LEVELS_H

#include <stdint.h>
#include <string.h>
#include <whitefringe/recording.h>
#include <whitefringe/status.h>

#include "base/bytes.h"

/* Outer level over inner level of the four-level quantiser with the best efficiency, thresholds at
 * 0 and +-0.98159 sigma (Thompson, Moran, Swenson 2017, ch. 8, doi:10.1007/978-3-319-44431-4; the
 * four-level quantiser of Max 1960, IRE Trans. IT-6, 7, table I: 1.510 / 0.4528). */
#define WFI_OUTER_LEVEL_2BIT 3.3359

/** status  OK | UNSUPPORTED: no reader hands out samples of that kind */
wf_status wfi_check_levels(wf_sample_format format, wf_error *err);

/** The level of a code of 1 to 8 bits as it stands in the file: offset binary, or signed. */
float wfi_level_of_code(wf_sample_format format, unsigned code);

/** The level of a number of 16 or 32 bits as it stands in the file. */
static inline float wfi_wide_level(wf_sample_format format, const uint8_t *p)
{
    if (format.encoding == WF_ENCODING_FLOAT) {
        float value;
        memcpy(&value, p, sizeof value);
        return value;
    }
    if (format.bits == 32)
        return (float)(int32_t)wfi_le32(p);
    const unsigned code = (unsigned)p[0] | (unsigned)p[1] << 8;
    return format.encoding == WF_ENCODING_SIGNED ? (float)(int16_t)(uint16_t)code
                                                 : (float)code - 32767.5f;
}

#endif
