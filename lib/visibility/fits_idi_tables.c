/* SPDX-License-Identifier: GPL-3.0-or-later */
/* ARRAY_GEOMETRY, SOURCE, ANTENNA, FREQUENCY: who observed what at which frequencies. */
#include "visibility/fits_idi.h"

#include <erfa.h>
#include <math.h>
#include <stdint.h>

#include "base/status.h"
#include "delay/displacement.h"

#define N_ENTRIES(array) (sizeof(array) / sizeof(array)[0])

enum { BLOCK_BYTES = 65536, REAL_DIGITS = -15 };

static const double DAY_S = 86400.0;
static const double JULIAN_YEAR_S = 365.25 * 86400.0;
static const double JD_OF_MJD_0 = 2400000.5;
static const double DEGREES = 57.295779513082320877;    /* in a radian */
static const double ARCSECONDS = 206264.80624709635516; /* in a radian */

/* Turn of the Earth against the equinox in a day of UTC, degrees (AIPS Memo 114, DEGPDY). */
static const double DEGREES_PER_DAY = 360.9856449733;

/* ERFA warns of dates beyond its leap seconds; the last known offset holds there. */
static void terrestrial_time(wf_instant t, double *jd1, double *jd2)
{
    int32_t mjd = 0;
    int32_t second_of_day = 0;
    wf_instant_utc(t, &mjd, &second_of_day);
    const double tt_minus_tai_s = 32.184;
    *jd1 = JD_OF_MJD_0 + mjd;
    *jd2 = (second_of_day + t.fraction + wf_tai_minus_utc_s(t) + tt_minus_tai_s) / DAY_S;
}

/* Apparent sidereal time at 0h UTC of the reference day: what the apparent places in SOURCE are
 * to be held against. */
static double sidereal_time_deg(const wfi_fits_idi_setup *setup)
{
    double tt1 = 0;
    double tt2 = 0;
    terrestrial_time(setup->reference_0h, &tt1, &tt2);
    return DEGREES * eraGst06a(JD_OF_MJD_0 + setup->reference_mjd,
                               setup->orientation.ut1_minus_utc_s / DAY_S, tt1, tt2);
}

static void write_array_keywords(const wfi_fits_idi_setup *setup, fitsfile *file, int *fits)
{
    wfi_fits_idi_write_keywords(setup, file, 1, fits);
    fits_write_key_str(file, "ARRNAM", "VLBI", NULL, fits);
    fits_write_key_str(file, "FRAME", "GEOCENTRIC", NULL, fits);
    static const char *const axes[] = {"ARRAYX", "ARRAYY", "ARRAYZ"};
    for (size_t i = 0; i < N_ENTRIES(axes); i++)
        fits_write_key_dbl(file, axes[i], 0.0, REAL_DIGITS, "m, positions are geocentric", fits);
    fits_write_key_lng(file, "NUMORB", 0, "no orbiting stations", fits);
    fits_write_key_dbl(file, "FREQ", setup->reference_hz, REAL_DIGITS, "Hz", fits);
    fits_write_key_str(file, "TIMSYS", "UTC", "scale of all times", fits);
    fits_write_key_str(file, "TIMESYS", "UTC", "scale of all times", fits);
    fits_write_key_dbl(file, "GSTIA0", sidereal_time_deg(setup), REAL_DIGITS,
                       "deg, apparent sidereal time at 0h of RDATE", fits);
    fits_write_key_dbl(file, "DEGPDY", DEGREES_PER_DAY, REAL_DIGITS, "deg/day", fits);
    fits_write_key_dbl(file, "UT1UTC", setup->orientation.ut1_minus_utc_s, REAL_DIGITS, "s", fits);
    fits_write_key_dbl(file, "IATUTC", wf_tai_minus_utc_s(setup->reference_0h), REAL_DIGITS, "s",
                       fits);
    fits_write_key_dbl(file, "POLARX", setup->orientation.pole_x_rad * ARCSECONDS, REAL_DIGITS,
                       "arcsec", fits);
    fits_write_key_dbl(file, "POLARY", setup->orientation.pole_y_rad * ARCSECONDS, REAL_DIGITS,
                       "arcsec", fits);
}

