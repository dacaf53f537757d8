/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The air above a station. */
#include "delay/atmosphere.h"

#include <erfam.h>
#include <math.h>
#include <string.h>

#include "base/memory.h"
#include "delay/constants.h"

const double WFI_MAPPING_LOWEST_RAD = 1.0 * ERFA_DD2R;

static const double HUMIDITY_WITHOUT_RECORD = 0.5;

static wf_status copy_array(void *out, const void *from, size_t n, size_t size, wf_error *err)
{
    void *copy = NULL;
    if (n > 0) {
        const wf_status status = wfi_allocate(&copy, n, size, "weather", err);
        if (status != WF_OK)
            return status;
        memcpy(copy, from, n * size);
    }
    memcpy(out, &copy, sizeof copy);
    return WF_OK;
}

wf_status wfi_atmosphere_set(wfi_atmosphere *atmosphere, const wf_station *station,
                             const wfi_gpt2 *gpt2, double longitude_rad, double latitude_rad,
                             double height_m, wf_error *err)
{
    *atmosphere = (wfi_atmosphere){.latitude_rad = latitude_rad,
                                   .height_m = height_m,
                                   .zenith_wet_delay_m = station->zenith_wet_delay_m,
                                   .wet_from_weather = station->wet_from_weather,
                                   .gradient_north_m = station->gradient_north_m,
                                   .gradient_east_m = station->gradient_east_m};
    wfi_harmonic_sums(wfi_gmf_harmonics[0], WFI_N_GMF, latitude_rad, longitude_rad,
                      atmosphere->gmf);
    wfi_harmonic_sums(wfi_gpt_harmonics[0], WFI_N_GPT, latitude_rad, longitude_rad,
                      atmosphere->gpt);
    wf_status status = copy_array(&atmosphere->weather, station->weather, station->n_weather,
                                  sizeof station->weather[0], err);
    if (status == WF_OK)
        status = copy_array(&atmosphere->mapping, station->mapping, station->n_mapping,
                            sizeof station->mapping[0], err);
    if (status == WF_OK)
        status = copy_array(&atmosphere->gpt2, gpt2, gpt2 != NULL, sizeof *gpt2, err);
    atmosphere->n_weather = atmosphere->weather != NULL ? station->n_weather : 0;
    atmosphere->n_mapping = atmosphere->mapping != NULL ? station->n_mapping : 0;
    return status;
}

void wfi_atmosphere_release(wfi_atmosphere *atmosphere)
{
    wfi_free(atmosphere->weather);
    wfi_free(atmosphere->mapping);
    wfi_free(atmosphere->gpt2);
    *atmosphere = (wfi_atmosphere){0};
}

/* Times stand first in both kinds of record. */
static wf_instant time_at(const void *records, size_t stride, size_t i)
{
    wf_instant t;
    memcpy(&t, (const char *)records + i * stride, sizeof t);
    return t;
}

/* Number of records at or before t. */
static size_t count_until(const void *records, size_t n, size_t stride, wf_instant t)
{
    size_t low = 0, high = n;
    while (low < high) {
        const size_t middle = low + (high - low) / 2;
        if (wf_instant_difference_s(time_at(records, stride, middle), t) <= 0.0)
            low = middle + 1;
        else
            high = middle;
    }
    return low;
}

/* The two records around t, and the weight of the second; at the ends both are the same. */
typedef struct between {
    size_t first, second;
    double weight;
} between;

static between find(const void *records, size_t n, size_t stride, wf_instant t)
{
    const size_t until = count_until(records, n, stride, t);
    if (until == 0 || until == n)
        return (between){until == 0 ? 0 : n - 1, until == 0 ? 0 : n - 1, 0.0};
    const wf_instant a = time_at(records, stride, until - 1);
    const wf_instant b = time_at(records, stride, until);
    return (between){until - 1, until,
                     wf_instant_difference_s(t, a) / wf_instant_difference_s(b, a)};
}

static double blend(double a, double b, double weight)
{
    return weight == 0.0 ? a : a + weight * (b - a);
}

static double mjd_of(wf_instant t)
{
    int32_t mjd = 0, second_of_day = 0;
    wf_instant_utc(t, &mjd, &second_of_day);
    return mjd + (second_of_day + t.fraction) / WFI_DAY_S;
}

/* What is usual at the place and date. */
static wfi_weather usual_weather(const wfi_atmosphere *atmosphere, double mjd)
{
    wfi_weather w = {.relative_humidity = HUMIDITY_WITHOUT_RECORD};
    if (atmosphere->gpt2 == NULL) {
        wfi_gpt(atmosphere->gpt, atmosphere->height_m, mjd, &w.pressure_hpa, &w.temperature_c);
        return w;
    }
    const wfi_gpt2_air air = wfi_gpt2_at(atmosphere->gpt2, atmosphere->height_m, mjd);
    w.pressure_hpa = air.pressure_hpa;
    w.temperature_c = air.temperature_c;
    w.relative_humidity = fmin(air.vapour_hpa / wfi_saturation_hpa(air.temperature_c), 1.0);
    return w;
}

