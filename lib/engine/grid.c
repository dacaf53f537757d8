/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The channel grid.
 *
 * A segment lasts 1 / channel width for every stream, so that bin and channel are equally wide
 * whatever a stream's sample rate. What is left to find is which bin lies at a channel's sky
 * frequency, and by what part of a channel the two grids are shifted.
 */
#include "engine/grid.h"

#include <inttypes.h>
#include <math.h>

#include "base/memory.h"
#include "base/status.h"

/* How far a frequency may miss the grid before it counts as off it, in channels. Far above the
 * rounding of a sky frequency (1e-5 Hz at 230 GHz), far below anything that could matter. */
static const double GRID_TOLERANCE = 1e-6;

static const size_t N_FFT_MAX = (size_t)1 << 26;

int wfi_grid_polarization_index(const wfi_grid *grid, wf_polarization polarization)
{
    for (size_t i = 0; i < grid->n_polarizations; i++) {
        if (grid->polarizations[i] == polarization)
            return (int)i;
    }
    return -1;
}

static void collect_polarizations(wfi_grid *grid, const wf_correlation *correlation)
{
    for (size_t i = 0; i < 2 * correlation->n_products; i++) {
        const wf_product product = correlation->products[i / 2];
        const wf_polarization polarization = i % 2 == 0 ? product.first : product.second;
        if (wfi_grid_polarization_index(grid, polarization) < 0)
            grid->polarizations[grid->n_polarizations++] = polarization;
    }
    if (grid->n_polarizations == 2 && grid->polarizations[0] > grid->polarizations[1]) {
        const wf_polarization first = grid->polarizations[1];
        grid->polarizations[1] = grid->polarizations[0];
        grid->polarizations[0] = first;
    }
}

static wf_status find_thread(wfi_grid_stream *stream, const wf_stream *asked,
                             const wf_recording_info *info, const char *station, wf_error *err)
{
    for (size_t i = 0; i < info->n_threads; i++) {
        if (info->threads[i].thread != asked->thread)
            continue;
        stream->i_thread = i;
        stream->format = info->threads[i].format;
        if (asked->channel < stream->format.n_channels)
            return WF_OK;
        return wfi_fail(err, WF_FORMAT,
                        "station %s: the job asks for channel %" PRIu32 " of thread %" PRIu32
                        ", which has %" PRIu32 " (numbered from 0); mend streams: of its recording",
                        station, asked->channel, asked->thread, stream->format.n_channels);
    }
    return wfi_fail(err, WF_FORMAT,
                    "station %s: no thread %" PRIu32
                    " in its recording (%zu threads, the first is %" PRIu32
                    "); mend streams: of its recording",
                    station, asked->thread, info->n_threads, info->threads[0].thread);
}

static wf_status segment_length(wfi_grid_stream *stream, double channel_width_hz,
                                const char *station, wf_error *err)
{
    const double n = (double)stream->rate_hz / channel_width_hz;
    if (n < 2 || n > (double)N_FFT_MAX || fabs(n - rint(n)) > 1e-9 * n)
        return wfi_fail(err, WF_FORMAT,
                        "station %s: %" PRId64
                        " samples a second over a channel width of %.15g Hz make %.15g samples a "
                        "segment; expected a whole number from 2 to %zu: choose another number of "
                        "channels",
                        station, stream->rate_hz, channel_width_hz, n, N_FFT_MAX);
    stream->n_fft = (size_t)rint(n);
    return WF_OK;
}

static void place_in_sky(wfi_grid_stream *stream, const wf_stream *asked)
{
    const double rate_hz = (double)stream->rate_hz;
    const double recorded_hz = stream->format.is_complex ? rate_hz : rate_hz / 2;
    const double half_hz = (asked->sideband == WF_SIDEBAND_UPPER ? 0.5 : -0.5) * recorded_hz;
    const double centre_hz =
        asked->anchor == WF_ANCHOR_CENTRE ? asked->anchor_hz : asked->anchor_hz + half_hz;
    const double edge_hz =
        asked->anchor == WF_ANCHOR_EDGE ? asked->anchor_hz : asked->anchor_hz - half_hz;
    stream->zero_hz = stream->format.is_complex ? centre_hz : edge_hz;
    stream->rotation_hz = centre_hz;
    stream->sideband = asked->sideband == WF_SIDEBAND_UPPER ? 1 : -1;
}