/* AIPS Memo 114, MNTSTA. */
static int32_t mount_code(wf_mount mount)
{
    static const int32_t codes[] = {
        [WF_MOUNT_ALTAZ] = 0,   [WF_MOUNT_EQUATORIAL] = 1,    [WF_MOUNT_XY_NORTH] = 3,
        [WF_MOUNT_XY_EAST] = 3, [WF_MOUNT_NASMYTH_RIGHT] = 4, [WF_MOUNT_NASMYTH_LEFT] = 5,
    };
    return codes[mount];
}

static void put_station(wfi_fits_table *table, const wfi_fits_idi_setup *setup, size_t i_station)
{
    const wf_observation *observation = setup->observation;
    const wf_station *station = &observation->stations[i_station];
    double position_m[3];
    wfi_site_position(station, &observation->delay_terms, observation->scans[0].start, position_m);
    wfi_fits_put_text(table, station->name, 8);
    for (int k = 0; k < 3; k++)
        wfi_fits_put_double(table, position_m[k]);
    /* the motion that the delays followed */
    const double moves = observation->delay_terms.station_velocity ? 1.0 : 0.0;
    for (int k = 0; k < 3; k++)
        wfi_fits_put_float(table, moves * station->velocity_itrf_m_per_year[k] / JULIAN_YEAR_S);
    wfi_fits_put_int32(table, (int32_t)i_station + 1);
    wfi_fits_put_int32(table, mount_code(station->mount));
    wfi_fits_put_float(table, station->axis_offset_m);
    wfi_fits_repeat_float(table, 0.0, 2);
    wfi_fits_put_float(table, station->diameter_m);
}

wf_status wfi_fits_idi_write_array_geometry(const wfi_fits_idi_setup *setup, fitsfile *file,
                                            int *fits, wf_error *err)
{
    const wfi_fits_column columns[] = {
        {"ANNAME", "", 'A', 8},
        {"STABXYZ", "METERS", 'D', 3},
        {"DERXYZ", "METERS/SEC", 'E', 3},
        {"ORBPARM", "", 'D', 0},
        {"NOSTA", "", 'J', 1},
        {"MNTSTA", "", 'J', 1},
        {"STAXOF", "METERS", 'E', 3},
        {"DIAMETER", "METERS", 'E', 1},
    };
    wfi_fits_table table;
    WFI_TRY(wfi_fits_table_begin(&table, file, "ARRAY_GEOMETRY", columns, N_ENTRIES(columns),
                                 BLOCK_BYTES, fits, err));
    write_array_keywords(setup, file, fits);
    for (size_t i = 0; i < setup->observation->n_stations; i++) {
        put_station(&table, setup, i);
        wfi_fits_table_end_row(&table, fits);
    }
    wfi_fits_table_finish(&table, fits);
    wfi_fits_seal(file, fits);
    return WF_OK;
}

/* Place of a source on the true equator and equinox of the first scan, seen from the geocentre. */
static void apparent_place(const wfi_fits_idi_setup *setup, const wf_source *source,
                           double *right_ascension_rad, double *declination_rad)
{
    double tt1 = 0;
    double tt2 = 0;
    double origins_rad = 0;
    terrestrial_time(setup->observation->scans[0].start, &tt1, &tt2);
    eraAtci13(source->right_ascension_icrf_rad, source->declination_icrf_rad, 0, 0, 0, 0, tt1, tt2,
              right_ascension_rad, declination_rad, &origins_rad);
    *right_ascension_rad = eraAnp(*right_ascension_rad - origins_rad);
}

