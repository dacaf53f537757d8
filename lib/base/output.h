/* SPDX-License-Identifier: GPL-3.0-or-later */
/* An output file appears under its name whole, or not at all. */
#ifndef WFI_BASE_OUTPUT_H
#define WFI_BASE_OUTPUT_H

#include <whitefringe/status.h>

/** An output in the making. Start from {0}; every begun one is committed or discarded. */
typedef struct wfi_output {
    char *path;      /* where it is to stand; links are already followed */
    char *temporary; /* where to write it: a free name in the same folder, never starting with a
                        blank; nothing stands there yet */
} wfi_output;

/** status  OK | IO: the folder refuses a new file, or the path names what is no regular file
 *          | MISSING: there is no such folder | MEMORY
 */
wf_status wfi_output_begin(wfi_output *out, const char *path, wf_error *err);

/** Bring the temporary file, which the caller has closed, to the disk and give it its name.
 *
 *  status  OK | IO: the temporary file is removed, what stood under the path still does
 */
wf_status wfi_output_commit(wfi_output *output, wf_error *err);

/** Remove the temporary file. Accepts {0} and what was committed already. */
void wfi_output_discard(wfi_output *output);

/** What errno stands for, in words. */
enum { WFI_ERRNO_TEXT_BYTES = 128 };
const char *wfi_errno_text(char text[WFI_ERRNO_TEXT_BYTES], int number);

#endif