static wf_status collect_streams(wfi_grid *grid, const wf_observation *observation,
                                 const wf_recording *const *recordings, wf_error *err)
{
    size_t n = 0;
    for (size_t r = 0; r < observation->n_recordings; r++)
        n += observation->recordings[r].n_streams;
    WFI_TRY(wfi_allocate(&grid->streams, n, sizeof *grid->streams, "streams", err));
    for (size_t r = 0; r < observation->n_recordings; r++) {
        const wf_recording_entry *entry = &observation->recordings[r];
        const wf_recording_info *info = wf_recording_describe(recordings[r]);
        const char *station = observation->stations[entry->i_station].name;
        for (size_t k = 0; k < entry->n_streams; k++) {
            wfi_grid_stream *stream = &grid->streams[grid->n_streams++];
            stream->i_station = entry->i_station;
            stream->i_recording = r;
            stream->i_exclusion = wf_recording_exclusion(recordings[r], k);
            stream->channel = entry->streams[k].channel;
            stream->polarization = entry->streams[k].polarization;
            stream->rate_hz = info->sample_rate_hz;
            WFI_TRY(find_thread(stream, &entry->streams[k], info, station, err));
            WFI_TRY(segment_length(stream, grid->channel_width_hz, station, err));
            place_in_sky(stream, &entry->streams[k]);
        }
    }
    return WF_OK;
}

/* Does the stream hold this sky frequency? Its upper end, where a real stream has the bin of half
 * the sample rate, counts only where nothing better was recorded. */
static bool holds(const wfi_grid *grid, const wfi_grid_stream *stream, double sky_hz,
                  bool with_upper_end)
{
    const double tolerance_hz = GRID_TOLERANCE * grid->channel_width_hz;
    const double baseband_hz = (sky_hz - stream->zero_hz) * stream->sideband;
    const double half_rate_hz = (double)stream->rate_hz / 2;
    const double lowest_hz = stream->format.is_complex ? -half_rate_hz : 0.0;
    const double end_hz =
        with_upper_end ? half_rate_hz + tolerance_hz : half_rate_hz - tolerance_hz;
    return baseband_hz >= lowest_hz - tolerance_hz && baseband_hz < end_hz;
}

static int stream_for(const wfi_grid *grid, size_t i_input, double sky_hz)
{
    for (int pass = 0; pass < 2; pass++) {
        for (size_t k = 0; k < grid->n_streams; k++) {
            const wfi_grid_stream *stream = &grid->streams[k];
            const int i_polarization = wfi_grid_polarization_index(grid, stream->polarization);
            if (i_polarization < 0 ||
                stream->i_station * grid->n_polarizations + (size_t)i_polarization != i_input)
                continue;
            if (holds(grid, stream, sky_hz, pass == 1))
                return (int)k;
        }
    }
    return -1;
}

static wf_status append_span(wfi_grid *grid, size_t *capacity, size_t i_band, size_t channel,
                             wf_error *err)
{
    WFI_TRY(wfi_array_reserve(&grid->spans, capacity, grid->n_spans + 1, sizeof *grid->spans,
                              "spans", err));
    grid->spans[grid->n_spans++] = (wf_span){.i_band = i_band, .first_channel = channel};
    return WF_OK;
}

/* Cut a band where any input changes its stream. `served` [n_channels][n_inputs]. */
static wf_status cut_band(wfi_grid *grid, size_t *capacity, size_t i_band, const int *served,
                          wf_error *err)
{
    for (size_t c = 0; c < grid->n_channels; c++) {
        bool cut = c == 0;
        for (size_t i = 0; i < grid->n_inputs && !cut; i++)
            cut = served[c * grid->n_inputs + i] != served[(c - 1) * grid->n_inputs + i];
        if (cut)
            WFI_TRY(append_span(grid, capacity, i_band, c, err));
        grid->spans[grid->n_spans - 1].n_channels++;
    }
    return WF_OK;
}

static wf_status check_band_is_recorded(const wf_observation *observation, size_t i_band,
                                        const int *served, size_t n, wf_error *err)
{
    for (size_t i = 0; i < n; i++) {
        if (served[i] >= 0)
            return WF_OK;
    }
    const wf_band *band = &observation->bands[i_band];
    return wfi_fail(err, WF_FORMAT,
                    "band %s (%.15g Hz, %.15g Hz wide): no stream of any recording holds its sky "
                    "frequencies in a polarization that is correlated; mend the band, or the "
                    "streams of the recordings",
                    band->name, band->edge_hz, band->bandwidth_hz);
}

static wf_status lay_out_spans(wfi_grid *grid, const wf_observation *observation, wf_error *err)
{
    const size_t n = grid->n_channels * grid->n_inputs;
    size_t capacity = 0;
    int *served = NULL;
    WFI_TRY(wfi_allocate(&served, n, sizeof *served, "the channel grid", err));
    wf_status status = WF_OK;
    for (size_t b = 0; b < grid->n_bands && status == WF_OK; b++) {
        const double first_hz = wf_band_first_channel_hz(observation, b);
        for (size_t i = 0; i < n; i++)
            served[i] =
                stream_for(grid, i % grid->n_inputs,
                           first_hz + (double)(i / grid->n_inputs) * grid->channel_width_hz);
        status = check_band_is_recorded(observation, b, served, n, err);
        if (status == WF_OK)
            status = cut_band(grid, &capacity, b, served, err);
    }
    wfi_free(served);
    return status;
}