static void put_source(wfi_fits_table *table, const wfi_fits_idi_setup *setup, size_t i_source)
{
    const size_t n_bands = setup->observation->n_bands;
    const wf_source *source = &setup->observation->sources[i_source];
    double apparent_ra_rad = 0;
    double apparent_dec_rad = 0;
    apparent_place(setup, source, &apparent_ra_rad, &apparent_dec_rad);
    wfi_fits_put_int32(table, (int32_t)i_source + 1);
    wfi_fits_put_text(table, source->name, 16);
    wfi_fits_put_int32(table, 0); /* QUAL */
    wfi_fits_put_text(table, "", 4);
    wfi_fits_put_int32(table, 1);                   /* FREQID */
    wfi_fits_repeat_float(table, 0.0, 6 * n_bands); /* fluxes, ALPHA, FREQOFF */
    wfi_fits_put_double(table, eraAnp(source->right_ascension_icrf_rad) * DEGREES);
    wfi_fits_put_double(table, source->declination_icrf_rad * DEGREES);
    wfi_fits_put_text(table, "J2000", 8);
    wfi_fits_put_double(table, apparent_ra_rad * DEGREES);
    wfi_fits_put_double(table, apparent_dec_rad * DEGREES);
    wfi_fits_repeat_double(table, 0.0, n_bands); /* SYSVEL */
    wfi_fits_put_text(table, "GEOCENTR", 8);
    wfi_fits_put_text(table, "RADIO", 8);
    wfi_fits_repeat_double(table, 0.0, n_bands + 2); /* RESTFREQ, PMRA, PMDEC */
    wfi_fits_put_float(table, 0.0);                  /* PARALLAX */
}

wf_status wfi_fits_idi_write_source(const wfi_fits_idi_setup *setup, fitsfile *file, int *fits,
                                    wf_error *err)
{
    const size_t n_bands = setup->observation->n_bands;
    const wfi_fits_column columns[] = {
        {"SOURCE_ID", "", 'J', 1},
        {"SOURCE", "", 'A', 16},
        {"QUAL", "", 'J', 1},
        {"CALCODE", "", 'A', 4},
        {"FREQID", "", 'J', 1},
        {"IFLUX", "JY", 'E', n_bands},
        {"QFLUX", "JY", 'E', n_bands},
        {"UFLUX", "JY", 'E', n_bands},
        {"VFLUX", "JY", 'E', n_bands},
        {"ALPHA", "", 'E', n_bands},
        {"FREQOFF", "HZ", 'E', n_bands},
        {"RAEPO", "DEGREES", 'D', 1},
        {"DECEPO", "DEGREES", 'D', 1},
        {"EQUINOX", "", 'A', 8},
        {"RAAPP", "DEGREES", 'D', 1},
        {"DECAPP", "DEGREES", 'D', 1},
        {"SYSVEL", "METERS/SEC", 'D', n_bands},
        {"VELTYP", "", 'A', 8},
        {"VELDEF", "", 'A', 8},
        {"RESTFREQ", "HZ", 'D', n_bands},
        {"PMRA", "DEGREES/DAY", 'D', 1},
        {"PMDEC", "DEGREES/DAY", 'D', 1},
        {"PARALLAX", "ARCSEC", 'E', 1},
    };
    wfi_fits_table table;
    WFI_TRY(wfi_fits_table_begin(&table, file, "SOURCE", columns, N_ENTRIES(columns), BLOCK_BYTES,
                                 fits, err));
    wfi_fits_idi_write_keywords(setup, file, 1, fits);
    for (size_t i = 0; i < setup->observation->n_sources; i++) {
        put_source(&table, setup, i);
        wfi_fits_table_end_row(&table, fits);
    }
    wfi_fits_table_finish(&table, fits);
    wfi_fits_seal(file, fits);
    return WF_OK;
}

static int32_t n_levels(unsigned bits)
{
    return bits >= 31 ? INT32_MAX : (int32_t)(UINT32_C(1) << bits);
}

/* Feeds named as the products name them; those that were not recorded have no visibility. */
static void put_feeds(wfi_fits_table *table, const wfi_fits_idi_setup *setup)
{
    const size_t n_bands = setup->observation->n_bands;
    wfi_fits_put_text(table, setup->linear ? "X" : "R", 1);
    wfi_fits_repeat_float(table, 0.0, n_bands);
    wfi_fits_put_text(table, setup->linear ? "Y" : "L", 1);
    wfi_fits_repeat_float(table, setup->linear ? 90.0 : 0.0, n_bands);
}

