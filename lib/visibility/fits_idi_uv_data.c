/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The file's sense is the conjugate of ours: there a source l east, m north has the phase
 * -2 pi nu (u l + v m), with u, v of r_i - r_j in both. Indices run alike: complex, product,
 * channel, band, the first fastest.
 */
#include "visibility/fits_idi_uv_data.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "base/bytes.h"
#include "base/status.h"

#define N_ENTRIES(array) (sizeof(array) / sizeof(array)[0])

/* Blocks of some MB go past CFITSIO's buffers straight to the file. */
enum { BLOCK_BYTES = 4 << 20, REAL_DIGITS = -15, N_PRODUCTS_MAX = 4 };

static const double DAY_S = 86400.0;
static const double JD_OF_MJD_0 = 2400000.5;

typedef struct axis {
    const char *name;
    size_t n;
    double step;
    double reference_pixel;
    double value;
} axis;

/* Readers take the axes in the order of their cards: MAXIS before all of them. */
static void write_axes(fitsfile *file, const wfi_fits_idi_setup *setup, int *fits)
{
    const wf_observation *observation = setup->observation;
    const axis axes[] = {
        {"COMPLEX", 2, 1.0, 1.0, 1.0},
        {"STOKES", observation->correlation.n_products, -1.0, 1.0, setup->first_product_code},
        {"FREQ", observation->correlation.n_channels, setup->channel_width_hz, 1.0,
         setup->reference_hz},
        {"BAND", observation->n_bands, 1.0, 1.0, 1.0},
        {"RA", 1, 0.0, 1.0, 0.0},
        {"DEC", 1, 0.0, 1.0, 0.0},
    };
    fits_write_key_lng(file, "NMATRIX", 1, "one matrix a row", fits);
    fits_write_key_lng(file, "MAXIS", N_ENTRIES(axes), "axes of FLUX", fits);
    for (size_t i = 0; i < N_ENTRIES(axes); i++) {
        char keys[5][16];
        static const char *const stems[] = {"MAXIS", "CTYPE", "CDELT", "CRPIX", "CRVAL"};
        for (size_t k = 0; k < N_ENTRIES(stems); k++)
            snprintf(keys[k], sizeof keys[k], "%s%zu", stems[k], i + 1);
        fits_write_key_lng(file, keys[0], (LONGLONG)axes[i].n, NULL, fits);
        fits_write_key_str(file, keys[1], axes[i].name, NULL, fits);
        fits_write_key_dbl(file, keys[2], axes[i].step, REAL_DIGITS, NULL, fits);
        fits_write_key_dbl(file, keys[3], axes[i].reference_pixel, REAL_DIGITS, NULL, fits);
        fits_write_key_dbl(file, keys[4], axes[i].value, REAL_DIGITS, NULL, fits);
    }
}

static void write_uv_keywords(fitsfile *file, const wfi_fits_idi_setup *setup, size_t flux_column,
                              int *fits)
{
    wfi_fits_idi_write_keywords(setup, file, 2, fits);
    write_axes(file, setup, fits);
    char key[16];
    snprintf(key, sizeof key, "TMATX%zu", flux_column);
    fits_write_key_log(file, key, 1, "this column holds the matrix", fits);
    fits_write_key_str(file, "DATE-OBS", setup->reference_date, "UTC day of the first scan", fits);
    fits_write_key_str(file, "EQUINOX", "J2000", NULL, fits);
    fits_write_key_str(file, "WEIGHTYP", "NORMAL", "divided by the valid fraction", fits);
    fits_write_key_str(file, "TELESCOP", "VLBI", NULL, fits);
    fits_write_key_str(file, "OBSERVER", setup->observation->campaign, "name of the campaign",
                       fits);
    fits_write_key_str(file, "SORT", "T*", "by time, then baseline", fits);
    fits_write_key_dbl(file, "VIS_SCAL", 1.0, REAL_DIGITS, NULL, fits);
}

wf_status wfi_fits_idi_begin_uv_data(wfi_fits_table *table, const wfi_fits_idi_setup *setup,
                                     fitsfile *file, int *fits, wf_error *err)
{
    const wf_observation *observation = setup->observation;
    const size_t n_weights = observation->correlation.n_products * observation->n_bands;
    const wfi_fits_column columns[] = {
        {"UU---SIN", "SECONDS", 'D', 1},
        {"VV---SIN", "SECONDS", 'D', 1},
        {"WW---SIN", "SECONDS", 'D', 1},
        {"DATE", "DAYS", 'D', 1},
        {"TIME", "DAYS", 'D', 1},
        {"BASELINE", "", 'J', 1},
        {"ARRAY", "", 'J', 1},
        {"SOURCE_ID", "", 'J', 1},
        {"FREQID", "", 'J', 1},
        {"INTTIM", "SECONDS", 'E', 1},
        {"WEIGHT", "", 'E', n_weights},
        {"FLUX", "UNCALIB", 'E', 2 * n_weights * observation->correlation.n_channels},
    };
    WFI_TRY(wfi_fits_table_begin(table, file, "UV_DATA", columns, N_ENTRIES(columns), BLOCK_BYTES,
                                 fits, err));
    write_uv_keywords(file, setup, N_ENTRIES(columns), fits);
    return WF_OK;
}