static wf_status fill_spans(wfi_grid *grid, const wf_observation *observation, wf_error *err)
{
    WFI_TRY(wfi_allocate(&grid->span_stream, grid->n_spans * grid->n_inputs,
                         sizeof *grid->span_stream, "spans", err));
    for (size_t s = 0; s < grid->n_spans; s++) {
        const wf_span *span = &grid->spans[s];
        const double sky_hz = wf_band_first_channel_hz(observation, span->i_band) +
                              (double)span->first_channel * grid->channel_width_hz;
        for (size_t i = 0; i < grid->n_inputs; i++)
            grid->span_stream[s * grid->n_inputs + i] = stream_for(grid, i, sky_hz);
    }
    return WF_OK;
}

/* One residual for all pieces of a stream: it rotates once. */
static wf_status check_residual(wfi_grid_stream *stream, bool first, double residual_hz,
                                const wf_observation *observation, double tolerance_hz,
                                wf_error *err)
{
    if (fabs(residual_hz) < tolerance_hz)
        residual_hz = 0;
    if (!first && fabs(stream->residual_hz - residual_hz) > tolerance_hz)
        return wfi_fail(err, WF_UNSUPPORTED,
                        "station %s: one of its streams fills several bands that lie on different "
                        "channel grids (%.15g and %.15g Hz off its own); put the bands' edges a "
                        "whole number of channels apart",
                        observation->stations[stream->i_station].name, stream->residual_hz,
                        residual_hz);
    stream->residual_hz = residual_hz;
    return WF_OK;
}

static void append_piece(wfi_grid *grid, const wf_span *span, size_t i_stream, size_t i_input,
                         double offset_hz, int64_t bin)
{
    wfi_grid_piece *last = grid->n_pieces > 0 ? &grid->pieces[grid->n_pieces - 1] : NULL;
    if (last != NULL && last->i_stream == i_stream && last->i_band == span->i_band &&
        last->i_input == i_input && last->first_channel + last->n_channels == span->first_channel) {
        last->n_channels += span->n_channels;
        return;
    }
    grid->pieces[grid->n_pieces++] = (wfi_grid_piece){
        .i_stream = i_stream,
        .i_band = span->i_band,
        .i_input = i_input,
        .first_channel = span->first_channel,
        .n_channels = span->n_channels,
        .first_bin = bin,
        .first_offset_hz = offset_hz,
    };
}

static wf_status lay_out_pieces(wfi_grid *grid, const wf_observation *observation, wf_error *err)
{
    const double width_hz = grid->channel_width_hz;
    WFI_TRY(wfi_allocate(&grid->pieces, grid->n_spans * grid->n_inputs, sizeof *grid->pieces,
                         "the channel grid", err));
    for (size_t k = 0; k < grid->n_streams; k++) {
        wfi_grid_stream *stream = &grid->streams[k];
        bool first = true;
        for (size_t i = 0; i < grid->n_spans * grid->n_inputs; i++) {
            if (grid->span_stream[i] != (int)k)
                continue;
            const wf_span *span = &grid->spans[i / grid->n_inputs];
            const double offset_hz = wf_band_first_channel_hz(observation, span->i_band) +
                                     (double)span->first_channel * width_hz - stream->zero_hz;
            const double bin = rint(offset_hz / width_hz);
            WFI_TRY(check_residual(stream, first, offset_hz - bin * width_hz, observation,
                                   GRID_TOLERANCE * width_hz, err));
            append_piece(grid, span, k, i % grid->n_inputs, offset_hz, (int64_t)bin);
            first = false;
        }
    }
    return WF_OK;
}

wf_status wfi_grid_create(wfi_grid **out, const wf_observation *observation,
                          const wf_recording *const *recordings, wf_error *err)
{
    *out = NULL;
    wfi_grid *grid = NULL;
    WFI_TRY(wfi_allocate(&grid, 1, sizeof *grid, "the channel grid", err));
    grid->channel_width_hz = wf_channel_width_hz(observation);
    grid->n_stations = observation->n_stations;
    grid->n_bands = observation->n_bands;
    grid->n_channels = observation->correlation.n_channels;
    collect_polarizations(grid, &observation->correlation);
    grid->n_inputs = grid->n_stations * grid->n_polarizations;
    wf_status status = collect_streams(grid, observation, recordings, err);
    if (status == WF_OK)
        status = lay_out_spans(grid, observation, err);
    if (status == WF_OK)
        status = fill_spans(grid, observation, err);
    if (status == WF_OK)
        status = lay_out_pieces(grid, observation, err);
    if (status == WF_OK)
        *out = grid;
    else
        wfi_grid_destroy(grid);
    return status;
}

void wfi_grid_destroy(wfi_grid *grid)
{
    if (grid == NULL)
        return;
    wfi_free(grid->streams);
    wfi_free(grid->pieces);
    wfi_free(grid->spans);
    wfi_free(grid->span_stream);
    wfi_free(grid);
}
