/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Finding what a path of whitefringe/job_edit.h means in a text, and who else says the same. */
#ifndef WFI_OBSERVATION_EDIT_PATH_H
#define WFI_OBSERVATION_EDIT_PATH_H

#include <whitefringe/status.h>

#include "observation/yaml_tree.h"

enum { WFI_EDIT_PLACE_BYTES = 192 };

/** Where a path leads. */
typedef struct wfi_edit_place {
    size_t parent;    /* the collection that holds the value, or lacks the key */
    size_t key;       /* of the value; WFI_NO_NODE: in a list, or the key is not there */
    size_t node;      /* the value; WFI_NO_NODE: the key is not there */
    const char *rest; /* the part of the path from the missing key on */
    char text[WFI_EDIT_PLACE_BYTES]; /* the whole path with numbers for names */
} wfi_edit_place;

/** status  OK: there, or a key is missing | ARGUMENT: no path | MISSING: no such list or entry
 *          | FORMAT: a name that two entries have, a key of what is no mapping | UNSUPPORTED: the
 *          path leads through an alias, which is `node`
 */
wf_status wfi_edit_find(wfi_edit_place *out, const wfi_yaml_tree *tree, const char *file,
                        const char *path, wf_error *err);

/** The place of a value that is no key. */
wfi_edit_place wfi_edit_place_of(const wfi_yaml_tree *tree, size_t node);

/** A path that is there, aliases followed; WFI_NO_NODE where it is not. */
size_t wfi_edit_look(const wfi_yaml_tree *tree, const char *path);

/** The alias elsewhere whose meaning a change of the value would change or break, or, where the key
 *  is missing, one in the collection; WFI_NO_NODE: there is none. */
size_t wfi_edit_sharing_alias(const wfi_yaml_tree *tree, const wfi_edit_place *place);

/** UNSUPPORTED where there is one. */
wf_status wfi_edit_refuse_shared(const wfi_yaml_tree *tree, const char *file,
                                 const wfi_edit_place *place, wf_error *err);

/** The first key of a path, its length, and what comes after it (behind a point); of paths that
 *  hold keys alone, as of a mapping that is not there. False: there are brackets. */
bool wfi_edit_first_key(const char *path, size_t *n, const char **after);

#endif
