/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a wf_job_edit holds. */
#ifndef WFI_OBSERVATION_JOB_EDIT_STATE_H
#define WFI_OBSERVATION_JOB_EDIT_STATE_H

#include <whitefringe/job_edit.h>

#include "observation/document.h"
#include "observation/edit_lines.h"
#include "observation/edit_path.h"
#include "observation/edit_record.h"
#include "observation/splice.h"
#include "observation/yaml_tree.h"

struct wf_job_edit {
    wfi_document *opened;   /* the file as it was opened */
    wfi_document *saved;    /* as it was last saved; NULL: it was not */
    wfi_document *document; /* the text now; NULL: as opened */
    wfi_lines first;        /* lines of `opened` */
    wfi_lines lines;        /* of the text now */
    wfi_yaml_tree tree;     /* of the text now */
    wfi_edit_records records;
};

/** The text now. */
const wfi_document *wfi_job_edit_document(const wf_job_edit *edit);

/** Make a change of the text, if it says what the change says and nothing else.
 *
 *  given   splice  released in any case
 *          wanted  the change, but for `value`
 *          value   what is replaced or inserted, as YAML; NULL: nothing
 *          record  place, before, after and line
 */
wf_status wfi_job_edit_apply(wf_job_edit *edit, wfi_splice *splice, wfi_yaml_change *wanted,
                             const char *value, const wfi_edit_record *record, wf_error *err);

/** Put a value in the place of one that is there. */
wf_status wfi_job_edit_replace(wf_job_edit *edit, const wfi_edit_place *place, const char *value,
                               wf_error *err);

/** Several edits; `where`, `what` and n are handed on. */
typedef wf_status wfi_job_edits(wf_job_edit *edit, const char *where, const void *what, size_t n,
                                wf_error *err);

/** Do all of them or, where one fails, none. */
wf_status wfi_job_edit_all_or_none(wf_job_edit *edit, wfi_job_edits *of, const char *where,
                                   const void *what, size_t n, wf_error *err);

#endif
