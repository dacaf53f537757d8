/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Prints delays for outsiders to compare with: lines of commands in, lines of numbers out.
 *
 *  station X Y Z VX VY VZ EPOCH        m, m/year, decimal year
 *  source RIGHT_ASCENSION DECLINATION  rad
 *  day MJD POLE_X POLE_Y UT1-UTC DX DY rad, s
 *  finals PATH                         Earth orientation from a file instead
 *  switch NAME 0|1                     a term of the delay; "all" for every one
 *  fields -                            -> the names of what evaluate prints
 *  evaluate I_STATION I_SOURCE TIME    -> what wf_delay holds
 *  orient TIME                         -> pole x, y, UT1-TAI, dX, dY
 */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <whitefringe/delay.h>

#include "delay/model.h"

enum { N_MAX = 800 };

typedef struct scene {
    wf_station stations[N_MAX];
    wf_source sources[N_MAX];
    wf_earth_orientation_day days[N_MAX];
    char path[1024];
    wf_observation observation;
    wf_delay_model *model;
} scene;

static _Noreturn void stop(const char *why)
{
    fprintf(stderr, "delay_values: %s\n", why);
    exit(1);
}

static void check(wf_status status, const wf_error *err)
{
    if (status != WF_OK)
        stop(err->message);
}

static void add_station(scene *s, const char *arguments)
{
    wf_station *station = &s->stations[s->observation.n_stations++];
    double *x = station->position_itrf_m;
    double *v = station->velocity_itrf_m_per_year;
    snprintf(station->name, sizeof station->name, "S%zu", s->observation.n_stations);
    if (sscanf(arguments, "%lf %lf %lf %lf %lf %lf %lf", &x[0], &x[1], &x[2], &v[0], &v[1], &v[2],
               &station->position_epoch_year) != 7)
        stop("station wants seven numbers");
}

static void add_source(scene *s, const char *arguments)
{
    wf_source *source = &s->sources[s->observation.n_sources++];
    if (sscanf(arguments, "%lf %lf", &source->right_ascension_icrf_rad,
               &source->declination_icrf_rad) != 2)
        stop("source wants two numbers");
}

static void add_day(scene *s, const char *arguments)
{
    wf_earth_orientation_day *day = &s->days[s->observation.earth_orientation.n_days++];
    if (sscanf(arguments, "%d %lf %lf %lf %lf %lf", &day->mjd, &day->pole_x_rad, &day->pole_y_rad,
               &day->ut1_minus_utc_s, &day->celestial_pole_dx_rad,
               &day->celestial_pole_dy_rad) != 6)
        stop("day wants six numbers");
}

static const wf_delay_model *model_of(scene *s)
{
    if (s->model == NULL) {
        wf_error err = WF_ERROR_INIT;
        check(wf_delay_model_create(&s->model, &s->observation, &err), &err);
    }
    return s->model;
}

static void evaluate(scene *s, const char *arguments)
{
    size_t i_station = 0, i_source = 0;
    char time[64];
    wf_instant t;
    wf_delay d;
    wf_error err = WF_ERROR_INIT;
    if (sscanf(arguments, "%zu %zu %63s", &i_station, &i_source, time) != 3)
        stop("evaluate wants two indexes and a time");
    check(wf_instant_parse(&t, time, &err), &err);
    check(wf_delay_evaluate(model_of(s), i_station, i_source, t, &d, &err), &err);
    size_t n_shares = 0;
    const wf_delay_share *shares = wf_delay_shares(&n_shares);
    printf("%.20e %.20e %.20e", d.tau_s, d.clock_ahead_s, d.geometry_s);
    for (size_t i = 0; i < n_shares; i++)
        printf(" %.20e", *(const double *)((const char *)&d + shares[i].delay_offset));
    printf(" %.20e %.17g %.17g %.17g %.17g %.17g\n", d.table_s, d.uvw_m[0], d.uvw_m[1], d.uvw_m[2],
           d.azimuth_rad, d.elevation_rad);
}

static void print_fields(void)
{
    size_t n_shares = 0;
    const wf_delay_share *shares = wf_delay_shares(&n_shares);
    fputs("tau clock geometry", stdout);
    for (size_t i = 0; i < n_shares; i++)
        printf(" %s", shares[i].name);
    puts(" table u v w azimuth elevation");
}

static void set_switch(scene *s, const char *arguments)
{
    char name[64];
    int on = 0;
    bool found = false;
    if (sscanf(arguments, "%63s %d", name, &on) != 2)
        stop("switch wants a name and 0 or 1");
#define SET(term, usual, heading, text)                                                            \
    if (strcmp(name, "all") == 0 || strcmp(name, #term) == 0) {                                    \
        s->observation.delay_terms.term = on != 0;                                                 \
        found = true;                                                                              \
    }
    WF_DELAY_SWITCHES(SET)
#undef SET
    if (!found)
        stop("no such term");
}

static void orient(scene *s, const char *arguments)
{
    wf_instant t;
    wfi_eop_values v;
    wf_error err = WF_ERROR_INIT;
    check(wf_instant_parse(&t, arguments, &err), &err);
    check(wfi_eop_evaluate(&model_of(s)->eop, t, &v, &err), &err);
    printf("%.20e %.20e %.20e %.20e %.20e\n", v.pole_x_rad, v.pole_y_rad, v.ut1_minus_tai_s,
           v.celestial_pole_dx_rad, v.celestial_pole_dy_rad);
}

static void obey(scene *s, const char *word, const char *arguments)
{
    if (s->observation.n_stations == N_MAX || s->observation.n_sources == N_MAX ||
        s->observation.earth_orientation.n_days == N_MAX)
        stop("too many lines of a kind");
    if (strcmp(word, "station") == 0)
        add_station(s, arguments);
    else if (strcmp(word, "source") == 0)
        add_source(s, arguments);
    else if (strcmp(word, "day") == 0)
        add_day(s, arguments);
    else if (strcmp(word, "finals") == 0) {
        snprintf(s->path, sizeof s->path, "%s", arguments);
        s->observation.earth_orientation.path = s->path;
    } else if (strcmp(word, "evaluate") == 0)
        evaluate(s, arguments);
    else if (strcmp(word, "switch") == 0)
        set_switch(s, arguments);
    else if (strcmp(word, "fields") == 0)
        print_fields();
    else if (strcmp(word, "orient") == 0)
        orient(s, arguments);
    else
        stop("no such command");
}

int main(void)
{
    scene *s = calloc(1, sizeof *s);
    if (s == NULL)
        stop("out of memory");
    s->observation.stations = s->stations;
    s->observation.sources = s->sources;
    s->observation.earth_orientation.days = s->days;
    s->observation.delay_terms = wf_delay_terms_default();
    char line[1024];
    while (fgets(line, sizeof line, stdin) != NULL) {
        line[strcspn(line, "\n")] = '\0';
        char *blank = strchr(line, ' ');
        if (blank == NULL)
            stop("a line without arguments");
        *blank = '\0';
        obey(s, line, blank + 1);
    }
    wf_delay_model_destroy(s->model);
    free(s);
    return 0;
}
