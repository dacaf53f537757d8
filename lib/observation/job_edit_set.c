/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The edits of a job file. */
#include <math.h>
#include <stdio.h>
#include <string.h>
#include <whitefringe/job_edit.h>

#include "base/memory.h"
#include "base/status.h"
#include "observation/job_edit_state.h"
#include "observation/yaml_write.h"

static wfi_splice_source source_of(const wf_job_edit *edit)
{
    wfi_splice_source source = {.tree = &edit->tree};
    source.bytes = wfi_document_text(wfi_job_edit_document(edit), &source.n);
    return source;
}

static const char *file_of(const wf_job_edit *edit)
{
    return wfi_document_path(edit->opened);
}

static size_t line_of_byte(const wfi_splice_source *source, size_t at)
{
    size_t line = 1;
    for (size_t i = 0; i < at; i++)
        line += source->bytes[i] == '\n';
    return line;
}

/* How a value is shown: an alias by its name. */
static wf_status shown(wfi_text *out, const wfi_yaml_tree *tree, size_t node, wf_error *err)
{
    if (tree->nodes[node].kind != WFI_YAML_ALIAS)
        return wfi_write_value(out, tree, node, err);
    wfi_text_append(out, "*%s", tree->nodes[node].text);
    return out->failed ? wfi_fail(err, WF_MEMORY, "out of memory for a value") : WF_OK;
}

wf_status wfi_job_edit_replace(wf_job_edit *edit, const wfi_edit_place *place, const char *value,
                               wf_error *err)
{
    const wfi_splice_source source = source_of(edit);
    wfi_text before = {0};
    wf_status status = shown(&before, &edit->tree, place->node, err);
    if (status == WF_OK) {
        const size_t line = wfi_lines_origin(&edit->lines, edit->tree.nodes[place->node].line);
        const wfi_edit_record record = {
            .place = place->text, .before = before.bytes, .after = value, .line = line};
        wfi_yaml_change wanted = WFI_YAML_CHANGE_NONE;
        wanted.replaced = place->node;
        wfi_splice splice = wfi_splice_replace(&source, place->node, value);
        status = wfi_job_edit_apply(edit, &splice, &wanted, value, &record, err);
    }
    wfi_text_release(&before);
    return status;
}

/* The keys of a path beyond its first, around a value: {ahead_s: 1e-6} of clock.ahead_s. */
static void wrap(wfi_text *out, const char *keys, const char *value)
{
    size_t n = 0;
    size_t depth = 0;
    for (const char *p = keys; *p != '\0' && wfi_edit_first_key(p, &n, &p); depth++)
        wfi_text_append(out, "{%.*s: ", (int)n, p - n - (*p != '\0'));
    wfi_text_append(out, "%s", value);
    while (depth-- > 0)
        wfi_text_append(out, "}");
}

static wf_status insert_pair(wf_job_edit *edit, const wfi_edit_place *place, const char *key,
                             const char *value, const char *innermost, wf_error *err)
{
    const wfi_splice_source source = source_of(edit);
    wfi_text pair = {0};
    wfi_text_append(&pair, "%s: %s", key, value);
    if (pair.failed)
        return wfi_fail(err, WF_MEMORY, "out of memory for an edit");
    wfi_yaml_change wanted = WFI_YAML_CHANGE_NONE;
    wanted.inserted_in = place->parent;
    wanted.key = key;
    wfi_splice splice =
        wfi_splice_insert(&source, place->parent, pair.bytes, &wanted.inserted_before);
    wfi_text_release(&pair);
    const wfi_edit_record record = {
        .place = place->text,
        .after = innermost,
        .line = wfi_lines_origin(&edit->lines, line_of_byte(&source, splice.begin))};
    return wfi_job_edit_apply(edit, &splice, &wanted, value, &record, err);
}

static wf_status insert(wf_job_edit *edit, const wfi_edit_place *place, const char *value,
                        wf_error *err)
{
    size_t n = 0;
    const char *after = NULL;
    wfi_text key = {0};
    wfi_text whole = {0};
    if (wfi_edit_first_key(place->rest, &n, &after)) {
        wfi_text_append(&key, "%.*s", (int)n, place->rest);
        wrap(&whole, after, value);
    }
    wf_status status = WF_OK;
    if (key.failed || whole.failed || key.n == 0)
        status = wfi_fail(err, WF_MEMORY, "out of memory for an edit");
    else
        status = insert_pair(edit, place, key.bytes, whole.bytes, value, err);
    wfi_text_release(&key);
    wfi_text_release(&whole);
    return status;
}

static wf_status find(const wf_job_edit *edit, wfi_edit_place *place, const char *path,
                      wf_error *err)
{
    WFI_TRY(wfi_edit_find(place, &edit->tree, file_of(edit), path, err));
    return wfi_edit_refuse_shared(&edit->tree, file_of(edit), place, err);
}

static wf_status set(wf_job_edit *edit, const wfi_edit_place *place, const char *value,
                     wf_error *err)
{
    return place->node == WFI_NO_NODE ? insert(edit, place, value, err)
                                      : wfi_job_edit_replace(edit, place, value, err);
}

/* The single value that is there; NULL: none. */
static const wfi_yaml_node *scalar_at(const wf_job_edit *edit, const wfi_edit_place *place)
{
    const wfi_yaml_node *node = place->node == WFI_NO_NODE ? NULL : &edit->tree.nodes[place->node];
    return node != NULL && node->kind == WFI_YAML_SCALAR ? node : NULL;
}

