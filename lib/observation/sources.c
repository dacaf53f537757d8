/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The sources of a job. */
#include <erfam.h>

#include "base/memory.h"
#include "base/status.h"
#include "observation/angle.h"
#include "observation/build.h"

/* The greatest double below 360. */
static const double CIRCLE_END_DEG = 0x1.67fffffffffffp+8;

static const wfi_quantity RIGHT_ASCENSION = {.expected = "an angle in degrees from 0 to below 360",
                                             .least = 0.0,
                                             .most = CIRCLE_END_DEG,
                                             .remedy = "bring it into the circle"};
static const wfi_quantity DECLINATION = {
    .expected = "an angle in degrees within +-90", .least = -90.0, .most = 90.0};

/* One of two ways to give the angle, never both. */
static wf_status expect_one(const wfi_place *place, const char *first, const char *second,
                            const char *first_key, const char *second_key)
{
    if (first == NULL && second == NULL)
        return wfi_place_fail(place, NULL, "a source needs %s or %s; add one", first_key,
                              second_key);
    if (first != NULL && second != NULL)
        return wfi_place_fail(place, second_key, "%s is given too; keep one of them", first_key);
    return WF_OK;
}

static wf_status read_right_ascension(const wfi_place *place, const wfi_raw_source *raw,
                                      double *out)
{
    WFI_TRY(expect_one(place, raw->right_ascension_hms, raw->right_ascension_deg,
                       "right_ascension_hms", "right_ascension_deg"));
    if (raw->right_ascension_hms == NULL) {
        WFI_TRY(wfi_read_number(place, "right_ascension_deg", raw->right_ascension_deg,
                                &RIGHT_ASCENSION, out));
        *out *= ERFA_DD2R;
        return WF_OK;
    }
    if (!wfi_parse_hms(out, raw->right_ascension_hms))
        return wfi_place_fail(place, "right_ascension_hms",
                              "expected hours, minutes and seconds from 00:00:00 to below "
                              "24:00:00 such as 12:34:56.789, found \"%.60s\"; degrees go into "
                              "right_ascension_deg",
                              raw->right_ascension_hms);
    return WF_OK;
}

static wf_status read_declination(const wfi_place *place, const wfi_raw_source *raw, double *out)
{
    WFI_TRY(expect_one(place, raw->declination_dms, raw->declination_deg, "declination_dms",
                       "declination_deg"));
    if (raw->declination_dms == NULL) {
        WFI_TRY(wfi_read_number(place, "declination_deg", raw->declination_deg, &DECLINATION, out));
        *out *= ERFA_DD2R;
        return WF_OK;
    }
    if (!wfi_parse_dms(out, raw->declination_dms))
        return wfi_place_fail(place, "declination_dms",
                              "expected degrees, minutes and seconds within +-90:00:00 such as "
                              "-12:34:56.78, found \"%.60s\"; a decimal number goes into "
                              "declination_deg",
                              raw->declination_dms);
    return WF_OK;
}

wfi_names wfi_source_names(const wf_observation *observation)
{
    const wf_source *sources = observation->sources;
    return (wfi_names){"sources", sources != NULL ? sources[0].name : NULL, observation->n_sources,
                       sizeof *sources};
}

static wf_status read_source(const wfi_build *build, size_t i, wf_source *source)
{
    const wfi_raw_source *raw = &build->raw->sources[i];
    const wfi_place place = wfi_place_at(build->document, build->err, "sources[%zu]", i);
    wfi_names taken = wfi_source_names(build->observation);
    taken.n = i;
    WFI_TRY(wfi_read_name(&place, "name", raw->name, WFI_SOURCE_NAME_MAX, &taken, source->name));
    WFI_TRY(read_right_ascension(&place, raw, &source->right_ascension_icrf_rad));
    WFI_TRY(read_declination(&place, raw, &source->declination_icrf_rad));
    return wfi_read_state_table(build, &place, raw->state_table, &source->track);
}

wf_status wfi_build_sources(const wfi_build *build)
{
    const size_t n = build->raw->sources_count;
    wf_source *sources = NULL;
    WFI_TRY(wfi_allocate(&sources, n, sizeof *sources, "sources", build->err));
    build->observation->sources = sources;
    build->observation->n_sources = n;
    for (size_t i = 0; i < n; i++)
        WFI_TRY(read_source(build, i, &sources[i]));
    return WF_OK;
}
