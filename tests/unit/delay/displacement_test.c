/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Displacements term by term, and how they reach the delay. */
#include "scene.h"

#include "base/memory.h"
#include "delay/displacement.h"
#include "delay/post_seismic.h"

static const double ARCSEC = 4.848136811095359935899141e-6; /* rad */

/* Source: IERS Conventions (2010), update of 2018, eq. 21: at 2000.0 the secular pole is at 55.0
 * and 320.5 mas, and moves by 1.677 and 3.460 mas a year. 2000.0 is noon of MJD 51544. */
static void wobble_counts_from_the_secular_pole(void **state)
{
    (void)state;
    const wf_instant start = wf_instant_add(wf_instant_of_mjd(51544), 43200.0);
    wfi_wobble w = wfi_wobble_of(WF_POLE_TIDE_SECULAR_2018, start, 0.1 * ARCSEC, 0.3 * ARCSEC);
    wf_check_near("m1", w.m1_rad, 0.0450 * ARCSEC, 1e-9 * ARCSEC, "rad");
    wf_check_near("m2", w.m2_rad, 0.0205 * ARCSEC, 1e-9 * ARCSEC, "rad");
    const wf_instant later = wf_instant_add(start, 20.0 * 365.25 * 86400.0);
    w = wfi_wobble_of(WF_POLE_TIDE_SECULAR_2018, later, 0.1 * ARCSEC, 0.3 * ARCSEC);
    wf_check_near("m1", w.m1_rad, (0.1 - 0.055 - 0.03354) * ARCSEC, 1e-8 * ARCSEC, "rad");
    wf_check_near("m2", w.m2_rad, -(0.3 - 0.3205 - 0.0692) * ARCSEC, 1e-8 * ARCSEC, "rad");
}

/* Source: IERS Conventions (2010), table 7.7: its two parts nearly meet at 2010.0. The cubic gives
 * 55.974 + 18.243 + 18.413 + 7.024 = 99.654 mas there, the line 99.654. */
static void mean_pole_is_a_cubic_then_a_line(void **state)
{
    (void)state;
    const wf_instant knot = wf_instant_add(wf_instant_of_mjd(51544), 43200.0 + 3652.5 * 86400.0);
    const wfi_wobble before =
        wfi_wobble_of(WF_POLE_TIDE_MEAN_2010, wf_instant_add(knot, -10.0), 0.0, 0.0);
    const wfi_wobble after =
        wfi_wobble_of(WF_POLE_TIDE_MEAN_2010, wf_instant_add(knot, 10.0), 0.0, 0.0);
    wf_check_near("x before", before.m1_rad, -0.099654 * ARCSEC, 1e-8 * ARCSEC, "rad");
    wf_check_near("x after", after.m1_rad, -0.099654 * ARCSEC, 1e-8 * ARCSEC, "rad");
    wf_check_near("y before", before.m2_rad, 0.352605 * ARCSEC, 1e-8 * ARCSEC, "rad");
    wf_check_near("y after", after.m2_rad, 0.352604 * ARCSEC, 1e-8 * ARCSEC, "rad");
}

/* Source: IERS Conventions (2010) eq. 7.26 at 45 degrees north, where sin 2 theta = 1 and cos 2
 * theta = 0, on the meridians of Greenwich and of 90 degrees east. */
static void pole_tide_at_45_degrees(void **state)
{
    (void)state;
    const double s = sqrt(0.5);
    const wfi_local_frame greenwich = {{0, 1, 0}, {-s, 0, s}, {s, 0, s}};
    const wfi_local_frame east = {{-1, 0, 0}, {0, -s, s}, {0, s, s}};
    const wfi_wobble w = {1.0 * ARCSEC, 2.0 * ARCSEC};
    double enu_m[3];
    wfi_pole_tide(&greenwich, w, enu_m);
    wf_check_near("east", enu_m[0], 0.009 * s * (0.0 - 2.0), 1e-15, "m");
    wf_check_near("north", enu_m[1], 0.0, 1e-15, "m");
    wf_check_near("up", enu_m[2], -0.033, 1e-15, "m");
    wfi_pole_tide(&east, w, enu_m);
    wf_check_near("east", enu_m[0], 0.009 * s * 1.0, 1e-15, "m");
    wf_check_near("up", enu_m[2], -0.066, 1e-15, "m");
}

