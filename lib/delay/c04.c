/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The IERS series EOP C04: one line a day under a header of words. */
#include "delay/c04.h"

#include <ctype.h>
#include <erfa.h>
#include <erfam.h>
#include <math.h>
#include <string.h>

#include "base/status.h"
#include "base/text.h"
#include "delay/columns.h"
#include "delay/constants.h"
#include "delay/eop_file.h"

/* Columns of what is used. Year, month and day stand in front in all. */
typedef struct layout {
    const char *name;
    wfi_columns mjd, pole_x, pole_y, ut1, dx, dy;
} layout;

static const wfi_columns YEAR = {1, 4, "the year"};
static const wfi_columns MONTH = {5, 8, "the month"};
static const wfi_columns DAY = {9, 12, "the day"};

static const layout C04_14 = {"EOP 14 C04",
                              {13, 19, "the modified Julian day"},
                              {20, 30, "polar motion x"},
                              {31, 41, "polar motion y"},
                              {42, 53, "UT1-UTC"},
                              {66, 76, "dX"},
                              {77, 87, "dY"}};

static const layout C04_20 = {"EOP 20 C04",
                              {17, 26, "the modified Julian day"},
                              {27, 38, "polar motion x"},
                              {39, 50, "polar motion y"},
                              {51, 62, "UT1-UTC"},
                              {63, 74, "dX"},
                              {75, 86, "dY"}};

enum { HOUR_FIRST = 13, HOUR_LAST = 16 };

/* The series starts in 1962 (MJD 37665); instants of UTC with leap seconds, in 1972. */
enum { UTC_STARTS_MJD = 41317 };

static bool is_number(const wfi_line_reader *reader, size_t first, size_t last, double *value)
{
    return reader->n >= last && wfi_parse_double(value, reader->line + first - 1, last - first + 1);
}

/* A line of data begins with a year; headers do not, with or without a #. */
static bool begins_with_year(const wfi_line_reader *reader)
{
    double year = 0;
    return is_number(reader, YEAR.first, YEAR.last, &year) && year >= 1900.0 && year < 2200.0 &&
           (reader->n == 4 || !isdigit((unsigned char)reader->line[4]));
}

/* The field after the date is the day number of 14 C04, and the hour of 20 C04. */
static const layout *recognise(const wfi_line_reader *reader)
{
    double value = 0;
    if (is_number(reader, HOUR_FIRST, HOUR_LAST, &value) && value >= 0.0 && value < 24.0 &&
        is_number(reader, C04_20.mjd.first, C04_20.mjd.last, &value) && value >= 37000.0)
        return &C04_20;
    if (is_number(reader, C04_14.mjd.first, C04_14.mjd.last, &value) && value >= 37000.0)
        return &C04_14;
    return NULL;
}

static wf_status read_field(const wfi_line_reader *reader, wfi_columns columns,
                            const layout *columns_of, double unit, double *value, wf_error *err)
{
    WFI_TRY(wfi_columns_read(reader, columns, columns_of->name, value, err));
    if (isnan(*value))
        return wfi_fail(err, WF_FORMAT,
                        "%s: line %ld: columns %zu-%zu are empty where %s has %s: the file is "
                        "damaged, or cut off; fetch it again",
                        reader->path, reader->number, columns.first, columns.last, columns_of->name,
                        columns.what);
    *value *= unit;
    return WF_OK;
}

/* The MJD rules; the date must agree with it, or columns are displaced. */
static wf_status read_date(const wfi_line_reader *reader, const layout *l,
                           wf_earth_orientation_day *day, wf_error *err)
{
    double year = 0, month = 0, day_of_month = 0, mjd = 0, mjd_zero = 0, of_date = -1.0;
    WFI_TRY(read_field(reader, YEAR, l, 1.0, &year, err));
    WFI_TRY(read_field(reader, MONTH, l, 1.0, &month, err));
    WFI_TRY(read_field(reader, DAY, l, 1.0, &day_of_month, err));
    WFI_TRY(read_field(reader, l->mjd, l, 1.0, &mjd, err));
    if (!(mjd >= 0.0 && mjd < 100000.0) || fabs(year) > 9999.0 || fabs(month) > 99.0 ||
        fabs(day_of_month) > 99.0 ||
        eraCal2jd((int)year, (int)month, (int)day_of_month, &mjd_zero, &of_date) != 0 ||
        floor(mjd) != of_date)
        return wfi_fail(err, WF_FORMAT,
                        "%s: line %ld: the date %.12s and the modified Julian day %.10g do not "
                        "agree: the file is damaged; fetch it again",
                        reader->path, reader->number, reader->line, mjd);
    day->mjd = (int32_t)floor(mjd);
    day->second_of_day = (mjd - floor(mjd)) * WFI_DAY_S;
    return WF_OK;
}

static wf_status read_day(const wfi_line_reader *reader, const layout *l,
                          wf_earth_orientation_day *day, wf_error *err)
{
    *day = (wf_earth_orientation_day){0};
    WFI_TRY(read_date(reader, l, day, err));
    WFI_TRY(read_field(reader, l->pole_x, l, ERFA_DAS2R, &day->pole_x_rad, err));
    WFI_TRY(read_field(reader, l->pole_y, l, ERFA_DAS2R, &day->pole_y_rad, err));
    WFI_TRY(read_field(reader, l->ut1, l, 1.0, &day->ut1_minus_utc_s, err));
    WFI_TRY(read_field(reader, l->dx, l, ERFA_DAS2R, &day->celestial_pole_dx_rad, err));
    return read_field(reader, l->dy, l, ERFA_DAS2R, &day->celestial_pole_dy_rad, err);
}

static wf_status read_line(wfi_eop *eop, const wfi_line_reader *reader, const char *place,
                           void *layout_of_file, wf_error *err)
{
    const layout **l = layout_of_file;
    if (reader->line[0] == '#' || (*l == NULL && !begins_with_year(reader)))
        return WF_OK;
    if (*l == NULL)
        *l = recognise(reader);
    if (*l == NULL)
        return wfi_fail(err, WF_FORMAT,
                        "%s is no line of EOP 14 C04 (year, month, day, MJD) nor of EOP "
                        "20 C04 (year, month, day, hour, MJD): another file, or a damaged one",
                        place);
    wf_earth_orientation_day day;
    WFI_TRY(read_day(reader, *l, &day, err));
    return day.mjd < UTC_STARTS_MJD ? WF_OK : wfi_eop_append(eop, &day, place, err);
}

wf_status wfi_c04_read(wfi_eop *eop, const char *path, wf_error *err)
{
    const layout *l = NULL;
    WFI_TRY(wfi_eop_file_read(eop, path, read_line, &l, err));
    if (eop->n_days == 0)
        return wfi_fail(err, WF_FORMAT,
                        "%s holds no day of EOP 14 C04 or EOP 20 C04 (earth_orientation also "
                        "takes finals2000a)",
                        path);
    return WF_OK;
}
