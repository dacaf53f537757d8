/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The list of hypotheses on a station, and what one makes of a job. */
#include "observation/hypotheses.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "base/memory.h"
#include "base/status.h"
#include "base/text.h"
#include "observation/guess.h"
#include "observation/job_edit_state.h"

static double number_of(const char *text)
{
    double value = 0;
    return text != NULL && wfi_parse_double(&value, text, strlen(text)) ? value : 0;
}

static bool is_word(const char *text, const char *word)
{
    return text != NULL && strcmp(text, word) == 0;
}

/* What the files do not tell is as the job says. */
static void read_recorded(const wfi_guess *guess, size_t r)
{
    wfi_recorded *out = &guess->recorded[r];
    if (out->is_known)
        return;
    *out = (wfi_recorded){
        .is_vdif = !is_word(wfi_guess_value(guess, "recordings[%zu].format", r), "sound") &&
                   wfi_guess_value(guess, "recordings[%zu].start", r) == NULL,
        .is_complex = is_word(wfi_guess_value(guess, "recordings[%zu].sampling", r), "complex"),
        .sample_rate_hz =
            (int64_t)number_of(wfi_guess_value(guess, "recordings[%zu].sample_rate_hz", r)),
        .reference_epoch = -1};
}

static const wf_band *find_band(const wfi_guess *guess, const char *name)
{
    for (size_t i = 0; i < guess->observation->n_bands; i++) {
        if (is_word(name, guess->observation->bands[i].name))
            return &guess->observation->bands[i];
    }
    return NULL;
}

static wf_polarization polarization_of(const char *text)
{
    wf_polarization p = WF_POLARIZATION_R;
    while (text != NULL && p < WF_POLARIZATION_Y && wf_polarization_letter(p) != text[0])
        p = (wf_polarization)(p + 1);
    return p;
}

static void read_stream(const wfi_guess *guess, size_t r, size_t k, wfi_guess_stream *out)
{
    char at[WFI_STEP_PATH_BYTES - 32];
    snprintf(at, sizeof at, "recordings[%zu].streams[%zu]", r, k);
    const wf_band *band = find_band(guess, wfi_guess_value(guess, "%s.band", at));
    const char *centre = wfi_guess_value(guess, "%s.centre_hz", at);
    const char *edge = wfi_guess_value(guess, "%s.edge_hz", at);
    const wfi_recorded *recorded = &guess->recorded[r];
    *out = (wfi_guess_stream){
        .i_recording = r,
        .i_stream = k,
        .by_band = band != NULL,
        .has_centre = centre != NULL,
        .hz = number_of(centre != NULL ? centre : edge),
        .sideband = is_word(wfi_guess_value(guess, "%s.sideband", at), "lower") ? WF_SIDEBAND_LOWER
                                                                                : WF_SIDEBAND_UPPER,
        .polarization = polarization_of(wfi_guess_value(guess, "%s.polarization", at)),
        .thread = (int64_t)number_of(wfi_guess_value(guess, "%s.thread", at)),
        .channel = (int64_t)number_of(wfi_guess_value(guess, "%s.channel", at)),
        .width_hz = (double)recorded->sample_rate_hz * (recorded->is_complex ? 1.0 : 0.5)};
    if (band != NULL) {
        out->hz = band->edge_hz;
        out->sideband = band->sideband;
    }
}

static size_t n_streams_of(const wfi_guess *guess, size_t r)
{
    char path[WFI_STEP_PATH_BYTES];
    snprintf(path, sizeof path, "recordings[%zu].streams", r);
    return wfi_guess_is_of_station(guess, r) ? wf_job_edit_n_entries(guess->edit, path) : 0;
}

