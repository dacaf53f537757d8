/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Prints the delays of baselines for outsiders to compare with.
 *
 *  session_values JOB.yaml < lines of: I_STATION J_STATION I_SOURCE TIME
 *
 *  TIME is the arrival at station I. A line of names comes first, then one line for every baseline:
 *  the delay of J minus that of I in s, whole and term by term; its first-order part alone, K.x and
 *  V.x with the lowest order of K.(V + w), for those who ask what the rest is worth; its change
 * with a second of UT1; and both stations' directions.
 */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include <whitefringe/whitefringe.h>

#include "delay/constants.h"
#include "delay/moment.h"
#include "delay/vector.h"

typedef struct scene {
    wf_observation *observation;
    wf_delay_model *model;
    /* of the last line: most lines share their first station and its time */
    size_t i_station, i_source;
    wf_instant arrival;
    wfi_moment moment;
    wf_delay first;
    bool is_set;
} scene;

static void check(wf_status status, const wf_error *err)
{
    if (status == WF_OK)
        return;
    fprintf(stderr, "session_values: %s\n", err->message);
    exit(1);
}

/* The instant at which the wave passes the geocentre: arrival - tau(instant). Each step gains the
 * delay's rate, 1e-6: three leave nothing. */
static void set_moment(scene *s, size_t i_station, size_t i_source, wf_instant arrival)
{
    wf_error err = WF_ERROR_INIT;
    if (s->is_set && s->i_station == i_station && s->i_source == i_source &&
        wf_instant_difference_s(arrival, s->arrival) == 0.0)
        return;
    wf_instant t = arrival;
    for (int step = 0; step < 4; step++) {
        check(wfi_moment_set(&s->moment, s->model, i_source, t, &err), &err);
        check(wfi_delay_at(s->model, i_station, &s->moment, &s->first, &err), &err);
        t = wf_instant_add(arrival, -s->first.tau_s);
    }
    s->i_station = i_station;
    s->i_source = i_source;
    s->arrival = arrival;
    s->is_set = true;
}

/* Position from u, v, w, and the velocity of the turning Earth there. */
static void first_order(const wfi_moment *m, const wf_delay *d, double *first_s, double *ut1)
{
    const double sa = sin(m->right_ascension_rad), ca = cos(m->right_ascension_rad);
    const double sd = sin(m->declination_rad), cd = cos(m->declination_rad);
    const double east[3] = {-sa, ca, 0.0}, north[3] = {-sd * ca, -sd * sa, cd};
    const double *k = m->wave.direction, *v = m->ephemeris.earth_velocity_m_per_s;
    const double *axis = m->earth.celestial_to_spin[2];
    const double c = WFI_SPEED_OF_LIGHT_M_PER_S;
    const double omega = 6.283185307179586 * WFI_EARTH_TURNS_PER_DAY / WFI_DAY_S;
    double x[3], w[3];
    for (int i = 0; i < 3; i++)
        x[i] = d->uvw_m[0] * east[i] + d->uvw_m[1] * north[i] + d->uvw_m[2] * k[i];
    for (int i = 0; i < 3; i++)
        w[i] = omega * (axis[(i + 1) % 3] * x[(i + 2) % 3] - axis[(i + 2) % 3] * x[(i + 1) % 3]);
    *first_s =
        -wfi_dot(k, x) / c * (1.0 - (wfi_dot(k, v) + wfi_dot(k, w)) / c) - wfi_dot(v, x) / (c * c);
    *ut1 = -wfi_dot(k, w) / c;
}

static void print_baseline(const scene *s, const wf_delay *second)
{
    size_t n = 0;
    const wf_delay_share *shares = wf_delay_shares(&n);
    printf("%.17e %.17e", second->tau_s - s->first.tau_s, second->geometry_s - s->first.geometry_s);
    for (size_t i = 0; i < n; i++) {
        const double *a = (const double *)((const char *)&s->first + shares[i].delay_offset);
        const double *b = (const double *)((const char *)second + shares[i].delay_offset);
        printf(" %.12e", *b - *a);
    }
    double first_s[2], ut1[2];
    first_order(&s->moment, &s->first, &first_s[0], &ut1[0]);
    first_order(&s->moment, second, &first_s[1], &ut1[1]);
    printf(" %.17e %.9e", first_s[1] - first_s[0], ut1[1] - ut1[0]);
    printf(" %.12f %.12f %.12f %.12f\n", s->first.azimuth_rad, s->first.elevation_rad,
           second->azimuth_rad, second->elevation_rad);
}

static void print_names(void)
{
    size_t n = 0;
    const wf_delay_share *shares = wf_delay_shares(&n);
    fputs("tau geometry", stdout);
    for (size_t i = 0; i < n; i++)
        printf(" %s", shares[i].name);
    puts(" first_order ut1 azimuth_i elevation_i azimuth_j elevation_j");
}

int main(int argc, char **argv)
{
    static scene s;
    wf_error err = WF_ERROR_INIT;
    char line[256], time[64];
    size_t i = 0, j = 0, i_source = 0;
    wf_instant arrival;
    wf_delay second;
    if (argc != 2)
        return 2;
    check(wf_observation_load(&s.observation, argv[1], &err), &err);
    check(wf_delay_model_create(&s.model, s.observation, &err), &err);
    print_names();
    while (fgets(line, sizeof line, stdin) != NULL) {
        if (sscanf(line, "%zu %zu %zu %63s", &i, &j, &i_source, time) != 4)
            return 2;
        check(wf_instant_parse(&arrival, time, &err), &err);
        set_moment(&s, i, i_source, arrival);
        check(wfi_delay_at(s.model, j, &s.moment, &second, &err), &err);
        print_baseline(&s, &second);
    }
    wf_delay_model_destroy(s.model);
    wf_observation_destroy(s.observation);
    return 0;
}
