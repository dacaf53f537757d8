/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Phase-calibration tones become phase and delay of bands, and rows of a table. */
#include "run/calibration.h"

#include <math.h>

#include "base/memory.h"
#include "base/status.h"
#include "base/turns.h"
#include "engine/plan.h"

/* Tones weaker than this together are not taken for any. */
static const double LEAST_SNR = 7.0;

/* Lowest and highest sky frequency of a band. */
static void band_ends(const wf_band *band, double *low_hz, double *high_hz)
{
    *low_hz =
        band->sideband == WF_SIDEBAND_UPPER ? band->edge_hz : band->edge_hz - band->bandwidth_hz;
    *high_hz = *low_hz + band->bandwidth_hz;
}

/* Where the tones of a station stand in a band. */
typedef struct band_tones {
    int64_t first_number; /* of the first that may fall into it */
    size_t n;
} band_tones;

static band_tones tones_of_band(const wfi_monitor *m, size_t i_station, size_t i_band)
{
    double low_hz = 0;
    double high_hz = 0;
    const double spacing = (double)m->observation->stations[i_station].phase_calibration.spacing_hz;
    if (!(spacing > 0))
        return (band_tones){0, 0};
    band_ends(&m->observation->bands[i_band], &low_hz, &high_hz);
    const double first = ceil(low_hz / spacing);
    return (band_tones){(int64_t)first, (size_t)(floor(high_hz / spacing) - first) + 1};
}

/* Number on the sky of the lowest of a stream's tones as they stand in a result. */
static int64_t lowest_number(const wfi_monitor_stream *s)
{
    return s->sideband > 0 ? s->first_number : s->first_number - (int64_t)s->comb.n_tones + 1;
}

/* The first stream of an input that has a tone of this number; its place among all tones. */
static const wfi_monitor_stream *find_tone(const wfi_monitor *m, size_t i_input, int64_t number,
                                           size_t *place)
{
    for (size_t i = 0; i < m->n_streams; i++) {
        const wfi_monitor_stream *s = &m->streams[i];
        const int64_t k = number - lowest_number(s);
        if (s->i_input == i_input && k >= 0 && k < (int64_t)s->comb.n_tones) {
            *place = s->first_tone + (size_t)k;
            return s;
        }
    }
    return NULL;
}

static void fit_band(const wfi_monitor *m, wfi_monitor_result *result, size_t i_input,
                     size_t i_band)
{
    enum { TONES_MOST = 4096 };
    double complex tones[TONES_MOST];
    const size_t i_station = i_input / m->n_polarizations;
    const double spacing = (double)m->observation->stations[i_station].phase_calibration.spacing_hz;
    const band_tones in_band = tones_of_band(m, i_station, i_band);
    wfi_band_calibration *out = &result->bands[i_input * m->observation->n_bands + i_band];
    size_t n = 0;
    double sigma = 0;
    int64_t first = 0;
    *out = (wfi_band_calibration){0};
    for (size_t k = 0; k < in_band.n && n < TONES_MOST; k++) {
        size_t place = 0;
        const int64_t number = in_band.first_number + (int64_t)k;
        const wfi_monitor_stream *s = find_tone(m, i_input, number, &place);
        if (s == NULL && n > 0)
            break; /* the band ends, or another stream begins beyond a hole */
        if (s == NULL)
            continue;
        first = n == 0 ? number : first;
        tones[n++] = result->tones[place];
        sigma = fmax(sigma, result->sigma[s - m->streams]);
    }
    if (n == 0 || !isfinite(sigma))
        return;
    const wfi_comb_fit fit = wfi_comb_fit_delay(tones, n, spacing, sigma);
    out->found = fit.snr > LEAST_SNR;
    out->phase_rad = fit.phase_rad;
    out->delay_s = fit.delay_s;
    out->middle_hz = spacing * ((double)first + 0.5 * (double)(n - 1));
}

void wfi_calibration_fit(const wfi_monitor *monitor, wfi_monitor_result *result)
{
    const wf_shape *shape = wf_plan_shape(monitor->plan);
    if (monitor->n_band_tones == 0)
        return;
    for (size_t i = 0; i < shape->n_stations * monitor->n_polarizations; i++) {
        for (size_t b = 0; b < shape->n_bands; b++)
            fit_band(monitor, result, i, b);
    }
}

