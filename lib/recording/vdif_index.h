/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Where every frame of a VDIF recording stands.
 *
 *  The index is made when the recording is opened, from a sample of its headers in long files, and
 *  is made exact where a reader finds that something else stands there than the sample led to
 *  expect. What it says of a frame depends on the files alone.
 */
#ifndef WFI_RECORDING_VDIF_INDEX_H
#define WFI_RECORDING_VDIF_INDEX_H

#include <pthread.h>
#include <stddef.h>
#include <stdint.h>
#include <whitefringe/status.h>

#include "recording/vdif_findings.h"
#include "recording/vdif_sample.h"
#include "recording/vdif_stream.h"

typedef struct wfi_vdif_index {
    wfi_vdif_stream *stream;
    wfi_run_list *threads;        /* [n_threads] every frame once, ascending in time */
    wfi_run_list *others;         /* [n_threads] frames that stand twice, ascending in time */
    int64_t *longest_other;       /* [n_threads] frames of the longest run of `others` */
    wfi_interval_list *intervals; /* [n_files] */
    pthread_mutex_t lock;         /* of what is refined */
    bool any_refined;
} wfi_vdif_index;

/** Make the index; settles origin_second, first_sample and end_sample of the stream, and writes
 *  what is wrong into its log. To be destroyed, on failure too. */
wf_status wfi_vdif_index_create(wfi_vdif_index *out, wfi_vdif_stream *stream, bool exact,
                                wf_error *err);
void wfi_vdif_index_destroy(wfi_vdif_index *index);

/** Append where frames [k, k + n) of a thread stand, in ascending order, and leave out what stands
 *  nowhere. */
wf_status wfi_vdif_index_find(wfi_vdif_index *index, size_t i_thread, int64_t k, int64_t n,
                              wfi_run_list *out, wf_error *err);

/** Where a frame stands a second time; false: nowhere. */
bool wfi_vdif_index_find_other(const wfi_vdif_index *index, size_t i_thread, int64_t k,
                               wfi_run *out);

/** Look at every header round a place where something else stood than was to be expected.
 *
 *  returned  exact  what the index says there is exact now: runs that it finds are proven; false:
 *                   nothing there was taken on trust
 */
wf_status wfi_vdif_index_refine(wfi_vdif_index *index, size_t i_file, int64_t offset, bool *exact,
                                wf_error *err);

#endif
