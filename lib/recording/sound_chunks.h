/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a WAV or RF64 file says of its own length, against what is there.
 *
 *  Recorders write the length when they end: one that was cut short leaves it open, and one that
 *  wrote more than 4 GiB leaves its remainder.
 */
#ifndef WFI_RECORDING_SOUND_CHUNKS_H
#define WFI_RECORDING_SOUND_CHUNKS_H

#include <stdbool.h>
#include <stdint.h>
#include <whitefringe/status.h>

#include "recording/input_file.h"

typedef enum wfi_sound_length {
    WFI_SOUND_LENGTH_UNKNOWN, /* no WAV, or no chunk of samples */
    WFI_SOUND_LENGTH_RIGHT,
    WFI_SOUND_LENGTH_OPEN,    /* never filled in: the samples reach to the end of the file */
    WFI_SOUND_LENGTH_WRAPPED, /* a remainder of 4 GiB: as above */
    WFI_SOUND_LENGTH_CUT,     /* the file ends before the samples do */
    WFI_SOUND_LENGTH_SHORT,   /* what follows the samples is no chunk */
} wfi_sound_length;

typedef struct wfi_sound_chunks {
    wfi_sound_length length;
    int64_t data_offset;  /* of the first sample */
    int64_t stated;       /* bytes of samples by the header */
    int64_t available;    /* bytes from the first sample to the end of the file */
    int64_t sample_bytes; /* of all channels; 0: not stated */
    int64_t field_offset; /* of the length, 4 bytes; 8 where `wide` */
    bool wide;
} wfi_sound_chunks;

/** status  OK | IO */
wf_status wfi_sound_chunks_read(wfi_sound_chunks *out, const wfi_input_file *file, wf_error *err);

/** Bytes [offset, offset + n) of the file were read: put the true length over an open or wrapped
 *  one among them. */
void wfi_sound_chunks_mend(const wfi_sound_chunks *chunks, int64_t offset, uint8_t *bytes,
                           int64_t n);

/** Does the file hold more bytes of samples than its header can state? */
bool wfi_sound_chunks_exceed_header(const wfi_sound_chunks *chunks);

#endif
