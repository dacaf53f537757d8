/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What has been changed, for a human. */
#ifndef WFI_OBSERVATION_EDIT_RECORD_H
#define WFI_OBSERVATION_EDIT_RECORD_H

#include <whitefringe/status.h>

#include "observation/yaml_tree.h"

typedef struct wfi_edit_record {
    const char *place;  /* as in wfi_edit_place */
    const char *before; /* NULL: the key was not there */
    const char *after;  /* NULL: it is not there any more */
    const char *owner;  /* "station Alder" */
    size_t line;        /* of the file; 0: the line is new */
    const char *words;
} wfi_edit_record;

typedef struct wfi_edit_records {
    wfi_edit_record *records;
    size_t n, capacity;
    size_t n_closed; /* the numbers of entries have changed since: none is taken up again */
} wfi_edit_records;

/** Add one, or put it into the one of the same place.
 *
 *  given  tree  of the text before
 *         one   place, before, after, line; copied
 */
wf_status wfi_edit_records_add(wfi_edit_records *records, const wfi_yaml_tree *tree,
                               const wfi_edit_record *one, wf_error *err);

wf_status wfi_edit_records_copy(wfi_edit_records *out, const wfi_edit_records *records,
                                wf_error *err);
void wfi_edit_records_release(wfi_edit_records *records);

#endif
