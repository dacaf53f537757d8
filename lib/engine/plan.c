/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The plan: which samples, transforms, rotations and blocks a job needs; all that can be refused
 * is refused here. */
#include "engine/plan.h"

#include <inttypes.h>
#include <math.h>
#include <string.h>

#include "base/memory.h"
#include "base/status.h"
#include "base/text.h"
#include "engine/blocks.h"
#include "engine/channelize_batch.h"
#include "engine/rotation.h"

static const size_t NONE = SIZE_MAX;

static void index_products(wf_plan *plan, const wf_correlation *correlation)
{
    for (size_t p = 0; p < correlation->n_products; p++) {
        plan->product_input[p][0] =
            wfi_grid_polarization_index(plan->grid, correlation->products[p].first);
        plan->product_input[p][1] =
            wfi_grid_polarization_index(plan->grid, correlation->products[p].second);
    }
}

static void fill_shape(wf_plan *plan, const wf_observation *observation)
{
    const size_t n = observation->n_stations;
    plan->shape = (wf_shape){
        .n_stations = n,
        .n_baselines = n * (n + 1) / 2,
        .n_bands = observation->n_bands,
        .n_channels = plan->grid->n_channels,
        .n_products = observation->correlation.n_products,
        .n_streams = plan->grid->n_streams,
        .n_spans = plan->grid->n_spans,
    };
    for (size_t b = 0; b < observation->n_bands; b++)
        plan->band_first_hz[b] = wf_band_first_channel_hz(observation, b);
}

static bool feeds(const wfi_feed *feed, const wfi_grid_stream *stream)
{
    return feed->i_recording == stream->i_recording && feed->i_thread == stream->i_thread &&
           feed->i_exclusion == stream->i_exclusion;
}

static wf_status find_feed(wf_plan *plan, size_t i_stream, wf_error *err)
{
    const wfi_grid_stream *stream = &plan->grid->streams[i_stream];
    size_t f = 0;
    while (f < plan->n_feeds && !feeds(&plan->feeds[f], stream))
        f++;
    plan->feed_of_stream[i_stream] = f;
    plan->recording_stream[stream->i_recording] = i_stream;
    if (f < plan->n_feeds)
        return WF_OK;
    wfi_feed *feed = &plan->feeds[plan->n_feeds++];
    feed->i_recording = stream->i_recording;
    feed->i_thread = stream->i_thread;
    feed->i_exclusion = stream->i_exclusion;
    return wfi_unpacker_init(&feed->unpacker, stream->format, err);
}

static wf_status collect_feeds(wf_plan *plan, wf_error *err)
{
    for (size_t r = 0; r < plan->n_recordings; r++)
        plan->recording_stream[r] = NONE;
    for (size_t k = 0; k < plan->grid->n_streams; k++) {
        plan->feed_of_stream[k] = NONE;
        if (wfi_bundles_use(&plan->bundles, k))
            WFI_TRY(find_feed(plan, k, err));
    }
    return WF_OK;
}

static wfi_channelizer channelizer_of(const wf_plan *plan, const wfi_bundle *bundle)
{
    const size_t k = bundle->streams[0];
    wfi_channelizer channelizer = wfi_channelizer_of(
        plan->kernels, &plan->transforms.distinct[plan->transforms.of_stream[k]],
        &plan->grid->streams[k], &plan->grid->pieces[plan->bundles.first_piece[k]],
        bundle->n_pieces, plan->rotated[k]);
    for (size_t i = 0; i < bundle->n_streams; i++) {
        if (!wfi_batch_decodes(plan->grid->streams[bundle->streams[i]].format))
            channelizer.batches = false;
    }
    return channelizer;
}

static wf_status create_channelizers(wf_plan *plan, wf_error *err)
{
    const wfi_bundles *bundles = &plan->bundles;
    WFI_TRY(wfi_allocate(&plan->channelizers, bundles->n_bundles, sizeof(wfi_channelizer),
                         "the plan", err));
    for (size_t b = 0; b < bundles->n_bundles; b++)
        plan->channelizers[b] = channelizer_of(plan, &bundles->bundles[b]);
    return WF_OK;
}

static bool fills_channels(const wfi_grid *grid, size_t i_stream)
{
    for (size_t p = 0; p < grid->n_pieces; p++) {
        if (grid->pieces[p].i_stream == i_stream)
            return true;
    }
    return false;
}

static void decide_rotation(wf_plan *plan, const wf_observation *observation,
                            const double *largest_rate_s_per_s)
{
    for (size_t k = 0; k < plan->grid->n_streams; k++) {
        const wfi_grid_stream *stream = &plan->grid->streams[k];
        const double rate = largest_rate_s_per_s[stream->i_station];
        double loss = 0;
        plan->rotated[k] = wfi_rotation_before_fft(&observation->correlation, stream, rate,
                                                   plan->grid->channel_width_hz, &loss);
        if (loss > plan->rotation_loss && fills_channels(plan->grid, k))
            plan->rotation_loss = loss;
        if (rate > plan->largest_rate_s_per_s)
            plan->largest_rate_s_per_s = rate;
    }
}

