/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Displacements of stations against the check values that the software of the IERS Conventions
 * (2010) (Petit and Luzum 2010, IERS Technical Note 36) prints in the headers of its routines, for
 * section 7.1.1 (solid Earth tide: DEHANTTIDEINEL and its parts) and 7.1.2 (ocean loading:
 * HARDISP).
 */
#include "support/check.h"

#include <whitefringe/time.h>

#include "delay/ocean_loading.h"
#include "delay/solid_tide.h"
#include "delay/vector.h"

/* The solid tide's values are printed to 1e-20 m and were computed in double precision. */
static const double SOLID_LIMIT_M = 1e-12;

static const double PLACE[3] = {4075578.385, 931852.890, 4801570.154};
static const double SUN[3] = {137859926952.015, 54228127881.4350, 23509422341.6960};
static const double MOON[3] = {-179996231.920342, -312468450.131567, -169288918.592160};

static void check_vector(const char *name, const double got[3], const double want[3],
                         double limit_m)
{
    for (int i = 0; i < 3; i++) {
        char text[64];
        snprintf(text, sizeof text, "%s, %c", name, "xyz"[i]);
        wf_check_near(text, got[i], want[i], limit_m, "m");
    }
}

/* TT - UTC as the routine's own table of leap seconds has it. */
static wfi_tidal_time midnight(double mjd, double tt_minus_utc_s)
{
    return (wfi_tidal_time){(mjd - 51544.5 + tt_minus_utc_s / 86400.0) / 36525.0, 0.0};
}

/* DEHANTTIDEINEL, case 1: 2009-04-13 0h UTC (MJD 54934, TAI - UTC = 34 s). */
static void whole_tide_of_2009(void **state)
{
    (void)state;
    static const double want[3] = {0.07700420357108125891, 0.06304056321824967613,
                                   0.05516568152597246810};
    double got[3];
    wfi_solid_tide(PLACE, SUN, MOON, midnight(54934, 66.184), got);
    check_vector("solid tide of 2009", got, want, SOLID_LIMIT_M);
}

/* DEHANTTIDEINEL, case 3: 2015-07-15 0h UTC (MJD 57218). Its Moon is not where a moon can be; it
 * weighs the terms of a near body all the more. */
static void whole_tide_of_2015(void **state)
{
    (void)state;
    static const double place[3] = {1112200.5696, -4842957.8511, 3985345.9122};
    static const double sun[3] = {100210282451.6279, 103055630398.3160, 56855096480.4475};
    static const double moon[3] = {369817604.4348, 1897917.5258, 120804980.8284};
    static const double want[3] = {0.00509570869172363845, 0.0828663025983528700,
                                   -0.0636634925404189617};
    double got[3];
    wfi_solid_tide(place, sun, moon, midnight(57218, 68.184), got);
    check_vector("solid tide of 2015", got, want, SOLID_LIMIT_M);
}

typedef void tide_part(const wfi_tidal_place *place, const wfi_tidal_body *body, double enu_m[3]);

/* The factors of the bodies are rounded in the headers: the vectors agree to 2e-10 m only. */
static void check_part(const char *name, tide_part *part, const double want[3])
{
    const wfi_tidal_place place = wfi_tidal_place_of(PLACE);
    const wfi_tidal_body sun = {SUN, wfi_length(SUN), 0.163271964478954};
    const wfi_tidal_body moon = {MOON, wfi_length(MOON), 0.321989090026845};
    double enu_m[3] = {0, 0, 0}, got[3] = {0, 0, 0};
    part(&place, &sun, enu_m);
    part(&place, &moon, enu_m);
    wfi_tidal_place_add(&place, enu_m, got);
    check_vector(name, got, want, 1e-9);
}

static void diurnal_lag(void **state)
{
    (void)state;
    static const double want[3] = {-0.2836337012840008001e-3, 0.1125342324347507444e-3,
                                   -0.2471186224343683169e-3};
    check_part("ST1IDIU", wfi_solid_tide_diurnal_lag, want);
}

