/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the ground under the stations does: eccentricities, earthquakes, tides and loads. */
#include <erfa.h>
#include <erfam.h>
#include <math.h>

#include "base/memory.h"
#include "base/status.h"
#include "observation/build.h"

/* Markers are near: a kilometre is far beyond every one. */
static const wfi_quantity ECCENTRICITY = {.expected = "a distance in m, within +-1000",
                                          .least = -1000.0,
                                          .most = 1000.0,
                                          .remedy = "divide by 1000 what is in mm"};
/* ITRF2020's largest amplitude is 0.25 m, its relaxation times are 0.0035 to 19.4 years. */
static const wfi_quantity AMPLITUDE = {.expected = "an amplitude in m, within +-10",
                                       .least = -10.0,
                                       .most = 10.0,
                                       .remedy = "divide by 1000 what is in mm"};
static const wfi_quantity RELAXATION = {.expected = "a time in years above 0, of at most 1000",
                                        .least = 0.0,
                                        .most = 1000.0,
                                        .above_least = true};
/* The grid of Desai (2002) stays within +-0.5. */
static const wfi_quantity COEFFICIENT = {
    .expected = "a coefficient of ocean pole tide loading, within +-5",
    .least = -5.0,
    .most = 5.0,
    .remedy = "it has no unit: IERS Conventions (2010), section 7.1.5"};

/* From east, north, up over the ellipsoid (GRS80) at the marker. */
static void add_enu(const double enu_m[3], const double marker_m[3], double itrf_m[3])
{
    double site[3] = {marker_m[0], marker_m[1], marker_m[2]};
    double longitude = 0, latitude = 0, height_m = 0;
    (void)eraGc2gd(ERFA_GRS80, site, &longitude, &latitude, &height_m);
    const double sl = sin(longitude), cl = cos(longitude);
    const double sp = sin(latitude), cp = cos(latitude);
    const double outwards_m = cp * enu_m[2] - sp * enu_m[1];
    itrf_m[0] = cl * outwards_m - sl * enu_m[0];
    itrf_m[1] = sl * outwards_m + cl * enu_m[0];
    itrf_m[2] = sp * enu_m[2] + cp * enu_m[1];
}

static wf_status read_eccentricity(const wfi_place *place, const wfi_raw_station *raw,
                                   wf_station *station)
{
    double enu_m[3];
    if (raw->eccentricity_enu_m != NULL && raw->eccentricity_itrf_m != NULL)
        return wfi_place_fail(place, "eccentricity_enu_m",
                              "eccentricity_itrf_m is given too; keep one of them");
    if (raw->eccentricity_itrf_m != NULL)
        return wfi_read_vector(place, "eccentricity_itrf_m", raw->eccentricity_itrf_m,
                               &ECCENTRICITY, station->eccentricity_itrf_m);
    if (raw->eccentricity_enu_m == NULL)
        return WF_OK;
    WFI_TRY(wfi_read_vector(place, "eccentricity_enu_m", raw->eccentricity_enu_m, &ECCENTRICITY,
                            enu_m));
    add_enu(enu_m, station->position_itrf_m, station->eccentricity_itrf_m);
    return WF_OK;
}

static wf_status read_earthquake(const wfi_place *place, const wfi_raw_post_seismic *raw,
                                 wf_post_seismic *out)
{
    static const wfi_choice components[] = {
        {"east", WF_COMPONENT_EAST}, {"north", WF_COMPONENT_NORTH}, {"up", WF_COMPONENT_UP}};
    static const wfi_choice laws[] = {{"logarithmic", WF_POST_SEISMIC_LOGARITHMIC},
                                      {"exponential", WF_POST_SEISMIC_EXPONENTIAL}};
    int component = 0, law = 0;
    WFI_TRY(wfi_read_instant(place, "epoch", raw->epoch, &out->earthquake));
    WFI_TRY(wfi_read_choice(place, "component", raw->component, components, 3, &component));
    WFI_TRY(wfi_read_choice(place, "law", raw->law, laws, 2, &law));
    out->component = (wf_component)component;
    out->law = (wf_post_seismic_law)law;
    WFI_TRY(wfi_read_number(place, "amplitude_m", raw->amplitude_m, &AMPLITUDE, &out->amplitude_m));
    return wfi_read_number(place, "relaxation_years", raw->relaxation_years, &RELAXATION,
                           &out->relaxation_years);
}

