/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The stations of a job: where they stand, how they move, and their clocks. */
#include <math.h>

#include "base/memory.h"
#include "base/status.h"
#include "base/text.h"
#include "observation/build.h"

/* Ground stations: the ellipsoid's radii are 6356.8 and 6378.1 km (GRS80); mountains and sea floors
 * are well inside. */
static const double RADIUS_LEAST_M = 6.3e6;
static const double RADIUS_MOST_M = 6.4e6;

/* Reference epoch of ITRF2014 and ITRF2020, for a station that is said not to move. */
static const double EPOCH_DEFAULT_YEAR = 2015.0;

static const wfi_quantity COORDINATE = {
    .expected = "a geocentric coordinate in m", .least = -1e12, .most = 1e12};
static const wfi_quantity VELOCITY = {
    .expected = "a velocity in m per year, within +-1",
    .least = -1.0,
    .most = 1.0,
    .remedy = "plates move less than 0.2 m a year: divide by 1000 what is in mm"};
static const wfi_quantity EPOCH = {
    .expected = "a decimal year from 1970 to 2100", .least = 1970.0, .most = 2100.0};
static const wfi_quantity AXIS_OFFSET = {
    .expected = "an offset in m, within +-100", .least = -100.0, .most = 100.0};
static const wfi_quantity DIAMETER = {
    .expected = "a diameter in m above 0", .least = 0.0, .most = 2000.0, .above_least = true};
static const wfi_quantity CLOCK_AHEAD = {
    .expected = "clock minus UTC in s, within a day", .least = -86400.0, .most = 86400.0};
static const wfi_quantity CLOCK_RATE = {.expected = "a clock rate in s per s, within +-1e-3",
                                        .least = -1e-3,
                                        .most = 1e-3,
                                        .remedy = "divide by 1e6 what is in us per s"};

static bool in_shell(double radius_m)
{
    return radius_m >= RADIUS_LEAST_M && radius_m <= RADIUS_MOST_M;
}

static const char *remedy_for_position(const double position_m[3], double radius_m)
{
    if (in_shell(radius_m * 1e3))
        return "the numbers look like km: multiply them by 1000";
    if (in_shell(radius_m / 1e3))
        return "the numbers look like mm: divide them by 1000";
    if (fabs(position_m[0]) <= 360.0 && fabs(position_m[1]) <= 360.0 && fabs(position_m[2]) < 1e4)
        return "the numbers look like latitude, longitude and height: convert them to geocentric "
               "x, y, z";
    return "check every number and its digits: x, y, z in m from the geocentre";
}

static wf_status check_radius(const wfi_place *place, const double position_m[3])
{
    const double radius_m = sqrt(position_m[0] * position_m[0] + position_m[1] * position_m[1] +
                                 position_m[2] * position_m[2]);
    if (in_shell(radius_m))
        return WF_OK;
    return wfi_place_fail(place, "position_itrf_m",
                          "expected a place 6.30e6 to 6.40e6 m from the geocentre, found %.4g m; "
                          "%s",
                          radius_m, remedy_for_position(position_m, radius_m));
}

static wf_status read_position(const wfi_place *place, const wfi_raw_station *raw,
                               wf_station *station)
{
    if (raw->position_itrf_m == NULL && raw->state_table != NULL)
        return WF_OK; /* in space */
    if (raw->position_itrf_m == NULL)
        return wfi_place_fail(place, NULL, "a station needs position_itrf_m; add it");
    if (raw->state_table != NULL)
        return wfi_place_fail(place, "position_itrf_m",
                              "a state_table is given too; keep one of them");
    WFI_TRY(wfi_read_vector(place, "position_itrf_m", raw->position_itrf_m, &COORDINATE,
                            station->position_itrf_m));
    if (raw->delay_table == NULL) /* a table may stand for a station in space, or in one room */
        WFI_TRY(check_radius(place, station->position_itrf_m));
    station->position_epoch_year = EPOCH_DEFAULT_YEAR;
    if (raw->position_epoch_year != NULL)
        WFI_TRY(wfi_read_number(place, "position_epoch_year", raw->position_epoch_year, &EPOCH,
                                &station->position_epoch_year));
    if (raw->velocity_itrf_m_per_year == NULL)
        return WF_OK;
    if (raw->position_epoch_year == NULL)
        return wfi_place_fail(place, "velocity_itrf_m_per_year",
                              "a velocity needs the year that the position is of; add "
                              "position_epoch_year");
    return wfi_read_vector(place, "velocity_itrf_m_per_year", raw->velocity_itrf_m_per_year,
                           &VELOCITY, station->velocity_itrf_m_per_year);
}

