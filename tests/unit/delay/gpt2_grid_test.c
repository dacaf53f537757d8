/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "scene.h"

#include "delay/atmosphere.h"
#include "delay/gpt2_grid.h"

static const double DEGREE = 3.14159265358979323846 / 180.0;
enum { N_POINTS = 36 * 72, TEXT_BYTES = N_POINTS * 200 };

/* What does not turn with the seasons, and is other at every point: the geoid is the latitude, the
 * ground the longitude. */
static size_t print_point(char *text, double latitude, double longitude)
{
    return (size_t)snprintf(text, 200,
                            "%5.1f %5.1f  101325 0 0 0 0  288.15 0 0 0 0  5.00 0 0 0 0  "
                            "-6.5 0 0 0 0  %6.2f %6.2f  1.2500 0 0 0 0  0.5500 0 0 0 0\n",
                            latitude, longitude, latitude, longitude);
}

/* To be freed. West of 180 degrees west_deg is taken off: 0 or 360, as files have it. */
static char *grid_text_from(double west_deg)
{
    char *text = malloc(TEXT_BYTES);
    assert_non_null(text);
    size_t n = (size_t)sprintf(text, "%% latitude longitude ...\n");
    for (int i = 0; i < 36; i++)
        for (int j = 0; j < 72; j++)
            n += print_point(text + n, 87.5 - 5.0 * i, 2.5 + 5.0 * j - (j < 36 ? 0.0 : west_deg));
    return text;
}

static char *grid_text(void)
{
    return grid_text_from(0.0);
}

static wf_status parse(wfi_gpt2_grid *grid, const char *text, wf_error *err)
{
    wfi_line_reader reader;
    wfi_line_reader_open_memory(&reader, "air.grd", text, strlen(text));
    return wfi_gpt2_grid_parse(grid, &reader, err);
}

static wfi_gpt2_grid whole_grid(void)
{
    wfi_gpt2_grid grid = {0};
    wf_error err = WF_ERROR_INIT;
    char *text = grid_text();
    wf_check_ok(parse(&grid, text, &err), &err);
    assert_int_equal(grid.n_points, N_POINTS);
    free(text);
    return grid;
}

static double blend_ground(const wfi_gpt2 *at)
{
    double ground = 0;
    for (int k = 0; k < WFI_GPT2_CORNERS; k++)
        ground += at->weight[k] * at->corner[k].ground_m;
    return ground;
}

static double blend_geoid(const wfi_gpt2 *at)
{
    double geoid = 0;
    for (int k = 0; k < WFI_GPT2_CORNERS; k++)
        geoid += at->weight[k] * at->corner[k].geoid_m;
    return geoid;
}

static void west_may_be_negative(void **state)
{
    (void)state;
    wfi_gpt2_grid grid = {0};
    wf_error err = WF_ERROR_INIT;
    char *text = grid_text_from(360.0);
    wf_check_ok(parse(&grid, text, &err), &err);
    const wfi_gpt2 at = wfi_gpt2_grid_around(&grid, -101.0 * DEGREE, 2.5 * DEGREE);
    wf_check_near("longitude", blend_ground(&at), -101.0, 1e-10, "deg");
    wfi_gpt2_grid_release(&grid);
    free(text);
}

/* Bilinear interpolation gives what is linear back; across Greenwich it lies between 357.5 and 2.5,
 * at a pole it is the nearest point's. */
static void points_around_a_place(void **state)
{
    (void)state;
    static const struct {
        double latitude, longitude, want_geoid, want_ground;
    } places[] = {
        {48.2, 16.37, 48.2, 16.37},  {-33.0, 200.1, -33.0, 200.1}, {2.5, 2.5, 2.5, 2.5},
        {10.0, -120.0, 10.0, 240.0}, {0.0, 0.0, 0.0, 180.0},       {87.4, 100.0, 87.4, 100.0},
        {89.9, 11.0, 87.5, 12.5},    {-90.0, 359.9, -87.5, 357.5}, {-87.5, 181.0, -87.5, 182.5}};
    wfi_gpt2_grid grid = whole_grid();
    for (size_t i = 0; i < sizeof places / sizeof places[0]; i++) {
        const wfi_gpt2 at =
            wfi_gpt2_grid_around(&grid, places[i].longitude * DEGREE, places[i].latitude * DEGREE);
        wf_check_near("latitude", blend_geoid(&at), places[i].want_geoid, 1e-10, "deg");
        wf_check_near("longitude", blend_ground(&at), places[i].want_ground, 1e-10, "deg");
    }
    wfi_gpt2_grid_release(&grid);
}

