/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How long segments take, in the long run, on several threads. */
#ifndef WFI_THROUGHPUT_PACE_H
#define WFI_THROUGHPUT_PACE_H

#include "run/session.h"
#include "throughput/bare_fft.h"

/** Time slices of a session, from its samples to normalised visibilities.
 *
 *  given     slice      one whole integration; it is cut short where the time does not suffice,
 *                       and what an integration costs beside its segments is told apart
 *            budget_s   about how long to measure
 *  returned  segment_s  seconds a segment: n_threads of them are worked on at once
 *  status    OK | as wf_plan_execute, wf_integration_normalise
 */
wf_status wfi_pace_measure(double *segment_s, const wfi_session *session, const wf_slice *slice,
                           size_t n_threads, double budget_s, wfi_clock now_s, wf_error *err);

#endif
