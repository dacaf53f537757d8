/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The dimensions of a station's antenna. */
#include "base/memory.h"
#include "base/status.h"
#include "observation/build.h"

static const wfi_quantity LENGTH = {
    .expected = "a length in m, within +-200", .least = -200.0, .most = 200.0};
static const wfi_quantity TEMPERATURE = {.expected =
                                             "a temperature in degrees Celsius, within +-80",
                                         .least = -80.0,
                                         .most = 80.0,
                                         .remedy = "subtract 273.15 from kelvins"};
/* Steel and concrete have 1.0e-5 to 1.2e-5 (Nothnagel 2009), invar 0.1e-5. */
static const wfi_quantity EXPANSION = {.expected = "an expansion per kelvin from 0 to 1e-4",
                                       .least = 0.0,
                                       .most = 1e-4,
                                       .remedy = "steel has 1.2e-5"};

static wf_status read_lengths(const wfi_place *place, const wfi_raw_antenna *raw, wf_antenna *out)
{
    const struct {
        const char *key;
        const char *text;
        const wfi_quantity *quantity;
        double *value;
    } numbers[] = {
        {"antenna.reference_temperature_c", raw->reference_temperature_c, &TEMPERATURE,
         &out->reference_temperature_c},
        {"antenna.foundation_m", raw->foundation_m, &LENGTH, &out->foundation_m},
        {"antenna.foundation_per_k", raw->foundation_per_k, &EXPANSION, &out->foundation_per_k},
        {"antenna.axis_m", raw->axis_m, &LENGTH, &out->axis_m},
        {"antenna.structure_per_k", raw->structure_per_k, &EXPANSION, &out->structure_per_k},
        {"antenna.vertex_m", raw->vertex_m, &LENGTH, &out->vertex_m},
        {"antenna.focus_m", raw->focus_m, &LENGTH, &out->focus_m},
    };
    for (size_t i = 0; i < sizeof numbers / sizeof numbers[0]; i++)
        WFI_TRY(wfi_read_number(place, numbers[i].key, numbers[i].text, numbers[i].quantity,
                                numbers[i].value));
    return WF_OK;
}

wf_status wfi_build_antenna(const wfi_build *build, size_t i_station, wf_station *station)
{
    static const wfi_choice foci[] = {{"prime", WF_FOCUS_PRIME}, {"secondary", WF_FOCUS_SECONDARY}};
    const wfi_raw_antenna *raw = build->raw->stations[i_station].antenna;
    if (raw == NULL)
        return WF_OK;
    const wfi_place place = wfi_place_at(build->document, build->err, "stations[%zu]", i_station);
    wf_antenna *antenna = NULL;
    WFI_TRY(wfi_allocate(&antenna, 1, sizeof *antenna, "an antenna", build->err));
    station->antenna = antenna;
    int focus = WF_FOCUS_PRIME;
    WFI_TRY(wfi_read_choice(&place, "antenna.focus", raw->focus, foci, sizeof foci / sizeof foci[0],
                            &focus));
    antenna->focus = (wf_focus)focus;
    return read_lengths(&place, raw, antenna);
}
