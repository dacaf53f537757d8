/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Changes of a YAML text that leave all else as it is, byte for byte. */
#include "observation/splice.h"

#include <string.h>

static bool is_blank(char c)
{
    return c == ' ' || c == '\t';
}

static bool is_break(char c)
{
    return c == '\n' || c == '\r';
}

size_t wfi_line_begin(const char *bytes, size_t at)
{
    while (at > 0 && !is_break(bytes[at - 1]))
        at--;
    return at;
}

size_t wfi_line_end(const char *bytes, size_t n, size_t at)
{
    while (at < n && !is_break(bytes[at]))
        at++;
    return at;
}

size_t wfi_line_break_bytes(const char *bytes, size_t n, size_t line_end)
{
    if (line_end >= n)
        return 0;
    return bytes[line_end] == '\r' && line_end + 1 < n && bytes[line_end + 1] == '\n' ? 2 : 1;
}

static size_t skip_blanks(const wfi_splice_source *s, size_t at)
{
    while (at < s->n && is_blank(s->bytes[at]))
        at++;
    return at;
}

static bool only_blanks_before(const wfi_splice_source *s, size_t at)
{
    const size_t begin = wfi_line_begin(s->bytes, at);
    return skip_blanks(s, begin) >= at;
}

/* Nothing but a comment follows in the line. */
static bool ends_line(const wfi_splice_source *s, size_t at)
{
    at = skip_blanks(s, at);
    return at >= s->n || is_break(s->bytes[at]) || s->bytes[at] == '#';
}

/* A list may stand below its key without being indented; nothing else may. */
static const char *indentation_for(const wfi_splice_source *s, size_t node)
{
    const wfi_yaml_node *nodes = s->tree->nodes;
    const wfi_yaml_node *list = &nodes[node];
    const bool below_key = list->kind == WFI_YAML_SEQUENCE && list->style == WFI_YAML_BLOCK &&
                           list->parent != WFI_NO_NODE &&
                           nodes[list->parent].kind == WFI_YAML_MAPPING &&
                           list->column == nodes[nodes[list->parent].first].column;
    return below_key ? "  " : "";
}

wfi_splice wfi_splice_replace(const wfi_splice_source *s, size_t node, const char *value)
{
    const wfi_yaml_node *old = &s->tree->nodes[node];
    wfi_splice splice = {.begin = old->begin, .end = old->end};
    const bool glued = old->begin > 0 && strchr(":-", s->bytes[old->begin - 1]) != NULL;
    wfi_text_append(&splice.text, "%s%s%s", glued && old->begin == old->end ? " " : "",
                    indentation_for(s, node), value);
    return splice;
}

/* The line break that the text uses: that after a byte, or else its first. */
static void append_break(wfi_text *text, const wfi_splice_source *s, size_t at)
{
    size_t end = wfi_line_end(s->bytes, s->n, at);
    if (end >= s->n)
        end = wfi_line_end(s->bytes, s->n, 0);
    const size_t n = wfi_line_break_bytes(s->bytes, s->n, end);
    wfi_text_append(text, "%.*s", n > 0 ? (int)n : 1, n > 0 ? s->bytes + end : "\n");
}

static wfi_splice insert_in_block(const wfi_splice_source *s, size_t mapping, const char *pair,
                                  size_t *before)
{
    const wfi_yaml_node *nodes = s->tree->nodes;
    size_t after = WFI_NO_NODE; /* the last value that is no block, or else the last */
    for (size_t key = nodes[mapping].first; key != WFI_NO_NODE; key = nodes[nodes[key].next].next) {
        if (nodes[nodes[key].next].style != WFI_YAML_BLOCK)
            after = nodes[key].next;
    }
    if (after == WFI_NO_NODE)
        after = nodes[mapping].last;
    *before = nodes[after].next;
    const size_t end = wfi_line_end(s->bytes, s->n, nodes[after].end);
    wfi_splice splice = {.begin = end, .end = end};
    append_break(&splice.text, s, end);
    wfi_text_append(&splice.text, "%*s%s", (int)nodes[nodes[mapping].first].column, "", pair);
    return splice;
}

/* In a flow mapping that has a line for each pair. */
static wfi_splice insert_flow_line(const wfi_splice_source *s, size_t key, size_t end,
                                   const char *pair)
{
    const size_t line_end = wfi_line_end(s->bytes, s->n, end);
    const size_t next = skip_blanks(s, end);
    const bool has_comma = next < s->n && s->bytes[next] == ',';
    wfi_splice splice = {.begin = end, .end = line_end};
    wfi_text_append(&splice.text, "%s%.*s", has_comma ? "" : ",", (int)(line_end - end),
                    s->bytes + end);
    append_break(&splice.text, s, end);
    const size_t begin = wfi_line_begin(s->bytes, key);
    wfi_text_append(&splice.text, "%.*s%s%s", (int)(key - begin), s->bytes + begin, pair,
                    has_comma ? "," : "");
    return splice;
}

static wfi_splice insert_in_flow(const wfi_splice_source *s, size_t mapping, const char *pair)
{
    const wfi_yaml_node *nodes = s->tree->nodes;
    const wfi_yaml_node *map = &nodes[mapping];
    wfi_splice splice = {0};
    if (map->first == WFI_NO_NODE) { /* { stands behind an anchor or a tag */
        const char *brace = memchr(s->bytes + map->begin, '{', map->end - map->begin);
        splice.begin = brace == NULL ? map->end : (size_t)(brace - s->bytes) + 1;
        splice.end = splice.begin;
        wfi_text_append(&splice.text, "%s", pair);
        return splice;
    }
    size_t key = map->first;
    while (nodes[key].next != map->last)
        key = nodes[nodes[key].next].next;
    const size_t end =
        nodes[map->last].end > nodes[key].end ? nodes[map->last].end : nodes[key].end;
    const size_t behind = skip_blanks(s, end);
    const bool comma = behind < s->n && s->bytes[behind] == ',';
    if (only_blanks_before(s, nodes[key].begin) && ends_line(s, comma ? behind + 1 : end))
        return insert_flow_line(s, nodes[key].begin, end, pair);
    splice.begin = splice.end = end;
    wfi_text_append(&splice.text, ", %s", pair);
    return splice;
}

