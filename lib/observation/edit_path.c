/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Paths such as stations[Alder].clock.ahead_s in a YAML text. */
#include "observation/edit_path.h"

#include <stdio.h>
#include <string.h>

#include "base/status.h"
#include "base/text.h"

typedef struct step {
    const char *text;
    size_t n;
    bool in_list;
    bool is_name; /* of an entry; else its number */
} step;

/* False at the end, and where the path is none. */
static bool next_step(const char **path, step *out)
{
    const char *p = *path;
    *out = (step){0};
    if (*p == '[') {
        out->in_list = true;
        out->is_name = p[1] == '"';
        out->text = p + 1 + out->is_name;
        out->n = strcspn(out->text, out->is_name ? "\"" : "]");
        p = out->text + out->n;
        if (out->is_name && *p++ != '"')
            return false;
        out->is_name = out->is_name || strspn(out->text, "0123456789") < out->n;
        if (out->n == 0 || *p++ != ']')
            return false;
    } else {
        out->text = p;
        out->n = strcspn(p, ".[]\"");
        p += out->n;
        if (out->n == 0)
            return false;
    }
    if (*p == '.') {
        p++;
        if (*p == '\0' || *p == '[')
            return false;
    } else if (*p != '\0' && *p != '[')
        return false;
    *path = p;
    return true;
}

static wf_status check_path(const char *path, wf_error *err)
{
    step unused;
    const char *p = path;
    while (*p != '\0' && next_step(&p, &unused))
        ;
    if (*p == '\0' && p != path && *path != '[')
        return WF_OK;
    return wfi_fail(err, WF_ARGUMENT,
                    "\"%.100s\" names no place in a job: expected keys with points between them, "
                    "and entries of lists in brackets, as stations[Alder].clock.ahead_s",
                    path);
}

/* Lists know their entries by `name`, and recordings by their station. */
static bool has_name(const wfi_yaml_tree *tree, size_t entry, const step *s)
{
    static const char *const keys[] = {"name", "station"};
    entry = wfi_yaml_follow(tree, entry);
    for (size_t k = 0; k < 2; k++) {
        const size_t key = wfi_yaml_key(tree, entry, keys[k], strlen(keys[k]));
        if (key == WFI_NO_NODE)
            continue;
        const wfi_yaml_node *name = &tree->nodes[wfi_yaml_follow(tree, tree->nodes[key].next)];
        return name->kind == WFI_YAML_SCALAR && name->n_text == s->n &&
               memcmp(name->text, s->text, s->n) == 0;
    }
    return false;
}

/* The entry of a list and its number; `again` the number of a second one of the name. */
static size_t find_entry(const wfi_yaml_tree *tree, size_t list, const step *s, size_t *number,
                         size_t *again)
{
    size_t found = WFI_NO_NODE;
    int64_t wanted = -1;
    *again = WFI_NO_NODE;
    if (tree->nodes[list].kind != WFI_YAML_SEQUENCE ||
        (!s->is_name && !wfi_parse_int64(&wanted, s->text, s->n)))
        return WFI_NO_NODE;
    size_t k = 0;
    for (size_t i = tree->nodes[list].first; i != WFI_NO_NODE; i = tree->nodes[i].next, k++) {
        if (s->is_name ? !has_name(tree, i, s) : (int64_t)k != wanted)
            continue;
        if (found != WFI_NO_NODE) {
            *again = k;
            break;
        }
        found = i;
        *number = k;
    }
    return found;
}

static void append(wfi_edit_place *place, const step *s, size_t number)
{
    const size_t used = strlen(place->text);
    char *end = place->text + used;
    if (s->in_list)
        snprintf(end, sizeof place->text - used, "[%zu]", number);
    else
        snprintf(end, sizeof place->text - used, "%s%.*s", used > 0 ? "." : "", (int)s->n, s->text);
}

static wf_status refuse_alias(const wfi_yaml_tree *tree, const char *file,
                              const wfi_edit_place *place, size_t alias, wf_error *err)
{
    const size_t original = wfi_yaml_follow(tree, alias);
    return wfi_fail(err, WF_UNSUPPORTED,
                    "%s:%zu: %s is an alias, *%.60s, of what line %zu says: write the values out "
                    "there before they are changed",
                    file, tree->nodes[alias].line, place->text, tree->nodes[alias].text,
                    tree->nodes[original].line);
}

static wf_status find_in_list(wfi_edit_place *place, const wfi_yaml_tree *tree, const char *file,
                              const step *s, wf_error *err)
{
    const wfi_yaml_node *list = &tree->nodes[place->parent];
    size_t number = 0;
    size_t again = 0;
    place->key = WFI_NO_NODE;
    place->node = find_entry(tree, place->parent, s, &number, &again);
    if (list->kind != WFI_YAML_SEQUENCE)
        return wfi_fail(err, WF_FORMAT, "%s:%zu: %s: expected a list", file, list->line,
                        place->text);
    if (place->node == WFI_NO_NODE)
        return wfi_fail(err, WF_MISSING, "%s:%zu: %s has no entry %.*s; it has %zu entries", file,
                        list->line, place->text, (int)s->n, s->text,
                        wfi_yaml_n_entries(tree, place->parent));
    if (again != WFI_NO_NODE)
        return wfi_fail(err, WF_FORMAT,
                        "%s:%zu: %.*s is the name of %s[%zu] and of %s[%zu]: give the number", file,
                        list->line, (int)s->n, s->text, place->text, number, place->text, again);
    append(place, s, number);
    return WF_OK;
}

