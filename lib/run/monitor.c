/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What is watched: laid out once for a job. */
#include "run/monitor.h"

#include <math.h>

#include "base/memory.h"
#include "base/status.h"
#include "engine/plan.h"

enum { CHUNK_SAMPLES = 1 << 17, COUNTED_SAMPLES = 4096 };

static wf_status lay_out_stream(wfi_monitor *m, size_t i, wf_error *err)
{
    const wfi_grid *grid = m->plan->grid;
    const wfi_grid_stream *from = &grid->streams[i];
    wfi_monitor_stream *s = &m->streams[i];
    const int polarization = wfi_grid_polarization_index(grid, from->polarization);
    *s = (wfi_monitor_stream){
        .i_station = from->i_station,
        .i_recording = from->i_recording,
        .i_thread = from->i_thread,
        .i_exclusion = from->i_exclusion,
        .channel = from->channel,
        .i_input = polarization < 0 ? SIZE_MAX
                                    : from->i_station * m->n_polarizations + (size_t)polarization,
        .sideband = from->sideband,
        .zero_hz = from->zero_hz,
        .first_tone = m->n_tones,
    };
    WFI_TRY(wfi_decoder_init(&s->decoder, from->format, err));
    const wf_phase_calibration *tones =
        &m->observation->stations[from->i_station].phase_calibration;
    if (tones->spacing_hz > 0) {
        const wf_status status =
            wfi_comb_setup_sky(&s->comb, &s->first_number, from->rate_hz, s->decoder.n_parts,
                               tones->spacing_hz, from->zero_hz, from->sideband, err);
        if (status != WF_OK) {
            wfi_prefix(err, "station %s: phase_calibration: ",
                       m->observation->stations[from->i_station].name);
            return status;
        }
        m->n_tones += s->comb.n_tones;
        m->any_applied = m->any_applied || tones->apply;
    }
    if (!m->any_kurtosis || m->plan->feed_of_stream[i] == SIZE_MAX)
        return WF_OK;
    return wfi_spectrum_plan_create(&s->kurtosis, s->decoder.n_parts, from->n_fft, from->n_fft,
                                    WFI_WINDOW_NONE, err);
}

static void count_band_tones(wfi_monitor *m)
{
    for (size_t i = 0; i < m->observation->n_stations; i++) {
        const int64_t spacing = m->observation->stations[i].phase_calibration.spacing_hz;
        if (spacing <= 0)
            continue;
        const double width = m->observation->bands[0].bandwidth_hz;
        const size_t n = (size_t)floor(width / (double)spacing) + 1;
        m->n_band_tones = n > m->n_band_tones ? n : m->n_band_tones;
    }
}

/* A chunk holds whole transforms of its recording; where no stream needs all samples it is what
 * is counted. */
static void choose_chunks(wfi_monitor *m)
{
    for (size_t r = 0; r < m->observation->n_recordings; r++)
        m->chunk[r] = COUNTED_SAMPLES;
    for (size_t i = 0; i < m->n_streams; i++) {
        const wfi_monitor_stream *s = &m->streams[i];
        const bool wanted = s->comb.n_tones > 0 || s->kurtosis.transform != NULL;
        const int64_t n_fft = (int64_t)m->plan->grid->streams[i].n_fft;
        const int64_t n = n_fft > CHUNK_SAMPLES ? n_fft : CHUNK_SAMPLES / n_fft * n_fft;
        if (wanted && n > m->chunk[s->i_recording])
            m->chunk[s->i_recording] = n;
    }
}

wf_status wfi_monitor_create(wfi_monitor *out, const wf_observation *observation,
                             const wf_plan *plan, wf_recording *const *recordings, wf_error *err)
{
    *out = (wfi_monitor){.observation = observation, .plan = plan, .recordings = recordings};
    out->any_kurtosis = observation->kurtosis_flag_sigma > 0;
    out->n_streams = plan->grid->n_streams;
    out->n_polarizations = plan->grid->n_polarizations;
    WFI_TRY(wfi_allocate(&out->streams, out->n_streams, sizeof *out->streams, "streams", err));
    WFI_TRY(
        wfi_allocate(&out->chunk, observation->n_recordings, sizeof *out->chunk, "streams", err));
    for (size_t i = 0; i < out->n_streams; i++)
        WFI_TRY(lay_out_stream(out, i, err));
    count_band_tones(out);
    choose_chunks(out);
    return WF_OK;
}

void wfi_monitor_release(wfi_monitor *monitor)
{
    for (size_t i = 0; monitor->streams != NULL && i < monitor->n_streams; i++)
        wfi_spectrum_plan_release(&monitor->streams[i].kurtosis);
    wfi_free(monitor->streams);
    wfi_free(monitor->chunk);
    *monitor = (wfi_monitor){0};
}

wf_status wfi_monitor_result_create(wfi_monitor_result *out, const wfi_monitor *monitor,
                                    wf_error *err)
{
    const wf_shape *shape = wf_plan_shape(monitor->plan);
    const size_t n_inputs = shape->n_stations * monitor->n_polarizations;
    const size_t n_cells = n_inputs * shape->n_bands;
    *out = (wfi_monitor_result){0};
    WFI_TRY(wfi_allocate(&out->counts, 2 * monitor->n_streams, sizeof *out->counts, "states", err));
    WFI_TRY(wfi_allocate(&out->tones, monitor->n_tones, sizeof *out->tones, "tones", err));
    WFI_TRY(wfi_allocate(&out->tone_rates, monitor->n_tones, sizeof(double), "tones", err));
    WFI_TRY(wfi_allocate(&out->sigma, monitor->n_streams, sizeof(double), "tones", err));
    WFI_TRY(wfi_allocate(&out->bands, n_cells, sizeof *out->bands, "tones", err));
    return wfi_allocate(&out->odd, monitor->any_kurtosis ? n_cells * shape->n_channels : 0, 1,
                        "kurtosis", err);
}

void wfi_monitor_result_release(wfi_monitor_result *result)
{
    wfi_free(result->counts);
    wfi_free(result->tones);
    wfi_free(result->tone_rates);
    wfi_free(result->sigma);
    wfi_free(result->odd);
    wfi_free(result->bands);
    *result = (wfi_monitor_result){0};
}
