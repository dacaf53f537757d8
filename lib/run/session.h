/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Everything that correlating a job needs open at once: recordings, delays, plan. */
#ifndef WFI_RUN_SESSION_H
#define WFI_RUN_SESSION_H

#include <stddef.h>
#include <whitefringe/delay.h>
#include <whitefringe/engine.h>
#include <whitefringe/run.h>

typedef struct wfi_session {
    const wf_observation *observation;
    bool keep_going;           /* set before opening, as n_threads */
    size_t n_threads;          /* to open recordings with; 0: one */
    wf_recording **recordings; /* [n_recordings] */
    wf_delay_model *model;
    wf_track **tracks;      /* [n_scans][n_stations]; NULL: takes no part */
    bool *scan_wanted;      /* [n_scans] */
    double *below_fraction; /* [n_stations] of their scans' time, the source too low */
    wf_plan_options plan_options;
    wf_plan *plan;
} wfi_session;

/** Open, check and plan.
 *
 *  given   scan_name  NULL: all scans
 *  status  as wf_recording_open, wf_delay_model_create, wf_track_create, wf_plan_create; MISSING:
 *          no scan of that name; RANGE: recordings that meet no scan, or each other never
 */
wf_status wfi_session_open(wfi_session *session, const wf_observation *observation,
                           const char *scan_name, const wf_plan_options *plan_options, wf_warn warn,
                           void *context, wf_error *err);

/** The first half of it: recordings open, scans chosen, nothing compared or planned.
 *
 *  given  session  its keep_going, n_threads and plan_options set, all else 0
 */
wf_status wfi_session_begin(wfi_session *session, const wf_observation *observation,
                            const char *scan_name, wf_warn warn, void *context, wf_error *err);

/** The second half of it: delays and plan of a session whose recordings are open and whose scans
 * are chosen. */
wf_status wfi_session_plan(wfi_session *session, wf_error *err);

/** Delays and plan anew, for all scans of another observation that has the same stations and
 * recordings. */
wf_status wfi_session_plan_other(wfi_session *session, const wf_observation *observation,
                                 wf_error *err);

/** Let go of delays and plan, before the observation that they borrow from. */
void wfi_session_drop_plan(wfi_session *session);

void wfi_session_close(wfi_session *session);

#endif