static void dependence_on_latitude(void **state)
{
    (void)state;
    static const double want[3] = {0.2367189532359759044e-3, 0.5181609907284959182e-3,
                                   -0.3014881422940427977e-3};
    check_part("ST1L1", wfi_solid_tide_latitude, want);
}

static void diurnal_lines(void **state)
{
    (void)state;
    static const double want[3] = {0.4193085327321284701e-2, 0.1456681241014607395e-2,
                                   0.5123366597450316508e-2};
    const wfi_tidal_place place = wfi_tidal_place_of(PLACE);
    double enu_m[3] = {0, 0, 0}, got[3] = {0, 0, 0};
    wfi_solid_tide_diurnal_lines(&place, (wfi_tidal_time){0.1059411362080767, 0.0}, enu_m);
    wfi_tidal_place_add(&place, enu_m, got);
    check_vector("STEP2DIU", got, want, SOLID_LIMIT_M);
}

/* HARDISP, example of its header: 2009-06-25 (MJD 55007), hours of UTC; coefficients and output in
 * its order. */
static const char ONSALA_BLQ[] =
    "$$ Station of the published example\n"
    "  ONSALA\n"
    " .00352 .00123 .00080 .00032 .00187 .00112 .00063 .00003 .00082 .00044 .00037\n"
    " .00144 .00035 .00035 .00008 .00053 .00049 .00018 .00009 .00012 .00005 .00006\n"
    " .00086 .00023 .00023 .00006 .00029 .00028 .00010 .00007 .00004 .00002 .00001\n"
    " -64.7 -52.0 -96.2 -55.2 -58.8 -151.4 -65.6 -138.1 8.4 5.2 2.1\n"
    " 85.5 114.5 56.5 113.6 99.4 19.1 94.1 -10.4 -167.4 -170.0 -177.7\n"
    " 109.5 147.0 92.7 148.8 50.5 -55.1 36.4 -170.4 -15.0 2.3 5.2\n";

static const double ONSALA_M[24][3] = {
    /* up, south, west */
    {0.003513, -0.001893, -0.001513},  {0.003248, -0.001620, -0.001012},
    {0.002079, -0.001068, -0.000319},  {0.000498, -0.000374, 0.000328},
    {-0.000913, 0.000298, 0.000712},   {-0.001639, 0.000800, 0.000695},
    {-0.001369, 0.001032, 0.000254},   {-0.000084, 0.000966, -0.000510},
    {0.001935, 0.000654, -0.001401},   {0.004177, 0.000208, -0.002171},
    {0.006027, -0.000226, -0.002591},  {0.006926, -0.000510, -0.002503},
    {0.006519, -0.000548, -0.001871},  {0.004749, -0.000313, -0.000786},
    {0.001883, 0.000147, 0.000549},    {-0.001543, 0.000717, 0.001864},
    {-0.004850, 0.001247, 0.002889},   {-0.007370, 0.001590, 0.003416},
    {-0.008606, 0.001637, 0.003347},   {-0.008344, 0.001347, 0.002718},
    {-0.006702, 0.000762, 0.001686},   {-0.004090, -0.000009, 0.000492},
    {-0.001113, -0.000808, -0.000600}, {0.001583, -0.001469, -0.001366},
};

/* The published program works in single precision; an independent one in double precision agrees
 * with its printed values to 3e-6 m, and so must this. */
static const double OCEAN_LIMIT_M = 3.5e-6;