static wf_status find_key(wfi_edit_place *place, const wfi_yaml_tree *tree, const char *file,
                          const step *s, wf_error *err)
{
    const wfi_yaml_node *mapping = &tree->nodes[place->parent];
    if (mapping->kind != WFI_YAML_MAPPING)
        return wfi_fail(err, WF_FORMAT, "%s:%zu: %s: expected a group of keys, among them %.*s",
                        file, mapping->line, place->text, (int)s->n, s->text);
    place->key = wfi_yaml_key(tree, place->parent, s->text, s->n);
    place->node = place->key == WFI_NO_NODE ? WFI_NO_NODE : tree->nodes[place->key].next;
    append(place, s, 0);
    return WF_OK;
}

/* What is missing may hold keys alone. */
static wf_status take_missing(wfi_edit_place *place, const char *file, const char *first,
                              const char *after, const wfi_yaml_tree *tree, wf_error *err)
{
    place->rest = first;
    if (strpbrk(after, "[]") != NULL)
        return wfi_fail(err, WF_MISSING, "%s:%zu: %s is not there, so %s cannot be", file,
                        tree->nodes[place->parent].line, place->text, first);
    if (*after != '\0') {
        const size_t used = strlen(place->text);
        snprintf(place->text + used, sizeof place->text - used, ".%s", after);
    }
    return WF_OK;
}

wf_status wfi_edit_find(wfi_edit_place *out, const wfi_yaml_tree *tree, const char *file,
                        const char *path, wf_error *err)
{
    *out = (wfi_edit_place){.parent = 0, .key = WFI_NO_NODE, .node = 0};
    WFI_TRY(check_path(path, err));
    for (const char *p = path; *p != '\0';) {
        const char *const first = p;
        step s;
        if (tree->nodes[out->node].kind == WFI_YAML_ALIAS)
            return refuse_alias(tree, file, out, out->node, err);
        out->parent = out->node;
        if (!next_step(&p, &s))
            break;
        if (s.in_list)
            WFI_TRY(find_in_list(out, tree, file, &s, err));
        else
            WFI_TRY(find_key(out, tree, file, &s, err));
        if (out->node == WFI_NO_NODE)
            return take_missing(out, file, first, p, tree, err);
    }
    return WF_OK;
}

size_t wfi_edit_look(const wfi_yaml_tree *tree, const char *path)
{
    size_t node = 0;
    step s;
    for (const char *p = path; *p != '\0';) {
        if (!next_step(&p, &s))
            return WFI_NO_NODE;
        size_t unused = 0;
        size_t again = WFI_NO_NODE;
        if (s.in_list) {
            node = find_entry(tree, node, &s, &unused, &again);
        } else {
            const size_t key = wfi_yaml_key(tree, node, s.text, s.n);
            node = key == WFI_NO_NODE ? WFI_NO_NODE : tree->nodes[key].next;
        }
        if (node == WFI_NO_NODE || again != WFI_NO_NODE)
            return WFI_NO_NODE;
        node = wfi_yaml_follow(tree, node);
    }
    return node;
}

static bool holds(const wfi_yaml_tree *tree, size_t outer, size_t inner)
{
    for (size_t i = inner; i != WFI_NO_NODE; i = tree->nodes[i].parent) {
        if (i == outer)
            return true;
    }
    return false;
}

size_t wfi_edit_sharing_alias(const wfi_yaml_tree *tree, const wfi_edit_place *place)
{
    const bool is_there = place->node != WFI_NO_NODE;
    const size_t changed = is_there ? place->node : place->parent;
    for (size_t alias = 0; alias < tree->n; alias++) {
        if (tree->nodes[alias].kind != WFI_YAML_ALIAS)
            continue;
        const size_t original = wfi_yaml_follow(tree, alias);
        const bool within = is_there && original != alias && holds(tree, changed, original);
        if (original != alias &&
            (holds(tree, original, changed) || (within && !holds(tree, changed, alias))))
            return alias;
    }
    return WFI_NO_NODE;
}

wf_status wfi_edit_refuse_shared(const wfi_yaml_tree *tree, const char *file,
                                 const wfi_edit_place *place, wf_error *err)
{
    const size_t alias = wfi_edit_sharing_alias(tree, place);
    if (alias == WFI_NO_NODE)
        return WF_OK;
    const size_t changed = place->node != WFI_NO_NODE ? place->node : place->parent;
    return wfi_fail(err, WF_UNSUPPORTED,
                    "%s:%zu: %s: line %zu repeats, as *%.60s, what is to be changed here: write "
                    "the values out there first",
                    file, tree->nodes[changed].line, place->text, tree->nodes[alias].line,
                    tree->nodes[alias].text);
}

wfi_edit_place wfi_edit_place_of(const wfi_yaml_tree *tree, size_t node)
{
    const size_t parent = tree->nodes[node].parent;
    if (parent == WFI_NO_NODE)
        return (wfi_edit_place){.parent = 0, .key = WFI_NO_NODE, .node = node};
    wfi_edit_place place = wfi_edit_place_of(tree, parent);
    place.parent = parent;
    place.key = WFI_NO_NODE;
    place.node = node;
    size_t number = 0;
    size_t before = WFI_NO_NODE;
    for (size_t i = tree->nodes[parent].first; i != node; i = tree->nodes[i].next, number++)
        before = i;
    step s = {.in_list = tree->nodes[parent].kind == WFI_YAML_SEQUENCE};
    if (!s.in_list && before != WFI_NO_NODE) {
        place.key = before;
        s.text = tree->nodes[before].text != NULL ? tree->nodes[before].text : "";
        s.n = strlen(s.text);
    }
    append(&place, &s, number);
    return place;
}

bool wfi_edit_first_key(const char *path, size_t *n, const char **after)
{
    step s;
    const char *p = path;
    if (!next_step(&p, &s) || s.in_list)
        return false;
    *n = s.n;
    *after = p;
    return true;
}
