/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A recording that is made of sound files. */
#ifndef WFI_RECORDING_SOUND_PARTS_H
#define WFI_RECORDING_SOUND_PARTS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <whitefringe/recording.h>
#include <whitefringe/status.h>

#include "recording/fault_log.h"
#include "recording/sound_chunks.h"
#include "recording/sound_file.h"
#include "recording/sound_start.h"

typedef struct wfi_sound_part {
    wfi_input_file input;
    wfi_sound_chunks chunks;
    int64_t first;    /* sample number of its first sample */
    int64_t n;        /* samples that are there */
    int64_t n_stated; /* by its header; more than n where the file is cut off */
    wfi_sound_start stated;
} wfi_sound_part;

typedef struct wfi_sound {
    wfi_sound_part *parts; /* [n_parts], in time order */
    size_t n_parts;
    SF_INFO format; /* of all files: channels, rate */
    const wfi_sound_kind *kind;
    const char *format_name;
    size_t sample_bytes; /* all channels */
    wf_instant origin;
    wf_thread_info thread;
    bool keep_going; /* what cannot be read is not valid, and no error */
    wfi_fault_log *log;
} wfi_sound_recording;

/** A fault of the samples [first, first + n) of the recording, which stand in a part or, where the
 *  file is cut off, should stand in it; they are lost by it. */
wfi_fault wfi_sound_fault(const wfi_sound_recording *sound, const wfi_sound_part *part,
                          wf_fault_kind kind, int64_t first, int64_t n);

/** Functions of a wfi_format. */
wf_status wfi_sound_reader_create(void **out, const void *state, int64_t capacity, wf_error *err);
void wfi_sound_reader_destroy(void *reader);
wf_status wfi_sound_reader_load(void *reader, wf_packed *packed, int64_t first, int64_t n,
                                wf_error *err);

#endif