wf_status wfi_fits_idi_write_antenna(const wfi_fits_idi_setup *setup, fitsfile *file, int *fits,
                                     wf_error *err)
{
    const wf_observation *observation = setup->observation;
    const wfi_fits_column columns[] = {
        {"TIME", "DAYS", 'D', 1},
        {"TIME_INTERVAL", "DAYS", 'E', 1},
        {"ANNAME", "", 'A', 8},
        {"ANTENNA_NO", "", 'J', 1},
        {"ARRAY", "", 'J', 1},
        {"FREQID", "", 'J', 1},
        {"NO_LEVELS", "", 'J', 1},
        {"POLTYA", "", 'A', 1},
        {"POLAA", "DEGREES", 'E', observation->n_bands},
        {"POLTYB", "", 'A', 1},
        {"POLAB", "DEGREES", 'E', observation->n_bands},
    };
    wfi_fits_table table;
    WFI_TRY(wfi_fits_table_begin(&table, file, "ANTENNA", columns, N_ENTRIES(columns), BLOCK_BYTES,
                                 fits, err));
    wfi_fits_idi_write_keywords(setup, file, 1, fits);
    fits_write_key_lng(file, "NOPCAL", 0, "no polarization calibration", fits);
    fits_write_key_str(file, "POLTYPE", setup->linear ? "X-Y LIN" : "APPROX", NULL, fits);
    const wf_scan *first = &observation->scans[0];
    const wf_scan *last = &observation->scans[observation->n_scans - 1];
    const double length_s = wf_instant_difference_s(last->start, first->start) + last->duration_s;
    for (size_t i = 0; i < observation->n_stations; i++) {
        wfi_fits_put_double(&table,
                            wfi_fits_idi_days(setup, wf_instant_add(first->start, length_s / 2)));
        wfi_fits_put_float(&table, length_s / DAY_S);
        wfi_fits_put_text(&table, observation->stations[i].name, 8);
        wfi_fits_put_int32(&table, (int32_t)i + 1);
        wfi_fits_repeat_int32(&table, 1, 2); /* ARRAY, FREQID */
        wfi_fits_put_int32(&table, n_levels(setup->options->bits[i]));
        put_feeds(&table, setup);
        wfi_fits_table_end_row(&table, fits);
    }
    wfi_fits_table_finish(&table, fits);
    wfi_fits_seal(file, fits);
    return WF_OK;
}

/* Channels ascend in every band, so every band is an upper sideband. */
wf_status wfi_fits_idi_write_frequency(const wfi_fits_idi_setup *setup, fitsfile *file, int *fits,
                                       wf_error *err)
{
    const wf_observation *observation = setup->observation;
    const size_t n_bands = observation->n_bands;
    const wfi_fits_column columns[] = {
        {"FREQID", "", 'J', 1},           {"BANDFREQ", "HZ", 'D', n_bands},
        {"CH_WIDTH", "HZ", 'E', n_bands}, {"TOTAL_BANDWIDTH", "HZ", 'E', n_bands},
        {"SIDEBAND", "", 'J', n_bands},   {"BB_CHAN", "", 'J', n_bands},
    };
    wfi_fits_table table;
    WFI_TRY(wfi_fits_table_begin(&table, file, "FREQUENCY", columns, N_ENTRIES(columns),
                                 BLOCK_BYTES, fits, err));
    wfi_fits_idi_write_keywords(setup, file, 2, fits);
    wfi_fits_put_int32(&table, 1);
    for (size_t i = 0; i < n_bands; i++)
        wfi_fits_put_double(&table, wf_band_first_channel_hz(observation, i) - setup->reference_hz);
    wfi_fits_repeat_float(&table, setup->channel_width_hz, n_bands);
    wfi_fits_repeat_float(
        &table, setup->channel_width_hz * (double)observation->correlation.n_channels, n_bands);
    wfi_fits_repeat_int32(&table, 1, n_bands);
    wfi_fits_repeat_int32(&table, 0, n_bands);
    wfi_fits_table_end_row(&table, fits);
    wfi_fits_table_finish(&table, fits);
    wfi_fits_seal(file, fits);
    return WF_OK;
}
