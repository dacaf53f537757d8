/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Two YAML texts say the same, but for one change. */
#include <string.h>

#include "observation/yaml_tree.h"

/* Aliases of lists within lists multiply, and may hold themselves. */
enum { VALUES_MAX = 2000000, DEPTH_MAX = 1500 };

typedef struct comparison {
    const wfi_yaml_tree *before;
    const wfi_yaml_tree *after;
    const wfi_yaml_change *change; /* NULL: none */
    size_t n_values;
    size_t depth;
} comparison;

static bool same(comparison *c, size_t a, size_t b);

static bool is_value(comparison *c, size_t b)
{
    comparison inner = {c->change->value, c->after, NULL, c->n_values, c->depth};
    const bool equal = same(&inner, 0, b);
    c->n_values = inner.n_values;
    return equal;
}

/* What comes after a node in its collection, `n` nodes on. */
static size_t skip(const wfi_yaml_tree *tree, size_t i, size_t n)
{
    for (; n > 0 && i != WFI_NO_NODE; n--)
        i = tree->nodes[i].next;
    return i;
}

static bool is_inserted_pair(comparison *c, size_t key)
{
    const wfi_yaml_node *node = key == WFI_NO_NODE ? NULL : &c->after->nodes[key];
    return node != NULL && node->kind == WFI_YAML_SCALAR &&
           strcmp(node->text, c->change->key) == 0 && is_value(c, node->next);
}

static bool same_entries(comparison *c, size_t a, size_t b)
{
    const size_t step = c->before->nodes[a].kind == WFI_YAML_MAPPING ? 2 : 1;
    size_t i = c->before->nodes[a].first;
    size_t j = c->after->nodes[b].first;
    bool to_insert = c->change != NULL && c->change->inserted_in == a;
    while (i != WFI_NO_NODE || j != WFI_NO_NODE) {
        if (c->change != NULL && i != WFI_NO_NODE && i == c->change->removed) {
            i = skip(c->before, i, step);
        } else if (to_insert && i == c->change->inserted_before) {
            if (!is_inserted_pair(c, j))
                return false;
            to_insert = false;
            j = skip(c->after, j, step);
        } else {
            if (i == WFI_NO_NODE || j == WFI_NO_NODE || !same(c, i, j))
                return false;
            i = c->before->nodes[i].next;
            j = c->after->nodes[j].next;
        }
    }
    return !to_insert;
}

static bool same(comparison *c, size_t a, size_t b)
{
    if (++c->n_values > VALUES_MAX || c->depth > DEPTH_MAX)
        return false;
    if (c->change != NULL && a == c->change->replaced)
        return is_value(c, b);
    const size_t i = wfi_yaml_follow(c->before, a);
    const size_t j = wfi_yaml_follow(c->after, b);
    const wfi_yaml_node *before = &c->before->nodes[i];
    const wfi_yaml_node *after = &c->after->nodes[j];
    if (before->kind != after->kind)
        return false;
    if (before->kind == WFI_YAML_SCALAR)
        return before->n_text == after->n_text &&
               memcmp(before->text, after->text, after->n_text) == 0;
    if (before->kind == WFI_YAML_ALIAS)
        return false;
    c->depth++;
    const bool equal = same_entries(c, i, j);
    c->depth--;
    return equal;
}

bool wfi_yaml_same_but(const wfi_yaml_tree *before, const wfi_yaml_tree *after,
                       const wfi_yaml_change *change)
{
    comparison c = {before, after, change, 0, 0};
    return same(&c, 0, 0);
}
