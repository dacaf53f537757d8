/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "run/exclusions.h"

#include "base/status.h"

/* The part of a scan that is excluded; false: none of it. A station's time differs from that of the
 * geocentre by the delay, which no flag shows. */
static bool common(const wf_scan *scan, const wf_time_span *time, wf_instant *start,
                   double *length_s)
{
    const wf_instant end = wf_instant_add(scan->start, scan->duration_s);
    *start = wf_instant_difference_s(time->start, scan->start) > 0 ? time->start : scan->start;
    const wf_instant stop = wf_instant_difference_s(time->stop, end) < 0 ? time->stop : end;
    *length_s = wf_instant_difference_s(stop, *start);
    return *length_s > 0;
}

static bool records(const wf_observation *o, size_t i_station, wf_polarization polarization)
{
    for (size_t r = 0; r < o->n_recordings; r++)
        for (size_t k = 0; k < o->recordings[r].n_streams; k++)
            if (o->recordings[r].i_station == i_station &&
                o->recordings[r].streams[k].polarization == polarization)
                return true;
    return false;
}

static wf_status flag_station(const wf_observation *o, const wf_exclusion *e, wf_flag like,
                              wf_fits_idi_writer *writer, wf_error *err)
{
    for (size_t b = 0; b < o->n_bands; b++) {
        for (int p = WF_POLARIZATION_R; p <= WF_POLARIZATION_Y; p++) {
            like.i_band = b;
            like.polarization = (wf_polarization)p;
            if (e->bands[b] && records(o, like.i_station, like.polarization))
                WFI_TRY(wf_fits_idi_append_flag(writer, &like, err));
        }
    }
    return WF_OK;
}

wf_status wfi_exclusions_flag(const wfi_session *session, wf_fits_idi_writer *writer, wf_error *err)
{
    const wf_observation *o = session->observation;
    for (size_t i = 0; i < o->n_exclusions; i++) {
        const wf_exclusion *e = &o->exclusions[i];
        for (size_t s = 0; s < o->n_scans; s++) {
            wf_flag like = {
                .i_scan = s, .n_channels = o->correlation.n_channels, .reason = e->reason};
            if (!session->scan_wanted[s] ||
                !common(&o->scans[s], &e->time, &like.start, &like.length_s))
                continue;
            for (like.i_station = 0; like.i_station < o->n_stations; like.i_station++)
                if (e->stations[like.i_station] && o->scans[s].station_takes_part[like.i_station])
                    WFI_TRY(flag_station(o, e, like, writer, err));
        }
    }
    return WF_OK;
}
