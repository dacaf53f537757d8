/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Open, check and plan: everything that can be refused is refused before the first sample. */
#include "run/session.h"

#include <stdio.h>
#include <string.h>

#include "base/memory.h"
#include "base/status.h"
#include "base/text.h"
#include "run/band_coverage.h"
#include "run/coverage.h"
#include "run/horizon.h"
#include "run/ordered.h"

static wf_status unknown_scan(const wf_observation *observation, const char *name, wf_error *err)
{
    const char **known = NULL;
    WFI_TRY(wfi_allocate(&known, observation->n_scans, sizeof *known, "names", err));
    for (size_t s = 0; s < observation->n_scans; s++)
        known[s] = observation->scans[s].name;
    const char *nearest = wfi_nearest_word(name, known, observation->n_scans);
    const wf_status status =
        wfi_fail(err, WF_MISSING, "no scan \"%s\" in the job; %s %s", name,
                 nearest != NULL ? "is it" : "its first is", nearest != NULL ? nearest : known[0]);
    wfi_free(known);
    return status;
}

static wf_status choose_scans(wfi_session *session, const char *scan_name, wf_error *err)
{
    const wf_observation *observation = session->observation;
    bool any = false;
    WFI_TRY(wfi_allocate(&session->scan_wanted, observation->n_scans, sizeof(bool), "scans", err));
    for (size_t s = 0; s < observation->n_scans; s++) {
        session->scan_wanted[s] =
            scan_name == NULL || strcmp(scan_name, observation->scans[s].name) == 0;
        any = any || session->scan_wanted[s];
    }
    return any ? WF_OK : unknown_scan(observation, scan_name, err);
}

static void pass_warnings(const wf_recording *recording, const char *station, wf_warn warn,
                          void *context)
{
    for (size_t i = 0; warn != NULL && i < wf_recording_n_warnings(recording); i++) {
        char text[640];
        snprintf(text, sizeof text, "station %s: %s", station, wf_recording_warning(recording, i));
        warn(context, text);
    }
}

typedef struct opening {
    wfi_session *session;
    wf_warn warn;
    void *context;
} opening;

static const char *station_of(const wf_observation *observation, size_t i_recording)
{
    return observation->stations[observation->recordings[i_recording].i_station].name;
}

static wf_status open_recording(void *p, size_t i_recording, size_t i_worker, size_t i_place,
                                wf_error *err)
{
    const opening *open = p;
    wfi_session *session = open->session;
    wf_recording_entry entry = session->observation->recordings[i_recording];
    (void)i_worker;
    (void)i_place;
    entry.keep_going = session->keep_going;
    entry.owner = station_of(session->observation, i_recording);
    const wf_status status = wf_recording_open(&session->recordings[i_recording], &entry, err);
    if (status != WF_OK)
        wfi_prefix(err, "station %s: ", entry.owner);
    return status;
}

static wf_status warn_of_recording(void *p, size_t i_recording, size_t i_place, wf_error *err)
{
    const opening *open = p;
    (void)i_place;
    (void)err;
    pass_warnings(open->session->recordings[i_recording],
                  station_of(open->session->observation, i_recording), open->warn, open->context);
    return WF_OK;
}

/* Side by side: each is looked through, on a disk of its own mostly. */
static wf_status open_recordings(wfi_session *session, wf_warn warn, void *context, wf_error *err)
{
    const size_t n = session->observation->n_recordings;
    const size_t n_threads = session->n_threads > 0 ? session->n_threads : 1;
    opening open = {session, warn, context};
    const wfi_ordered_steps steps = {
        .work = open_recording, .finish = warn_of_recording, .context = &open, .n_places = n};
    WFI_TRY(wfi_allocate(&session->recordings, n, sizeof *session->recordings, "recordings", err));
    return wfi_ordered_for(n, n_threads, &steps, err);
}

static wf_status create_tracks(wfi_session *session, wf_error *err)
{
    const wf_observation *observation = session->observation;
    const size_t n = observation->n_stations;
    WFI_TRY(wfi_allocate(&session->tracks, observation->n_scans * n, sizeof *session->tracks,
                         "delay tracks", err));
    for (size_t s = 0; s < observation->n_scans; s++) {
        if (session->scan_wanted[s])
            WFI_TRY(wf_tracks_create(&session->tracks[s * n], session->model, s,
                                     observation->scans[s].station_takes_part, err));
    }
    return WF_OK;
}

