/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Writing hypotheses down. */
#include "observation/guess.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "base/memory.h"
#include "base/status.h"

static wfi_hypothesis *last(const wfi_guess *guess)
{
    return &guess->out->items[guess->out->n - 1];
}

void wfi_guess_begin(wfi_guess *guess, const char *name, wfi_shown_by shown_by, const char *detail,
                     ...)
{
    wfi_hypotheses *out = guess->out;
    if (guess->status != WF_OK)
        return;
    guess->status = wfi_array_reserve(&out->items, &out->capacity, out->n + 1, sizeof *out->items,
                                      "hypotheses", guess->err);
    if (guess->status != WF_OK)
        return;
    out->items[out->n++] = (wfi_hypothesis){.name = name, .shown_by = shown_by};
    va_list arguments;
    va_start(arguments, detail);
    vsnprintf(last(guess)->detail, sizeof last(guess)->detail, detail, arguments);
    va_end(arguments);
}

/* The new step, or NULL after a failure. */
__attribute__((format(printf, 3, 0))) static wfi_job_step *
add_step(wfi_guess *guess, wfi_job_step_kind kind, const char *path, va_list arguments)
{
    if (guess->status != WF_OK)
        return NULL;
    wfi_hypothesis *hypothesis = last(guess);
    guess->status =
        wfi_array_reserve(&hypothesis->steps, &hypothesis->capacity, hypothesis->n_steps + 1,
                          sizeof *hypothesis->steps, "edits of a hypothesis", guess->err);
    if (guess->status != WF_OK)
        return NULL;
    wfi_job_step *step = &hypothesis->steps[hypothesis->n_steps++];
    *step = (wfi_job_step){.kind = kind};
    vsnprintf(step->path, sizeof step->path, path, arguments);
    return step;
}

void wfi_guess_number(wfi_guess *guess, double value, const char *path, ...)
{
    va_list arguments;
    va_start(arguments, path);
    wfi_job_step *step = add_step(guess, WFI_STEP_NUMBER, path, arguments);
    va_end(arguments);
    if (step != NULL)
        step->number = value;
}

void wfi_guess_text(wfi_guess *guess, const char *value, const char *path, ...)
{
    va_list arguments;
    va_start(arguments, path);
    wfi_job_step *step = add_step(guess, WFI_STEP_TEXT, path, arguments);
    va_end(arguments);
    if (step != NULL)
        snprintf(step->text, sizeof step->text, "%s", value);
}

void wfi_guess_yaml(wfi_guess *guess, const char *value, const char *path, ...)
{
    va_list arguments;
    va_start(arguments, path);
    wfi_job_step *step = add_step(guess, WFI_STEP_YAML, path, arguments);
    va_end(arguments);
    if (step != NULL)
        snprintf(step->text, sizeof step->text, "%s", value);
}

void wfi_guess_instant(wfi_guess *guess, wf_instant value, const char *path, ...)
{
    va_list arguments;
    va_start(arguments, path);
    wfi_job_step *step = add_step(guess, WFI_STEP_INSTANT, path, arguments);
    va_end(arguments);
    if (step != NULL)
        step->instant = value;
}

void wfi_guess_remove(wfi_guess *guess, const char *path, ...)
{
    va_list arguments;
    va_start(arguments, path);
    (void)add_step(guess, WFI_STEP_REMOVE, path, arguments);
    va_end(arguments);
}

static bool same_step(const wfi_job_step *a, const wfi_job_step *b)
{
    return a->kind == b->kind && strcmp(a->path, b->path) == 0 && strcmp(a->text, b->text) == 0 &&
           a->number == b->number && a->instant.second == b->instant.second &&
           a->instant.fraction == b->instant.fraction;
}

static bool same_steps(const wfi_hypothesis *a, const wfi_hypothesis *b)
{
    if (a->n_steps != b->n_steps)
        return false;
    for (size_t i = 0; i < a->n_steps; i++) {
        if (!same_step(&a->steps[i], &b->steps[i]))
            return false;
    }
    return true;
}

static void drop_last(wfi_guess *guess)
{
    wfi_free(last(guess)->steps);
    guess->out->n--;
}

__attribute__((format(printf, 2, 0))) static void
write_sentence(const wfi_guess *guess, const char *sentence, va_list arguments)
{
    wfi_hypothesis *hypothesis = last(guess);
    const int n = snprintf(hypothesis->sentence, sizeof hypothesis->sentence,
                           "station %s: ", guess->observation->stations[guess->i_station].name);
    vsnprintf(hypothesis->sentence + n, sizeof hypothesis->sentence - (size_t)n, sentence,
              arguments);
}

void wfi_guess_end(wfi_guess *guess, const char *sentence, ...)
{
    if (guess->status != WF_OK)
        return;
    const wfi_hypothesis *hypothesis = last(guess);
    bool is_new = hypothesis->n_steps > 0;
    for (const wfi_hypothesis *before = guess->out->items; before < hypothesis && is_new; before++)
        is_new = !same_steps(before, hypothesis);
    if (!is_new) {
        drop_last(guess);
        return;
    }
    va_list arguments;
    va_start(arguments, sentence);
    write_sentence(guess, sentence, arguments);
    va_end(arguments);
}

void wfi_guess_end_without_edits(wfi_guess *guess, const char *sentence)
{
    if (guess->status == WF_OK)
        snprintf(last(guess)->sentence, sizeof last(guess)->sentence, "station %s: %s",
                 guess->observation->stations[guess->i_station].name, sentence);
}

const char *wfi_guess_value(const wfi_guess *guess, const char *path, ...)
{
    char full[WFI_STEP_PATH_BYTES];
    va_list arguments;
    va_start(arguments, path);
    vsnprintf(full, sizeof full, path, arguments);
    va_end(arguments);
    return wf_job_edit_value(guess->edit, full);
}

bool wfi_guess_is_of_station(const wfi_guess *guess, size_t i_recording)
{
    const char *station = wfi_guess_value(guess, "recordings[%zu].station", i_recording);
    return station != NULL &&
           strcmp(station, guess->observation->stations[guess->i_station].name) == 0;
}
