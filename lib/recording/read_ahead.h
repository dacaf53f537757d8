/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Asks for what a reader will want next, so that the disk works while samples are computed with.
 *
 *  Threads that share a file jump over each other's stretches. The system, which sees one file read
 *  here and there, may or may not make out that it is read forward; each reader knows.
 */
#ifndef WFI_RECORDING_READ_AHEAD_H
#define WFI_RECORDING_READ_AHEAD_H

#include <stddef.h>
#include <stdint.h>

#include "recording/input_file.h"

/** Of one reader; start from {0}. */
typedef struct wfi_read_ahead {
    const wfi_input_file *file; /* that it read last */
    int64_t end;                /* of that read */
    int64_t forward;            /* bytes read since it last began elsewhere */
    int64_t asked;              /* what stands before that place is in memory, or was asked for */
} wfi_read_ahead;

/** The reader has read n bytes from `offset` on. As far as it has gone forward, but no farther than
 *  some megabytes, what follows is asked for, unless it is in memory already; who looks here and
 *  there has nothing read in vain. */
void wfi_read_ahead_follow(wfi_read_ahead *ahead, const wfi_input_file *file, int64_t offset,
                           size_t n);

#endif
