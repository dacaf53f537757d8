/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Which bytes of a YAML text a change replaces by which. */
#ifndef WFI_OBSERVATION_SPLICE_H
#define WFI_OBSERVATION_SPLICE_H

#include "base/text.h"
#include "observation/yaml_tree.h"

typedef struct wfi_splice {
    size_t begin, end; /* bytes that go */
    wfi_text text;     /* what comes in their place; to be released */
} wfi_splice;

/** What the splices are made of. */
typedef struct wfi_splice_source {
    const char *bytes;
    size_t n;
    const wfi_yaml_tree *tree;
} wfi_splice_source;

/** Another value, without a line break. */
wfi_splice wfi_splice_replace(const wfi_splice_source *source, size_t node, const char *value);

/** A further pair in a mapping, in the mapping's own style.
 *
 *  returned  before  the key that it comes before; WFI_NO_NODE: it is the last
 */
wfi_splice wfi_splice_insert(const wfi_splice_source *source, size_t mapping, const char *pair,
                             size_t *before);

/** A pair, by its key, or an entry of a list goes; what stands alone in its lines goes with them
 *  and with the comment behind it. The last one of all leaves {} or []. */
wfi_splice wfi_splice_remove(const wfi_splice_source *source, size_t item);

/** From a byte on: the line's first, and its end, before the line break. */
size_t wfi_line_begin(const char *bytes, size_t at);
size_t wfi_line_end(const char *bytes, size_t n, size_t at);
/** The byte behind the line break that stands at the end of a line; 0 bytes at the text's end. */
size_t wfi_line_break_bytes(const char *bytes, size_t n, size_t line_end);

#endif
