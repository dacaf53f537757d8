/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A VDIF file in the making. */
#ifndef WFI_SIMULATE_VDIF_WRITER_H
#define WFI_SIMULATE_VDIF_WRITER_H

#include <stdbool.h>
#include <stdint.h>
#include <whitefringe/status.h>

/** What all frames of a file have in common. */
typedef struct wfi_vdif_layout {
    bool legacy_header; /* 16 bytes instead of 32 */
    bool is_complex;
    unsigned bits;
    uint32_t n_channels; /* of every thread: a power of two */
    uint32_t payload_bytes;
    uint32_t station; /* two characters, the first in the high byte */
} wfi_vdif_layout;

typedef struct wfi_vdif_writer wfi_vdif_writer;

/** given   first_second  of the recording, SI seconds since 2000-01-01T00:00:00 UTC: chooses the
 *                        reference epoch
 *  status  as wfi_output_begin
 */
wf_status wfi_vdif_writer_create(wfi_vdif_writer **out, const char *path,
                                 const wfi_vdif_layout *layout, int64_t first_second,
                                 wf_error *err);

/** Append a frame.
 *
 *  given   payload  [payload_bytes]
 *  status  OK | IO
 */
wf_status wfi_vdif_writer_append(wfi_vdif_writer *writer, int64_t second, int64_t frame,
                                 uint32_t thread, const uint8_t *payload, wf_error *err);

/** Bring the file to the disk and give it its name. */
wf_status wfi_vdif_writer_finish(wfi_vdif_writer *writer, wf_error *err);

/** Accepts NULL; what was not finished is removed from the disk. */
void wfi_vdif_writer_destroy(wfi_vdif_writer *writer);

#endif
