/* SPDX-License-Identifier: GPL-3.0-or-later */
/* FITS-IDI files as others may write them: made with CFITSIO alone, one habit changed at a time. */
#ifndef TESTS_UNIT_VISIBILITY_FOREIGN_FILE_H
#define TESTS_UNIT_VISIBILITY_FOREIGN_FILE_H

#include "support/folder.h"

#include <fitsio.h>
#include <stdbool.h>
#include <whitefringe/visibility.h>

enum {
    FOREIGN_BANDS = 2,
    FOREIGN_CHANNELS = 3,
    FOREIGN_PRODUCTS = 2,
    FOREIGN_WEIGHTS = FOREIGN_BANDS * FOREIGN_PRODUCTS,
    FOREIGN_VALUES = FOREIGN_WEIGHTS * FOREIGN_CHANNELS,
    FOREIGN_ROWS = 2,
};

/** Zero is the plain file: antennas 1 and 3, one source, times of 2026-03-01 in UTC. */
typedef struct foreign {
    const char *without;     /* table left out */
    const char *u_name;      /* "UU" */
    const char *source_name; /* "SOURCE_ID", of UV_DATA */
    const char *id_name;     /* "SOURCE_ID", of SOURCE */
    const char *time_scale;  /* "UTC" */
    const char *weight_form; /* "4E"; "" for no column */
    const char *weight_type; /* NULL: no card */
    const char *flux_form;   /* by n_complex */
    const char *flux_zero;   /* value of TZERO for FLUX */
    int n_complex;           /* 2; 3: every visibility has its weight */
    int baseline;            /* 256 + 3 */
    int source;              /* 1 */
    int frequency;           /* 1 */
    int antenna;             /* 3, of the second */
    double date;             /* 2461100.5 */
    double channel_width_hz; /* 1e6 */
    double second_width_hz;  /* as channel_width_hz */
    int first_product;       /* -1 */
    int band_axis;           /* 2 */
    bool two_parts;
} foreign;

static inline void foreign_fill(foreign *f)
{
    f->u_name = f->u_name != NULL ? f->u_name : "UU";
    f->source_name = f->source_name != NULL ? f->source_name : "SOURCE_ID";
    f->id_name = f->id_name != NULL ? f->id_name : "SOURCE_ID";
    f->time_scale = f->time_scale != NULL ? f->time_scale : "UTC";
    f->weight_form = f->weight_form != NULL ? f->weight_form : "4E";
    f->n_complex = f->n_complex != 0 ? f->n_complex : 2;
    f->flux_form = f->flux_form != NULL ? f->flux_form : f->n_complex == 3 ? "36E" : "24E";
    f->baseline = f->baseline != 0 ? f->baseline : 256 + 3;
    f->source = f->source != 0 ? f->source : 1;
    f->frequency = f->frequency != 0 ? f->frequency : 1;
    f->antenna = f->antenna != 0 ? f->antenna : 3;
    f->date = f->date != 0 ? f->date : 2461100.5;
    f->channel_width_hz = f->channel_width_hz != 0 ? f->channel_width_hz : 1e6;
    f->second_width_hz = f->second_width_hz != 0 ? f->second_width_hz : f->channel_width_hz;
    f->first_product = f->first_product != 0 ? f->first_product : -1;
    f->band_axis = f->band_axis != 0 ? f->band_axis : FOREIGN_BANDS;
}

/** Names and forms alternate; returns whether the table is to be filled. */
static inline bool foreign_table(fitsfile *file, const foreign *f, const char *name,
                                 const char *const *names_and_forms, int n_columns, int *fits)
{
    static char words[40][32];
    char *names[20], *forms[20];
    if (f->without != NULL && strcmp(f->without, name) == 0)
        return false;
    for (int i = 0; i < n_columns; i++) {
        snprintf(words[2 * i], 32, "%s", names_and_forms[2 * i]);
        snprintf(words[2 * i + 1], 32, "%s", names_and_forms[2 * i + 1]);
        names[i] = words[2 * i];
        forms[i] = words[2 * i + 1];
    }
    fits_create_tbl(file, BINARY_TBL, 0, n_columns, names, forms, NULL, name, fits);
    return true;
}

static inline void put_number(fitsfile *file, int column, int row, double value, int *fits)
{
    fits_write_col_dbl(file, column, row, 1, 1, &value, fits);
}

static inline void put_name(fitsfile *file, int column, int row, const char *text, int *fits)
{
    char copy[20];
    char *pointer = copy;
    snprintf(copy, sizeof copy, "%s", text);
    fits_write_col_str(file, column, row, 1, 1, &pointer, fits);
}

