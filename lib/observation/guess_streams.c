/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a station's streams may hold instead of what the job says: polarization, sense, frequency.
 */
#include <stdio.h>

#include "observation/guess.h"

/* R and L, X and Y stand beside each other. */
static wf_polarization partner(wf_polarization polarization)
{
    return (wf_polarization)((unsigned)polarization ^ 1u);
}

static void guess_polarizations(wfi_guess *guess)
{
    wfi_guess_begin(guess, "polarizations_swapped", WFI_SHOWN_BY_PRODUCTS, "%s", "");
    bool is_linear = false;
    for (size_t i = 0; i < guess->n_streams; i++) {
        const wfi_guess_stream *s = &guess->streams[i];
        const char letter[] = {wf_polarization_letter(partner(s->polarization)), '\0'};
        is_linear = s->polarization >= WF_POLARIZATION_X;
        wfi_guess_text(guess, letter, "recordings[%zu].streams[%zu].polarization", s->i_recording,
                       s->i_stream);
    }
    wfi_guess_end(guess, "its polarizations are exchanged, %s",
                  is_linear ? "X is Y and Y is X" : "R is L and L is R");
    wfi_guess_begin(guess, "feeds_of_the_other_kind", WFI_SHOWN_BY_PRODUCTS, "%s",
                    is_linear ? "circular" : "linear");
    wfi_guess_end_without_edits(
        guess, is_linear ? "its feeds are circular and not linear: all four products have the same "
                           "amplitude, 0.71 of the right one, and a job cannot say so"
                         : "its feeds are linear and not circular: all four products have the same "
                           "amplitude, 0.71 of the right one, and a job cannot say so");
}

/* Does it hold a part of any band? Yes where its width is not known. */
static bool reaches_a_band(const wfi_guess *guess, const wfi_guess_stream *s)
{
    double lowest_hz = s->hz;
    if (s->has_centre)
        lowest_hz -= s->width_hz / 2;
    else if (s->sideband == WF_SIDEBAND_LOWER)
        lowest_hz -= s->width_hz;
    for (size_t b = 0; b < guess->observation->n_bands; b++) {
        const wf_band *band = &guess->observation->bands[b];
        const double band_hz =
            band->edge_hz - (band->sideband == WF_SIDEBAND_LOWER ? band->bandwidth_hz : 0);
        if (lowest_hz < band_hz + band->bandwidth_hz && band_hz < lowest_hz + s->width_hz)
            return true;
    }
    return s->width_hz == 0;
}

/* Where a stream would stand in the sky; false: that is not known, or nowhere. */
typedef bool placed(wfi_guess_stream *stream, double shift_hz);

static bool invert(wfi_guess_stream *s, double unused)
{
    (void)unused;
    if (!s->has_centre)
        s->hz += s->width_hz * (double)s->sideband;
    const bool is_known = s->has_centre || s->width_hz > 0;
    s->sideband = s->sideband == WF_SIDEBAND_UPPER ? WF_SIDEBAND_LOWER : WF_SIDEBAND_UPPER;
    return is_known;
}

static bool mirror_at_edge(wfi_guess_stream *s, double unused)
{
    (void)unused;
    s->sideband = s->sideband == WF_SIDEBAND_UPPER ? WF_SIDEBAND_LOWER : WF_SIDEBAND_UPPER;
    return !s->has_centre;
}

static bool shift(wfi_guess_stream *s, double shift_hz)
{
    s->hz += shift_hz;
    return s->hz > 0;
}

static void put_in_sky(wfi_guess *guess, const wfi_guess_stream *before,
                       const wfi_guess_stream *after)
{
    const char *key = before->has_centre ? "centre_hz" : "edge_hz";
    char at[WFI_STEP_PATH_BYTES - 32];
    snprintf(at, sizeof at, "recordings[%zu].streams[%zu]", before->i_recording, before->i_stream);
    if (before->by_band)
        wfi_guess_remove(guess, "%s.band", at);
    if (before->by_band || before->hz != after->hz)
        wfi_guess_number(guess, after->hz, "%s.%s", at, key);
    if (before->by_band || before->sideband != after->sideband)
        wfi_guess_text(guess, after->sideband == WF_SIDEBAND_UPPER ? "upper" : "lower",
                       "%s.sideband", at);
}

/* All streams of the station, if one of them still reaches a band. */
static void place_all(wfi_guess *guess, placed *by, double shift_hz)
{
    bool reaches = false;
    for (size_t i = 0; i < guess->n_streams; i++) {
        wfi_guess_stream after = guess->streams[i];
        if (!by(&after, shift_hz))
            return;
        reaches = reaches || reaches_a_band(guess, &after);
    }
    for (size_t i = 0; i < guess->n_streams && reaches; i++) {
        wfi_guess_stream after = guess->streams[i];
        (void)by(&after, shift_hz);
        put_in_sky(guess, &guess->streams[i], &after);
    }
}

void wfi_guess_streams(wfi_guess *guess)
{
    guess_polarizations(guess);
    wfi_guess_begin(guess, "sideband_inverted", WFI_SHOWN_BY_CORRELATION, "%s", "");
    place_all(guess, invert, 0);
    wfi_guess_end(guess, "the sense of its frequencies is inverted: the net sideband is the other "
                         "one, or I and Q of complex samples are exchanged");
    wfi_guess_begin(guess, "sideband_beyond_the_edge", WFI_SHOWN_BY_CORRELATION, "%s", "");
    place_all(guess, mirror_at_edge, 0);
    wfi_guess_end(guess, "it recorded the other sideband of the same edge");
}

static void guess_shift(wfi_guess *guess, const char *unit, double amount, double unit_hz)
{
    wfi_guess_begin(guess, "sky_frequency", WFI_SHOWN_BY_CORRELATION, "%+g %s", amount, unit);
    place_all(guess, shift, amount * unit_hz);
    wfi_guess_end(guess, "it recorded %g %s %s than the job says", amount < 0 ? -amount : amount,
                  unit, amount < 0 ? "lower" : "higher");
}

void wfi_guess_frequency(wfi_guess *guess)
{
    static const double mhz[] = {1, 2, 5, 10};
    static const double signs[] = {1, -1};
    for (size_t k = 0; k < 2; k++)
        guess_shift(guess, "channel", signs[k], wf_channel_width_hz(guess->observation));
    for (size_t k = 0; k < 2; k++)
        guess_shift(guess, "band width", signs[k], guess->observation->bands[0].bandwidth_hz);
    for (size_t i = 0; i < 2 * sizeof mhz / sizeof mhz[0]; i++)
        guess_shift(guess, "MHz", signs[i % 2] * mhz[i / 2], 1e6);
}