static wf_status allocate_plan(wf_plan *plan, const wf_observation *observation,
                               const wf_recording *const *recordings, wf_error *err)
{
    static const char what[] = "the plan";
    const size_t n_streams = plan->grid->n_streams;
    plan->n_recordings = observation->n_recordings;
    WFI_TRY(wfi_allocate(&plan->band_first_hz, observation->n_bands, sizeof(double), what, err));
    WFI_TRY(wfi_allocate(&plan->recordings, plan->n_recordings, sizeof(*recordings), what, err));
    WFI_TRY(wfi_allocate(&plan->recording_stream, plan->n_recordings, sizeof(size_t), what, err));
    WFI_TRY(wfi_allocate(&plan->feeds, n_streams, sizeof(wfi_feed), what, err));
    WFI_TRY(wfi_allocate(&plan->feed_of_stream, n_streams, sizeof(size_t), what, err));
    WFI_TRY(wfi_allocate(&plan->rotated, n_streams, sizeof(bool), what, err));
    for (size_t r = 0; r < plan->n_recordings; r++)
        plan->recordings[r] = recordings[r];
    return WF_OK;
}

static wf_status lay_out(wf_plan *plan, const wf_observation *observation,
                         const wf_recording *const *recordings, wf_error *err)
{
    WFI_TRY(wfi_grid_create(&plan->grid, observation, recordings, err));
    WFI_TRY(allocate_plan(plan, observation, recordings, err));
    fill_shape(plan, observation);
    index_products(plan, &observation->correlation);
    return wfi_pairs_create(&plan->pairs, &plan->shape, plan->grid->n_polarizations,
                            plan->product_input, err);
}

static wf_status fill_plan(wf_plan *plan, const wf_observation *observation,
                           const wf_recording *const *recordings,
                           const double *largest_rate_s_per_s, const wf_plan_options *options,
                           wf_error *err)
{
    WFI_TRY(wfi_kernels_choose(&plan->kernels, options != NULL ? options->kernels : NULL, err));
    WFI_TRY(lay_out(plan, observation, recordings, err));
    decide_rotation(plan, observation, largest_rate_s_per_s);
    WFI_TRY(wfi_bundles_create(&plan->bundles, plan->grid, plan->rotated, plan->n_recordings, err));
    WFI_TRY(collect_feeds(plan, err));
    WFI_TRY(wfi_transforms_create(&plan->transforms, plan->grid, plan->rotated, err));
    WFI_TRY(create_channelizers(plan, err));
    wfi_blocks_choose(plan);
    return WF_OK;
}

wf_status wf_plan_create(wf_plan **out, const wf_observation *observation,
                         const wf_recording *const *recordings, const double *largest_rate_s_per_s,
                         const wf_plan_options *options, wf_error *err)
{
    *out = NULL;
    wf_plan *plan = NULL;
    WFI_TRY(wfi_allocate(&plan, 1, sizeof *plan, "the plan", err));
    const wf_status status =
        fill_plan(plan, observation, recordings, largest_rate_s_per_s, options, err);
    if (status == WF_OK)
        *out = plan;
    else
        wf_plan_destroy(plan);
    return status;
}

void wf_plan_destroy(wf_plan *plan)
{
    if (plan == NULL)
        return;
    wfi_transforms_destroy(&plan->transforms);
    wfi_bundles_destroy(&plan->bundles);
    wfi_pairs_destroy(&plan->pairs);
    wfi_free(plan->channelizers);
    wfi_free(plan->band_first_hz);
    wfi_free(plan->recordings);
    wfi_free(plan->recording_stream);
    wfi_free(plan->feeds);
    wfi_free(plan->feed_of_stream);
    wfi_free(plan->rotated);
    wfi_grid_destroy(plan->grid);
    wfi_free(plan);
}

const wf_shape *wf_plan_shape(const wf_plan *plan)
{
    return &plan->shape;
}

const wf_span *wf_plan_span(const wf_plan *plan, size_t i_span)
{
    return &plan->grid->spans[i_span];
}

wf_baseline wf_plan_baseline(const wf_plan *plan, size_t i_baseline)
{
    size_t i = 0;
    while (i_baseline >= plan->shape.n_stations - i) {
        i_baseline -= plan->shape.n_stations - i;
        i++;
    }
    return (wf_baseline){i, i + i_baseline};
}

wf_span_input wf_plan_span_input(const wf_plan *plan, size_t i_span, size_t i_station,
                                 wf_polarization polarization)
{
    const wfi_grid *grid = plan->grid;
    const int i_polarization = wfi_grid_polarization_index(grid, polarization);
    if (i_polarization < 0)
        return (wf_span_input){.i_stream = -1};
    const size_t i_input = i_station * grid->n_polarizations + (size_t)i_polarization;
    const int i_stream = grid->span_stream[i_span * grid->n_inputs + i_input];
    if (i_stream < 0)
        return (wf_span_input){.i_stream = -1};
    return (wf_span_input){i_stream, grid->streams[i_stream].n_fft, grid->streams[i_stream].format};
}

double wf_plan_rotation_loss(const wf_plan *plan)
{
    return plan->rotation_loss;
}

const char *wf_plan_kernels(const wf_plan *plan)
{
    return plan->kernels->name;
}
