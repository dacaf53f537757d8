/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The grid of GPT2 over the whole Earth, in steps of 5 degrees. */
#include "delay/gpt2_grid.h"

#include <erfa.h>
#include <erfam.h>
#include <math.h>
#include <string.h>

#include "base/memory.h"
#include "base/status.h"
#include "base/text.h"
#include "delay/columns.h"

enum { N_POINTS = WFI_GPT2_ROWS * WFI_GPT2_COLUMNS, N_NUMBERS = 34, N_SEASON = 5 };

static const double STEP_DEG = 5.0;
static const double FIRST_DEG = 2.5; /* from the north pole, and east of Greenwich */

/* What the Earth's air can have as a mean: a shifted column or another unit is beyond. */
static const struct limits {
    const char *what;
    int number; /* from 0, latitude being the first */
    double least, most;
} LIMITS[] = {
    {"pressure, Pa", 2, 4e4, 1.1e5},
    {"temperature, K", 7, 200.0, 330.0},
    {"specific humidity, g/kg", 12, 0.0, 40.0},
    {"lapse rate, K/km", 17, -20.0, 20.0},
    {"geoid undulation, m", 22, -150.0, 150.0},
    {"height of the ground, m", 23, -500.0, 9000.0},
    {"hydrostatic coefficient, 1e-3", 24, 0.5, 2.5},
    {"wet coefficient, 1e-3", 29, 0.1, 2.5},
};

static wf_status read_numbers(const wfi_line_reader *reader, double number[N_NUMBERS],
                              wf_error *err)
{
    const char *cursor = reader->line, *word = NULL;
    for (int i = 0; i < N_NUMBERS; i++) {
        const size_t n = wfi_next_word(&cursor, &word);
        if (n == 0 || !wfi_parse_double(&number[i], word, n))
            return wfi_fail(err, WF_FORMAT,
                            "%s: line %ld: number %d is %s; expected %d numbers, as in the file "
                            "gpt2_5.grd of the IERS Conventions",
                            reader->path, reader->number, i + 1, n == 0 ? "missing" : "no number",
                            (int)N_NUMBERS);
    }
    for (size_t i = 0; i < sizeof LIMITS / sizeof LIMITS[0]; i++) {
        const double value = number[LIMITS[i].number];
        if (!(value >= LIMITS[i].least && value <= LIMITS[i].most))
            return wfi_fail(err, WF_FORMAT,
                            "%s: line %ld: number %d (%s) is %g; expected %g to %g: another "
                            "grid than gpt2_5.grd, or a damaged one",
                            reader->path, reader->number, LIMITS[i].number + 1, LIMITS[i].what,
                            value, LIMITS[i].least, LIMITS[i].most);
    }
    return WF_OK;
}

static wfi_gpt2_season season(const double number[N_SEASON])
{
    return (wfi_gpt2_season){number[0], number[1], number[2], number[3], number[4]};
}

static wf_status read_point(wfi_gpt2_grid *grid, const wfi_line_reader *reader, wf_error *err)
{
    double n[N_NUMBERS];
    if (grid->n_points == N_POINTS)
        return wfi_fail(err, WF_FORMAT, "%s: line %ld: more than %d points: no grid of 5 degrees",
                        reader->path, reader->number, (int)N_POINTS);
    WFI_TRY(read_numbers(reader, n, err));
    const double latitude =
        90.0 - FIRST_DEG - STEP_DEG * (double)(grid->n_points / WFI_GPT2_COLUMNS);
    const double longitude = FIRST_DEG + STEP_DEG * (double)(grid->n_points % WFI_GPT2_COLUMNS);
    if (n[0] != latitude || (n[1] != longitude && n[1] != longitude - 360.0))
        return wfi_fail(err, WF_FORMAT,
                        "%s: line %ld: the point at latitude %g, longitude %g; expected %g, %g: "
                        "the grid has 5 degrees, from 87.5, 2.5 eastwards, then southwards",
                        reader->path, reader->number, n[0], n[1], latitude, longitude);
    grid->points[grid->n_points++] = (wfi_gpt2_point){.pressure_pa = season(n + 2),
                                                      .temperature_k = season(n + 7),
                                                      .humidity_g_per_kg = season(n + 12),
                                                      .lapse_k_per_km = season(n + 17),
                                                      .geoid_m = n[22],
                                                      .ground_m = n[23],
                                                      .hydrostatic_a_1e3 = season(n + 24),
                                                      .wet_a_1e3 = season(n + 29)};
    return WF_OK;
}

wf_status wfi_gpt2_grid_parse(wfi_gpt2_grid *grid, wfi_line_reader *reader, wf_error *err)
{
    wf_status status =
        wfi_allocate(&grid->points, N_POINTS, sizeof grid->points[0], "the grid of GPT2", err);
    while (status == WF_OK && (status = wfi_line_reader_next(reader, err)) == WF_OK) {
        const char first = reader->line[strspn(reader->line, " \t")];
        if (first != '\0' && first != '%' && first != '#')
            status = read_point(grid, reader, err);
    }
    if (status != WF_END)
        return status;
    if (grid->n_points < N_POINTS)
        return wfi_fail(err, WF_FORMAT,
                        "%s ends after %zu of the %d points of a grid of 5 degrees: the file is "
                        "cut off; fetch it again",
                        reader->path, grid->n_points, (int)N_POINTS);
    return WF_OK;
}

wf_status wfi_gpt2_grid_read(wfi_gpt2_grid *grid, const char *path, wf_error *err)
{
    wfi_line_reader reader = {0};
    wf_status status = wfi_line_reader_open(&reader, path, err);
    if (status == WF_OK)
        status = wfi_gpt2_grid_parse(grid, &reader, err);
    wfi_line_reader_close(&reader);
    return status;
}

void wfi_gpt2_grid_release(wfi_gpt2_grid *grid)
{
    wfi_free(grid->points);
    *grid = (wfi_gpt2_grid){0};
}

wfi_gpt2 wfi_gpt2_grid_around(const wfi_gpt2_grid *grid, double longitude_rad, double latitude_rad)
{
    const double south_deg = 90.0 - latitude_rad * ERFA_DR2D;
    double row = (south_deg - FIRST_DEG) / STEP_DEG;
    double column = (eraAnp(longitude_rad) * ERFA_DR2D - FIRST_DEG) / STEP_DEG;
    if (row <= 0.0 || row >= WFI_GPT2_ROWS - 1) {
        row = row <= 0.0 ? 0.0 : WFI_GPT2_ROWS - 1;
        column = floor(column + 0.5);
    }
    /* the last row has none below it, and is itself the second */
    const int i = (int)fmin(floor(row), WFI_GPT2_ROWS - 2);
    const int j = (int)floor(column);
    const double down = row - i, east = column - j;
    wfi_gpt2 out;
    for (int k = 0; k < WFI_GPT2_CORNERS; k++) {
        const int is_south = k / 2, is_east = k % 2;
        const int around = (j + is_east + WFI_GPT2_COLUMNS) % WFI_GPT2_COLUMNS;
        out.corner[k] = grid->points[(i + is_south) * WFI_GPT2_COLUMNS + around];
        out.weight[k] = (is_south ? down : 1.0 - down) * (is_east ? east : 1.0 - east);
    }
    return out;
}
