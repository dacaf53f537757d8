/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Bytes that wait on the disk until they are wanted, in the order in which they came. */
#ifndef WFI_BASE_SPOOL_H
#define WFI_BASE_SPOOL_H

#include <stddef.h>
#include <stdint.h>
#include <whitefringe/status.h>

/** A file without a name: nothing of it is left whatever ends the process. Start from {0}; a file
 *  is made with the first byte. */
typedef struct wfi_spool {
    int fd_plus_1; /* 0: none yet */
    int64_t n_bytes;
} wfi_spool;

/** given   beside  a file in whose folder there is room for it
 *  status  OK | IO | MEMORY */
wf_status wfi_spool_append(wfi_spool *spool, const char *beside, const void *bytes, size_t n,
                           wf_error *err);

/** Read from a place on what was appended. */
wf_status wfi_spool_read(const wfi_spool *spool, int64_t offset, void *out, size_t n,
                         wf_error *err);

void wfi_spool_release(wfi_spool *spool);

#endif