wfi_splice wfi_splice_insert(const wfi_splice_source *s, size_t mapping, const char *pair,
                             size_t *before)
{
    *before = WFI_NO_NODE;
    if (s->tree->nodes[mapping].style == WFI_YAML_FLOW)
        return insert_in_flow(s, mapping, pair);
    return insert_in_block(s, mapping, pair, before);
}

/* A pair or an entry within its collection. */
typedef struct item {
    size_t begin, end;
    size_t before_end; /* end of the one before; 0: it is the first */
    size_t next;       /* begin of the next; 0: it is the last */
} item;

/* Where the dash of an entry stands: in the column of the list's first one. */
static size_t dash_of(const wfi_splice_source *s, size_t list, size_t entry)
{
    const wfi_yaml_node *nodes = s->tree->nodes;
    if (nodes[list].first == entry)
        return nodes[list].begin;
    size_t begin = wfi_line_begin(s->bytes, nodes[entry].begin);
    while (begin > nodes[list].begin) {
        const size_t first = skip_blanks(s, begin);
        if (first == begin + nodes[list].column && first < s->n && s->bytes[first] == '-')
            return first;
        begin = wfi_line_begin(s->bytes, begin - 1);
    }
    return nodes[entry].begin;
}

static item item_of(const wfi_splice_source *s, size_t node)
{
    const wfi_yaml_node *nodes = s->tree->nodes;
    const size_t parent = nodes[node].parent;
    const bool dashes =
        nodes[parent].kind == WFI_YAML_SEQUENCE && nodes[parent].style == WFI_YAML_BLOCK;
    const size_t last = nodes[parent].kind == WFI_YAML_MAPPING ? nodes[node].next : node;
    item out = {.begin = dashes ? dash_of(s, parent, node) : nodes[node].begin,
                .end = nodes[last].end > nodes[node].end ? nodes[last].end : nodes[node].end};
    const size_t next = nodes[last].next;
    if (next != WFI_NO_NODE)
        out.next = dashes ? dash_of(s, parent, next) : nodes[next].begin;
    for (size_t i = nodes[parent].first; i != node; i = nodes[i].next)
        out.before_end = nodes[i].end;
    return out;
}

/* The lines of an item, with their breaks; at the text's end with the break before them. */
static wfi_splice remove_lines(const wfi_splice_source *s, size_t begin, size_t end)
{
    wfi_splice splice = {.begin = wfi_line_begin(s->bytes, begin)};
    const size_t line_end = wfi_line_end(s->bytes, s->n, end);
    splice.end = line_end + wfi_line_break_bytes(s->bytes, s->n, line_end);
    if (splice.end == line_end && splice.begin > 0) {
        splice.begin--;
        if (s->bytes[splice.begin] == '\n' && splice.begin > 0 &&
            s->bytes[splice.begin - 1] == '\r')
            splice.begin--;
    }
    return splice;
}

static wfi_splice remove_from_block(const wfi_splice_source *s, const item *it)
{
    if (only_blanks_before(s, it->begin))
        return remove_lines(s, it->begin, it->end);
    /* behind a dash: what comes next moves up, or stays below where comments lie between */
    const size_t line_end = wfi_line_end(s->bytes, s->n, it->end);
    const size_t next_line = line_end + wfi_line_break_bytes(s->bytes, s->n, line_end);
    if (it->next != 0 && wfi_line_begin(s->bytes, it->next) == next_line)
        return (wfi_splice){.begin = it->begin, .end = it->next};
    size_t begin = it->begin;
    while (begin > 0 && is_blank(s->bytes[begin - 1]))
        begin--;
    return (wfi_splice){.begin = begin, .end = line_end};
}

static wfi_splice remove_from_flow(const wfi_splice_source *s, const item *it)
{
    size_t comma = skip_blanks(s, it->end);
    const bool has_comma = comma < s->n && s->bytes[comma] == ',';
    const size_t behind = has_comma ? comma + 1 : it->end;
    if (only_blanks_before(s, it->begin) && ends_line(s, behind))
        return remove_lines(s, it->begin, behind);
    if (has_comma)
        return (wfi_splice){.begin = it->begin, .end = skip_blanks(s, behind)};
    const bool on_one_line =
        it->before_end != 0 && wfi_line_end(s->bytes, s->n, it->before_end) >= it->begin;
    return (wfi_splice){.begin = on_one_line ? it->before_end : it->begin, .end = it->end};
}

wfi_splice wfi_splice_remove(const wfi_splice_source *s, size_t node)
{
    const wfi_yaml_node *parent = &s->tree->nodes[s->tree->nodes[node].parent];
    const item it = item_of(s, node);
    if (parent->style == WFI_YAML_FLOW)
        return remove_from_flow(s, &it);
    if (it.before_end != 0 || it.next != 0)
        return remove_from_block(s, &it);
    wfi_splice splice = {.begin = it.begin, .end = it.end};
    wfi_text_append(&splice.text, "%s%s", indentation_for(s, s->tree->nodes[node].parent),
                    parent->kind == WFI_YAML_MAPPING ? "{}" : "[]");
    return splice;
}
