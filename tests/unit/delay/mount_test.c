/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "scene.h"

#include "delay/atmosphere.h"
#include "delay/mount.h"

static const double DEG = 3.14159265358979323846 / 180.0;

/* The factors that Nothnagel 2009 (J. Geodesy 83, 787) and Sovers, Fanselow and Jacobs 1998 (Rev.
 * Mod. Phys. 70, 1393) write for each mount. */
static double published(wf_mount mount, double latitude, double azimuth, double elevation)
{
    const double sin_declination =
        sin(latitude) * sin(elevation) + cos(latitude) * cos(elevation) * cos(azimuth);
    switch (mount) {
    case WF_MOUNT_EQUATORIAL:
        return sqrt(1.0 - sin_declination * sin_declination);
    case WF_MOUNT_XY_NORTH:
        return sqrt(1.0 - pow(cos(elevation) * cos(azimuth), 2.0));
    case WF_MOUNT_XY_EAST:
        return sqrt(1.0 - pow(cos(elevation) * sin(azimuth), 2.0));
    case WF_MOUNT_ALTAZ:
    case WF_MOUNT_NASMYTH_RIGHT:
    case WF_MOUNT_NASMYTH_LEFT:
    default:
        return cos(elevation);
    }
}

/* Rounding, where the square root is of little: 1e-8. */
static void factors_are_the_published_ones(void **state)
{
    (void)state;
    for (int mount = WF_MOUNT_ALTAZ; mount <= WF_MOUNT_NASMYTH_LEFT; mount++)
        for (int latitude = -80; latitude <= 80; latitude += 32)
            for (int azimuth = 0; azimuth < 360; azimuth += 37)
                for (int elevation = 2; elevation <= 90; elevation += 11)
                    wf_check_near(
                        "factor",
                        wfi_mount_factor((wf_mount)mount, latitude * DEG, azimuth * DEG,
                                         elevation * DEG),
                        published((wf_mount)mount, latitude * DEG, azimuth * DEG, elevation * DEG),
                        2e-8, "");
}

static double refraction_arcmin(const wfi_weather *weather, double elevation_deg)
{
    return wfi_refraction_rad(weather, elevation_deg * DEG) / DEG * 60.0;
}

/* Source: refraction of radio waves is N cot e, N = 77.6 p/T + 3.73e5 e/T^2 in 1e-6 (ITU-R P.453);
 * 1013.25 hPa, 15 deg C, half of 17.0 hPa of vapour: N = 272.9 + 38.2 = 311e-6. Near 45 degrees the
 * flat Earth is good to 1e-3 of it, and eraRefco's gas law to 2 %. At 5 degrees about 10 arcmin
 * (optical 9.9: Bennett 1982), of which vapour adds a tenth. */
static void refraction_is_that_of_the_air(void **state)
{
    (void)state;
    const wfi_weather weather = {
        .pressure_hpa = 1013.25, .temperature_c = 15.0, .relative_humidity = 0.5};
    wf_check_near("45 degrees", refraction_arcmin(&weather, 45.0), 311e-6 / DEG * 60.0, 0.022,
                  "arcmin");
    wf_check_near("5 degrees", refraction_arcmin(&weather, 5.0), 10.6, 0.5, "arcmin");
    assert_true(refraction_arcmin(&weather, 1.0) == refraction_arcmin(&weather, 3.0));
    assert_true(refraction_arcmin(&weather, -30.0) == refraction_arcmin(&weather, 3.0));
    assert_true(fabs(refraction_arcmin(&weather, 90.0)) < 1e-9);
}

static wfi_atmosphere air_of(const wf_station *station)
{
    wfi_atmosphere air = {0};
    wf_error err = WF_ERROR_INIT;
    wf_check_ok(wfi_atmosphere_set(&air, station, NULL, 0.3, 0.8, 300.0, &err), &err);
    return air;
}

