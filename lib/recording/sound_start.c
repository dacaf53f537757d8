/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "recording/sound_start.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "base/status.h"

/* Origination time is written when recording begins; the count may be a little later. */
static const double AGREEMENT_S = 2.0;

/* Date (10 characters) and time (8), of which the separators are free and no zero need follow. */
static bool parse(wf_instant *out, const char *date, const char *time)
{
    char text[WF_INSTANT_TEXT_BYTES];
    snprintf(text, sizeof text, "%.4s-%.2s-%.2sT%.2s:%.2s:%.2s", date, date + 5, date + 8, time,
             time + 3, time + 6);
    wf_error ignored = WF_ERROR_INIT;
    return wf_instant_parse(out, text, &ignored) == WF_OK;
}

wf_status wfi_sound_start_read(wfi_sound_start *out, SNDFILE *file, int64_t sample_rate_hz,
                               const char *path, wf_error *err)
{
    *out = (wfi_sound_start){0};
    SF_BROADCAST_INFO info;
    memset(&info, 0, sizeof info);
    wf_instant midnight;
    if (sf_command(file, SFC_GET_BROADCAST_INFO, &info, sizeof info) != SF_TRUE ||
        !parse(&midnight, info.origination_date, "00:00:00"))
        return WF_OK;
    wf_instant by_time;
    const bool has_time = parse(&by_time, info.origination_date, info.origination_time);
    const uint64_t count = info.time_reference_low | (uint64_t)info.time_reference_high << 32;
    if (count == 0) {
        *out = (wfi_sound_start){.known = has_time, .exact = false, .start = by_time};
        return WF_OK;
    }
    const bool too_large = count > (uint64_t)sample_rate_hz * 86401;
    const wf_instant by_count =
        too_large ? midnight : wf_instant_add_samples(midnight, (int64_t)count, sample_rate_hz);
    if (too_large || (has_time && fabs(wf_instant_difference_s(by_count, by_time)) > AGREEMENT_S))
        return wfi_fail(err, WF_FORMAT,
                        "%s: the broadcast extension contradicts itself: time %.8s on %.10s, but "
                        "%llu samples since midnight at %lld Hz; state start for the recording in "
                        "the job",
                        path, info.origination_time, info.origination_date,
                        (unsigned long long)count, (long long)sample_rate_hz);
    *out = (wfi_sound_start){.known = true, .exact = true, .start = by_count};
    return WF_OK;
}
