/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What is watched while correlating: phase-calibration tones, and interference by its kurtosis. */
#include "base/status.h"
#include "observation/build.h"

static const wfi_quantity SPACING = {.expected =
                                         "the spacing of the tones in Hz, a whole number (0: none)",
                                     .least = 0,
                                     .most = 1e12};
static const wfi_quantity SIGMA = {
    .expected = "a number of sigma from 3 to 20", .least = 3, .most = 20};

static wf_status read_calibration(const wfi_place *place, const wfi_raw_phase_calibration *raw,
                                  wf_phase_calibration *out)
{
    if (raw == NULL)
        return WF_OK;
    *out = (wf_phase_calibration){0};
    WFI_TRY(wfi_read_count(place, "phase_calibration.spacing_hz", raw->spacing_hz, &SPACING,
                           &out->spacing_hz));
    if (raw->apply == NULL)
        return WF_OK;
    return wfi_read_flag(place, "phase_calibration.apply", raw->apply, &out->apply);
}

wf_status wfi_build_phase_calibration(const wfi_build *build, size_t i_station, wf_station *station)
{
    const wfi_place top = wfi_place_at(build->document, build->err, "%s", "");
    const wfi_place own = wfi_place_at(build->document, build->err, "stations[%zu]", i_station);
    wf_phase_calibration *out = &station->phase_calibration;
    WFI_TRY(read_calibration(&top, build->raw->phase_calibration, out));
    return read_calibration(&own, build->raw->stations[i_station].phase_calibration, out);
}

wf_status wfi_build_kurtosis(const wfi_build *build)
{
    if (build->raw->kurtosis == NULL)
        return WF_OK;
    const wfi_place top = wfi_place_at(build->document, build->err, "%s", "");
    return wfi_read_number(&top, "kurtosis.flag_beyond_sigma",
                           build->raw->kurtosis->flag_beyond_sigma, &SIGMA,
                           &build->observation->kurtosis_flag_sigma);
}
