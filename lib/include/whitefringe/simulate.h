/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Recordings of an invented sky: for demonstrations, and for tests against theory. */
#ifndef WHITEFRINGE_SIMULATE_H
#define WHITEFRINGE_SIMULATE_H

#include <stddef.h>
#include <whitefringe/status.h>

/** A sky file: stations, sky, set-up and the recordings to make. */
typedef struct wf_sky wf_sky;

/** status  as wf_observation_load */
WF_API WF_MUST_CHECK wf_status wf_sky_load(wf_sky **out, const char *path, wf_error *err);
WF_API void wf_sky_destroy(wf_sky *sky);

/** Number of recordings the sky asks for; each can be made on its own, in any order. */
WF_API size_t wf_sky_n_recordings(const wf_sky *sky);

/** Called now and then with the samples made so far; returning non-zero cancels. */
typedef int (*wf_simulate_progress)(void *context, double fraction_done);

/** Make one recording in a folder that exists.
 *
 *  The same sky gives the same bytes, whatever else is made beside it.
 *  status  OK | IO | MEMORY | CANCELLED; on failure nothing is left under the file's name
 */
WF_API WF_MUST_CHECK wf_status wf_simulate_recording(const wf_sky *sky, size_t i_recording,
                                                     const char *folder,
                                                     wf_simulate_progress progress, void *context,
                                                     wf_error *err);

/** Write the job file that correlates the recordings: FOLDER/job.yaml. */
WF_API WF_MUST_CHECK wf_status wf_simulate_write_job(const wf_sky *sky, const char *folder,
                                                     wf_error *err);

#endif