static wf_status create_plan(wfi_session *session, wf_error *err)
{
    const wf_observation *observation = session->observation;
    double *largest_rate = NULL;
    WFI_TRY(wfi_allocate(&largest_rate, observation->n_stations, sizeof(double), "the plan", err));
    for (size_t k = 0; k < observation->n_scans * observation->n_stations; k++) {
        const double rate =
            session->tracks[k] != NULL ? wf_track_largest_rate(session->tracks[k]) : 0.0;
        double *largest = &largest_rate[k % observation->n_stations];
        *largest = rate > *largest ? rate : *largest;
    }
    const wf_status status = wf_plan_create(&session->plan, observation,
                                            (const wf_recording *const *)session->recordings,
                                            largest_rate, &session->plan_options, err);
    wfi_free(largest_rate);
    return status;
}

void wfi_session_drop_plan(wfi_session *session)
{
    const wf_observation *observation = session->observation;
    wf_plan_destroy(session->plan);
    session->plan = NULL;
    for (size_t k = 0;
         session->tracks != NULL && k < observation->n_scans * observation->n_stations; k++)
        wf_track_destroy(session->tracks[k]);
    wfi_free(session->tracks);
    session->tracks = NULL;
    wf_delay_model_destroy(session->model);
    session->model = NULL;
}

wf_status wfi_session_plan(wfi_session *session, wf_error *err)
{
    WFI_TRY(wf_delay_model_create(&session->model, session->observation, err));
    WFI_TRY(create_tracks(session, err));
    return create_plan(session, err);
}

wf_status wfi_session_plan_other(wfi_session *session, const wf_observation *observation,
                                 wf_error *err)
{
    wfi_session_drop_plan(session);
    session->observation = observation;
    wfi_free(session->scan_wanted);
    session->scan_wanted = NULL;
    WFI_TRY(wfi_allocate(&session->scan_wanted, observation->n_scans, sizeof(bool), "scans", err));
    memset(session->scan_wanted, true, observation->n_scans * sizeof(bool));
    return wfi_session_plan(session, err);
}

wf_status wfi_session_begin(wfi_session *session, const wf_observation *observation,
                            const char *scan_name, wf_warn warn, void *context, wf_error *err)
{
    session->observation = observation;
    WFI_TRY(choose_scans(session, scan_name, err));
    return open_recordings(session, warn, context, err);
}

wf_status wfi_session_open(wfi_session *session, const wf_observation *observation,
                           const char *scan_name, const wf_plan_options *plan_options, wf_warn warn,
                           void *context, wf_error *err)
{
    *session = (wfi_session){.plan_options = *plan_options,
                             .keep_going = session->keep_going,
                             .n_threads = session->n_threads};
    WFI_TRY(wfi_session_begin(session, observation, scan_name, warn, context, err));
    WFI_TRY(wfi_coverage_check(observation, (const wf_recording *const *)session->recordings,
                               session->scan_wanted, warn, context, err));
    WFI_TRY(wfi_session_plan(session, err));
    wf_delay_warn_of_orientation(session->model, session->scan_wanted, warn, context);
    WFI_TRY(wfi_allocate(&session->below_fraction, observation->n_stations, sizeof(double),
                         "elevations", err));
    WFI_TRY(wfi_horizon_warn(observation, session->model, session->scan_wanted,
                             session->below_fraction, warn, context, err));
    wfi_band_coverage_warn(observation, session->plan, warn, context);
    return WF_OK;
}

void wfi_session_close(wfi_session *session)
{
    if (session->observation == NULL)
        return;
    wfi_session_drop_plan(session);
    for (size_t r = 0; session->recordings != NULL && r < session->observation->n_recordings; r++)
        wf_recording_close(session->recordings[r]);
    wfi_free(session->recordings);
    wfi_free(session->scan_wanted);
    wfi_free(session->below_fraction);
    *session = (wfi_session){0};
}
