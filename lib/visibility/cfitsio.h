/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The one door to CFITSIO: its lock, and its status turned into ours. */
#ifndef WFI_VISIBILITY_CFITSIO_H
#define WFI_VISIBILITY_CFITSIO_H

#include <fitsio.h>
#include <whitefringe/status.h>

/** Every call of CFITSIO stands between these two: its stack of messages is one for the whole
 *  process, in a build that is said to be reentrant too. */
void wfi_cfitsio_enter(void);
void wfi_cfitsio_leave(void);

/** Turn CFITSIO's inherited status into ours, once; before wfi_cfitsio_leave.
 *
 *  given    action     what could not be done, words that follow the path: "could not be written"
 *           otherwise  for faults that are neither the system's nor of memory
 *  returns  OK where status is 0 | IO | MEMORY | otherwise
 */
wf_status wfi_cfitsio_check(int status, const char *path, const char *action, wf_status otherwise,
                            wf_error *err);

#endif
