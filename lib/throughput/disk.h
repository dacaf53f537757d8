/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How fast the disks under a job's files are. */
#ifndef WFI_THROUGHPUT_DISK_H
#define WFI_THROUGHPUT_DISK_H

#include <whitefringe/recording.h>
#include <whitefringe/throughput.h>

#include "throughput/bare_fft.h"

/** Read the job's files in turn, a stretch of each, until the time is up. The page cache is asked
 *  to forget what is read, so that the disk answers; where it cannot, as on a file system in
 *  memory, it is the memory that does.
 *
 *  given   recordings  [job->n_recordings] open
 *  status  OK | IO: a file could not be read; the message names it | MEMORY
 */
wf_status wfi_disk_measure(wf_throughput_disk *out, const wf_observation *job,
                           const wf_recording *const *recordings, double budget_s, wfi_clock now_s,
                           wf_error *err);

#endif
