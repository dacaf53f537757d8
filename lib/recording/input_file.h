/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A file that is only ever read, at any place, by any number of threads. */
#ifndef WFI_RECORDING_INPUT_FILE_H
#define WFI_RECORDING_INPUT_FILE_H

#include <stddef.h>
#include <stdint.h>
#include <sys/uio.h>
#include <whitefringe/status.h>

typedef struct wfi_input_file {
    int fd;
    char *path;
    int64_t n_bytes; /* when it was opened */
} wfi_input_file;

/** The system reads into no more places at once. */
enum { WFI_INPUT_PARTS_MAX = 1024 };

/** Open a regular file that holds something, read-only.
 *
 *  returned  out  to be closed; on failure too it may be closed
 *  status    OK | MISSING: no such file | FORMAT: a directory, a device, an empty file | IO: the
 *            system refused | MEMORY
 */
wf_status wfi_input_file_open(wfi_input_file *out, const char *path, wf_error *err);
void wfi_input_file_close(wfi_input_file *file);

/** Read n bytes from a place in the file.
 *
 *  returned  n_read  fewer than n only where the file ends
 *  status    OK | IO: the message names file and place
 */
wf_status wfi_input_file_read(const wfi_input_file *file, int64_t offset, void *out, size_t n,
                              size_t *n_read, wf_error *err);

/** Read a stretch of the file into n_parts places, one after another; as wfi_input_file_read.
 *
 *  given  parts  [n_parts <= WFI_INPUT_PARTS_MAX] changed on the way
 */
wf_status wfi_input_file_read_parts(const wfi_input_file *file, int64_t offset, struct iovec *parts,
                                    size_t n_parts, size_t *n_read, wf_error *err);

/** Ask the system to bring bytes [offset, offset + n) into memory while others are worked on. Where
 *  it does not, reading them takes longer, and that is all. */
void wfi_input_file_will_need(const wfi_input_file *file, int64_t offset, int64_t n);

/** IO: reading at that place failed with that errno. */
wf_status wfi_input_file_fail(const wfi_input_file *file, int64_t offset, int error_number,
                              wf_error *err);

#endif
