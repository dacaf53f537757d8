/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a file format has to offer to be a recording.
 *
 *  A new format is one file with a constant of this type, and one line in the table of
 *  recording.c.
 */
#ifndef WFI_RECORDING_FORMAT_H
#define WFI_RECORDING_FORMAT_H

#include <stddef.h>
#include <stdint.h>
#include <whitefringe/recording.h>

#include "recording/fault_log.h"

typedef struct wfi_format {
    const char *name;    /* for messages */
    wf_file_format code; /* what the job file calls it */

    /* How sure the first bytes of a file make it that it is of this format: 0 not at all, 100
     * wholly. */
    int (*probe)(const uint8_t *head, size_t n);

    /* Open all files of an entry. `info` and what it points to live until close. What is found
     * wrong, now and by readers, goes into the log, which outlives the state. On failure the state
     * is closed too where it is not NULL. */
    wf_status (*open)(void **state, wf_recording_info *info, const wf_recording_entry *entry,
                      wfi_fault_log *log, wf_error *err);
    void (*close)(void *state);

    /* A reader belongs to one thread at a time; any number of them share a state. */
    wf_status (*reader_create)(void **reader, const void *state, int64_t capacity, wf_error *err);
    void (*reader_destroy)(void *reader);

    /* Fill packed[n_threads] with samples [first, first + n), n <= capacity. */
    wf_status (*load)(void *reader, wf_packed *packed, int64_t first, int64_t n, wf_error *err);
} wfi_format;

/** A recording of an opened state, which it then owns; on failure the caller still does. */
wf_status wfi_recording_create(wf_recording **out, const wfi_format *format, void *state,
                               const wf_recording_info *info, wf_error *err);

extern const wfi_format wfi_vdif;
extern const wfi_format wfi_sound;

#endif