static void ocean_loading_of_a_day(void **state)
{
    (void)state;
    wfi_line_reader reader;
    wfi_line_reader_open_memory(&reader, "onsala.blq", ONSALA_BLQ, strlen(ONSALA_BLQ));
    wfi_blq blq = {0};
    wf_error err = WF_ERROR_INIT;
    wf_check_ok(wfi_blq_parse(&blq, &reader, &err), &err);
    assert_int_equal(blq.n_stations, 1);
    wfi_ocean_loading loading;
    wfi_ocean_loading_set(&loading, &blq.stations[0]);
    for (int hour = 0; hour < 24; hour++) {
        const double day = hour / 24.0;
        const double tt_centuries = (55007 - 51544.5 + day + 66.184 / 86400.0) / 36525.0;
        wfi_ocean_phases phases;
        double enu_m[3];
        wfi_ocean_phases_at(&phases, (wfi_tidal_time){tt_centuries, day});
        wfi_ocean_loading_at(&loading, &phases, enu_m);
        wf_check_near("up", enu_m[2], ONSALA_M[hour][0], OCEAN_LIMIT_M, "m");
        wf_check_near("south", -enu_m[1], ONSALA_M[hour][1], OCEAN_LIMIT_M, "m");
        wf_check_near("west", -enu_m[0], ONSALA_M[hour][2], OCEAN_LIMIT_M, "m");
    }
    wfi_blq_release(&blq);
}

/* ARG2: Greenwich arguments of the main waves on day 311.5 of 2008 (MJD 54776.5), every second one;
 * a quarter of a turn is theirs in the diurnal band (K1 +, P1 -). ARG2 uses polynomials of older
 * theories of Sun and Moon: they differ from those of Simon et al. 1994 by up to 1.3e-4 rad. */
static void arguments_of_the_main_waves(void **state)
{
    (void)state;
    static const struct {
        const char *wave;
        signed char multiplier[6];
        double offset_turns;
        double want_rad;
    } waves[] = {
        {"M2", {2, 0, 0, 0, 0, 0}, 0.0, 2.849663065753787805},
        {"N2", {2, -1, 0, 1, 0, 0}, 0.0, 4.926040134021299366},
        {"K1", {1, 1, 0, 0, 0, 0}, 0.25, 2.375021572352622456},
        {"P1", {1, 1, -2, 0, 0, 0}, -0.25, 3.908159227647345801},
        {"Mf", {0, 2, 0, 0, 0, 0}, 0.0, 5.041990012540757959},
        {"Ssa", {0, 0, 2, 0, 0, 0}, 0.0, 1.608463638294885811},
    };
    const double tt_days = 54776.5 - 51544.5 + 65.184 / 86400.0; /* TAI - UTC = 33 s */
    wfi_ocean_phases phases;
    wfi_ocean_phases_at(&phases, (wfi_tidal_time){tt_days / 36525.0, 0.5});
    int n_found = 0;
    for (int i = 0; i < WFI_N_OCEAN_LOADING_LINES; i++)
        for (size_t k = 0; k < sizeof waves / sizeof waves[0]; k++) {
            if (memcmp(WFI_OCEAN_LOADING_LINES[i].multiplier, waves[k].multiplier, 6) != 0)
                continue;
            const double turn = 2.0 * acos(-1.0);
            const double got_rad =
                atan2(phases.sine[i], phases.cosine[i]) + waves[k].offset_turns * turn;
            wf_check_near(waves[k].wave, remainder(got_rad - waves[k].want_rad, turn), 0.0, 1.5e-4,
                          "rad");
            n_found++;
        }
    assert_int_equal(n_found, 6);
}

static wfi_tidal_time time_of(wf_instant t)
{
    int32_t mjd = 0, second = 0;
    wf_instant_utc(t, &mjd, &second);
    const double utc_days = (second + t.fraction) / 86400.0;
    const double tt_days = mjd - 51544.5 + utc_days + (wf_tai_minus_utc_s(t) + 32.184) / 86400.0;
    return (wfi_tidal_time){tt_days / 36525.0, utc_days};
}

/* IVS sessions C1401 (14MAY06XA, 2014-05-06) and I18061 (18MAR02XU, 2018-03-02): coefficients and
 * displacements stored with the sessions, up east north to 1e-6 m; open data base of the
 * International VLBI Service, Nothnagel et al. 2017, J. Geodesy 91, 711. */