static inline void foreign_catalogue(fitsfile *file, const foreign *f, int *fits)
{
    const char *const stations[] = {"NOSTA", "1I", "ANNAME", "8A"};
    if (foreign_table(file, f, "ARRAY_GEOMETRY", stations, 2, fits)) {
        if (f->time_scale[0] != '\0')
            fits_write_key_str(file, "TIMSYS", f->time_scale, NULL, fits);
        fits_write_key_str(file, "OBSCODE", "Heath-2", NULL, fits);
        put_number(file, 1, 1, 1, fits);
        put_name(file, 2, 1, "Elder", fits);
        put_number(file, 1, 2, f->antenna, fits);
        put_name(file, 2, 2, "Fir", fits);
    }
    const char *const sources[] = {f->id_name, "1J", "SOURCE", "16A"};
    if (foreign_table(file, f, "SOURCE", sources, 2, fits)) {
        put_number(file, 1, 1, 1, fits);
        put_name(file, 2, 1, "Dipper", fits);
    }
    const char *const antennas[] = {"ANTENNA_NO", "1J"};
    foreign_table(file, f, "ANTENNA", antennas, 1, fits);
    const char *const bands[] = {"FREQID", "1J", "CH_WIDTH", "2E", "BANDFREQ", "2D"};
    if (foreign_table(file, f, "FREQUENCY", bands, 3, fits)) {
        fits_write_key_dbl(file, "REF_FREQ", 5e9, -15, NULL, fits);
        fits_write_key_dbl(file, "REF_PIXL", 1.5, -15, NULL, fits);
        fits_write_key_dbl(file, "CHAN_BW", 1e6, -15, NULL, fits);
        fits_write_key_lng(file, "NO_CHAN", FOREIGN_CHANNELS, NULL, fits);
        double widths[2] = {f->channel_width_hz, f->second_width_hz};
        double offsets[2] = {0.0, 32e6};
        put_number(file, 1, 1, 1, fits);
        fits_write_col_dbl(file, 2, 1, 1, 2, widths, fits);
        fits_write_col_dbl(file, 3, 1, 1, 2, offsets, fits);
    }
}

static inline void foreign_axes(fitsfile *file, const foreign *f, int *fits)
{
    const struct {
        const char *name;
        int n;
    } axes[] = {{"COMPLEX", f->n_complex},
                {"STOKES", FOREIGN_PRODUCTS},
                {"FREQ", FOREIGN_CHANNELS},
                {"BAND", f->band_axis},
                {"RA", 1},
                {"DEC", 1}};
    fits_write_key_lng(file, "MAXIS", 6, NULL, fits);
    for (int i = 0; i < 6; i++) {
        char key[24];
        snprintf(key, sizeof key, "MAXIS%d", i + 1);
        fits_write_key_lng(file, key, axes[i].n, NULL, fits);
        snprintf(key, sizeof key, "CTYPE%d", i + 1);
        fits_write_key_str(file, key, axes[i].name, NULL, fits);
    }
    fits_write_key_lng(file, "STK_1", f->first_product, NULL, fits);
    if (f->weight_type != NULL)
        fits_write_key_str(file, "WEIGHTYP", f->weight_type, NULL, fits);
    if (f->flux_zero != NULL) {
        fits_write_key_dbl(file, "TSCAL8", 1.0, -15, NULL, fits);
        fits_write_key_dbl(file, "TZERO8", 3.0, -15, NULL, fits);
        fits_set_tscale(file, 8, 1.0, 0.0, fits);
    }
}

/** Element n of FLUX is n + 100 i_row, of those the weights are (n + 1) / 64; WEIGHT n is
 *  (n + 1) / 4 - i_row / 2. */
static inline void foreign_row(fitsfile *file, const foreign *f, int i_row, int i_part_row,
                               int *fits)
{
    const int row = i_part_row + 1;
    put_number(file, 1, row, 1e-3 * (i_row + 1), fits);
    put_number(file, 2, row, 2e-3, fits);
    put_number(file, 3, row, 3e-3, fits);
    put_number(file, 4, row, f->date, fits);
    put_number(file, 5, row, 0.25 + i_row, fits); /* days of the first day's 0h */
    put_number(file, 6, row, f->baseline, fits);
    put_number(file, 7, row, f->source, fits);
    const int n_flux = FOREIGN_VALUES * f->n_complex;
    double flux[FOREIGN_VALUES * 3];
    for (int n = 0; n < n_flux; n++)
        flux[n] = f->n_complex == 3 && n % 3 == 2 ? (n + 1) / 64.0 : n + 100 * i_row;
    if (strcmp(f->flux_form, "24A") != 0)
        fits_write_col_dbl(file, 8, row, 1, n_flux, flux, fits);
    put_number(file, 9, row, f->frequency, fits);
    put_number(file, 10, row, 1.5, fits);
    if (f->weight_form[0] != '\0') {
        double weights[FOREIGN_WEIGHTS];
        for (int n = 0; n < FOREIGN_WEIGHTS; n++)
            weights[n] = (n + 1) / 4.0 - i_row / 2.0;
        fits_write_col_dbl(file, 11, row, 1, f->weight_form[0] - '0', weights, fits);
    }
}

static inline void foreign_uv_data(fitsfile *file, const foreign *f, int first_row, int n_rows,
                                   int *fits)
{
    const char *const columns[] = {f->u_name,      "1E", "VV",     "1E",          "WW",       "1D",
                                   "DATE",         "1D", "TIME",   "1D",          "BASELINE", "1I",
                                   f->source_name, "1I", "FLUX",   f->flux_form,  "FREQID",   "1J",
                                   "INTTIM",       "1E", "WEIGHT", f->weight_form};
    const int n_columns = f->weight_form[0] == '\0' ? 10 : 11;
    if (!foreign_table(file, f, "UV_DATA", columns, n_columns, fits))
        return;
    foreign_axes(file, f, fits);
    for (int i = 0; i < n_rows; i++)
        foreign_row(file, f, first_row + i, i, fits);
}

static inline void write_foreign(const char *path, foreign f)
{
    int fits = 0;
    fitsfile *file = NULL;
    foreign_fill(&f);
    remove(path);
    fits_create_diskfile(&file, path, &fits);
    fits_create_img(file, BYTE_IMG, 0, NULL, &fits);
    foreign_catalogue(file, &f, &fits);
    foreign_uv_data(file, &f, 0, f.two_parts ? 1 : FOREIGN_ROWS, &fits);
    if (f.two_parts)
        foreign_uv_data(file, &f, 1, 1, &fits);
    fits_close_file(file, &fits);
    assert_int_equal(fits, 0);
}

#endif