static wf_status read_mount(const wfi_place *place, const wfi_raw_station *raw, wf_station *station)
{
    static const wfi_choice mounts[] = {
        {"altaz", WF_MOUNT_ALTAZ},
        {"equatorial", WF_MOUNT_EQUATORIAL},
        {"xy_north", WF_MOUNT_XY_NORTH},
        {"xy_east", WF_MOUNT_XY_EAST},
        {"nasmyth_right", WF_MOUNT_NASMYTH_RIGHT},
        {"nasmyth_left", WF_MOUNT_NASMYTH_LEFT},
    };
    int mount = WF_MOUNT_ALTAZ;
    if (raw->mount != NULL)
        WFI_TRY(wfi_read_choice(place, "mount", raw->mount, mounts,
                                sizeof mounts / sizeof mounts[0], &mount));
    station->mount = (wf_mount)mount;
    if (raw->axis_offset_m != NULL)
        WFI_TRY(wfi_read_number(place, "axis_offset_m", raw->axis_offset_m, &AXIS_OFFSET,
                                &station->axis_offset_m));
    if (raw->diameter_m != NULL)
        WFI_TRY(
            wfi_read_number(place, "diameter_m", raw->diameter_m, &DIAMETER, &station->diameter_m));
    return WF_OK;
}

static wf_status read_clock(const wfi_place *place, const wfi_raw_clock *raw, wf_clock *clock)
{
    if (raw == NULL)
        return WF_OK;
    WFI_TRY(wfi_read_instant(place, "clock.reference", raw->reference, &clock->reference));
    WFI_TRY(wfi_read_number(place, "clock.ahead_s", raw->ahead_s, &CLOCK_AHEAD, &clock->ahead_s));
    if (raw->rate_s_per_s != NULL)
        WFI_TRY(wfi_read_number(place, "clock.rate_s_per_s", raw->rate_s_per_s, &CLOCK_RATE,
                                &clock->rate_s_per_s));
    return WF_OK;
}

static wf_status read_station(const wfi_build *build, size_t i, wf_station *station)
{
    const wfi_raw_station *raw = &build->raw->stations[i];
    const wfi_place place = wfi_place_at(build->document, build->err, "stations[%zu]", i);
    wfi_names taken = wfi_station_names(build->observation);
    taken.n = i;
    WFI_TRY(wfi_read_name(&place, "name", raw->name, WFI_STATION_NAME_MAX, &taken, station->name));
    WFI_TRY(read_position(&place, raw, station));
    WFI_TRY(wfi_build_ground(build, i, station));
    WFI_TRY(read_mount(&place, raw, station));
    WFI_TRY(wfi_build_antenna(build, i, station));
    WFI_TRY(wfi_build_atmosphere(build, i, station));
    WFI_TRY(read_clock(&place, raw->clock, &station->clock));
    WFI_TRY(wfi_build_phase_calibration(build, i, station));
    char *table = NULL;
    if (raw->delay_table != NULL)
        WFI_TRY(wfi_document_resolve(&table, build->document, raw->delay_table, build->err));
    station->delay_table_path = table;
    if (raw->state_table != NULL && table != NULL)
        return wfi_place_fail(&place, "state_table", "delay_table is given too; keep one of them");
    return wfi_read_state_table(build, &place, raw->state_table, &station->orbit);
}

wfi_names wfi_station_names(const wf_observation *observation)
{
    const wf_station *stations = observation->stations;
    return (wfi_names){"stations", stations != NULL ? stations[0].name : NULL,
                       observation->n_stations, sizeof *stations};
}

wf_status wfi_build_stations(const wfi_build *build)
{
    const size_t n = build->raw->stations_count;
    wf_station *stations = NULL;
    WFI_TRY(wfi_allocate(&stations, n, sizeof *stations, "stations", build->err));
    build->observation->stations = stations;
    build->observation->n_stations = n;
    for (size_t i = 0; i < n; i++)
        WFI_TRY(read_station(build, i, &stations[i]));
    return WF_OK;
}