/* Between records straight, held at the ends; what they leave out is that of the season. */
static void weather_is_interpolated(void **state)
{
    (void)state;
    const wf_weather records[] = {
        {scene_time("2026-03-01T12:00:00"), 980.0, 5.0, NAN},
        {scene_time("2026-03-01T13:00:00"), 984.0, 7.0, NAN},
        {scene_time("2026-03-01T15:00:00"), 980.0, 6.0, NAN},
    };
    const wf_station station = {.weather = records, .n_weather = 3};
    wfi_atmosphere air = air_of(&station);
    static const struct {
        const char *time;
        double pressure_hpa, temperature_c;
    } cases[] = {{"2026-03-01T00:00:00", 980.0, 5.0}, {"2026-03-01T12:00:00", 980.0, 5.0},
                 {"2026-03-01T12:15:00", 981.0, 5.5}, {"2026-03-01T13:00:00", 984.0, 7.0},
                 {"2026-03-01T14:00:00", 982.0, 6.5}, {"2026-03-09T00:00:00", 980.0, 6.0}};
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        const wfi_weather w = wfi_weather_at(&air, scene_time(cases[i].time));
        wf_check_near("pressure", w.pressure_hpa, cases[i].pressure_hpa, 1e-10, "hPa");
        wf_check_near("temperature", w.temperature_c, cases[i].temperature_c, 1e-12, "deg C");
        assert_true(w.has_pressure && w.has_temperature && !w.has_humidity);
    }
    wf_instant next;
    assert_true(wfi_atmosphere_next_record(&air, scene_time("2026-03-01T12:00:00"), &next));
    assert_true(wf_instant_difference_s(next, records[1].time) == 0.0);
    assert_false(wfi_atmosphere_next_record(&air, scene_time("2026-03-01T15:00:00"), &next));
    wfi_atmosphere_release(&air);
}

/* Closed form: in the zenith all mapping functions are 1 (that of height is 0), gradients 1/0. */
static void zenith_delays_are_those_of_the_job(void **state)
{
    (void)state;
    const wf_weather record = {{0, 0.0}, 970.0, NAN, NAN};
    const wf_station station = {.weather = &record,
                                .n_weather = 1,
                                .zenith_wet_delay_m = 0.12,
                                .gradient_north_m = 1e-3,
                                .gradient_east_m = -5e-4};
    wfi_atmosphere air = air_of(&station);
    const wf_instant t = scene_time("2026-03-01T12:00:00");
    const wfi_troposphere zenith = wfi_troposphere_at(&air, t, 0.0, 90.0 * DEG);
    const double c = 299792458.0;
    wf_check_near("hydrostatic", zenith.hydrostatic_s * c,
                  0.0022768 * 970.0 / (1.0 - 0.00266 * cos(1.6) - 2.8e-7 * 300.0), 1e-12, "m");
    wf_check_near("wet", zenith.wet_s * c, 0.12, 1e-15, "m");
    /* towards the east at 30 degrees: 1/(0.5 x 0.57735 + 0.0032) = 3.4261226 */
    wf_check_near("gradient", wfi_troposphere_at(&air, t, 90.0 * DEG, 30.0 * DEG).gradients_s * c,
                  -5e-4 * 3.4261226, 1e-10, "m");
    /* low down the delay grows, and stops at the lowest elevation: 26 to 27 air masses at 1 deg */
    const wfi_troposphere low = wfi_troposphere_at(&air, t, 0.0, 1.0 * DEG);
    assert_true(low.hydrostatic_s > 24.0 * zenith.hydrostatic_s &&
                low.hydrostatic_s < 28.0 * zenith.hydrostatic_s);
    assert_true(wfi_troposphere_at(&air, t, 0.0, -20.0 * DEG).hydrostatic_s == low.hydrostatic_s);
    wfi_atmosphere_release(&air);
}

/* VMF1 of a site takes the place of GMF; its coefficients run straight between records. */
static void coefficients_of_the_job_replace_the_global_ones(void **state)
{
    (void)state;
    const wf_mapping records[] = {{scene_time("2026-03-01T06:00:00"), 0.00120, 0.00050},
                                  {scene_time("2026-03-01T12:00:00"), 0.00128, 0.00060}};
    const wf_station station = {.mapping = records, .n_mapping = 2, .zenith_wet_delay_m = 1.0};
    wfi_atmosphere air = air_of(&station);
    const wfi_troposphere got =
        wfi_troposphere_at(&air, scene_time("2026-03-01T09:00:00"), 0.0, 10.0 * DEG);
    wf_check_near("wet", got.wet_s * 299792458.0, wfi_map_wet(0.00055, 10.0 * DEG), 1e-12, "m");
    wfi_atmosphere_release(&air);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(factors_are_the_published_ones),
        cmocka_unit_test(refraction_is_that_of_the_air),
        cmocka_unit_test(weather_is_interpolated),
        cmocka_unit_test(zenith_delays_are_those_of_the_job),
        cmocka_unit_test(coefficients_of_the_job_replace_the_global_ones),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
