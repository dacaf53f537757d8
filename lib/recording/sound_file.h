/* SPDX-License-Identifier: GPL-3.0-or-later */
/* One sound file, opened through libsndfile on positioned reads of our own. */
#ifndef WFI_RECORDING_SOUND_FILE_H
#define WFI_RECORDING_SOUND_FILE_H

#include <sndfile.h>
#include <stdint.h>
#include <whitefringe/recording.h>
#include <whitefringe/status.h>

#include "recording/input_file.h"
#include "recording/read_ahead.h"
#include "recording/sound_chunks.h"

/** How the samples of a file are read: lossless ones only. */
typedef struct wfi_sound_kind {
    int subtype; /* libsndfile's */
    wf_encoding encoding;
    unsigned bits;
    sf_count_t (*read)(SNDFILE *file, void *out, sf_count_t n_samples);
} wfi_sound_kind;

/** An open handle; one thread at a time, any number of handles on one input. */
typedef struct wfi_sound_file {
    const wfi_input_file *input;
    const wfi_sound_chunks *chunks;
    SNDFILE *handle;
    SF_INFO info;
    const wfi_sound_kind *kind;
    int64_t begin;    /* byte of the file that libsndfile takes for the first */
    int64_t offset;   /* where libsndfile reads next, bytes from there */
    int64_t position; /* the sample that comes next */
    wfi_read_ahead ahead;
    wf_error fault;   /* of the last read the system refused */
} wfi_sound_file;

/** given   chunks  of the input; both outlive the handle
 *  status  OK | FORMAT: no sound file, or one without samples | UNSUPPORTED: a lossy one | IO |
 *          MEMORY. `out` stays at its address while it is open; close it on failure too.
 */
wf_status wfi_sound_file_open(wfi_sound_file *out, const wfi_input_file *input,
                              const wfi_sound_chunks *chunks, wf_error *err);
void wfi_sound_file_close(wfi_sound_file *file);

/** Where a WAV file holds more than its header can state (4 GiB): go on with its samples alone, all
 *  of them. What else stands in the file is to be asked for before. */
wf_status wfi_sound_file_leave_header(wfi_sound_file *file, wf_error *err);

/** Read samples [first, first + n) of all channels.
 *
 *  returned  n_read  fewer than n where the file ends or is damaged
 *  status    OK | IO
 */
wf_status wfi_sound_file_read(wfi_sound_file *file, int64_t first, int64_t n, void *out,
                              int64_t *n_read, wf_error *err);

/** "WAV", "FLAC", ...; never NULL. */
const char *wfi_sound_file_format_name(const wfi_sound_file *file);

#endif