static wf_status set_scalar(wf_job_edit *edit, const wfi_edit_place *place, const char *value,
                            wf_error *err)
{
    const wfi_yaml_node *old = scalar_at(edit, place);
    wfi_yaml_style style = old == NULL ? WFI_YAML_PLAIN : old->style;
    if (style == WFI_YAML_BLOCK)
        style = WFI_YAML_DOUBLE_QUOTED;
    wfi_text text = {0};
    wfi_write_scalar(&text, value, strlen(value), style);
    const wf_status status = text.failed ? wfi_fail(err, WF_MEMORY, "out of memory for an edit")
                                         : set(edit, place, text.bytes, err);
    wfi_text_release(&text);
    return status;
}

wf_status wf_job_edit_set_text(wf_job_edit *edit, const char *path, const char *value,
                               wf_error *err)
{
    wfi_edit_place place;
    WFI_TRY(find(edit, &place, path, err));
    const wfi_yaml_node *old = scalar_at(edit, &place);
    if (old != NULL && strcmp(old->text, value) == 0)
        return WF_OK;
    return set_scalar(edit, &place, value, err);
}

wf_status wf_job_edit_set_number(wf_job_edit *edit, const char *path, double value, wf_error *err)
{
    wfi_edit_place place;
    if (!isfinite(value))
        return wfi_fail(err, WF_ARGUMENT, "%s: expected a finite number, found %g", path, value);
    WFI_TRY(find(edit, &place, path, err));
    const wfi_yaml_node *old = scalar_at(edit, &place);
    double before = 0;
    if (old != NULL && wfi_parse_double(&before, old->text, old->n_text) && before == value)
        return WF_OK;
    char text[WFI_NUMBER_BYTES];
    wfi_write_number(text, value);
    return set_scalar(edit, &place, text, err);
}

wf_status wf_job_edit_set_instant(wf_job_edit *edit, const char *path, wf_instant value,
                                  wf_error *err)
{
    wfi_edit_place place;
    WFI_TRY(find(edit, &place, path, err));
    const wfi_yaml_node *old = scalar_at(edit, &place);
    wf_instant before = {0};
    if (old != NULL && wf_instant_parse(&before, old->text, NULL) == WF_OK &&
        before.second == value.second && before.fraction == value.fraction)
        return WF_OK;
    char text[WF_INSTANT_TEXT_BYTES];
    wfi_write_instant(text, value);
    return set_scalar(edit, &place, text, err);
}

/* One value in one line, without comment or alias: it must be whole wherever it stands. */
static wf_status check_value(const char *value, wf_error *err)
{
    wfi_document *document = NULL;
    wfi_yaml_tree tree = {0};
    wf_status status = wfi_document_parse(&document, "value", value, strlen(value), err);
    if (status == WF_OK)
        status = wfi_yaml_tree_read(&tree, "value", value, strlen(value), err);
    const wfi_yaml_node *root = status == WF_OK ? &tree.nodes[0] : NULL;
    const bool whole = root != NULL && root->begin == 0 && root->end == strlen(value) &&
                       (root->kind == WFI_YAML_SCALAR || root->style == WFI_YAML_FLOW);
    for (size_t i = 0; i < tree.n && status == WF_OK; i++) {
        if (!whole || tree.nodes[i].anchor != NULL || strpbrk(value, "\r\n") != NULL)
            status =
                wfi_fail(err, WF_ARGUMENT,
                         "\"%.200s\": expected one value in one line: a word, a number, [a, b] "
                         "or {key: value}",
                         value);
    }
    wfi_document_close(document);
    wfi_yaml_tree_release(&tree);
    return status == WF_FORMAT ? WF_ARGUMENT : status;
}

wf_status wf_job_edit_set_yaml(wf_job_edit *edit, const char *path, const char *value,
                               wf_error *err)
{
    wfi_edit_place place;
    WFI_TRY(check_value(value, err));
    WFI_TRY(find(edit, &place, path, err));
    return set(edit, &place, value, err);
}

wf_status wf_job_edit_remove(wf_job_edit *edit, const char *path, wf_error *err)
{
    wfi_edit_place place;
    WFI_TRY(find(edit, &place, path, err));
    if (place.node == WFI_NO_NODE)
        return wfi_fail(err, WF_MISSING, "%s: %s is not there and cannot be removed", file_of(edit),
                        place.text);
    const wfi_splice_source source = source_of(edit);
    wfi_text before = {0};
    wf_status status = shown(&before, &edit->tree, place.node, err);
    if (status == WF_OK) {
        const bool in_list = place.key == WFI_NO_NODE;
        const size_t item = in_list ? place.node : place.key;
        wfi_yaml_change wanted = WFI_YAML_CHANGE_NONE;
        wanted.removed = item;
        const wfi_edit_record record = {
            .place = place.text,
            .before = before.bytes,
            .line = wfi_lines_origin(&edit->lines, edit->tree.nodes[item].line)};
        wfi_splice splice = wfi_splice_remove(&source, item);
        status = wfi_job_edit_apply(edit, &splice, &wanted, NULL, &record, err);
        if (status == WF_OK && in_list)
            edit->records.n_closed = edit->records.n;
    }
    wfi_text_release(&before);
    return status;
}
