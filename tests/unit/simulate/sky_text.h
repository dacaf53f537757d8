/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A small sky with everything in it, and skies that differ from it in one place. */
#ifndef TESTS_UNIT_SIMULATE_SKY_TEXT_H
#define TESTS_UNIT_SIMULATE_SKY_TEXT_H

#include "support/folder.h"

#include <whitefringe/simulate.h>

/* Invented stations far from any real one: Alder and Birch 3 km apart, Cedar 2600 km away. */
static const char SKY[] =
    "campaign: Forest-9\n"
    "stations:\n"
    "  - name: Alder\n"
    "    position_itrf_m: [3149839.38, -2999551.41, 4649365.26]\n"
    "    clock: {reference: 2026-03-01T12:00:00, ahead_s: 3.0e-6, rate_s_per_s: 1.0e-11}\n"
    "  - name: Birch\n"
    "    position_itrf_m: [3151180.38, -3000812.41, 4647652.26]\n"
    "  - name: Cedar\n"
    "    position_itrf_m: [4824115.95, -3156813.08, 2719193.71]\n"
    "    clock: {reference: 2026-03-01T12:00:00, ahead_s: -7.0e-6}\n"
    "sources:\n"
    "  - {name: Ousel, right_ascension_hms: \"20:40:12.345678\", declination_dms: "
    "\"+40:00:34.5\"}\n"
    "  - {name: Teme, right_ascension_deg: 330.2, declination_deg: 35.0}\n"
    "scans:\n"
    "  - {name: S01, source: Ousel, start: 2026-03-01T12:00:00, duration_s: 0.4}\n"
    "  - {name: S02, source: Teme, start: 2026-03-01T12:00:00.7, duration_s: 0.1,"
    " stations: [Alder, Birch]}\n"
    "bands:\n"
    "  - {name: low, edge_hz: 8400.0e6, bandwidth_hz: 1.0e6, sideband: upper}\n"
    "recordings:\n"
    "  - station: Alder\n"
    "    files: [alder.vdif]\n"
    "    sample_rate_hz: 1000000\n"
    "    sampling: complex\n"
    "    bits: 8\n"
    "    streams:\n"
    "      - {centre_hz: 8400.5e6, sideband: upper, polarization: R, thread: 4}\n"
    "      - {centre_hz: 8400.5e6, sideband: upper, polarization: L, thread: 1}\n"
    "  - station: Birch\n"
    "    files: [birch.vdif]\n"
    "    format: vdif\n"
    "    sample_rate_hz: 2000000\n"
    "    sampling: real\n"
    "    header_bytes: 16\n"
    "    payload_bytes: 1000\n"
    "    streams:\n"
    "      - {band: low, polarization: R, channel: 1}\n"
    "      - {band: low, polarization: L, channel: 0}\n"
    "  - station: Cedar\n"
    "    files: [cedar.wav]\n"
    "    format: sound\n"
    "    sample_rate_hz: 1000000\n"
    "    sampling: complex\n"
    "    streams:\n"
    "      - {centre_hz: 8400.5e6, sideband: lower, polarization: L, channel: 1}\n"
    "      - {centre_hz: 8400.5e6, sideband: lower, polarization: R, channel: 0}\n"
    "correlation: {channels: 20, integration_s: 0.1}\n"
    "delay_terms: {gravity_planets: false}\n"
    "earth_orientation:\n"
    "  days:\n"
    "    - {date: 2026-02-28, pole_x_arcsec: 0.10, pole_y_arcsec: 0.30, ut1_minus_utc_s: 0.05}\n"
    "    - {date: 2026-03-01, pole_x_arcsec: 0.11, pole_y_arcsec: 0.31, ut1_minus_utc_s: 0.051}\n"
    "    - {date: 2026-03-02, pole_x_arcsec: 0.12, pole_y_arcsec: 0.32, ut1_minus_utc_s: 0.052,"
    " celestial_dx_mas: 0.1, celestial_dy_mas: -0.2}\n"
    "    - {date: 2026-03-03, pole_x_arcsec: 0.13, pole_y_arcsec: 0.33, ut1_minus_utc_s: 0.053}\n"
    "sky:\n"
    "  seed: 5\n"
    "  components:\n"
    "    - {source: Teme, correlation: 0.2, east_arcsec: 0.5, north_arcsec: -0.25}\n"
    "    - {source: Ousel, correlation: 0.5, cross_hand: [0.3, -0.4]}\n"
    "    - {source: Ousel, correlation: 0.1, line: {centre_hz: 8400.7e6, width_hz: 0.1e6}}\n"
    "  clock_errors:\n"
    "    - {station: Birch, ahead_s: 2.0e-6, rate_s_per_s: -1.0e-10}\n";

/** A text with the first `find` replaced; to be freed. */
static inline char *edited(const char *original, const char *find, const char *replacement)
{
    const char *const at = strstr(original, find);
    if (at == NULL)
        fail_msg("the sky does not hold \"%s\"", find);
    char *const text = malloc(strlen(original) + strlen(replacement) + 1);
    assert_non_null(text);
    memcpy(text, original, (size_t)(at - original));
    strcpy(text + (at - original), replacement);
    strcat(text, at + strlen(find));
    return text;
}

/** Load a sky that stands in memory. */
static inline wf_sky *load_sky(const char *text)
{
    wf_error err = WF_ERROR_INIT;
    wf_sky *sky = NULL;
    put_file("sky.yaml", text);
    wf_check_ok(wf_sky_load(&sky, "sky.yaml", &err), &err);
    return sky;
}

static inline wf_sky *load_edited(const char *find, const char *replacement)
{
    char *const text = edited(SKY, find, replacement);
    wf_sky *const sky = load_sky(text);
    free(text);
    return sky;
}

#endif
