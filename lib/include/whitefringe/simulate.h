/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Recordings of an invented sky: for demonstrations, and for tests against theory. */
#ifndef WHITEFRINGE_SIMULATE_H
#define WHITEFRINGE_SIMULATE_H

#include <stddef.h>
#include <whitefringe/status.h>

/** A sky: stations, sources, set-up, the recordings to make, and what is to be heard in them.
 *
 *  A sky file holds the keys of a job file (README.md, examples/first-fringes.yaml), and more.
 *
 *  Under `recordings`, each of which is one file in the folder that is chosen when it is made;
 *  sample_rate_hz and sampling are needed, start is not allowed:
 *
 *      bits           1, 2 (default), 4, 8 or 16; sound files (WAV): 16
 *      header_bytes   32 (default) or 16; VDIF only
 *      payload_bytes  a multiple of 8 whose samples divide the rate; default: the longest of
 *                     these up to 8192; VDIF only
 *
 *  Under `sky`:
 *
 *      seed                 other seeds are other noise
 *      components           points of the sky, seen in the scans of their source
 *        source             its name
 *        correlation        its power over all that a station receives, hertz by hertz: the
 *                           correlation coefficient of every baseline
 *        east_arcsec        direction cosines from the source's place, in arcsec; default 0
 *        north_arcsec
 *        cross_hand         <R conj(L)>/<|R|^2> (or X, Y): [real, imaginary]; default 0
 *        line               only a Gaussian line; correlation is then its peak
 *          centre_hz        sky frequency
 *          width_hz         full width at half maximum
 *      clock_errors         what clocks are ahead beyond what the job believes, at the job's
 *                           reference of the clock or else the start of the first scan
 *        station
 *        ahead_s
 *        rate_s_per_s       default 0
 *
 *  What is simulated: every station receives the components through its delay and clock
 *  (delay_terms hold for the sky as for the job), mixes them with its own clock, adds noise of its
 *  own to a total power of 1 per stream, and samples at the optimum thresholds. Streams of any
 *  bandwidth, sideband and split hear the same sky. Recordings run from 50 ms before a scan to
 *  50 ms after it; VDIF holds nothing between scans, a sound file receiver noise. Not simulated:
 *  atmosphere beyond the delay model, gains, extended sources, several files to a recording.
 */
typedef struct wf_sky wf_sky;

/** status  OK | MISSING: no such file, a station without scans | FORMAT: a fault in the sky file;
 *          the message names file, line and key | UNSUPPORTED: scans of different sources closer
 *          than 0.2 s, delays with clock over 0.9 s, offsets where a delay_table holds
 *          | RANGE: as wf_delay_model_create | IO | MEMORY
 */
WF_API WF_MUST_CHECK wf_status wf_sky_load(wf_sky **out, const char *path, wf_error *err);
WF_API void wf_sky_destroy(wf_sky *sky);

/** Number of recordings the sky asks for; each can be made on its own, in any order. */
WF_API size_t wf_sky_n_recordings(const wf_sky *sky);

/** Called now and then with the samples made so far; returning non-zero cancels. */
typedef int (*wf_simulate_progress)(void *context, double fraction_done);

/** Make one recording in a folder that exists.
 *
 *  The same sky gives the same bytes on the same machine, whatever else is made beside it.
 *
 *  status   OK | ARGUMENT: no such recording | MISSING: no such folder | UNSUPPORTED: over 4096
 *           combinations of streams, components and cells of frequency | IO | MEMORY
 *           | CANCELLED; on failure what stood under the file's name still does, or nothing
 *  threads  any number may make recordings of one sky at a time
 */
WF_API WF_MUST_CHECK wf_status wf_simulate_recording(const wf_sky *sky, size_t i_recording,
                                                     const char *folder,
                                                     wf_simulate_progress progress, void *context,
                                                     wf_error *err);

/** Write the job file that correlates the recordings: FOLDER/job.yaml. */
WF_API WF_MUST_CHECK wf_status wf_simulate_write_job(const wf_sky *sky, const char *folder,
                                                     wf_error *err);

#endif
