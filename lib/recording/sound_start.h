/* SPDX-License-Identifier: GPL-3.0-or-later */
/* When a sound file begins, by its broadcast extension. */
#ifndef WFI_RECORDING_SOUND_START_H
#define WFI_RECORDING_SOUND_START_H

#include <sndfile.h>
#include <stdbool.h>
#include <stdint.h>
#include <whitefringe/status.h>
#include <whitefringe/time.h>

typedef struct wfi_sound_start {
    bool known;
    bool exact; /* to the sample; else to the second */
    wf_instant start;
} wfi_sound_start;

/** Read the start that an open file states: origination date and time, and the count of samples
 *  since midnight, taken as UTC.
 *
 *  status  OK, not known where the file states none | FORMAT: date, time and count contradict one
 *          another
 *  source  EBU Tech 3285 (2011), section 2.3
 */
wf_status wfi_sound_start_read(wfi_sound_start *out, SNDFILE *file, int64_t sample_rate_hz,
                               const char *path, wf_error *err);

#endif