/* The station's phase at the first channel of a band, and from channel to channel; in turns. */
static void phase_of(const wfi_monitor *m, const wfi_monitor_result *result, size_t i_station,
                     wf_polarization polarization, size_t i_band, double *first, double *step)
{
    const int p = wfi_grid_polarization_index(m->plan->grid, polarization);
    const wfi_band_calibration *c =
        &result->bands[(i_station * m->n_polarizations + (size_t)p) * m->observation->n_bands +
                       i_band];
    *first = 0;
    *step = 0;
    if (!m->observation->stations[i_station].phase_calibration.apply || !c->found)
        return;
    const double width_hz = wf_channel_width_hz(m->observation);
    const double from_middle_hz = wf_band_first_channel_hz(m->observation, i_band) - c->middle_hz;
    *first = c->phase_rad / WFI_RAD_PER_TURN - from_middle_hz * c->delay_s;
    *step = -width_hz * c->delay_s;
}

static void turn_product(const wfi_monitor *m, const wfi_monitor_result *result,
                         wf_baseline baseline, size_t i_band, size_t i_product,
                         float complex *visibility)
{
    const wf_shape *shape = wf_plan_shape(m->plan);
    const wf_product *product = &m->observation->correlation.products[i_product];
    double first[2];
    double step[2];
    phase_of(m, result, baseline.i_station, product->first, i_band, &first[0], &step[0]);
    phase_of(m, result, baseline.j_station, product->second, i_band, &first[1], &step[1]);
    for (size_t c = 0; c < shape->n_channels; c++) {
        const double turns =
            wfi_turns_reduce(first[1] - first[0] + (double)c * (step[1] - step[0]));
        const double complex turned =
            (double complex)visibility[c * shape->n_products + i_product] *
            cexp(I * WFI_RAD_PER_TURN * turns);
        visibility[c * shape->n_products + i_product] = (float complex)turned;
    }
}

static size_t count_weak(const wfi_monitor *m, const wf_slice *slice,
                         const wfi_monitor_result *result)
{
    size_t n = 0;
    for (size_t i = 0; i < m->observation->n_stations * m->n_polarizations; i++) {
        const size_t i_station = i / m->n_polarizations;
        if (!m->observation->stations[i_station].phase_calibration.apply ||
            slice->tracks[i_station] == NULL)
            continue;
        for (size_t b = 0; b < m->observation->n_bands; b++)
            n += !result->bands[i * m->observation->n_bands + b].found;
    }
    return n;
}

size_t wfi_calibration_apply(const wfi_monitor *monitor, const wf_slice *slice,
                             const wfi_monitor_result *result, wf_integration *integration)
{
    const wf_shape *shape = wf_plan_shape(monitor->plan);
    if (!monitor->any_applied)
        return 0;
    const size_t of_band = shape->n_channels * shape->n_products;
    for (size_t b = 0; b < shape->n_baselines; b++) {
        for (size_t k = 0; k < shape->n_bands * shape->n_products; k++) {
            const size_t i_band = k / shape->n_products;
            turn_product(monitor, result, wf_plan_baseline(monitor->plan, b), i_band,
                         k % shape->n_products,
                         integration->visibility + (b * shape->n_bands + i_band) * of_band);
        }
    }
    return count_weak(monitor, slice, result);
}

/* Room for one row. */
typedef struct row_room {
    float *states;
    double *hz;
    float complex *tones;
    float *rates;
} row_room;

static void fill_states(const wfi_monitor *m, const wfi_monitor_result *result, size_t i_input,
                        size_t i_band, float *states)
{
    const wf_plan *plan = m->plan;
    for (size_t k = 0; k < 4; k++)
        states[k] = (float)NAN;
    for (size_t p = 0; p < plan->grid->n_pieces; p++) {
        const wfi_grid_piece *piece = &plan->grid->pieces[p];
        if (piece->i_input != i_input || piece->i_band != i_band)
            continue;
        wf_sampler_statistics s;
        const size_t i = piece->i_stream;
        wfi_sampler_judge(&s, &m->streams[i].decoder, &result->counts[2 * i]);
        for (size_t k = 0; k < s.n_states && s.n_states <= 4 && s.n_samples > 0; k++)
            states[k] = (float)(100.0 * s.state_fraction[k]);
        return;
    }
}

