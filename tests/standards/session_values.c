/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Prints the delays of baselines for outsiders to compare with.
 *
 *  session_values JOB.yaml < lines of: I_STATION J_STATION I_SOURCE TIME
 *
 *  TIME is the arrival at station I. A line of names comes first, then one line for every baseline:
 *  the delay of J minus that of I in s, whole and term by term; its first-order part alone, K.x and
 *  V.x over 1 + K.(V + w), for those who ask what the rest is worth; its change with a second of
 * UT1 and a radian of the pole's x; what the orthotides of the Earth's rotation would add if they
 * were read at TT; and both stations' directions.
 */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include <whitefringe/whitefringe.h>

#include <erfa.h>
#include <erfam.h>

#include "delay/constants.h"
#include "delay/moment.h"
#include "delay/orthotides.h"
#include "delay/time_scales.h"
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

/* What a station's delay is made of besides its terms. */
typedef struct extra {
    double first_order_s, ut1, pole_x, orthotides_in_tt_s;
} extra;

/* Position from u, v, w. */
static void gcrs_position(const wfi_moment *m, const wf_delay *d, double x[3])
{
    const double sa = sin(m->right_ascension_rad), ca = cos(m->right_ascension_rad);
    const double sd = sin(m->declination_rad), cd = cos(m->declination_rad);
    const double east[3] = {-sa, ca, 0.0}, north[3] = {-sd * ca, -sd * sa, cd};
    for (int i = 0; i < 3; i++)
        x[i] = d->uvw_m[0] * east[i] + d->uvw_m[1] * north[i] + d->uvw_m[2] * m->wave.direction[i];
}

/* The delay's change, to the first order, with one of the Earth's orientation. */
static double turned_s(const wfi_moment *m, const double x[3], const wfi_rotation_shift *shift)
{
    double pole[2], x_itrf[3], moved[3];
    wfi_earth turned;
    wfi_eop_values eop = m->eop;
    wfi_eop_add(&eop, shift);
    wfi_earth_pole(m->t, pole);
    wfi_earth_orient(&turned, m->t, pole, &eop);
    wfi_rotate(m->earth.celestial_to_terrestrial, x, x_itrf);
    eraTrxp(turned.celestial_to_terrestrial, x_itrf, moved);
    for (int i = 0; i < 3; i++)
        moved[i] -= x[i];
    return -wfi_dot(m->wave.direction, moved) / WFI_SPEED_OF_LIGHT_M_PER_S;
}

static double in_tt_s(const wfi_moment *m, const double x[3])
{
    double ut1_jd[2];
    wfi_ut1(m->t, m->eop.ut1_minus_tai_s, ut1_jd);
    const wfi_rotation_shift at_tt =
        wfi_orthotides(m->earth.tt_jd[0] - ERFA_DJM0 + m->earth.tt_jd[1]);
    const wfi_rotation_shift at_ut1 = wfi_orthotides(ut1_jd[0] - ERFA_DJM0 + ut1_jd[1]);
    const wfi_rotation_shift gained = {at_tt.pole_x_rad - at_ut1.pole_x_rad,
                                       at_tt.pole_y_rad - at_ut1.pole_y_rad,
                                       at_tt.ut1_s - at_ut1.ut1_s};
    return turned_s(m, x, &gained);
}

static extra extra_of(const wfi_moment *m, const wf_delay *d)
{
    const double *k = m->wave.direction, *v = m->ephemeris.earth_velocity_m_per_s;
    const double *axis = m->earth.celestial_to_spin[2];
    const double c = WFI_SPEED_OF_LIGHT_M_PER_S;
    const double omega = ERFA_D2PI * WFI_EARTH_TURNS_PER_DAY / WFI_DAY_S;
    const double step_rad = 1e-8;
    double x[3], w[3];
    gcrs_position(m, d, x);
    for (int i = 0; i < 3; i++)
        w[i] = omega * (axis[(i + 1) % 3] * x[(i + 2) % 3] - axis[(i + 2) % 3] * x[(i + 1) % 3]);
    return (extra){.first_order_s = -(wfi_dot(k, x) / c + wfi_dot(v, x) / (c * c)) /
                                    (1.0 + (wfi_dot(k, v) + wfi_dot(k, w)) / c),
                   .ut1 = -wfi_dot(k, w) / c,
                   .pole_x = turned_s(m, x, &(wfi_rotation_shift){step_rad, 0, 0}) / step_rad,
                   .orthotides_in_tt_s = in_tt_s(m, x)};
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
    const extra one = extra_of(&s->moment, &s->first), other = extra_of(&s->moment, second);
    printf(" %.17e %.9e %.9e %.9e", other.first_order_s - one.first_order_s, other.ut1 - one.ut1,
           other.pole_x - one.pole_x, other.orthotides_in_tt_s - one.orthotides_in_tt_s);
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
    puts(" first_order ut1 pole_x orthotides_in_tt azimuth_i elevation_i azimuth_j elevation_j");
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
