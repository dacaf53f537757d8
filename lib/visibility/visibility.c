/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Sums become correlation coefficients.
 *
 * The power that normalises a stream is that of its valid samples, not of single channels: an
 * autocorrelation keeps the shape of its band-pass and is about 1 in the middle of a flat one.
 */
#include <math.h>

#include "base/memory.h"
#include "base/status.h"
#include "delay/constants.h"
#include "statistics/van_vleck.h"
#include <whitefringe/visibility.h>

/* Common validity below this many segments is the rounding of fractions that exclude each other. */
static const double COMMON_VALID_MIN = 1e-9;

wf_status wf_integration_create(wf_integration **out, const wf_plan *plan, wf_error *err)
{
    *out = NULL;
    const wf_shape *shape = wf_plan_shape(plan);
    const size_t n = shape->n_baselines * shape->n_bands * shape->n_products;
    wf_integration *made = NULL;
    WFI_TRY(wfi_allocate(&made, 1, sizeof *made, "an integration", err));
    wf_status status = wfi_allocate(&made->visibility, n * shape->n_channels,
                                    sizeof *made->visibility, "visibilities", err);
    if (status == WF_OK)
        status = wfi_allocate(&made->weight, n, sizeof *made->weight, "weights", err);
    if (status == WF_OK)
        status =
            wfi_allocate(&made->uvw_s, shape->n_baselines, sizeof *made->uvw_s, "u, v, w", err);
    if (status == WF_OK)
        status = wfi_allocate(&made->power, shape->n_streams, sizeof(double), "powers", err);
    if (status == WF_OK)
        status = wfi_allocate(&made->efficiency, shape->n_streams, sizeof(double), "powers", err);
    if (status == WF_OK)
        *out = made;
    else
        wf_integration_destroy(made);
    return status;
}

void wf_integration_destroy(wf_integration *integration)
{
    if (integration == NULL)
        return;
    wfi_free(integration->visibility);
    wfi_free(integration->weight);
    wfi_free(integration->uvw_s);
    wfi_free(integration->power);
    wfi_free(integration->efficiency);
    wfi_free(integration);
}

/* Powers and efficiencies of the streams; each stream is met once per span that it fills. */
static void measure_streams(wf_integration *out, const wf_plan *plan,
                            const wf_observation *observation, const wf_partial *partial)
{
    const wf_shape *shape = wf_plan_shape(plan);
    for (size_t k = 0; k < shape->n_streams; k++) {
        const double n = partial->valid_samples[k];
        out->power[k] = n > 0 ? partial->power[k] / n : 0.0;
        out->efficiency[k] = 0.0;
    }
    for (size_t s = 0; s < shape->n_spans; s++) {
        for (size_t i = 0; i < shape->n_stations; i++) {
            for (size_t p = 0; p < 2 * shape->n_products; p++) {
                const wf_product product = observation->correlation.products[p / 2];
                const wf_span_input input =
                    wf_plan_span_input(plan, s, i, p % 2 == 0 ? product.first : product.second);
                if (input.i_stream >= 0 && out->efficiency[input.i_stream] == 0.0)
                    out->efficiency[input.i_stream] =
                        wfi_quantisation_efficiency(input.format, out->power[input.i_stream]);
            }
        }
    }
}

/* What turns a sum over valid segments into a correlation coefficient; 0: there is nothing. */
static double coefficient_scale(const wf_integration *out, wf_span_input first,
                                wf_span_input second, double common, bool correct)
{
    if (first.i_stream < 0 || second.i_stream < 0 || common < COMMON_VALID_MIN)
        return 0.0;
    const double power = out->power[first.i_stream] * out->power[second.i_stream];
    if (!(power > 0.0))
        return 0.0;
    double scale = 1.0 / (common * sqrt((double)first.n_fft * (double)second.n_fft * power));
    if (correct && first.i_stream != second.i_stream)
        scale /= sqrt(out->efficiency[first.i_stream] * out->efficiency[second.i_stream]);
    return scale;
}