static void fill_row(const wfi_monitor *m, const wfi_monitor_result *result, size_t i_station,
                     size_t i_polarization, size_t out_polarization, const row_room *room)
{
    const size_t n_bands = m->observation->n_bands;
    const size_t i_input = i_station * m->n_polarizations + i_polarization;
    const double spacing = (double)m->observation->stations[i_station].phase_calibration.spacing_hz;
    for (size_t b = 0; b < n_bands; b++) {
        const band_tones in_band = tones_of_band(m, i_station, b);
        const size_t cell = out_polarization * n_bands + b;
        fill_states(m, result, i_input, b, room->states + 4 * cell);
        for (size_t k = 0; k < m->n_band_tones && k < in_band.n; k++) {
            size_t place = 0;
            const int64_t number = in_band.first_number + (int64_t)k;
            const wfi_monitor_stream *s = find_tone(m, i_input, number, &place);
            if (s == NULL || !isfinite(result->sigma[s - m->streams]))
                continue;
            room->hz[cell * m->n_band_tones + k] = spacing * (double)number;
            room->tones[cell * m->n_band_tones + k] = (float complex)result->tones[place];
            room->rates[cell * m->n_band_tones + k] = (float)result->tone_rates[place];
        }
    }
}

/* R and X stand first, L and Y second; where there is but one it is the first. */
static size_t polarization_place(const wfi_monitor *m, size_t i_polarization)
{
    const wf_polarization p = m->plan->grid->polarizations[i_polarization];
    return m->n_polarizations == 2 && (p == WF_POLARIZATION_L || p == WF_POLARIZATION_Y) ? 1 : 0;
}

static wf_status write_station(const wfi_monitor *m, const wf_phase_cal *like,
                               const wfi_monitor_result *result, const row_room *room,
                               wf_fits_idi_writer *writer, wf_error *err)
{
    const size_t n = m->n_polarizations * m->observation->n_bands;
    for (size_t i = 0; i < 4 * n; i++)
        room->states[i] = (float)NAN;
    for (size_t i = 0; i < n * m->n_band_tones; i++) {
        room->hz[i] = 0;
        room->tones[i] = CMPLXF((float)NAN, (float)NAN);
        room->rates[i] = (float)NAN;
    }
    for (size_t p = 0; p < m->n_polarizations; p++)
        fill_row(m, result, like->i_station, p, polarization_place(m, p), room);
    wf_phase_cal row = *like;
    row.state_percent = room->states;
    row.frequency_hz = room->hz;
    row.tone = room->tones;
    row.rate_s_per_s = room->rates;
    return wf_fits_idi_append_phase_cal(writer, &row, err);
}

static wf_status write_all(const wfi_monitor *m, const wf_slice *slice,
                           const wfi_monitor_result *result, const wf_integration *of,
                           const row_room *room, wf_fits_idi_writer *writer, int64_t *n_rows,
                           wf_error *err)
{
    wf_phase_cal row = {.i_scan = of->i_scan, .middle = of->middle, .length_s = of->length_s};
    for (row.i_station = 0; row.i_station < m->observation->n_stations; row.i_station++) {
        const wf_phase_calibration *asked =
            &m->observation->stations[row.i_station].phase_calibration;
        if (asked->spacing_hz <= 0 || slice->tracks[row.i_station] == NULL)
            continue;
        WFI_TRY(write_station(m, &row, result, room, writer, err));
        ++*n_rows;
    }
    return WF_OK;
}

wf_status wfi_calibration_write(const wfi_monitor *monitor, const wf_slice *slice,
                                const wfi_monitor_result *result, const wf_integration *of,
                                wf_fits_idi_writer *writer, int64_t *n_rows, wf_error *err)
{
    const size_t n = monitor->n_polarizations * monitor->observation->n_bands;
    row_room room = {0};
    if (monitor->n_band_tones == 0)
        return WF_OK;
    wf_status status = wfi_allocate(&room.states, 4 * n, sizeof(float), "tones", err);
    if (status == WF_OK)
        status = wfi_allocate(&room.hz, n * monitor->n_band_tones, sizeof(double), "tones", err);
    if (status == WF_OK)
        status =
            wfi_allocate(&room.tones, n * monitor->n_band_tones, sizeof *room.tones, "tones", err);
    if (status == WF_OK)
        status = wfi_allocate(&room.rates, n * monitor->n_band_tones, sizeof(float), "tones", err);
    if (status == WF_OK)
        status = write_all(monitor, slice, result, of, &room, writer, n_rows, err);
    wfi_free(room.states);
    wfi_free(room.hz);
    wfi_free(room.tones);
    wfi_free(room.rates);
    return status;
}