/* South is positive in eq. 7.26: at the equator cos 2 theta = -1, so that the station moves by
 * +9 mm (m1) to the south times -1: north. */
static void pole_tide_at_the_equator(void **state)
{
    (void)state;
    const wfi_local_frame frame = {{0, 1, 0}, {0, 0, 1}, {1, 0, 0}};
    double enu_m[3];
    wfi_pole_tide(&frame, (wfi_wobble){1.0 * ARCSEC, 0.0}, enu_m);
    wf_check_near("east", enu_m[0], 0.0, 1e-15, "m");
    wf_check_near("north", enu_m[1], -0.009, 1e-15, "m");
    wf_check_near("up", enu_m[2], 0.0, 1e-15, "m");
}

/* Source: IERS Conventions (2010) eq. 7.29 and its constants: H_p = (8 pi/15)^0.5 omega^2 a^4/GM,
 * K = 4 pi G a rho_w H_p/(3 g) = 5340.43 m
 * (worked out apart in double precision; the section rounds it to 5340 m). */
static void ocean_pole_tide_follows_its_coefficients(void **state)
{
    (void)state;
    static const wf_ocean_pole_tide one = {{1, 0, 0}, {0, 1, 0.5}};
    const wfi_wobble w = {1e-6, 2e-6};
    const double k_m = 5340.43;
    double enu_m[3];
    wfi_ocean_pole_tide(&one, w, enu_m);
    const double along = 1e-6 * 0.6870 + 2e-6 * 0.0036, across = 2e-6 * 0.6870 - 1e-6 * 0.0036;
    wf_check_near("up", enu_m[2], k_m * along, 2e-6 * k_m * along, "m");
    wf_check_near("north", enu_m[1], k_m * across, 2e-6 * k_m * across, "m");
    wf_check_near("east", enu_m[0], 0.5 * k_m * across, 2e-6 * k_m * across, "m");
}

/* Closed form: after one relaxation time ln 2 and 1 - 1/e of the amplitude. */
static void ground_settles_after_an_earthquake(void **state)
{
    (void)state;
    const wf_instant quake = scene_time("2011-03-11T05:46:24");
    const wf_post_seismic terms[] = {
        {quake, WF_COMPONENT_EAST, WF_POST_SEISMIC_LOGARITHMIC, 0.5, 2.0},
        {quake, WF_COMPONENT_UP, WF_POST_SEISMIC_EXPONENTIAL, -0.25, 2.0},
        {quake, WF_COMPONENT_UP, WF_POST_SEISMIC_LOGARITHMIC, 0.125, 2.0},
    };
    double enu_m[3];
    wfi_post_seismic(terms, 3, wf_instant_add(quake, -1.0), enu_m);
    assert_true(enu_m[0] == 0.0 && enu_m[1] == 0.0 && enu_m[2] == 0.0);
    wfi_post_seismic(terms, 3, wf_instant_add(quake, 2.0 * 365.25 * 86400.0), enu_m);
    wf_check_near("east", enu_m[0], 0.5 * log(2.0), 1e-15, "m");
    assert_true(enu_m[1] == 0.0);
    wf_check_near("up", enu_m[2], -0.25 * (1.0 - exp(-1.0)) + 0.125 * log(2.0), 1e-15, "m");
}

static const char FOREST[] =
    "  Alder\n"
    " .00352 .00123 .00080 .00032 .00187 .00112 .00063 .00003 .00082 .00044 .00037\n"
    " .00144 .00035 .00035 .00008 .00053 .00049 .00018 .00009 .00012 .00005 .00006\n"
    " .00086 .00023 .00023 .00006 .00029 .00028 .00010 .00007 .00004 .00002 .00001\n"
    " -64.7 -52.0 -96.2 -55.2 -58.8 -151.4 -65.6 -138.1 8.4 5.2 2.1\n"
    " 85.5 114.5 56.5 113.6 99.4 19.1 94.1 -10.4 -167.4 -170.0 -177.7\n"
    " 109.5 147.0 92.7 148.8 50.5 -55.1 36.4 -170.4 -15.0 2.3 5.2\n";

