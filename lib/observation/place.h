/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Faults in a YAML file, told with their place. */
#ifndef WFI_OBSERVATION_PLACE_H
#define WFI_OBSERVATION_PLACE_H

#include <whitefringe/status.h>

#include "observation/document.h"

/** A mapping of the document that is being read. */
enum { WFI_PLACE_BYTES = 128 };
typedef struct wfi_place {
    const wfi_document *document;
    wf_error *err;
    char path[WFI_PLACE_BYTES]; /* "bands[1]"; empty: the whole file */
} wfi_place;

wfi_place wfi_place_at(const wfi_document *document, wf_error *err, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

/** FORMAT with "file:line: path.key: " in front of the message.
 *
 *  given  key  of the mapping, "files[2]" too; NULL: the mapping itself
 */
wf_status wfi_place_fail(const wfi_place *place, const char *key, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

/** Replace control characters: a file may hold escapes that a terminal would obey. */
void wfi_make_printable(char *text);

#endif
