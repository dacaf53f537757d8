/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "run/band_coverage.h"

#include <stdio.h>

/* Channels of a band that one station and polarization fill. */
static size_t channels_filled(const wf_plan *plan, size_t i_band, size_t i_station,
                              wf_polarization polarization)
{
    const size_t n_spans = wf_plan_shape(plan)->n_spans;
    size_t n = 0;
    for (size_t s = 0; s < n_spans; s++) {
        const wf_span *span = wf_plan_span(plan, s);
        if (span->i_band == i_band &&
            wf_plan_span_input(plan, s, i_station, polarization).i_stream >= 0)
            n += span->n_channels;
    }
    return n;
}

static bool is_recorded(const wf_observation *observation, size_t i_station,
                        wf_polarization polarization)
{
    for (size_t r = 0; r < observation->n_recordings; r++) {
        const wf_recording_entry *entry = &observation->recordings[r];
        for (size_t k = 0; entry->i_station == i_station && k < entry->n_streams; k++) {
            if (entry->streams[k].polarization == polarization)
                return true;
        }
    }
    return false;
}

static bool is_correlated(const wf_observation *observation, wf_polarization polarization)
{
    const wf_correlation *correlation = &observation->correlation;
    for (size_t p = 0; p < correlation->n_products; p++) {
        if (correlation->products[p].first == polarization ||
            correlation->products[p].second == polarization)
            return true;
    }
    return false;
}

static void check_bands(const wf_observation *observation, const wf_plan *plan, size_t i_station,
                        wf_polarization polarization, wf_warn warn, void *context)
{
    const size_t n_channels = observation->correlation.n_channels;
    for (size_t b = 0; b < observation->n_bands; b++) {
        const size_t n = channels_filled(plan, b, i_station, polarization);
        if (n == n_channels)
            continue;
        char message[512];
        snprintf(message, sizeof message,
                 "station %s: its streams hold %zu of the %zu channels of band %s in polarization "
                 "%c; the others are 0 in the output: check edge_hz, centre_hz and sideband of its "
                 "streams, and the band",
                 observation->stations[i_station].name, n, n_channels, observation->bands[b].name,
                 wf_polarization_letter(polarization));
        warn(context, message);
    }
}

void wfi_band_coverage_warn(const wf_observation *observation, const wf_plan *plan, wf_warn warn,
                            void *context)
{
    if (warn == NULL)
        return;
    for (size_t i = 0; i < observation->n_stations; i++) {
        for (int p = WF_POLARIZATION_R; p <= WF_POLARIZATION_Y; p++) {
            const wf_polarization polarization = (wf_polarization)p;
            if (is_correlated(observation, polarization) &&
                is_recorded(observation, i, polarization))
                check_bands(observation, plan, i, polarization, warn, context);
        }
    }
}
