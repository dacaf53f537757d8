/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The samples of a scan are counted from where its first one was recorded; that segments follow
 * the delay moves their ends by a few samples, which no fraction shows. */
#include "run/losses.h"

#include <math.h>

#include "base/memory.h"
#include "base/status.h"

/* Where a scan's first sample stands in a recording; false: the station takes no part. */
static bool first_sample(const wfi_session *session, size_t i_scan, size_t r, int64_t *first)
{
    const wf_observation *o = session->observation;
    const wf_recording_info *info = wf_recording_describe(session->recordings[r]);
    const wf_track *track = session->tracks[i_scan * o->n_stations + o->recordings[r].i_station];
    if (track == NULL)
        return false;
    double tau_s = 0;
    wf_track_evaluate(track, o->scans[i_scan].start, &tau_s, NULL);
    const wf_instant tag = wf_instant_add(o->scans[i_scan].start, tau_s);
    const double rate_hz = (double)info->sample_rate_hz;
    *first = (tag.second - info->origin.second) * info->sample_rate_hz +
             (int64_t)floor((tag.fraction - info->origin.fraction) * rate_hz + 0.5);
    return true;
}

static wf_status add_losses(const wf_recording *recording, size_t i_thread, int64_t first,
                            int64_t n, wf_stream_summary *out, wf_error *err)
{
    const wf_recording_info *info = wf_recording_describe(recording);
    const int64_t from = first > info->first ? first : info->first;
    const int64_t to = first + n < info->end ? first + n : info->end;
    int64_t lost[WF_FAULT_N_KINDS] = {0};
    if (to > from)
        WFI_TRY(wf_recording_losses(recording, i_thread,
                                    wf_recording_exclusion(recording, out->i_stream), from,
                                    to - from, lost, err));
    out->not_recorded_fraction += (double)(n - (to > from ? to - from : 0));
    for (size_t k = 0; k < WF_FAULT_N_KINDS; k++)
        out->lost_fraction[k] += (double)lost[k];
    return WF_OK;
}

static wf_status summarise_stream(const wfi_session *session, double asked, wf_stream_summary *out,
                                  wf_error *err)
{
    const wf_observation *o = session->observation;
    const size_t r = out->i_recording;
    const wf_recording *recording = session->recordings[r];
    const wf_recording_info *info = wf_recording_describe(recording);
    const double width_hz = wf_channel_width_hz(o);
    out->below_limit_fraction = session->below_fraction[out->i_station];
    size_t t = 0;
    while (t + 1 < info->n_threads &&
           info->threads[t].thread != o->recordings[r].streams[out->i_stream].thread)
        t++;
    for (size_t s = 0; s < o->n_scans; s++) {
        int64_t first = 0;
        if (!session->scan_wanted[s] || !first_sample(session, s, r, &first))
            continue;
        const double n_segments = floor(o->scans[s].duration_s * width_hz + 1e-6);
        const int64_t n = llround(n_segments * (double)info->sample_rate_hz / width_hz);
        WFI_TRY(add_losses(recording, t, first, n, out, err));
    }
    for (size_t k = 0; k < WF_FAULT_N_KINDS; k++)
        out->lost_fraction[k] = asked > 0 ? out->lost_fraction[k] / asked : 0.0;
    out->not_recorded_fraction = asked > 0 ? out->not_recorded_fraction / asked : 0.0;
    return WF_OK;
}

wf_status wfi_summarise_losses(const wfi_session *session, const double *asked_samples,
                               wf_correlate_summary *summary, wf_error *err)
{
    const size_t n = session->observation->n_recordings;
    for (size_t k = 0; k < summary->n_streams; k++)
        WFI_TRY(summarise_stream(session, asked_samples[k], &summary->streams[k], err));
    WFI_TRY(wfi_allocate(&summary->recordings, n, sizeof *summary->recordings, "the summary", err));
    summary->n_recordings = n;
    for (size_t r = 0; r < n; r++)
        WFI_TRY(wf_recording_faults(session->recordings[r], summary->recordings[r].faults, err));
    return WF_OK;
}
