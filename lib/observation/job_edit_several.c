/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Edits of a job file that are made of several. */
#include <math.h>
#include <stdio.h>
#include <whitefringe/job_edit.h>

#include "base/status.h"
#include "observation/job_edit_state.h"
#include "observation/yaml_write.h"

/* Write an alias out; its place ends at it. */
static wf_status write_alias_out(wf_job_edit *edit, const wfi_edit_place *place, wf_error *err)
{
    wfi_text value = {0};
    wf_status status = wfi_write_value(&value, &edit->tree, place->node, err);
    if (status == WF_OK)
        status = wfi_job_edit_replace(edit, place, value.bytes, err);
    wfi_text_release(&value);
    return status;
}

/* The next alias that keeps a path from being changed; false: there is none. */
static bool next_alias(const wf_job_edit *edit, const char *path, wfi_edit_place *place,
                       wf_status *status, wf_error *err)
{
    wf_error fault = WF_ERROR_INIT;
    *status = wfi_edit_find(place, &edit->tree, wf_job_edit_path(edit), path, &fault);
    if (*status == WF_UNSUPPORTED)
        return true;
    if (*status != WF_OK) {
        *status = wfi_fail(err, *status, "%s", fault.message);
        return false;
    }
    if (place->node != WFI_NO_NODE && edit->tree.nodes[place->node].kind == WFI_YAML_ALIAS)
        return true;
    const size_t alias = wfi_edit_sharing_alias(&edit->tree, place);
    if (alias != WFI_NO_NODE)
        *place = wfi_edit_place_of(&edit->tree, alias);
    return alias != WFI_NO_NODE;
}

static wf_status write_out(wf_job_edit *edit, const char *path, wf_error *err)
{
    enum { ALIASES_MAX = 10000 };
    wf_status status = WF_OK;
    wfi_edit_place place;
    for (int n = 0; next_alias(edit, path, &place, &status, err); n++) {
        if (n >= ALIASES_MAX)
            return wfi_fail(err, WF_UNSUPPORTED, "%s: more than %d aliases", wf_job_edit_path(edit),
                            ALIASES_MAX);
        WFI_TRY(write_alias_out(edit, &place, err));
    }
    return status;
}

wf_status wfi_job_edit_all_or_none(wf_job_edit *edit, wfi_job_edits *of, const char *where,
                                   const void *what, size_t n, wf_error *err)
{
    wf_job_edit *trial = NULL;
    WFI_TRY(wf_job_edit_copy(&trial, edit, err));
    const wf_status status = of(trial, where, what, n, err);
    if (status == WF_OK) {
        const wf_job_edit before = *edit;
        *edit = *trial;
        *trial = before;
    }
    wf_job_edit_destroy(trial);
    return status;
}

static wf_status write_all_out(wf_job_edit *edit, const char *where, const void *what, size_t n,
                               wf_error *err)
{
    (void)what;
    (void)n;
    return write_out(edit, where, err);
}

wf_status wf_job_edit_write_out(wf_job_edit *edit, const char *path, wf_error *err)
{
    return wfi_job_edit_all_or_none(edit, write_all_out, path, NULL, 0, err);
}

static wf_status list_of_numbers(wfi_text *out, const double *values, size_t n, wf_error *err)
{
    wfi_text_append(out, "[");
    for (size_t i = 0; i < n; i++) {
        char number[WFI_NUMBER_BYTES];
        if (!isfinite(values[i]))
            return wfi_fail(err, WF_ARGUMENT, "expected finite numbers, found %g", values[i]);
        wfi_write_number(number, values[i]);
        wfi_text_append(out, "%s%s", i > 0 ? ", " : "", number);
    }
    wfi_text_append(out, "]");
    return out->failed ? wfi_fail(err, WF_MEMORY, "out of memory for an edit") : WF_OK;
}

