/* SPDX-License-Identifier: GPL-3.0-or-later */
/* An observation for the delay model: the sources, then the components as sources; for every scan
 * one of its source, then one of each of that source's components. */
#include "simulate/directions.h"

#include <math.h>

#include "base/memory.h"
#include "base/status.h"

wf_source wfi_component_direction(const wf_source *source, const wfi_component *component)
{
    wf_source direction = *source;
    const double l = component->east, m = component->north;
    if (l == 0.0 && m == 0.0)
        return direction;
    const double n = sqrt(1.0 - l * l - m * m);
    const double sin_ra = sin(source->right_ascension_icrf_rad);
    const double cos_ra = cos(source->right_ascension_icrf_rad);
    const double sin_dec = sin(source->declination_icrf_rad);
    const double cos_dec = cos(source->declination_icrf_rad);
    /* e = (-sin ra, cos ra, 0), n = (-sin dec cos ra, -sin dec sin ra, cos dec). */
    const double x = -l * sin_ra - m * sin_dec * cos_ra + n * cos_dec * cos_ra;
    const double y = l * cos_ra - m * sin_dec * sin_ra + n * cos_dec * sin_ra;
    const double z = m * cos_dec + n * sin_dec;
    direction.right_ascension_icrf_rad = atan2(y, x);
    if (direction.right_ascension_icrf_rad < 0.0)
        direction.right_ascension_icrf_rad += 2.0 * acos(-1.0);
    direction.declination_icrf_rad = atan2(z, hypot(x, y));
    return direction;
}

void wfi_components_of(const wfi_component *components, size_t n_components, size_t i_source,
                       size_t *first, size_t *end)
{
    *first = 0;
    while (*first < n_components && components[*first].i_source < i_source)
        ++*first;
    *end = *first;
    while (*end < n_components && components[*end].i_source == i_source)
        ++*end;
}

/* What the delay model is made from; it keeps nothing of it. */
typedef struct cast {
    wf_station *stations;
    wf_source *sources;
    wf_scan *scans;
    size_t n_scans;
} cast;

static void release_cast(cast *c)
{
    wfi_free(c->stations);
    wfi_free(c->sources);
    wfi_free(c->scans);
}

static wf_status allocate(cast *c, wfi_directions *out, const wf_observation *observation,
                          size_t n_components, size_t n_scans, wf_error *err)
{
    const char *const what = "directions of the sky";
    WFI_TRY(wfi_allocate(&c->stations, observation->n_stations, sizeof *c->stations, what, err));
    WFI_TRY(wfi_allocate(&c->sources, observation->n_sources + n_components, sizeof *c->sources,
                         what, err));
    WFI_TRY(wfi_allocate(&c->scans, n_scans, sizeof *c->scans, what, err));
    WFI_TRY(
        wfi_allocate(&out->first_scan, observation->n_scans, sizeof *out->first_scan, what, err));
    return wfi_allocate(&out->first_component, observation->n_scans, sizeof *out->first_component,
                        what, err);
}

static void fill(cast *c, wfi_directions *out, const wf_observation *observation,
                 const wfi_component *components, size_t n_components, const wf_clock *true_clocks)
{
    for (size_t i = 0; i < observation->n_stations; i++) {
        c->stations[i] = observation->stations[i];
        c->stations[i].clock = true_clocks[i];
    }
    for (size_t i = 0; i < observation->n_sources; i++)
        c->sources[i] = observation->sources[i];
    for (size_t k = 0; k < n_components; k++)
        c->sources[observation->n_sources + k] =
            wfi_component_direction(&observation->sources[components[k].i_source], &components[k]);
    for (size_t i = 0; i < observation->n_scans; i++) {
        const wf_scan *const scan = &observation->scans[i];
        size_t first, end;
        wfi_components_of(components, n_components, scan->i_source, &first, &end);
        out->first_scan[i] = c->n_scans;
        out->first_component[i] = first;
        c->scans[c->n_scans++] = *scan;
        for (size_t k = first; k < end; k++) {
            c->scans[c->n_scans] = *scan;
            c->scans[c->n_scans++].i_source = observation->n_sources + k;
        }
    }
}

static wf_status refuse_offsets(const wf_observation *observation, const wfi_component *components,
                                size_t n_components, wf_error *err)
{
    for (size_t k = 0; k < n_components; k++) {
        if (components[k].east == 0.0 && components[k].north == 0.0)
            continue;
        if (observation->sources[components[k].i_source].track.path != NULL)
            return wfi_fail(err, WF_UNSUPPORTED,
                            "a component stands beside its source %s, which has a state_table: "
                            "leave out the offset or the table",
                            observation->sources[components[k].i_source].name);
        for (size_t i = 0; i < observation->n_stations; i++)
            if (observation->stations[i].delay_table_path != NULL)
                return wfi_fail(err, WF_UNSUPPORTED,
                                "a component stands beside its source %s, but station %s has "
                                "a delay_table, which holds for one direction only: leave out the "
                                "offset or the table",
                                observation->sources[components[k].i_source].name,
                                observation->stations[i].name);
    }
    return WF_OK;
}

static size_t count_scans(const wf_observation *observation, const wfi_component *components,
                          size_t n_components)
{
    size_t n_scans = 0;
    for (size_t i = 0; i < observation->n_scans; i++) {
        size_t first, end;
        wfi_components_of(components, n_components, observation->scans[i].i_source, &first, &end);
        n_scans += 1 + end - first;
    }
    return n_scans;
}

wf_status wfi_directions_create(wfi_directions *out, const wf_observation *observation,
                                const wfi_component *components, size_t n_components,
                                const wf_clock *true_clocks, wf_error *err)
{
    *out = (wfi_directions){0};
    WFI_TRY(refuse_offsets(observation, components, n_components, err));
    cast c = {0};
    wf_status status = allocate(&c, out, observation, n_components,
                                count_scans(observation, components, n_components), err);
    if (status == WF_OK) {
        fill(&c, out, observation, components, n_components, true_clocks);
        wf_observation heard = *observation;
        heard.stations = c.stations;
        heard.sources = c.sources;
        heard.n_sources += n_components;
        heard.scans = c.scans;
        heard.n_scans = c.n_scans;
        status = wf_delay_model_create(&out->model, &heard, err);
    }
    release_cast(&c);
    if (status != WF_OK)
        wfi_directions_release(out);
    return status;
}

void wfi_directions_release(wfi_directions *directions)
{
    wf_delay_model_destroy(directions->model);
    wfi_free(directions->first_scan);
    wfi_free(directions->first_component);
    *directions = (wfi_directions){0};
}

wf_status wfi_directions_source_track(wf_track **out, const wfi_directions *directions,
                                      size_t i_station, size_t i_scan, wf_error *err)
{
    return wf_track_create(out, directions->model, i_station, directions->first_scan[i_scan], err);
}

wf_status wfi_directions_track(wf_track **out, const wfi_directions *directions, size_t i_station,
                               size_t i_scan, size_t i_component, wf_error *err)
{
    const size_t k = 1 + i_component - directions->first_component[i_scan];
    return wf_track_create(out, directions->model, i_station, directions->first_scan[i_scan] + k,
                           err);
}