static void put_label(wfi_fits_table *table, const wf_integration *integration, const double *uvw_s,
                      wf_baseline baseline, size_t i_source)
{
    int32_t mjd = 0;
    int32_t second_of_day = 0;
    wf_instant_utc(integration->middle, &mjd, &second_of_day);
    for (int k = 0; k < 3; k++)
        wfi_fits_put_double(table, uvw_s[k] + 0.0); /* no negative zero */
    wfi_fits_put_double(table, JD_OF_MJD_0 + mjd);
    wfi_fits_put_double(table, (second_of_day + integration->middle.fraction) / DAY_S);
    wfi_fits_put_int32(table, (int32_t)(256 * (baseline.i_station + 1) + baseline.j_station + 1));
    wfi_fits_put_int32(table, 1); /* ARRAY */
    wfi_fits_put_int32(table, (int32_t)i_source + 1);
    wfi_fits_put_int32(table, 1); /* FREQID */
    wfi_fits_put_float(table, integration->length_s);
}

/* Conjugates of n complex numbers, big-endian; 0 - x, since -0 would be written else. Returns
 * whether all were finite. */
static bool put_conjugates(uint8_t *out, const float *in, size_t n)
{
    const uint32_t exponent = 0x7f800000;
    uint32_t not_finite = 0;
    for (size_t i = 0; i < n; i++) {
        const float value[2] = {in[2 * i], 0.0f - in[2 * i + 1]};
        uint32_t word[2];
        memcpy(word, value, sizeof word);
        not_finite |= (word[0] & exponent) == exponent;
        not_finite |= (word[1] & exponent) == exponent;
        wfi_put_be32(out + 8 * i, word[0]);
        wfi_put_be32(out + 8 * i + 4, word[1]);
    }
    return not_finite == 0;
}

static bool product_is_finite(const float *values, size_t n_channels, size_t n_products)
{
    for (size_t i = 0; i < n_channels; i++) {
        if (!isfinite(values[2 * i * n_products]) || !isfinite(values[2 * i * n_products + 1]))
            return false;
    }
    return true;
}

/* Clear one product of a band that is already in the row: all of it, or the imaginary part. */
static void clear_product(uint8_t *out, size_t n_channels, size_t n_products, bool imaginary_only)
{
    for (size_t i = 0; i < n_channels; i++) {
        uint8_t *word = out + 8 * i * n_products;
        wfi_put_be32(word + 4, 0);
        if (!imaginary_only)
            wfi_put_be32(word, 0);
    }
}

/* One band: visibilities and, into `weights`, its weights. Returns whether any is above 0. */
static bool put_band(uint8_t *flux, uint8_t *weights, const float *visibility, const float *weight,
                     const wf_correlation *correlation, bool is_auto)
{
    const size_t n_channels = correlation->n_channels;
    const size_t n_products = correlation->n_products;
    const bool all_finite = put_conjugates(flux, visibility, n_channels * n_products);
    bool any = false;
    for (size_t p = 0; p < n_products; p++) {
        float w = weight[p];
        if (!(isfinite(w) && w > 0.0f) ||
            !(all_finite || product_is_finite(visibility + 2 * p, n_channels, n_products)))
            w = 0.0f;
        const bool is_power =
            is_auto && correlation->products[p].first == correlation->products[p].second;
        if (w == 0.0f || is_power)
            clear_product(flux + 8 * p, n_channels, n_products, w > 0.0f);
        uint32_t word;
        memcpy(&word, &w, sizeof word);
        wfi_put_be32(weights + 4 * p, word);
        any = any || w > 0.0f;
    }
    return any;
}

void wfi_fits_idi_put_visibilities(wfi_fits_table *table, const wfi_fits_idi_setup *setup,
                                   const wf_integration *integration, size_t i_baseline,
                                   wf_baseline baseline, int *fits)
{
    const wf_observation *observation = setup->observation;
    const wf_correlation *correlation = &observation->correlation;
    const size_t n_values = correlation->n_channels * correlation->n_products;
    const size_t n_bands = observation->n_bands;
    const size_t row_start = table->n;
    put_label(table, integration, integration->uvw_s[i_baseline], baseline,
              observation->scans[integration->i_scan].i_source);
    uint8_t *weights = table->bytes + table->n;
    uint8_t *flux = weights + 4 * n_bands * correlation->n_products;
    bool any = false;
    for (size_t i = 0; i < n_bands; i++) {
        const size_t i_band = i_baseline * n_bands + i;
        /* C11 6.2.5: a complex number has the layout of an array of two */
        const float *visibility = (const float *)(integration->visibility + i_band * n_values);
        any |= put_band(flux + 8 * i * n_values, weights + 4 * i * correlation->n_products,
                        visibility, integration->weight + i_band * correlation->n_products,
                        correlation, baseline.i_station == baseline.j_station);
    }
    table->n = any ? row_start + table->row_bytes : row_start;
    wfi_fits_table_end_row(table, fits);
}
