/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The values of a YAML text with the bytes that each takes, for changing them in place.
 *
 *  libyaml's documents follow aliases in silence and let block collections end where the next token
 *  begins, comments and all; its events do not.
 */
#ifndef WFI_OBSERVATION_YAML_TREE_H
#define WFI_OBSERVATION_YAML_TREE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <whitefringe/status.h>

#define WFI_NO_NODE SIZE_MAX

typedef enum wfi_yaml_kind {
    WFI_YAML_SCALAR,
    WFI_YAML_SEQUENCE,
    WFI_YAML_MAPPING,
    WFI_YAML_ALIAS,
} wfi_yaml_kind;

typedef enum wfi_yaml_style {
    WFI_YAML_PLAIN,
    WFI_YAML_SINGLE_QUOTED,
    WFI_YAML_DOUBLE_QUOTED,
    WFI_YAML_BLOCK, /* literal and folded texts, collections by indentation */
    WFI_YAML_FLOW,  /* [a, b] and {a: b} */
} wfi_yaml_style;

/** A value or key. Numbers of nodes are in the order of the text; the root's is 0. */
typedef struct wfi_yaml_node {
    wfi_yaml_kind kind;
    wfi_yaml_style style;
    size_t begin, end;   /* bytes, its anchor and tag included; what is indented ends with its last
                            value */
    size_t line, column; /* of begin: from 1; from 0, in characters */
    size_t parent;
    size_t first, last; /* values within; keys and values of a mapping take turns */
    size_t next;        /* in the same collection */
    char *text;         /* of a scalar its value, of an alias the name; a zero behind it */
    size_t n_text;
    char *anchor; /* NULL: none */
} wfi_yaml_node;

typedef struct wfi_yaml_tree {
    wfi_yaml_node *nodes;
    size_t n, capacity;
} wfi_yaml_tree;

/** Read a text of one document that wfi_document_parse has accepted.
 *
 *  returned  out   to be released, also on failure
 *  status    OK | UNSUPPORTED: not UTF-8 | FORMAT | MEMORY
 */
wf_status wfi_yaml_tree_read(wfi_yaml_tree *out, const char *path, const char *bytes, size_t n,
                             wf_error *err);
void wfi_yaml_tree_release(wfi_yaml_tree *tree);

/** What an alias stands for; the node itself where it is none. */
size_t wfi_yaml_follow(const wfi_yaml_tree *tree, size_t i);

/** The key of a mapping, and its value as the next of it; WFI_NO_NODE where it is not there. */
size_t wfi_yaml_key(const wfi_yaml_tree *tree, size_t mapping, const char *key, size_t n);

/** How many values a list holds, pairs a mapping. */
size_t wfi_yaml_n_entries(const wfi_yaml_tree *tree, size_t collection);

/** In what one text is to differ from another; nodes are those of the text before. */
typedef struct wfi_yaml_change {
    size_t replaced;        /* is now `value`; WFI_NO_NODE: none, as below */
    size_t removed;         /* a key with its value, or an entry */
    size_t inserted_in;     /* this mapping has got the pair `key`: `value`... */
    size_t inserted_before; /* ... before this key; WFI_NO_NODE: at the end */
    const char *key;
    const wfi_yaml_tree *value;
} wfi_yaml_change;

#define WFI_YAML_CHANGE_NONE                                                                       \
    {                                                                                              \
        WFI_NO_NODE, WFI_NO_NODE, WFI_NO_NODE, WFI_NO_NODE, NULL, NULL                             \
    }

/** `after` says what `before` says, but for the change; styles do not count, aliases stand for
 *  their values. False, too, where aliases make too much of it. */
bool wfi_yaml_same_but(const wfi_yaml_tree *before, const wfi_yaml_tree *after,
                       const wfi_yaml_change *change);

#endif