static const wf_ocean_pole_tide OCEAN = {{0.06, 0.01, -0.01}, {-0.04, 0.01, -0.06}};

/* A scene whose station 0 has all that moves it. */
typedef struct moved_scene {
    scene s;
    wf_post_seismic quake;
    char path[64];
} moved_scene;

static void set_moved_scene(moved_scene *m)
{
    scene_set(&m->s);
    m->quake = (wf_post_seismic){scene_time("2024-01-01T07:10:09"), WF_COMPONENT_NORTH,
                                 WF_POST_SEISMIC_LOGARITHMIC, 0.2, 0.5};
    scene_write_file(m->path, FOREST);
    m->s.stations[0].post_seismic = &m->quake;
    m->s.stations[0].n_post_seismic = 1;
    m->s.stations[0].ocean_pole_tide = &OCEAN;
    m->s.observation.n_stations = 1;
    m->s.observation.delay_terms = wf_delay_terms_default();
    m->s.observation.ocean_loading_blq_path = m->path;
}

static wf_delay delay_of(const moved_scene *m)
{
    wf_delay_model *model = scene_model(&m->s);
    const wf_delay delay = scene_delay(model, 0, 0, m->s.scans[0].start);
    wf_delay_model_destroy(model);
    return delay;
}

/* Sizes: delay-rate of a metre is 3.3 ns. Solid tide to 0.4 m, ocean loading to the sum of the
 * amplitudes (1 cm), pole tides to 33 mm per arcsec of wobble; 0.2 m ln(1 + 2.16/0.5) = 0.335 m. */
static void every_term_reaches_the_delay_with_its_size(void **state)
{
    (void)state;
    moved_scene m;
    set_moved_scene(&m);
    const wf_delay d = delay_of(&m);
    const struct {
        const char *name;
        double s;
        double least_m;
        double most_m;
    } terms[] = {
        {"post_seismic", d.post_seismic_s, 1e-3, 0.335},
        {"solid_tide", d.solid_tide_s, 1e-3, 0.4},
        {"pole_tide", d.pole_tide_s, 1e-5, 0.03},
        {"ocean_loading", d.ocean_loading_s, 1e-5, 0.01},
        {"ocean_pole_tide", d.ocean_pole_tide_s, 1e-6, 0.002},
    };
    for (size_t i = 0; i < sizeof terms / sizeof terms[0]; i++) {
        const double size_m = fabs(terms[i].s) * 299792458.0;
        if (size_m < terms[i].least_m || size_m > terms[i].most_m)
            fail_msg("%s: %g m", terms[i].name, size_m);
    }
    unlink(m.path);
}

/* Property: what is switched off takes its share of the delay away. A move d also turns with the
 * Earth and changes the station's velocity: 7.3e-5 rad/s x 0.34 m / c x 21 ms = 2e-15 s. */
static void switches_take_their_share_away(void **state)
{
    (void)state;
    moved_scene m;
    set_moved_scene(&m);
    wf_delay_terms *terms = &m.s.observation.delay_terms;
    const wf_delay all = delay_of(&m);
    const struct {
        bool *on;
        double share_s;
    } switches[] = {
        {&terms->post_seismic, all.post_seismic_s},
        {&terms->solid_tide, all.solid_tide_s},
        {&terms->pole_tide, all.pole_tide_s},
        {&terms->ocean_loading, all.ocean_loading_s},
        {&terms->ocean_pole_tide, all.ocean_pole_tide_s},
    };
    for (size_t i = 0; i < sizeof switches / sizeof switches[0]; i++) {
        *switches[i].on = false;
        wf_check_near("rest", delay_of(&m).tau_s, all.tau_s - switches[i].share_s, 2e-15, "s");
        *switches[i].on = true;
    }
    unlink(m.path);
}

static void station_without_ocean_loading_is_refused_unless_it_is_off(void **state)
{
    (void)state;
    moved_scene m;
    set_moved_scene(&m);
    m.s.observation.n_stations = 2;
    wf_delay_model *model = NULL;
    wf_error err = WF_ERROR_INIT;
    wf_check_refused(wf_delay_model_create(&model, &m.s.observation, &err), WF_MISSING, &err,
                     "has no ocean loading of station Birch");
    assert_null(model);
    m.s.observation.delay_terms.ocean_loading = false;
    unlink(m.path); /* not even opened */
    model = scene_model(&m.s);
    assert_true(scene_delay(model, 0, 0, m.s.scans[0].start).ocean_loading_s == 0.0);
    wf_delay_model_destroy(model);
}

