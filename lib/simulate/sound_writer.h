/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A WAV file in the making: 16-bit samples, the time of the first in its broadcast extension. */
#ifndef WFI_SIMULATE_SOUND_WRITER_H
#define WFI_SIMULATE_SOUND_WRITER_H

#include <stddef.h>
#include <stdint.h>
#include <whitefringe/status.h>

typedef struct wfi_sound_writer wfi_sound_writer;

/** given   n_channels    of sound: a complex stream has two, I and Q
 *          start_second  of the first sample, SI seconds since 2000-01-01T00:00:00 UTC
 *  status  as wfi_output_begin | UNSUPPORTED: no WAV file can hold such samples
 */
wf_status wfi_sound_writer_create(wfi_sound_writer **out, const char *path, int64_t sample_rate_hz,
                                  size_t n_channels, int64_t start_second, wf_error *err);

/** Append n samples of all channels, [n][n_channels]; status OK | IO */
wf_status wfi_sound_writer_append(wfi_sound_writer *writer, const int16_t *samples, size_t n,
                                  wf_error *err);

/** Bring the file to the disk and give it its name. */
wf_status wfi_sound_writer_finish(wfi_sound_writer *writer, wf_error *err);

/** Accepts NULL; what was not finished is removed from the disk. */
void wfi_sound_writer_destroy(wfi_sound_writer *writer);

#endif
