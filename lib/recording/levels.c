/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "recording/levels.h"

#include <stdbool.h>

#include "base/status.h"

static bool is_known(wf_sample_format format)
{
    switch (format.encoding) {
    case WF_ENCODING_OFFSET_BINARY:
        return format.bits == 1 || format.bits == 2 || format.bits == 4 || format.bits == 8 ||
               format.bits == 16;
    case WF_ENCODING_SIGNED:
        return format.bits == 8 || format.bits == 16 || format.bits == 32;
    case WF_ENCODING_FLOAT:
        return format.bits == 32;
    }
    return false;
}

wf_status wfi_check_levels(wf_sample_format format, wf_error *err)
{
    if (is_known(format))
        return WF_OK;
    return wfi_fail(err, WF_UNSUPPORTED, "samples of %u bits in encoding %d cannot be decoded",
                    format.bits, (int)format.encoding);
}

float wfi_level_of_code(wf_sample_format format, unsigned code)
{
    static const float two_bits[4] = {-(float)WFI_OUTER_LEVEL_2BIT, -1.0f, 1.0f,
                                      (float)WFI_OUTER_LEVEL_2BIT};
    const unsigned half = 1u << (format.bits - 1);
    if (format.encoding == WF_ENCODING_SIGNED)
        return (float)(code ^ half) - (float)half;
    return format.bits == 2 ? two_bits[code] : (float)code - (float)half + 0.5f;
}