/* Builds without the failing allocator go through once. */
static void every_failing_allocation_is_reported(void **state)
{
    (void)state;
    moved_scene m;
    set_moved_scene(&m);
    static const wf_antenna antenna = {.axis_m = 4.0};
    m.s.stations[0].antenna = &antenna;
    long n = 0;
    for (wf_status status = WF_MEMORY; status == WF_MEMORY; n++) {
        wf_delay_model *model = NULL;
        wf_error err = WF_ERROR_INIT;
        wfi_memory_fail_after(n + 1);
        status = wf_delay_model_create(&model, &m.s.observation, &err);
        wfi_memory_fail_after(0);
        assert_true(status == WF_OK || (status == WF_MEMORY && model == NULL));
        wf_delay_model_destroy(model);
    }
    unlink(m.path);
#ifdef WFI_CHECKS
    assert_true(n > 12);
#endif
}

/* Property: eccentricity is part of the position. */
static void eccentricity_adds_to_the_position(void **state)
{
    (void)state;
    moved_scene eccentric, shifted;
    set_moved_scene(&eccentric);
    set_moved_scene(&shifted);
    static const double e_m[3] = {0.5, -2.0, 8.0};
    for (int i = 0; i < 3; i++) {
        eccentric.s.stations[0].eccentricity_itrf_m[i] = e_m[i];
        shifted.s.stations[0].position_itrf_m[i] += e_m[i];
    }
    const wf_delay a = delay_of(&eccentric), b = delay_of(&shifted);
    assert_true(a.geometry_s == b.geometry_s && a.tau_s == b.tau_s);
    assert_true(a.uvw_m[0] == b.uvw_m[0] && a.elevation_rad == b.elevation_rad);
    unlink(eccentric.path);
    unlink(shifted.path);
}

static void catalogued_position_holds_all_but_the_tides(void **state)
{
    (void)state;
    moved_scene m;
    set_moved_scene(&m);
    unlink(m.path);
    wf_station *station = &m.s.stations[0];
    station->eccentricity_itrf_m[2] = 3.0;
    double still_m[3], moved_m[3];
    wf_delay_terms terms = {0};
    wfi_site_position(station, &terms, m.s.scans[0].start, still_m);
    assert_true(still_m[0] == station->position_itrf_m[0]);
    assert_true(still_m[2] == station->position_itrf_m[2] + 3.0);
    terms.post_seismic = true;
    wfi_site_position(station, &terms, m.s.scans[0].start, moved_m);
    const double d[3] = {moved_m[0] - still_m[0], moved_m[1] - still_m[1], moved_m[2] - still_m[2]};
    const double years =
        wf_instant_difference_s(m.s.scans[0].start, m.quake.earthquake) / (365.25 * 86400.0);
    wf_check_near("length", hypot(hypot(d[0], d[1]), d[2]), 0.2 * log(1.0 + years / 0.5), 1e-8,
                  "m");
    assert_true(d[2] > 0.0); /* to the north */
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(wobble_counts_from_the_secular_pole),
        cmocka_unit_test(mean_pole_is_a_cubic_then_a_line),
        cmocka_unit_test(pole_tide_at_45_degrees),
        cmocka_unit_test(pole_tide_at_the_equator),
        cmocka_unit_test(ocean_pole_tide_follows_its_coefficients),
        cmocka_unit_test(ground_settles_after_an_earthquake),
        cmocka_unit_test(every_term_reaches_the_delay_with_its_size),
        cmocka_unit_test(switches_take_their_share_away),
        cmocka_unit_test(station_without_ocean_loading_is_refused_unless_it_is_off),
        cmocka_unit_test(every_failing_allocation_is_reported),
        cmocka_unit_test(eccentricity_adds_to_the_position),
        cmocka_unit_test(catalogued_position_holds_all_but_the_tides),
    };
    return cmocka_run_group_tests(tests, enter_folder, leave_folder);
}