static wf_status set_each_number(wf_job_edit *edit, const char *path, const void *what, size_t n,
                                 wf_error *err)
{
    const double *values = what;
    for (size_t i = 0; i < n; i++) {
        wfi_text entry = {0};
        wfi_text_append(&entry, "%s[%zu]", path, i);
        const wf_status status = entry.failed
                                     ? wfi_fail(err, WF_MEMORY, "out of memory for an edit")
                                     : wf_job_edit_set_number(edit, entry.bytes, values[i], err);
        wfi_text_release(&entry);
        WFI_TRY(status);
    }
    return WF_OK;
}

wf_status wf_job_edit_set_numbers(wf_job_edit *edit, const char *path, const double *values,
                                  size_t n, wf_error *err)
{
    const size_t list = wfi_edit_look(&edit->tree, path);
    if (n > 0 && list != WFI_NO_NODE && edit->tree.nodes[list].kind == WFI_YAML_SEQUENCE &&
        wfi_yaml_n_entries(&edit->tree, list) == n)
        return wfi_job_edit_all_or_none(edit, set_each_number, path, values, n, err);
    wfi_text text = {0};
    wf_status status = list_of_numbers(&text, values, n, err);
    if (status == WF_OK)
        status = wf_job_edit_set_yaml(edit, path, text.bytes, err);
    wfi_text_release(&text);
    return status;
}

static wf_status set_clock_keys(wf_job_edit *edit, const char *where, const void *what, size_t n,
                                wf_error *err)
{
    const wf_clock *clock = what;
    char path[WFI_EDIT_PLACE_BYTES];
    (void)n;
    snprintf(path, sizeof path, "%s.reference", where);
    WFI_TRY(wf_job_edit_set_instant(edit, path, clock->reference, err));
    snprintf(path, sizeof path, "%s.ahead_s", where);
    WFI_TRY(wf_job_edit_set_number(edit, path, clock->ahead_s, err));
    snprintf(path, sizeof path, "%s.rate_s_per_s", where);
    if (clock->rate_s_per_s == 0.0 && wf_job_edit_value(edit, path) == NULL)
        return WF_OK;
    return wf_job_edit_set_number(edit, path, clock->rate_s_per_s, err);
}

static wf_status add_clock(wf_job_edit *edit, const char *where, const wf_clock *clock,
                           wf_error *err)
{
    char reference[WF_INSTANT_TEXT_BYTES];
    char ahead[WFI_NUMBER_BYTES];
    char rate[WFI_NUMBER_BYTES];
    char text[WF_INSTANT_TEXT_BYTES + 2 * WFI_NUMBER_BYTES + 64];
    if (!isfinite(clock->ahead_s) || !isfinite(clock->rate_s_per_s))
        return wfi_fail(err, WF_ARGUMENT, "%s: expected a clock of finite numbers", where);
    wfi_write_instant(reference, clock->reference);
    wfi_write_number(ahead, clock->ahead_s);
    wfi_write_number(rate, clock->rate_s_per_s);
    snprintf(text, sizeof text, "{reference: %s, ahead_s: %s%s%s}", reference, ahead,
             clock->rate_s_per_s != 0.0 ? ", rate_s_per_s: " : "",
             clock->rate_s_per_s != 0.0 ? rate : "");
    return wf_job_edit_set_yaml(edit, where, text, err);
}

wf_status wf_job_edit_set_clock(wf_job_edit *edit, const char *station, const wf_clock *clock,
                                wf_error *err)
{
    char where[WFI_EDIT_PLACE_BYTES / 2];
    snprintf(where, sizeof where, "stations[\"%.60s\"].clock", station);
    const size_t node = wfi_edit_look(&edit->tree, where);
    if (node == WFI_NO_NODE || edit->tree.nodes[node].kind != WFI_YAML_MAPPING)
        return add_clock(edit, where, clock, err);
    return wfi_job_edit_all_or_none(edit, set_clock_keys, where, clock, 1, err);
}
