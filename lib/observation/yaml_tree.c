/* SPDX-License-Identifier: GPL-3.0-or-later */
/* libyaml's events into nodes with their bytes. */
#include "observation/yaml_tree.h"

#include <string.h>
#include <yaml.h>

#include "base/memory.h"
#include "base/status.h"

/* libyaml's marks count characters. */
typedef struct place {
    const char *bytes;
    size_t n;
    size_t i_byte;
    size_t i_character;
} place;

typedef struct builder {
    wfi_yaml_tree *tree;
    place place;
    size_t open; /* the collection that is being read */
    wf_error *err;
} builder;

/* Behind the mark of the byte order, which libyaml does not count. */
static size_t first_byte(const char *bytes, size_t n)
{
    return n >= 3 && memcmp(bytes, "\xef\xbb\xbf", 3) == 0 ? 3 : 0;
}

static size_t byte_of(place *p, size_t i_character)
{
    if (i_character < p->i_character) {
        p->i_character = 0;
        p->i_byte = first_byte(p->bytes, p->n);
    }
    for (; p->i_character < i_character && p->i_byte < p->n; p->i_character++) {
        p->i_byte++;
        while (p->i_byte < p->n && ((unsigned char)p->bytes[p->i_byte] & 0xc0) == 0x80)
            p->i_byte++;
    }
    return p->i_byte;
}

static wf_status copy_bytes(char **out, const void *bytes, size_t n, wf_error *err)
{
    WFI_TRY(wfi_allocate(out, n + 1, 1, "a value", err));
    memcpy(*out, bytes, n);
    return WF_OK;
}

/* The new node hangs on the open collection at once. */
static wf_status add(builder *b, wfi_yaml_kind kind, wfi_yaml_style style,
                     const yaml_event_t *event, const yaml_char_t *anchor)
{
    wfi_yaml_tree *tree = b->tree;
    WFI_TRY(wfi_array_reserve(&tree->nodes, &tree->capacity, tree->n + 1, sizeof *tree->nodes,
                              "a document", b->err));
    const size_t i = tree->n++;
    wfi_yaml_node *node = &tree->nodes[i];
    *node = (wfi_yaml_node){.kind = kind,
                            .style = style,
                            .begin = byte_of(&b->place, event->start_mark.index),
                            .end = byte_of(&b->place, event->end_mark.index),
                            .line = event->start_mark.line + 1,
                            .column = event->start_mark.column,
                            .parent = b->open,
                            .first = WFI_NO_NODE,
                            .last = WFI_NO_NODE,
                            .next = WFI_NO_NODE};
    if (b->open != WFI_NO_NODE) {
        wfi_yaml_node *parent = &tree->nodes[b->open];
        if (parent->first == WFI_NO_NODE)
            parent->first = i;
        else
            tree->nodes[parent->last].next = i;
        parent->last = i;
    }
    if (anchor != NULL && kind != WFI_YAML_ALIAS)
        return wfi_string_copy(&node->anchor, (const char *)anchor, b->err);
    return WF_OK;
}

/* A block text's mark is behind the blank lines after it. */
static void trim_end(const builder *b, wfi_yaml_node *node)
{
    while (node->end > node->begin && strchr(" \t\r\n", b->place.bytes[node->end - 1]) != NULL)
        node->end--;
}

static wf_status add_scalar(builder *b, const yaml_event_t *event)
{
    wfi_yaml_style style = WFI_YAML_BLOCK;
    if (event->data.scalar.style == YAML_PLAIN_SCALAR_STYLE)
        style = WFI_YAML_PLAIN;
    else if (event->data.scalar.style == YAML_SINGLE_QUOTED_SCALAR_STYLE)
        style = WFI_YAML_SINGLE_QUOTED;
    else if (event->data.scalar.style == YAML_DOUBLE_QUOTED_SCALAR_STYLE)
        style = WFI_YAML_DOUBLE_QUOTED;
    WFI_TRY(add(b, WFI_YAML_SCALAR, style, event, event->data.scalar.anchor));
    wfi_yaml_node *node = &b->tree->nodes[b->tree->n - 1];
    if (style == WFI_YAML_BLOCK)
        trim_end(b, node);
    node->n_text = event->data.scalar.length;
    return copy_bytes(&node->text, event->data.scalar.value, node->n_text, b->err);
}

static wf_status add_alias(builder *b, const yaml_event_t *event)
{
    WFI_TRY(add(b, WFI_YAML_ALIAS, WFI_YAML_PLAIN, event, NULL));
    wfi_yaml_node *node = &b->tree->nodes[b->tree->n - 1];
    const char *name = (const char *)event->data.alias.anchor;
    node->n_text = strlen(name);
    return copy_bytes(&node->text, name, node->n_text, b->err);
}

