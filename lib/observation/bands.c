/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The output bands of a job. */
#include "base/memory.h"
#include "base/status.h"
#include "base/text.h"
#include "observation/build.h"

static const wfi_quantity EDGE = {
    .expected = "a sky frequency in Hz from 0 to 1e13", .least = 0.0, .most = 1e13};
static const wfi_quantity WIDTH = {
    .expected = "a width in Hz above 0",
    .least = 0.0,
    .most = 1e12,
    .above_least = true,
    .remedy = "write the width positive and turn the band with sideband: lower"};

wf_status wfi_read_sideband(const wfi_place *place, const char *text, wf_sideband *out)
{
    static const wfi_choice sidebands[] = {{"upper", WF_SIDEBAND_UPPER},
                                           {"lower", WF_SIDEBAND_LOWER}};
    int sideband = 0;
    WFI_TRY(wfi_read_choice(place, "sideband", text, sidebands, 2, &sideband));
    *out = (wf_sideband)sideband;
    return WF_OK;
}

static wf_status check_widths(const wfi_build *build, const wfi_place *place, size_t i)
{
    const wf_band *band = &build->observation->bands[i];
    const wf_band *first = &build->observation->bands[0];
    if (band->bandwidth_hz != first->bandwidth_hz)
        return wfi_place_fail(place, "bandwidth_hz",
                              "expected the width of bands[0], %s Hz, found %s; all bands of a "
                              "job are of one width: split the wider ones",
                              build->raw->bands[0].bandwidth_hz, build->raw->bands[i].bandwidth_hz);
    if (band->sideband == WF_SIDEBAND_LOWER && band->edge_hz < band->bandwidth_hz)
        return wfi_place_fail(place, "edge_hz",
                              "a lower sideband %s Hz wide below %s Hz reaches below 0; is the "
                              "edge in MHz or GHz? the unit is Hz",
                              build->raw->bands[i].bandwidth_hz, build->raw->bands[i].edge_hz);
    return WF_OK;
}

wfi_names wfi_band_names(const wf_observation *observation)
{
    const wf_band *bands = observation->bands;
    return (wfi_names){"bands", bands != NULL ? bands[0].name : NULL, observation->n_bands,
                       sizeof *bands};
}

static wf_status read_band(const wfi_build *build, size_t i, wf_band *band)
{
    const wfi_raw_band *raw = &build->raw->bands[i];
    const wfi_place place = wfi_place_at(build->document, build->err, "bands[%zu]", i);
    wfi_names taken = wfi_band_names(build->observation);
    taken.n = i;
    WFI_TRY(wfi_read_name(&place, "name", raw->name, WFI_OTHER_NAME_MAX, &taken, band->name));
    WFI_TRY(wfi_read_number(&place, "edge_hz", raw->edge_hz, &EDGE, &band->edge_hz));
    WFI_TRY(
        wfi_read_number(&place, "bandwidth_hz", raw->bandwidth_hz, &WIDTH, &band->bandwidth_hz));
    WFI_TRY(wfi_read_sideband(&place, raw->sideband, &band->sideband));
    return check_widths(build, &place, i);
}

wf_status wfi_build_bands(const wfi_build *build)
{
    const size_t n = build->raw->bands_count;
    wf_band *bands = NULL;
    WFI_TRY(wfi_allocate(&bands, n, sizeof *bands, "bands", build->err));
    build->observation->bands = bands;
    build->observation->n_bands = n;
    for (size_t i = 0; i < n; i++)
        WFI_TRY(read_band(build, i, &bands[i]));
    return WF_OK;
}