wfi_weather wfi_weather_at(const wfi_atmosphere *atmosphere, wf_instant t)
{
    wfi_weather w = usual_weather(atmosphere, mjd_of(t));
    if (atmosphere->n_weather == 0)
        return w;
    const between at =
        find(atmosphere->weather, atmosphere->n_weather, sizeof atmosphere->weather[0], t);
    const wf_weather *a = &atmosphere->weather[at.first];
    const wf_weather *b = &atmosphere->weather[at.second];
    const struct {
        double a, b;
        double *value;
        bool *has;
    } fields[] = {
        {a->pressure_hpa, b->pressure_hpa, &w.pressure_hpa, &w.has_pressure},
        {a->temperature_c, b->temperature_c, &w.temperature_c, &w.has_temperature},
        {a->relative_humidity, b->relative_humidity, &w.relative_humidity, &w.has_humidity}};
    for (size_t i = 0; i < sizeof fields / sizeof fields[0]; i++) {
        const double value = blend(fields[i].a, fields[i].b, at.weight);
        *fields[i].has = !isnan(value);
        if (!isnan(value))
            *fields[i].value = value;
    }
    return w;
}

static wfi_mapping_a mapping_at(const wfi_atmosphere *atmosphere, wf_instant t, double mjd)
{
    if (atmosphere->n_mapping == 0 && atmosphere->gpt2 != NULL)
        return wfi_gpt2_at(atmosphere->gpt2, atmosphere->height_m, mjd).a;
    if (atmosphere->n_mapping == 0)
        return wfi_gmf_a(atmosphere->gmf, mjd);
    const between at =
        find(atmosphere->mapping, atmosphere->n_mapping, sizeof atmosphere->mapping[0], t);
    const wf_mapping *a = &atmosphere->mapping[at.first];
    const wf_mapping *b = &atmosphere->mapping[at.second];
    return (wfi_mapping_a){blend(a->hydrostatic_a, b->hydrostatic_a, at.weight),
                           blend(a->wet_a, b->wet_a, at.weight)};
}

static bool earlier(bool found, wf_instant candidate, wf_instant *next)
{
    if (!found || wf_instant_difference_s(candidate, *next) < 0.0)
        *next = candidate;
    return true;
}

bool wfi_atmosphere_next_record(const wfi_atmosphere *atmosphere, wf_instant t, wf_instant *next)
{
    bool found = false;
    const size_t i_weather =
        count_until(atmosphere->weather, atmosphere->n_weather, sizeof(wf_weather), t);
    const size_t i_mapping =
        count_until(atmosphere->mapping, atmosphere->n_mapping, sizeof(wf_mapping), t);
    if (i_weather < atmosphere->n_weather)
        found = earlier(found, atmosphere->weather[i_weather].time, next);
    if (i_mapping < atmosphere->n_mapping)
        found = earlier(found, atmosphere->mapping[i_mapping].time, next);
    return found;
}

static double zenith_wet_m(const wfi_atmosphere *atmosphere, const wfi_weather *weather)
{
    if (!atmosphere->wet_from_weather)
        return atmosphere->zenith_wet_delay_m;
    return wfi_zenith_wet_m(weather->temperature_c, weather->relative_humidity,
                            atmosphere->latitude_rad, atmosphere->height_m);
}

wfi_troposphere wfi_troposphere_at(const wfi_atmosphere *atmosphere, wf_instant t,
                                   double azimuth_rad, double elevation_rad)
{
    const double e = fmax(elevation_rad, WFI_MAPPING_LOWEST_RAD);
    const double mjd = mjd_of(t);
    const wfi_weather weather = wfi_weather_at(atmosphere, t);
    const wfi_mapping_a a = mapping_at(atmosphere, t, mjd);
    /* the stations' own coefficients hold at their height */
    const double height_m = atmosphere->n_mapping > 0 ? 0.0 : atmosphere->height_m;
    const double latitude = atmosphere->latitude_rad;
    const double dry_m =
        wfi_zenith_hydrostatic_m(weather.pressure_hpa, latitude, atmosphere->height_m) *
        wfi_map_hydrostatic(a.hydrostatic, mjd, latitude, height_m, e);
    const double wet_m = zenith_wet_m(atmosphere, &weather) * wfi_map_wet(a.wet, e);
    const double gradient_m =
        wfi_map_gradient(e) * (atmosphere->gradient_north_m * cos(azimuth_rad) +
                               atmosphere->gradient_east_m * sin(azimuth_rad));
    const double c = WFI_SPEED_OF_LIGHT_M_PER_S;
    return (wfi_troposphere){dry_m / c, wet_m / c, gradient_m / c};
}
