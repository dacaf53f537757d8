/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Where a station may stand, how it may be mounted, and where it may have looked. */
#include <math.h>
#include <string.h>

#include "base/memory.h"
#include "observation/guess.h"

static void guess_one_source(wfi_guess *guess, size_t i_source)
{
    const wf_scan *scan = &guess->observation->scans[guess->i_scan];
    const char *name = guess->observation->sources[i_source].name;
    wfi_guess_begin(guess, "other_source", WFI_SHOWN_BY_CORRELATION, "%s", name);
    wfi_guess_text(guess, name, "scans[\"%s\"].source", scan->name);
    wfi_guess_end(guess, "in scan %s it looked at %s, and so did the others", scan->name, name);
}

/* Those of the scans around first. */
static void guess_sources(wfi_guess *guess, bool *is_done)
{
    enum { SOURCES_MAX = 16 };
    const wf_observation *observation = guess->observation;
    size_t n = 0;
    is_done[observation->scans[guess->i_scan].i_source] = true;
    for (size_t d = 2; d < 2 * observation->n_scans + 1 && n < SOURCES_MAX; d++) {
        const size_t i = d % 2 == 0 ? guess->i_scan - d / 2 : guess->i_scan + d / 2;
        if (i >= observation->n_scans || is_done[observation->scans[i].i_source])
            continue;
        is_done[observation->scans[i].i_source] = true;
        guess_one_source(guess, observation->scans[i].i_source);
        n++;
    }
    for (size_t i = 0; i < observation->n_sources && n < SOURCES_MAX; i++) {
        if (is_done[i])
            continue;
        guess_one_source(guess, i);
        n++;
    }
}

void wfi_guess_source(wfi_guess *guess)
{
    bool *is_done = NULL;
    if (guess->status == WF_OK)
        guess->status = wfi_allocate(&is_done, guess->observation->n_sources, sizeof *is_done,
                                     "sources", guess->err);
    if (guess->status == WF_OK)
        guess_sources(guess, is_done);
    wfi_free(is_done);
}

static bool stands_on_the_ground(const wf_station *station)
{
    return station->orbit.path == NULL && station->delay_table_path == NULL;
}

static double distance_m(const wf_station *a, const wf_station *b)
{
    double square_m2 = 0;
    for (int c = 0; c < 3; c++)
        square_m2 += (a->position_itrf_m[c] - b->position_itrf_m[c]) *
                     (a->position_itrf_m[c] - b->position_itrf_m[c]);
    return sqrt(square_m2);
}

/* The nearest station that is farther than the last one, or as far and behind it in the list. */
static size_t next_nearest(const wfi_guess *guess, size_t last, double last_m)
{
    const wf_observation *observation = guess->observation;
    const wf_station *station = &observation->stations[guess->i_station];
    size_t nearest = observation->n_stations;
    double nearest_m = INFINITY;
    for (size_t i = 0; i < observation->n_stations; i++) {
        const double here_m = distance_m(station, &observation->stations[i]);
        const bool is_next = here_m > last_m || (here_m == last_m && i > last);
        if (i == guess->i_station || !stands_on_the_ground(&observation->stations[i]) || !is_next ||
            here_m >= nearest_m)
            continue;
        nearest = i;
        nearest_m = here_m;
    }
    return nearest;
}

static void guess_other_positions(wfi_guess *guess)
{
    enum { STATIONS_MAX = 8 };
    const wf_observation *observation = guess->observation;
    const wf_station *station = &observation->stations[guess->i_station];
    size_t i = 0;
    double last_m = -1;
    for (int n = 0; n < STATIONS_MAX; n++) {
        i = next_nearest(guess, i, last_m);
        if (i == observation->n_stations)
            return;
        const wf_station *other = &observation->stations[i];
        last_m = distance_m(station, other);
        wfi_guess_begin(guess, "position_of_other_station", WFI_SHOWN_BY_CORRELATION, "%s",
                        other->name);
        for (int c = 0; c < 3; c++)
            if (station->position_itrf_m[c] != other->position_itrf_m[c])
                wfi_guess_number(guess, other->position_itrf_m[c],
                                 "stations[%zu].position_itrf_m[%d]", guess->i_station, c);
        wfi_guess_end(guess, "it stands where the job has station %s", other->name);
    }
}

void wfi_guess_position(wfi_guess *guess)
{
    const wf_station *station = &guess->observation->stations[guess->i_station];
    const double *position_m = station->position_itrf_m;
    if (!stands_on_the_ground(station))
        return;
    guess_other_positions(guess);
    for (int c = 0; c < 3; c++) {
        wfi_guess_begin(guess, "position_sign", WFI_SHOWN_BY_CORRELATION, "%c", "xyz"[c]);
        if (position_m[c] != 0)
            wfi_guess_number(guess, -position_m[c], "stations[%zu].position_itrf_m[%d]",
                             guess->i_station, c);
        wfi_guess_end(guess, "its %c coordinate has the opposite sign", "xyz"[c]);
    }
    wfi_guess_begin(guess, "position_x_and_y", WFI_SHOWN_BY_CORRELATION, "%s", "");
    for (int c = 0; c < 2 && position_m[0] != position_m[1]; c++)
        wfi_guess_number(guess, position_m[1 - c], "stations[%zu].position_itrf_m[%d]",
                         guess->i_station, c);
    wfi_guess_end(guess, "its x and y coordinates are exchanged");
}

void wfi_guess_mount(wfi_guess *guess)
{
    static const struct {
        wf_mount mount;
        const char *word;
    } mounts[] = {{WF_MOUNT_ALTAZ, "altaz"},
                  {WF_MOUNT_EQUATORIAL, "equatorial"},
                  {WF_MOUNT_XY_NORTH, "xy_north"},
                  {WF_MOUNT_XY_EAST, "xy_east"}};
    const wf_station *station = &guess->observation->stations[guess->i_station];
    const bool is_nasmyth =
        station->mount == WF_MOUNT_NASMYTH_LEFT || station->mount == WF_MOUNT_NASMYTH_RIGHT;
    const wf_mount now = is_nasmyth ? WF_MOUNT_ALTAZ : station->mount;
    if (station->axis_offset_m == 0 || !stands_on_the_ground(station))
        return;
    for (size_t k = 0; k < sizeof mounts / sizeof mounts[0]; k++) {
        if (mounts[k].mount == now)
            continue;
        wfi_guess_begin(guess, "mount", WFI_SHOWN_BY_WINDOW, "%s", mounts[k].word);
        wfi_guess_text(guess, mounts[k].word, "stations[%zu].mount", guess->i_station);
        wfi_guess_end(guess, "its mount is of the kind %s", mounts[k].word);
    }
    wfi_guess_begin(guess, "axis_offset_sign", WFI_SHOWN_BY_WINDOW, "%s", "");
    wfi_guess_number(guess, -station->axis_offset_m, "stations[%zu].axis_offset_m",
                     guess->i_station);
    wfi_guess_end(guess, "the offset of its axes has the opposite sign");
}
