/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The IERS series finals2000A: one line a day, parsed by columns since fields may touch. */
#include "delay/finals2000a.h"

#include <erfa.h>
#include <erfam.h>
#include <math.h>
#include <string.h>

#include "base/status.h"
#include "delay/columns.h"
#include "delay/eop_file.h"

static const char FORMAT[] = "finals2000A";

static const wfi_columns MJD = {8, 15, "the modified Julian day"};
static const wfi_columns POLE_X_A = {19, 27, "polar motion x"};
static const wfi_columns POLE_Y_A = {38, 46, "polar motion y"};
static const wfi_columns UT1_A = {59, 68, "UT1-UTC"};
static const wfi_columns DX_A = {98, 106, "dX"};
static const wfi_columns DY_A = {117, 125, "dY"};
static const wfi_columns POLE_X_B = {135, 144, "polar motion x of Bulletin B"};
static const wfi_columns POLE_Y_B = {145, 154, "polar motion y of Bulletin B"};
static const wfi_columns UT1_B = {155, 165, "UT1-UTC of Bulletin B"};
static const wfi_columns DX_B = {166, 175, "dX of Bulletin B"};
static const wfi_columns DY_B = {176, 185, "dY of Bulletin B"};

/* Columns, from 1, of the flags I (IERS) or P (prediction): polar motion, UT1, nutation. */
static const size_t FLAGS[] = {17, 58, 96};

static const double MAS2R = ERFA_DMAS2R;

/* Bulletin B where it is given, else Bulletin A. */
static wf_status read_best(const wfi_line_reader *reader, wfi_columns b, wfi_columns a, double unit,
                           double *value, wf_error *err)
{
    WFI_TRY(wfi_columns_read(reader, b, FORMAT, value, err));
    if (isnan(*value))
        WFI_TRY(wfi_columns_read(reader, a, FORMAT, value, err));
    *value *= unit;
    return WF_OK;
}

static wf_status read_mjd(const wfi_line_reader *reader, int32_t *mjd, wf_error *err)
{
    double value = 0;
    WFI_TRY(wfi_columns_read(reader, MJD, FORMAT, &value, err));
    /* the series starts at MJD 41684 (1973-01-02); six digits are far beyond its life */
    if (!(value >= 41000.0 && value < 100000.0) || value != floor(value))
        return wfi_fail(err, WF_FORMAT,
                        "%s: line %ld: columns %zu-%zu hold no modified Julian day at 0h: no "
                        "finals2000A file (earth_orientation also takes c04)",
                        reader->path, reader->number, MJD.first, MJD.last);
    *mjd = (int32_t)value;
    return WF_OK;
}

static bool is_predicted(const wfi_line_reader *reader)
{
    for (size_t i = 0; i < sizeof FLAGS / sizeof FLAGS[0]; i++)
        if (reader->n >= FLAGS[i] && reader->line[FLAGS[i] - 1] == 'P')
            return true;
    return false;
}

static wf_status read_day(const wfi_line_reader *reader, wf_earth_orientation_day *day,
                          wf_error *err)
{
    *day = (wf_earth_orientation_day){.predicted = is_predicted(reader)};
    WFI_TRY(read_mjd(reader, &day->mjd, err));
    WFI_TRY(read_best(reader, POLE_X_B, POLE_X_A, ERFA_DAS2R, &day->pole_x_rad, err));
    WFI_TRY(read_best(reader, POLE_Y_B, POLE_Y_A, ERFA_DAS2R, &day->pole_y_rad, err));
    WFI_TRY(read_best(reader, UT1_B, UT1_A, 1.0, &day->ut1_minus_utc_s, err));
    WFI_TRY(read_best(reader, DX_B, DX_A, MAS2R, &day->celestial_pole_dx_rad, err));
    WFI_TRY(read_best(reader, DY_B, DY_A, MAS2R, &day->celestial_pole_dy_rad, err));
    return WF_OK;
}

static wf_status read_line(wfi_eop *eop, const wfi_line_reader *reader, const char *place,
                           void *layout, wf_error *err)
{
    (void)layout;
    wf_earth_orientation_day day;
    WFI_TRY(read_day(reader, &day, err));
    return wfi_eop_append(eop, &day, place, err);
}

wf_status wfi_finals2000a_read(wfi_eop *eop, const char *path, wf_error *err)
{
    WFI_TRY(wfi_eop_file_read(eop, path, read_line, NULL, err));
    if (eop->n_days == 0)
        return wfi_fail(err, WF_FORMAT, "%s is empty: no finals2000A file", path);
    return WF_OK;
}
