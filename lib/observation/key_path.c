/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Where a key stands in a YAML document. */
#include "observation/key_path.h"

#include <stdint.h>
#include <string.h>

#include "base/text.h"

typedef struct step {
    const yaml_node_t *node; /* the value; NULL: not there */
    size_t line;
} step;

static step step_to_key(yaml_document_t *yaml, const yaml_node_t *mapping, const char *key,
                        size_t n)
{
    if (mapping->type != YAML_MAPPING_NODE)
        return (step){0};
    const yaml_node_pair_t *pair = mapping->data.mapping.pairs.start;
    for (; pair < mapping->data.mapping.pairs.top; pair++) {
        const yaml_node_t *name = yaml_document_get_node(yaml, pair->key);
        if (name->type == YAML_SCALAR_NODE && name->data.scalar.length == n &&
            memcmp(name->data.scalar.value, key, n) == 0)
            return (step){yaml_document_get_node(yaml, pair->value), name->start_mark.line + 1};
    }
    return (step){0};
}

static step step_to_entry(yaml_document_t *yaml, const yaml_node_t *sequence, const char *digits,
                          size_t n)
{
    int64_t i = 0;
    if (sequence->type != YAML_SEQUENCE_NODE || !wfi_parse_int64(&i, digits, n) || i < 0 ||
        i >= sequence->data.sequence.items.top - sequence->data.sequence.items.start)
        return (step){0};
    const yaml_node_t *node = yaml_document_get_node(yaml, sequence->data.sequence.items.start[i]);
    return (step){node, node->start_mark.line + 1};
}

size_t wfi_key_path_line(yaml_document_t *yaml, const char *key_path)
{
    const yaml_node_t *node = yaml_document_get_root_node(yaml);
    size_t line = node != NULL ? node->start_mark.line + 1 : 1;
    const char *p = key_path;
    while (node != NULL && *p != '\0') {
        step next;
        if (*p == '[') {
            const size_t n = strcspn(p + 1, "]");
            next = step_to_entry(yaml, node, p + 1, n);
            p += 1 + n + (p[1 + n] == ']');
        } else {
            p += *p == '.';
            const size_t n = strcspn(p, ".[");
            next = step_to_key(yaml, node, p, n);
            p += n;
        }
        node = next.node;
        if (node != NULL)
            line = next.line;
    }
    return line;
}