static const char SESSIONS_BLQ[] =
    "  TSUKUB32\n"
    " 0.00753 0.00427 0.00116 0.00130 0.01049 0.00819 0.00336 0.00163 0.00032 0.00012 0.00005\n"
    " 0.00252 0.00141 0.00027 0.00039 0.00223 0.00185 0.00071 0.00038 0.00010 0.00004 0.00000\n"
    " 0.00208 0.00073 0.00046 0.00023 0.00184 0.00137 0.00058 0.00025 0.00004 0.00004 0.00005\n"
    " 50.8 72.3 63.2 67.4 -137.1 -154.8 -138.9 -165.9 -9.7 -26.2 -12.2\n"
    " -12.8 27.1 -28.4 22.3 -171.3 167.8 -172.2 161.0 -36.6 -43.5 -107.6\n"
    " -78.9 -66.8 -91.8 -75.0 89.4 70.4 88.2 61.0 42.2 30.1 4.0\n"
    "  HART15M\n"
    " 0.01667 0.00756 0.00322 0.00209 0.00104 0.00158 0.00037 0.00039 0.00023 0.00013 0.00011\n"
    " 0.00055 0.00027 0.00019 0.00008 0.00065 0.00065 0.00021 0.00015 0.00002 0.00002 0.00002\n"
    " 0.00138 0.00055 0.00033 0.00015 0.00071 0.00006 0.00020 0.00004 0.00009 0.00003 0.00001\n"
    " -131.9 -104.0 -144.5 -107.0 122.4 114.8 123.4 104.6 -155.7 -164.7 -177.5\n"
    " 49.9 -54.8 47.1 -57.1 -127.5 -167.1 -131.1 165.3 -69.8 -95.1 -174.4\n"
    " 68.9 86.1 61.0 79.9 138.8 152.3 133.0 -123.6 176.6 171.2 174.3\n"
    "  KOKEE\n"
    " 0.01271 0.00487 0.00242 0.00134 0.01239 0.00691 0.00381 0.00110 0.00054 0.00036 0.00032\n"
    " 0.00274 0.00127 0.00053 0.00036 0.00215 0.00144 0.00067 0.00028 0.00001 0.00001 0.00001\n"
    " 0.00436 0.00178 0.00078 0.00049 0.00195 0.00129 0.00061 0.00024 0.00010 0.00006 0.00006\n"
    " -120.9 -116.4 -127.3 -126.8 60.3 53.8 59.1 51.6 -138.3 -152.1 -175.7\n"
    " 160.2 -172.0 157.0 -175.4 39.6 13.8 37.0 -0.9 -150.9 86.3 6.2\n"
    " 97.0 124.9 93.6 119.0 112.8 94.5 109.6 85.4 0.0 2.2 0.4\n"
    "  WETTZELL\n"
    " 0.00515 0.00176 0.00108 0.00048 0.00194 0.00096 0.00061 0.00004 0.00052 0.00028 0.00021\n"
    " 0.00197 0.00050 0.00044 0.00014 0.00037 0.00025 0.00011 0.00005 0.00006 0.00004 0.00003\n"
    " 0.00033 0.00014 0.00004 0.00004 0.00032 0.00006 0.00009 0.00003 0.00002 0.00000 0.00001\n"
    " -71.1 -40.5 -88.1 -43.0 -63.0 -95.8 -65.2 -162.6 11.3 6.2 1.3\n"
    " 79.0 113.1 57.7 111.5 100.6 36.0 97.4 -22.4 -175.6 -164.3 -177.6\n"
    " -36.6 -5.5 -21.2 -10.3 47.0 -5.5 42.1 142.3 143.8 120.4 -178.4\n";