/* Sea level of the standard atmosphere, of 50 % humidity: 12.79 hPa of 17.04 are 8.1 g/kg. Here
 * 5 g/kg: e = 0.005 x 1013.25/(0.622 + 0.378 x 0.005) = 8.12 hPa (closed form), over Magnus' 17.04
 * at 15 deg C. */
static void a_station_takes_it_where_no_record_does(void **state)
{
    (void)state;
    wfi_gpt2_grid grid = whole_grid();
    const wfi_gpt2 at = wfi_gpt2_grid_around(&grid, 22.5 * DEGREE, 12.5 * DEGREE);
    wf_weather record = {.pressure_hpa = 900.0, .temperature_c = NAN, .relative_humidity = NAN};
    wf_station station = {.name = "Alder"};
    const wf_instant t = scene_time("2026-03-01T12:00:00");
    const double height_m = 12.5 + 22.5; /* geoid and ground: the point's own height */
    for (size_t n = 0; n < 2; n++) {
        wfi_atmosphere air = {0};
        wf_error err = WF_ERROR_INIT;
        station.weather = &record;
        station.n_weather = n;
        wf_check_ok(
            wfi_atmosphere_set(&air, &station, &at, 22.5 * DEGREE, 12.5 * DEGREE, height_m, &err),
            &err);
        const wfi_weather weather = wfi_weather_at(&air, t);
        wf_check_near("pressure", weather.pressure_hpa, n == 0 ? 1013.25 : 900.0, 1e-9, "hPa");
        wf_check_near("temperature", weather.temperature_c, 15.0, 1e-9, "deg C");
        wf_check_near("humidity", weather.relative_humidity, 8.120 / 17.04, 1e-3, "");
        /* at the zenith a mapping function is 1 */
        const wfi_troposphere zenith = wfi_troposphere_at(&air, t, 0.0, 90.0 * DEGREE);
        wf_check_near("zenith", zenith.hydrostatic_s * 299792458.0,
                      wfi_zenith_hydrostatic_m(weather.pressure_hpa, 12.5 * DEGREE, height_m),
                      1e-12, "m");
        /* and at 10 degrees that of VMF1 with the grid's a, at the station's height */
        const wfi_troposphere low = wfi_troposphere_at(&air, t, 0.0, 10.0 * DEGREE);
        wf_check_near("10 degrees", low.hydrostatic_s / zenith.hydrostatic_s,
                      wfi_map_hydrostatic(1.25e-3, 61100.5, 12.5 * DEGREE, height_m, 10.0 * DEGREE),
                      1e-12, "");
        wfi_atmosphere_release(&air);
    }
    wfi_gpt2_grid_release(&grid);
}

static void check_refused(const char *text, const char *message)
{
    wfi_gpt2_grid grid = {0};
    wf_error err = WF_ERROR_INIT;
    wf_check_refused(parse(&grid, text, &err), WF_FORMAT, &err, message);
    wfi_gpt2_grid_release(&grid);
}

/* Put `with` over the text after `after`. */
static void put_over(char *text, const char *after, const char *with)
{
    char *at = strstr(text, after);
    assert_non_null(at);
    memcpy(at + strlen(after), with, strlen(with));
}

static void other_files_are_refused(void **state)
{
    (void)state;
    static const struct {
        const char *after, *with, *message;
    } faults[] = {
        {"87.5   7.5  1", "x", "line 3: number 3 is no number"},
        {" 87.5  12.5  ", "000013", "line 4: number 3 (pressure, Pa) is 13"},
        {" 87.5   7.5  ", "101325\n", "line 3: number 4 is missing"},
        {" 87.5   ", "3.5",
         "line 2: the point at latitude 87.5, longitude 3.5; expected 87.5, 2.5"},
    };
    for (size_t i = 0; i < sizeof faults / sizeof faults[0]; i++) {
        char *text = grid_text();
        put_over(text, faults[i].after, faults[i].with);
        check_refused(text, faults[i].message);
        free(text);
    }
    char *text = grid_text();
    *strstr(text, "-87.5 357.5") = '\0';
    check_refused(text, "air.grd ends after 2591 of the 2592 points");
    free(text);
    text = grid_text();
    print_point(text + strlen(text), -87.5, 2.5);
    check_refused(text, "line 2594: more than 2592 points");
    free(text);
    check_refused("", "air.grd ends after 0 of the 2592 points");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(west_may_be_negative),
        cmocka_unit_test(points_around_a_place),
        cmocka_unit_test(a_station_takes_it_where_no_record_does),
        cmocka_unit_test(other_files_are_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
