/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A job file that is being edited: its text, and that every edit does what it says. */
#include <whitefringe/job_edit.h>

#include <string.h>

#include "base/memory.h"
#include "base/status.h"
#include "observation/build.h"
#include "observation/job_edit_state.h"

const wfi_document *wfi_job_edit_document(const wf_job_edit *edit)
{
    return edit->document != NULL ? edit->document : edit->opened;
}

static wf_status read_tree(wfi_yaml_tree *out, const wfi_document *document, wf_error *err)
{
    size_t n = 0;
    const char *bytes = wfi_document_text(document, &n);
    return wfi_yaml_tree_read(out, wfi_document_path(document), bytes, n, err);
}

/* What follows from the document as it was opened. */
static wf_status set_out(wf_job_edit *edit, wf_error *err)
{
    size_t n = 0;
    const char *bytes = wfi_document_text(edit->opened, &n);
    WFI_TRY(wfi_lines_split(&edit->first, bytes, n, err));
    WFI_TRY(wfi_lines_split(&edit->lines, bytes, n, err));
    return read_tree(&edit->tree, edit->opened, err);
}

wf_status wf_job_edit_open(wf_job_edit **out, const char *path, wf_error *err)
{
    *out = NULL;
    wf_job_edit *edit = NULL;
    WFI_TRY(wfi_allocate(&edit, 1, sizeof *edit, "a job", err));
    wf_status status = wfi_document_open(&edit->opened, path, err);
    if (status == WF_OK)
        status = set_out(edit, err);
    if (status != WF_OK) {
        wf_job_edit_destroy(edit);
        return status;
    }
    *out = edit;
    return WF_OK;
}

void wf_job_edit_destroy(wf_job_edit *edit)
{
    if (edit == NULL)
        return;
    wfi_document_close(edit->opened);
    wfi_document_close(edit->saved);
    wfi_document_close(edit->document);
    wfi_lines_release(&edit->first);
    wfi_lines_release(&edit->lines);
    wfi_yaml_tree_release(&edit->tree);
    wfi_edit_records_release(&edit->records);
    wfi_free(edit);
}

static wf_status copy_document(wfi_document **out, const wfi_document *document, wf_error *err)
{
    if (document == NULL)
        return WF_OK;
    size_t n = 0;
    const char *bytes = wfi_document_text(document, &n);
    return wfi_document_parse(out, wfi_document_path(document), bytes, n, err);
}

static wf_status copy_lines(wfi_lines *out, const wf_job_edit *edit, const wfi_document *document,
                            wf_error *err)
{
    size_t n = 0;
    const char *bytes = wfi_document_text(document, &n);
    wfi_lines_release(out);
    WFI_TRY(wfi_lines_split(out, bytes, n, err));
    memcpy(out->origin, edit->lines.origin, out->n * sizeof *out->origin);
    return WF_OK;
}

static wf_status copy_parts(wf_job_edit *copy, const wf_job_edit *edit, wf_error *err)
{
    WFI_TRY(copy_document(&copy->opened, edit->opened, err));
    WFI_TRY(set_out(copy, err));
    WFI_TRY(copy_document(&copy->saved, edit->saved, err));
    WFI_TRY(copy_document(&copy->document, edit->document, err));
    WFI_TRY(copy_lines(&copy->lines, edit, wfi_job_edit_document(copy), err));
    wfi_yaml_tree_release(&copy->tree);
    WFI_TRY(read_tree(&copy->tree, wfi_job_edit_document(copy), err));
    return wfi_edit_records_copy(&copy->records, &edit->records, err);
}

wf_status wf_job_edit_copy(wf_job_edit **out, const wf_job_edit *edit, wf_error *err)
{
    *out = NULL;
    wf_job_edit *copy = NULL;
    WFI_TRY(wfi_allocate(&copy, 1, sizeof *copy, "a job", err));
    const wf_status status = copy_parts(copy, edit, err);
    if (status != WF_OK) {
        wf_job_edit_destroy(copy);
        return status;
    }
    *out = copy;
    return WF_OK;
}

/* The text with the splice in it. */
static wf_status spliced(wfi_document **out, const wf_job_edit *edit, const wfi_splice *splice,
                         wf_error *err)
{
    size_t n = 0;
    const wfi_document *document = wfi_job_edit_document(edit);
    const char *bytes = wfi_document_text(document, &n);
    const size_t n_text = splice->text.n;
    char *text = NULL;
    if (splice->text.failed)
        return wfi_fail(err, WF_MEMORY, "out of memory for an edit");
    WFI_TRY(wfi_allocate(&text, n - (splice->end - splice->begin) + n_text, 1, "a job", err));
    memcpy(text, bytes, splice->begin);
    if (n_text > 0)
        memcpy(text + splice->begin, splice->text.bytes, n_text);
    memcpy(text + splice->begin + n_text, bytes + splice->end, n - splice->end);
    const wf_status status = wfi_document_parse(out, wfi_document_path(document), text,
                                                n - (splice->end - splice->begin) + n_text, err);
    wfi_free(text);
    return status;
}

