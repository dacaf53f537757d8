/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What has been changed, for a human. */
#include "observation/edit_record.h"

#include <string.h>

#include "base/memory.h"
#include "base/status.h"
#include "base/text.h"
#include "observation/edit_path.h"

static void release_record(wfi_edit_record *record)
{
    wfi_free(record->place);
    wfi_free(record->before);
    wfi_free(record->after);
    wfi_free(record->owner);
    wfi_free(record->words);
    *record = (wfi_edit_record){0};
}

void wfi_edit_records_release(wfi_edit_records *records)
{
    for (size_t i = 0; i < records->n; i++)
        release_record(&records->records[i]);
    wfi_free(records->records);
    *records = (wfi_edit_records){0};
}

static wf_status copy_text(const char **out, const char *text, wf_error *err)
{
    char *copy = NULL;
    const wf_status status = text == NULL ? WF_OK : wfi_string_copy(&copy, text, err);
    *out = copy;
    return status;
}

static wf_status copy_record(wfi_edit_record *out, const wfi_edit_record *from, wf_error *err)
{
    *out = (wfi_edit_record){.line = from->line};
    WFI_TRY(copy_text(&out->place, from->place, err));
    WFI_TRY(copy_text(&out->before, from->before, err));
    WFI_TRY(copy_text(&out->after, from->after, err));
    WFI_TRY(copy_text(&out->owner, from->owner, err));
    return copy_text(&out->words, from->words, err);
}

wf_status wfi_edit_records_copy(wfi_edit_records *out, const wfi_edit_records *records,
                                wf_error *err)
{
    *out = (wfi_edit_records){.n_closed = records->n_closed};
    WFI_TRY(wfi_array_reserve(&out->records, &out->capacity, records->n, sizeof *out->records,
                              "changes", err));
    for (size_t i = 0; i < records->n; i++)
        WFI_TRY(copy_record(&out->records[out->n++], &records->records[i], err));
    return WF_OK;
}

static const struct {
    const char *list;
    const char *one;
} LISTS[] = {{"stations", "station"},
             {"sources", "source"},
             {"scans", "scan"},
             {"bands", "band"},
             {"recordings", "recording of"}};

static const char *name_of_entry(const wfi_yaml_tree *tree, const char *entry)
{
    static const char *const keys[] = {"name", "station"};
    const size_t node = wfi_edit_look(tree, entry);
    for (size_t k = 0; k < 2 && node != WFI_NO_NODE; k++) {
        const size_t key = wfi_yaml_key(tree, node, keys[k], strlen(keys[k]));
        if (key == WFI_NO_NODE)
            continue;
        const wfi_yaml_node *name = &tree->nodes[wfi_yaml_follow(tree, tree->nodes[key].next)];
        return name->kind == WFI_YAML_SCALAR ? name->text : NULL;
    }
    return NULL;
}

/* "recording of Alder, streams[1]" of recordings[0].streams[1].sideband. */
static wf_status describe_owner(const char **out, const wfi_yaml_tree *tree, const char *place,
                                wf_error *err)
{
    wfi_text text = {0};
    char entry[WFI_EDIT_PLACE_BYTES] = "";
    const char *point = strchr(place, '.');
    const size_t n = point == NULL ? strlen(place) : (size_t)(point - place);
    memcpy(entry, place, n < sizeof entry ? n : 0);
    const size_t n_list = strcspn(entry, "[");
    const char *name = n_list < n ? name_of_entry(tree, entry) : NULL;
    const char *one = NULL;
    for (size_t i = 0; i < sizeof LISTS / sizeof LISTS[0]; i++) {
        if (strlen(LISTS[i].list) == n_list && memcmp(LISTS[i].list, entry, n_list) == 0)
            one = LISTS[i].one;
    }
    if (name != NULL && one != NULL)
        wfi_text_append(&text, "%s %s", one, name);
    else if (n_list < n || point != NULL)
        wfi_text_append(&text, "%s", entry);
    while (point != NULL && strchr(point + 1, '.') != NULL) {
        const size_t n_key = strcspn(point + 1, ".");
        if (memchr(point + 1, '[', n_key) != NULL)
            wfi_text_append(&text, ", %.*s", (int)n_key, point + 1);
        point = strchr(point + 1, '.');
    }
    const bool failed = text.failed;
    const wf_status status = copy_text(out, text.bytes != NULL ? text.bytes : "", err);
    wfi_text_release(&text);
    return failed ? wfi_fail(err, WF_MEMORY, "out of memory for a change") : status;
}

static wf_status describe(wfi_edit_record *record, wf_error *err)
{
    wfi_text text = {0};
    const char *point = strrchr(record->place, '.');
    const char *key = point == NULL ? record->place : point + 1;
    if (record->line == 0)
        wfi_text_append(&text, "new line: %s: ", key);
    else
        wfi_text_append(&text, "%sline %zu: %s: ", record->before == NULL ? "after " : "",
                        record->line, key);
    if (record->before == NULL)
        wfi_text_append(&text, "%s added", record->after);
    else if (record->after == NULL)
        wfi_text_append(&text, "%s removed", record->before);
    else
        wfi_text_append(&text, "%s -> %s", record->before, record->after);
    if (record->owner[0] != '\0')
        wfi_text_append(&text, " (%s)", record->owner);
    wfi_free(record->words);
    record->words = NULL;
    const wf_status status = text.failed ? wfi_fail(err, WF_MEMORY, "out of memory for a change")
                                         : copy_text(&record->words, text.bytes, err);
    wfi_text_release(&text);
    return status;
}

static bool says_nothing(const wfi_edit_record *record)
{
    if (record->before == NULL || record->after == NULL)
        return record->before == record->after;
    return strcmp(record->before, record->after) == 0;
}

static wf_status take_up(wfi_edit_records *records, size_t i, const char *after, wf_error *err)
{
    wfi_edit_record *record = &records->records[i];
    const char *copy = NULL;
    WFI_TRY(copy_text(&copy, after, err));
    wfi_free(record->after);
    record->after = copy;
    if (!says_nothing(record))
        return describe(record, err);
    release_record(record);
    memmove(record, record + 1, (--records->n - i) * sizeof *record);
    return WF_OK;
}

wf_status wfi_edit_records_add(wfi_edit_records *records, const wfi_yaml_tree *tree,
                               const wfi_edit_record *one, wf_error *err)
{
    for (size_t i = records->n_closed; i < records->n; i++) {
        if (strcmp(records->records[i].place, one->place) == 0)
            return take_up(records, i, one->after, err);
    }
    WFI_TRY(wfi_array_reserve(&records->records, &records->capacity, records->n + 1,
                              sizeof *records->records, "changes", err));
    wfi_edit_record *record = &records->records[records->n];
    wf_status status = copy_record(record, one, err);
    if (status == WF_OK)
        status = describe_owner(&record->owner, tree, one->place, err);
    if (status == WF_OK)
        status = describe(record, err);
    if (status != WF_OK)
        release_record(record);
    else
        records->n++;
    return status;
}
