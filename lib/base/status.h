/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Setting and forwarding errors inside the library. */
#ifndef WFI_BASE_STATUS_H
#define WFI_BASE_STATUS_H

#include <whitefringe/status.h>

/** Write the message where the facts are: place, expected, found, what to do.
 *
 *  The first error wins; `err` may be NULL. Returns `status`, so that callers return the call.
 */
wf_status wfi_fail(wf_error *err, wf_status status, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

/** Put a place in front of the message that a lower layer wrote: "station Alder: ...". */
void wfi_prefix(wf_error *err, const char *format, ...) __attribute__((format(printf, 2, 3)));

/** Forward a failure: adds nothing, hides nothing. */
#define WFI_TRY(call)                                                                              \
    do {                                                                                           \
        wf_status wfi_status_ = (call);                                                            \
        if (wfi_status_ != WF_OK)                                                                  \
            return wfi_status_;                                                                    \
    } while (0)

#endif