static wf_status refuse(const wf_job_edit *edit, const wfi_edit_record *record, const char *why,
                        wf_error *err)
{
    const char *file = wfi_document_path(edit->opened);
    if (record->line == 0)
        return wfi_fail(err, WF_UNSUPPORTED, "%s: %s cannot be changed %s: edit the file by hand",
                        file, record->place, why);
    return wfi_fail(err, WF_UNSUPPORTED, "%s:%zu: %s cannot be changed %s: edit the file by hand",
                    file, record->line, record->place, why);
}

/* The texts before and after, and what the edit is said to do. */
static wf_status check_edit(const wf_job_edit *edit, const wfi_yaml_tree *after,
                            wfi_yaml_change *wanted, const char *value,
                            const wfi_edit_record *record, wf_error *err)
{
    wfi_yaml_tree tree = {0};
    wf_status status = WF_OK;
    if (value != NULL)
        status = wfi_yaml_tree_read(&tree, "the value", value, strlen(value), err);
    wanted->value = &tree;
    if (status == WF_OK && !wfi_yaml_same_but(&edit->tree, after, wanted))
        status = refuse(edit, record, "without changing what stands around it", err);
    wanted->value = NULL;
    wfi_yaml_tree_release(&tree);
    return status;
}

/* Exchange all that changes with the text. */
static void swap(wf_job_edit *edit, wfi_document *document, wfi_yaml_tree *tree, wfi_lines *lines)
{
    wfi_document_close(edit->document);
    wfi_yaml_tree_release(&edit->tree);
    wfi_lines_release(&edit->lines);
    edit->document = document;
    edit->tree = *tree;
    edit->lines = *lines;
}

wf_status wfi_job_edit_apply(wf_job_edit *edit, wfi_splice *splice, wfi_yaml_change *wanted,
                             const char *value, const wfi_edit_record *record, wf_error *err)
{
    wfi_document *document = NULL;
    wfi_yaml_tree tree = {0};
    wfi_lines lines = {0};
    size_t n = 0;
    wf_error fault = WF_ERROR_INIT;
    wf_status status = spliced(&document, edit, splice, &fault);
    if (status == WF_FORMAT)
        status = refuse(edit, record, "as it is written", err);
    else if (status != WF_OK)
        status = wfi_fail(err, status, "%s", fault.message);
    if (status == WF_OK)
        status = read_tree(&tree, document, err);
    if (status == WF_OK)
        status = check_edit(edit, &tree, wanted, value, record, err);
    if (status == WF_OK) {
        const char *bytes = wfi_document_text(document, &n);
        status = wfi_lines_follow(&lines, &edit->lines, bytes, n, err);
    }
    if (status == WF_OK)
        status = wfi_edit_records_add(&edit->records, &edit->tree, record, err);
    if (status == WF_OK) {
        swap(edit, document, &tree, &lines);
    } else {
        wfi_document_close(document);
        wfi_yaml_tree_release(&tree);
        wfi_lines_release(&lines);
    }
    wfi_text_release(&splice->text);
    return status;
}

const char *wf_job_edit_value(const wf_job_edit *edit, const char *path)
{
    const size_t node = wfi_edit_look(&edit->tree, path);
    if (node == WFI_NO_NODE || edit->tree.nodes[node].kind != WFI_YAML_SCALAR)
        return NULL;
    return edit->tree.nodes[node].text;
}

size_t wf_job_edit_n_entries(const wf_job_edit *edit, const char *path)
{
    const size_t node = wfi_edit_look(&edit->tree, path);
    return node == WFI_NO_NODE ? 0 : wfi_yaml_n_entries(&edit->tree, node);
}

const char *wf_job_edit_text(const wf_job_edit *edit, size_t *n)
{
    size_t unwanted = 0;
    return wfi_document_text(wfi_job_edit_document(edit), n != NULL ? n : &unwanted);
}

const char *wf_job_edit_path(const wf_job_edit *edit)
{
    return wfi_document_path(edit->opened);
}

wf_status wf_job_edit_observation(const wf_job_edit *edit, wf_observation **out, wf_error *err)
{
    return wfi_observation_from_document(out, wfi_job_edit_document(edit), err);
}

size_t wf_job_edit_n_changes(const wf_job_edit *edit)
{
    return edit->records.n;
}

const char *wf_job_edit_change(const wf_job_edit *edit, size_t i_change)
{
    return i_change < edit->records.n ? edit->records.records[i_change].words : NULL;
}

size_t wf_job_edit_diff(const wf_job_edit *edit, char *text, size_t capacity)
{
    return wfi_lines_diff(&edit->first, &edit->lines, wfi_document_path(edit->opened), text,
                          capacity);
}