/* Scale the channels of one span of one product; autocorrelations are real. */
static void scale_span(wf_integration *out, const wf_shape *shape, const wf_span *span,
                       size_t i_baseline, size_t p, double scale, bool is_auto,
                       const wf_partial *partial)
{
    const double complex *sums =
        partial->cross +
        ((i_baseline * shape->n_products + p) * shape->n_bands + span->i_band) * shape->n_channels;
    float complex *row = out->visibility + (i_baseline * shape->n_bands + span->i_band) *
                                               shape->n_channels * shape->n_products;
    for (size_t c = span->first_channel; c < span->first_channel + span->n_channels; c++) {
        const double re = creal(sums[c]) * scale;
        const double im = is_auto ? 0.0 : cimag(sums[c]) * scale;
        row[c * shape->n_products + p] = CMPLXF((float)re, (float)im);
    }
}

static void normalise_product(wf_integration *out, const wf_plan *plan,
                              const wf_observation *observation, const wf_partial *partial,
                              size_t i_baseline, size_t p)
{
    const wf_shape *shape = wf_plan_shape(plan);
    const wf_baseline baseline = wf_plan_baseline(plan, i_baseline);
    const wf_product product = observation->correlation.products[p];
    const double full_segments =
        observation->correlation.integration_s * wf_channel_width_hz(observation);
    float *weights = out->weight + i_baseline * shape->n_bands * shape->n_products;
    for (size_t b = 0; b < shape->n_bands; b++)
        weights[b * shape->n_products + p] = 0.0f;
    for (size_t s = 0; s < shape->n_spans; s++) {
        const wf_span *span = wf_plan_span(plan, s);
        const wf_span_input first = wf_plan_span_input(plan, s, baseline.i_station, product.first);
        const wf_span_input second =
            wf_plan_span_input(plan, s, baseline.j_station, product.second);
        const double common =
            partial->common_valid[(i_baseline * shape->n_products + p) * shape->n_spans + s];
        const double scale = coefficient_scale(out, first, second, common,
                                               observation->correlation.quantisation_correction);
        scale_span(out, shape, span, i_baseline, p, scale, first.i_stream == second.i_stream,
                   partial);
        if (scale > 0.0)
            weights[span->i_band * shape->n_products + p] +=
                (float)(common / full_segments * (double)span->n_channels /
                        (double)shape->n_channels);
    }
}

/* u, v, w of every baseline at the middle of the integration. */
static wf_status place_baselines(wf_integration *out, const wf_plan *plan,
                                 const wf_delay_model *model, size_t i_source,
                                 const wf_slice *slice, wf_error *err)
{
    const wf_shape *shape = wf_plan_shape(plan);
    double(*station_m)[3] = NULL;
    WFI_TRY(wfi_allocate(&station_m, shape->n_stations, sizeof *station_m, "u, v, w", err));
    wf_status status = WF_OK;
    for (size_t i = 0; i < shape->n_stations && status == WF_OK; i++) {
        wf_delay delay = {0};
        if (slice->tracks[i] != NULL)
            status = wf_delay_evaluate(model, i, i_source, out->middle, &delay, err);
        for (size_t k = 0; k < 3; k++)
            station_m[i][k] = delay.uvw_m[k];
    }
    for (size_t b = 0; b < shape->n_baselines && status == WF_OK; b++) {
        const wf_baseline baseline = wf_plan_baseline(plan, b);
        for (size_t k = 0; k < 3; k++)
            out->uvw_s[b][k] =
                (station_m[baseline.i_station][k] - station_m[baseline.j_station][k]) /
                WFI_SPEED_OF_LIGHT_M_PER_S;
    }
    wfi_free(station_m);
    return status;
}

wf_status wf_integration_normalise(wf_integration *out, const wf_plan *plan,
                                   const wf_observation *observation, const wf_delay_model *model,
                                   const wf_slice *slice, const wf_partial *partial, wf_error *err)
{
    const wf_shape *shape = wf_plan_shape(plan);
    out->i_scan = slice->i_scan;
    out->length_s = (double)slice->n_segments / wf_channel_width_hz(observation);
    out->middle = wf_instant_add(slice->start, 0.5 * out->length_s);
    measure_streams(out, plan, observation, partial);
    for (size_t b = 0; b < shape->n_baselines; b++) {
        for (size_t p = 0; p < shape->n_products; p++)
            normalise_product(out, plan, observation, partial, b, p);
    }
    return place_baselines(out, plan, model, observation->scans[slice->i_scan].i_source, slice,
                           err);
}