static wf_status open_collection(builder *b, const yaml_event_t *event)
{
    const bool list = event->type == YAML_SEQUENCE_START_EVENT;
    const bool flow = list ? event->data.sequence_start.style == YAML_FLOW_SEQUENCE_STYLE
                           : event->data.mapping_start.style == YAML_FLOW_MAPPING_STYLE;
    WFI_TRY(add(b, list ? WFI_YAML_SEQUENCE : WFI_YAML_MAPPING,
                flow ? WFI_YAML_FLOW : WFI_YAML_BLOCK, event,
                list ? event->data.sequence_start.anchor : event->data.mapping_start.anchor));
    b->open = b->tree->n - 1;
    return WF_OK;
}

static void close_collection(builder *b, const yaml_event_t *event)
{
    wfi_yaml_node *node = &b->tree->nodes[b->open];
    if (node->style == WFI_YAML_FLOW)
        node->end = byte_of(&b->place, event->end_mark.index);
    else if (node->last != WFI_NO_NODE)
        node->end = b->tree->nodes[node->last].end;
    b->open = node->parent;
}

static wf_status take(builder *b, const yaml_event_t *event, const char *path)
{
    switch (event->type) {
    case YAML_STREAM_START_EVENT:
        if (event->data.stream_start.encoding == YAML_UTF8_ENCODING)
            return WF_OK;
        return wfi_fail(b->err, WF_UNSUPPORTED,
                        "%s: UTF-16 text cannot be edited in place: save the file as UTF-8", path);
    case YAML_SCALAR_EVENT:
        return add_scalar(b, event);
    case YAML_ALIAS_EVENT:
        return add_alias(b, event);
    case YAML_SEQUENCE_START_EVENT:
    case YAML_MAPPING_START_EVENT:
        return open_collection(b, event);
    case YAML_SEQUENCE_END_EVENT:
    case YAML_MAPPING_END_EVENT:
        close_collection(b, event);
        return WF_OK;
    default:
        return WF_OK;
    }
}

wf_status wfi_yaml_tree_read(wfi_yaml_tree *out, const char *path, const char *bytes, size_t n,
                             wf_error *err)
{
    *out = (wfi_yaml_tree){0};
    builder b = {out, {bytes, n, first_byte(bytes, n), 0}, WFI_NO_NODE, err};
    yaml_parser_t parser;
    if (!yaml_parser_initialize(&parser))
        return wfi_fail(err, WF_MEMORY, "%s: out of memory", path);
    yaml_parser_set_input_string(&parser, (const unsigned char *)bytes, n);
    wf_status status = WF_OK;
    for (bool more = true; more && status == WF_OK;) {
        yaml_event_t event;
        if (!yaml_parser_parse(&parser, &event)) {
            status = wfi_fail(err, parser.error == YAML_MEMORY_ERROR ? WF_MEMORY : WF_FORMAT,
                              "%s:%zu: not YAML: %s", path, parser.problem_mark.line + 1,
                              parser.problem != NULL ? parser.problem : "cannot be read");
            break;
        }
        more = event.type != YAML_DOCUMENT_END_EVENT && event.type != YAML_STREAM_END_EVENT;
        status = take(&b, &event, path);
        yaml_event_delete(&event);
    }
    yaml_parser_delete(&parser);
    if (status == WF_OK && out->n == 0)
        status = wfi_fail(err, WF_FORMAT, "%s: holds no value", path);
    return status;
}

void wfi_yaml_tree_release(wfi_yaml_tree *tree)
{
    for (size_t i = 0; i < tree->n; i++) {
        wfi_free(tree->nodes[i].text);
        wfi_free(tree->nodes[i].anchor);
    }
    wfi_free(tree->nodes);
    *tree = (wfi_yaml_tree){0};
}

/* A name may be given again: the last one above counts. */
size_t wfi_yaml_follow(const wfi_yaml_tree *tree, size_t i)
{
    if (tree->nodes[i].kind != WFI_YAML_ALIAS)
        return i;
    for (size_t k = i; k-- > 0;) {
        if (tree->nodes[k].anchor != NULL &&
            strcmp(tree->nodes[k].anchor, tree->nodes[i].text) == 0)
            return k;
    }
    return i;
}

size_t wfi_yaml_key(const wfi_yaml_tree *tree, size_t mapping, const char *key, size_t n)
{
    if (tree->nodes[mapping].kind != WFI_YAML_MAPPING)
        return WFI_NO_NODE;
    size_t i = tree->nodes[mapping].first;
    for (; i != WFI_NO_NODE; i = tree->nodes[tree->nodes[i].next].next) {
        const wfi_yaml_node *node = &tree->nodes[i];
        if (node->kind == WFI_YAML_SCALAR && node->n_text == n && memcmp(node->text, key, n) == 0)
            return i;
    }
    return WFI_NO_NODE;
}

size_t wfi_yaml_n_entries(const wfi_yaml_tree *tree, size_t collection)
{
    size_t n = 0;
    for (size_t i = tree->nodes[collection].first; i != WFI_NO_NODE; i = tree->nodes[i].next)
        n++;
    return tree->nodes[collection].kind == WFI_YAML_MAPPING ? n / 2 : n;
}