static wf_status read_streams(wfi_guess *guess, const wfi_recorded *recorded)
{
    guess->n_recordings = wf_job_edit_n_entries(guess->edit, "recordings");
    WFI_TRY(wfi_allocate(&guess->recorded, guess->n_recordings, sizeof *guess->recorded,
                         "recordings", guess->err));
    size_t n = 0;
    for (size_t r = 0; r < guess->n_recordings; r++) {
        if (recorded != NULL)
            guess->recorded[r] = recorded[r];
        read_recorded(guess, r);
        n += n_streams_of(guess, r);
    }
    WFI_TRY(wfi_allocate(&guess->streams, n, sizeof *guess->streams, "streams", guess->err));
    for (size_t r = 0; r < guess->n_recordings; r++) {
        const size_t n_streams = n_streams_of(guess, r);
        for (size_t k = 0; k < n_streams; k++)
            read_stream(guess, r, k, &guess->streams[guess->n_streams++]);
    }
    return WF_OK;
}

wf_status wfi_hypotheses_list(wfi_hypotheses *out, const wf_observation *observation,
                              const wf_job_edit *edit, size_t i_station, size_t i_scan,
                              const wfi_recorded *recorded, wf_error *err)
{
    static void (*const parts[])(wfi_guess *) = {
        wfi_guess_streams,   wfi_guess_clock,    wfi_guess_seconds, wfi_guess_order,
        wfi_guess_frequency, wfi_guess_codes,    wfi_guess_epoch,   wfi_guess_other_scan,
        wfi_guess_source,    wfi_guess_position, wfi_guess_mount};
    *out = (wfi_hypotheses){0};
    if (i_station >= observation->n_stations || i_scan >= observation->n_scans)
        return wfi_fail(err, WF_ARGUMENT, "the job has no station %zu or no scan %zu", i_station,
                        i_scan);
    wfi_guess guess = {.observation = observation,
                       .edit = edit,
                       .i_station = i_station,
                       .i_scan = i_scan,
                       .out = out,
                       .err = err};
    guess.status = read_streams(&guess, recorded);
    for (size_t i = 0; i < sizeof parts / sizeof parts[0] && guess.status == WF_OK; i++)
        parts[i](&guess);
    wfi_free(guess.recorded);
    wfi_free(guess.streams);
    return guess.status;
}

void wfi_hypotheses_release(wfi_hypotheses *hypotheses)
{
    for (size_t i = 0; i < hypotheses->n; i++)
        wfi_free(hypotheses->items[i].steps);
    wfi_free(hypotheses->items);
    *hypotheses = (wfi_hypotheses){0};
}

static wf_status do_step(wf_job_edit *edit, const wfi_job_step *step, wf_error *err)
{
    switch (step->kind) {
    case WFI_STEP_NUMBER:
        return wf_job_edit_set_number(edit, step->path, step->number, err);
    case WFI_STEP_TEXT:
        return wf_job_edit_set_text(edit, step->path, step->text, err);
    case WFI_STEP_INSTANT:
        return wf_job_edit_set_instant(edit, step->path, step->instant, err);
    case WFI_STEP_YAML:
        return wf_job_edit_set_yaml(edit, step->path, step->text, err);
    default:
        return wf_job_edit_remove(edit, step->path, err);
    }
}

static wf_status do_steps(wf_job_edit *edit, const char *where, const void *what, size_t n,
                          wf_error *err)
{
    const wfi_job_step *steps = what;
    (void)where;
    for (size_t i = 0; i < n; i++) {
        wf_error shared = WF_ERROR_INIT;
        const wf_status status = do_step(edit, &steps[i], &shared);
        if (status == WF_UNSUPPORTED) {
            WFI_TRY(wf_job_edit_write_out(edit, steps[i].path, err));
            WFI_TRY(do_step(edit, &steps[i], err));
        } else if (status != WF_OK)
            return wfi_fail(err, status, "%s", shared.message);
    }
    return WF_OK;
}

wf_status wfi_hypothesis_apply(const wfi_hypothesis *hypothesis, wf_job_edit *edit, wf_error *err)
{
    return wfi_job_edit_all_or_none(edit, do_steps, NULL, hypothesis->steps, hypothesis->n_steps,
                                    err);
}