static wf_status read_post_seismic(const wfi_build *build, size_t i_station, wf_station *station)
{
    const wfi_raw_station *raw = &build->raw->stations[i_station];
    if (raw->post_seismic_count == 0)
        return WF_OK;
    wf_post_seismic *terms = NULL;
    WFI_TRY(wfi_allocate(&terms, raw->post_seismic_count, sizeof *terms, "post-seismic terms",
                         build->err));
    station->post_seismic = terms;
    station->n_post_seismic = raw->post_seismic_count;
    for (size_t i = 0; i < station->n_post_seismic; i++) {
        const wfi_place place = wfi_place_at(build->document, build->err,
                                             "stations[%zu].post_seismic[%zu]", i_station, i);
        WFI_TRY(read_earthquake(&place, &raw->post_seismic[i], &terms[i]));
    }
    return WF_OK;
}

static wf_status read_ocean_pole_tide(const wfi_build *build, size_t i_station, wf_station *station)
{
    const wfi_raw_ocean_pole_tide *raw = build->raw->stations[i_station].ocean_pole_tide;
    if (raw == NULL)
        return WF_OK;
    const wfi_place place =
        wfi_place_at(build->document, build->err, "stations[%zu].ocean_pole_tide", i_station);
    wf_ocean_pole_tide *coefficients = NULL;
    WFI_TRY(wfi_allocate(&coefficients, 1, sizeof *coefficients, "ocean pole tide", build->err));
    station->ocean_pole_tide = coefficients;
    WFI_TRY(wfi_read_vector(&place, "u_real", raw->u_real, &COEFFICIENT, coefficients->real));
    return wfi_read_vector(&place, "u_imaginary", raw->u_imaginary, &COEFFICIENT,
                           coefficients->imaginary);
}

wf_status wfi_build_ground(const wfi_build *build, size_t i_station, wf_station *station)
{
    const wfi_place place = wfi_place_at(build->document, build->err, "stations[%zu]", i_station);
    WFI_TRY(read_eccentricity(&place, &build->raw->stations[i_station], station));
    WFI_TRY(read_post_seismic(build, i_station, station));
    return read_ocean_pole_tide(build, i_station, station);
}

/* A path of the job's, NULL where it names none. */
static wf_status resolve(const wfi_build *build, const char *name, const char **out)
{
    char *path = NULL;
    if (name != NULL)
        WFI_TRY(wfi_document_resolve(&path, build->document, name, build->err));
    *out = path;
    return WF_OK;
}

wf_status wfi_build_tides(const wfi_build *build)
{
    static const wfi_choice poles[] = {{"secular_2018", WF_POLE_TIDE_SECULAR_2018},
                                       {"mean_2010", WF_POLE_TIDE_MEAN_2010}};
    const wfi_raw_job *raw = build->raw;
    const wfi_place place = wfi_place_at(build->document, build->err, "%s", "");
    int pole = WF_POLE_TIDE_SECULAR_2018;
    if (raw->pole_tide_reference != NULL)
        WFI_TRY(wfi_read_choice(&place, "pole_tide_reference", raw->pole_tide_reference, poles, 2,
                                &pole));
    build->observation->pole_tide_reference = (wf_pole_tide_reference)pole;
    WFI_TRY(resolve(build, raw->ocean_loading_blq, &build->observation->ocean_loading_blq_path));
    return resolve(build, raw->gpt2_grid, &build->observation->gpt2_grid_path);
}