static const struct {
    const char *station;
    const char *utc;
    double enu_m[3];
} SESSIONS[] = {
    {"TSUKUB32", "2014-05-06T00:00:10.000", {-0.000504, -0.001963, -0.005330}},
    {"TSUKUB32", "2014-05-06T05:41:50.000", {-0.003430, 0.001191, 0.014938}},
    {"TSUKUB32", "2014-05-06T11:45:04.000", {0.002110, 0.001661, -0.001606}},
    {"TSUKUB32", "2014-05-06T17:33:00.000", {0.000833, -0.001232, -0.006978}},
    {"TSUKUB32", "2014-05-06T23:49:49.000", {0.000408, -0.001082, -0.004594}},
    {"HART15M", "2014-05-06T00:00:10.000", {0.000448, 0.000018, 0.011905}},
    {"HART15M", "2014-05-06T05:56:23.000", {-0.001028, -0.000466, -0.009164}},
    {"HART15M", "2014-05-06T11:34:17.000", {-0.000219, 0.000979, 0.007072}},
    {"HART15M", "2014-05-06T16:40:01.000", {0.000790, 0.000103, -0.004531}},
    {"KOKEE", "2018-03-02T18:45:31.000", {-0.003695, -0.000075, 0.004343}},
    {"KOKEE", "2018-03-02T18:58:38.000", {-0.003654, 0.000713, 0.006605}},
    {"KOKEE", "2018-03-02T19:13:19.000", {-0.003545, 0.001599, 0.008962}},
    {"KOKEE", "2018-03-02T19:26:49.000", {-0.003389, 0.002407, 0.010938}},
    {"KOKEE", "2018-03-02T19:42:49.000", {-0.003139, 0.003340, 0.013014}},
    {"WETTZELL", "2018-03-02T18:45:31.000", {0.000951, 0.000423, -0.000600}},
    {"WETTZELL", "2018-03-02T18:58:38.000", {0.001266, 0.000375, 0.000245}},
    {"WETTZELL", "2018-03-02T19:13:19.000", {0.001605, 0.000315, 0.001220}},
    {"WETTZELL", "2018-03-02T19:26:49.000", {0.001902, 0.000256, 0.002130}},
    {"WETTZELL", "2018-03-02T19:42:49.000", {0.002229, 0.000180, 0.003210}},
};

static const double SESSION_LIMIT_M = 0.51e-6; /* half the last digit */

static void ocean_loading_of_two_sessions(void **state)
{
    (void)state;
    wfi_line_reader reader;
    wfi_line_reader_open_memory(&reader, "sessions.blq", SESSIONS_BLQ, strlen(SESSIONS_BLQ));
    wfi_blq blq = {0};
    wf_error err = WF_ERROR_INIT;
    wf_check_ok(wfi_blq_parse(&blq, &reader, &err), &err);
    for (size_t i = 0; i < sizeof SESSIONS / sizeof SESSIONS[0]; i++) {
        const wfi_blq_station *station = NULL;
        wfi_ocean_loading loading;
        wfi_ocean_phases phases;
        double enu_m[3];
        wf_instant t;
        wf_check_ok(wf_instant_parse(&t, SESSIONS[i].utc, &err), &err);
        wf_check_ok(wfi_blq_find(&blq, SESSIONS[i].station, &station, &err), &err);
        wfi_ocean_loading_set(&loading, station);
        wfi_ocean_phases_at(&phases, time_of(t));
        wfi_ocean_loading_at(&loading, &phases, enu_m);
        for (int k = 0; k < 3; k++)
            wf_check_near(SESSIONS[i].station, enu_m[k], SESSIONS[i].enu_m[k], SESSION_LIMIT_M,
                          "m");
    }
    wfi_blq_release(&blq);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(whole_tide_of_2009),
        cmocka_unit_test(whole_tide_of_2015),
        cmocka_unit_test(diurnal_lag),
        cmocka_unit_test(dependence_on_latitude),
        cmocka_unit_test(diurnal_lines),
        cmocka_unit_test(ocean_loading_of_a_day),
        cmocka_unit_test(arguments_of_the_main_waves),
        cmocka_unit_test(ocean_loading_of_two_sessions),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
