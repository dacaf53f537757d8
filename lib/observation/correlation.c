/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How the job is to be correlated: channels, integrations, products, terms of the delay. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "base/status.h"
#include "base/text.h"
#include "observation/build.h"

/* Largest loss of amplitude to fringe rotation where a job does not say it. */
static const double ROTATION_LOSS_LIMIT = 1e-4;

/* A count of channels or segments may differ from a whole number by what decimal fractions lose. */
static const double COUNT_LIMIT = 1e-6;

static const wfi_quantity CHANNELS = {
    .expected = "a number of channels from 1 to 16777216", .least = 1.0, .most = 16777216.0};
static const wfi_quantity CHANNEL_WIDTH = {
    .expected = "a width in Hz above 0", .least = 0.0, .most = 1e12, .above_least = true};
static const wfi_quantity INTEGRATION = {.expected = "a time in s above 0, of at most a day",
                                         .least = 0.0,
                                         .most = 86400.0,
                                         .above_least = true};
static const wfi_quantity LOSS = {.expected = "a fraction above 0 and at most 0.5",
                                  .least = 0.0,
                                  .most = 0.5,
                                  .above_least = true};

static bool is_whole(double count)
{
    return fabs(count - round(count)) <= COUNT_LIMIT;
}

static wf_status refuse_width(const wfi_place *place, const char *text, double bandwidth_hz,
                              double count)
{
    char nearest[WFI_NUMBER_BYTES];
    const double n = fmax(1.0, round(count));
    wfi_format_double(nearest, bandwidth_hz / n);
    return wfi_place_fail(place, "channel_width_hz",
                          "expected a width that divides the bandwidth, %.9g Hz, found %s; the "
                          "nearest is %s (channels: %.0f)",
                          bandwidth_hz, text, nearest, n);
}

static wf_status read_channels(const wfi_build *build, const wfi_place *place)
{
    const wfi_raw_correlation *raw = build->raw->correlation;
    const double bandwidth_hz = build->observation->bands[0].bandwidth_hz;
    int64_t n_channels = 0;
    if (raw->channels == NULL && raw->channel_width_hz == NULL)
        return wfi_place_fail(place, NULL, "channels or channel_width_hz is missing; add one");
    if (raw->channels != NULL && raw->channel_width_hz != NULL)
        return wfi_place_fail(place, "channel_width_hz", "channels is given too; keep one of them");
    if (raw->channels != NULL) {
        WFI_TRY(wfi_read_count(place, "channels", raw->channels, &CHANNELS, &n_channels));
    } else {
        double width_hz = 0;
        WFI_TRY(wfi_read_number(place, "channel_width_hz", raw->channel_width_hz, &CHANNEL_WIDTH,
                                &width_hz));
        const double count = bandwidth_hz / width_hz;
        if (count > CHANNELS.most)
            return wfi_place_fail(place, "channel_width_hz",
                                  "found %s: more than %.0f channels in %.9g Hz; is the width in "
                                  "kHz or MHz? the unit is Hz",
                                  raw->channel_width_hz, CHANNELS.most, bandwidth_hz);
        if (!is_whole(count) || count < 0.5)
            return refuse_width(place, raw->channel_width_hz, bandwidth_hz, count);
        n_channels = (int64_t)round(count);
    }
    build->observation->correlation.n_channels = (size_t)n_channels;
    return WF_OK;
}

static wf_status read_integration(const wfi_build *build, const wfi_place *place)
{
    const char *text = build->raw->correlation->integration_s;
    const double width_hz = wf_channel_width_hz(build->observation);
    double integration_s = 0;
    WFI_TRY(wfi_read_number(place, "integration_s", text, &INTEGRATION, &integration_s));
    const double count = integration_s * width_hz;
    const double n = fmax(1.0, round(count));
    char nearest[WFI_NUMBER_BYTES];
    wfi_format_double(nearest, n / width_hz);
    if (count < 1.0 - COUNT_LIMIT)
        return wfi_place_fail(place, "integration_s",
                              "expected at least one segment, %s s (1 / channel width of %.9g Hz), "
                              "found %s; take a longer integration or wider channels, and see "
                              "that bandwidth_hz is in Hz",
                              nearest, width_hz, text);
    if (!is_whole(count))
        return wfi_place_fail(place, "integration_s",
                              "expected a whole number of segments of %.9g s (1 / channel width), "
                              "found %s, which is %.6f of them; the nearest is %s",
                              1.0 / width_hz, text, count, nearest);
    build->observation->correlation.integration_s = n / width_hz;
    return WF_OK;
}

static wf_status read_rotation(const wfi_build *build, const wfi_place *place)
{
    static const wfi_choice rotations[] = {{"planned", WF_ROTATION_PLANNED},
                                           {"before_fft", WF_ROTATION_BEFORE_FFT},
                                           {"after_fft", WF_ROTATION_AFTER_FFT}};
    const wfi_raw_correlation *raw = build->raw->correlation;
    wf_correlation *correlation = &build->observation->correlation;
    int rotation = WF_ROTATION_PLANNED;
    if (raw->fringe_rotation != NULL)
        WFI_TRY(wfi_read_choice(place, "fringe_rotation", raw->fringe_rotation, rotations, 3,
                                &rotation));
    correlation->rotation = (wf_rotation)rotation;
    if (raw->rotation_loss_limit != NULL)
        WFI_TRY(wfi_read_number(place, "rotation_loss_limit", raw->rotation_loss_limit, &LOSS,
                                &correlation->rotation_loss_limit));
    if (raw->quantisation_correction != NULL)
        WFI_TRY(wfi_read_flag(place, "quantisation_correction", raw->quantisation_correction,
                              &correlation->quantisation_correction));
    return WF_OK;
}

wf_status wfi_build_correlation(const wfi_build *build)
{
    build->observation->correlation.rotation_loss_limit = ROTATION_LOSS_LIMIT;
    build->observation->correlation.quantisation_correction = true;
    const wfi_place place = wfi_place_at(build->document, build->err, "correlation");
    WFI_TRY(read_channels(build, &place));
    WFI_TRY(read_integration(build, &place));
    WFI_TRY(wfi_build_products(build, &place));
    return read_rotation(build, &place);
}
