/* SPDX-License-Identifier: GPL-3.0-or-later */
/* INTERFEROMETER_MODEL: the delays that were taken out, as the polynomials that were used, and
 * MODEL_COMPS: what they are made of. */
#include "visibility/fits_idi.h"

#include <stdint.h>
#include <stdlib.h>

#include "base/memory.h"
#include "base/status.h"

#define N_ENTRIES(array) (sizeof(array) / sizeof(array)[0])

enum { BLOCK_BYTES = 1 << 20, N_POLY = WF_TRACK_DEGREE + 1 };

static const double DAY_S = 86400.0;

/* One row: a piece of one station's track over one scan. */
typedef struct entry {
    const wf_track_piece *piece;
    double start_s; /* from 0h of the reference day */
    size_t i_station;
    size_t i_scan;
} entry;

/* In time order, then by antenna; of one antenna in the order of the scans. */
static int compare_entries(const void *left, const void *right)
{
    const entry *a = left;
    const entry *b = right;
    if (a->start_s != b->start_s)
        return a->start_s < b->start_s ? -1 : 1;
    if (a->i_station != b->i_station)
        return a->i_station < b->i_station ? -1 : 1;
    return a->i_scan < b->i_scan ? -1 : a->i_scan > b->i_scan;
}

static const wf_track *track_of(const wfi_fits_idi_setup *setup, size_t i_scan, size_t i_station)
{
    return setup->options->tracks[i_scan * setup->observation->n_stations + i_station];
}

static size_t count_entries(const wfi_fits_idi_setup *setup)
{
    const size_t n_tracks = setup->observation->n_scans * setup->observation->n_stations;
    size_t n = 0;
    for (size_t i = 0; i < n_tracks; i++) {
        const wf_track *track = setup->options->tracks[i];
        n += track == NULL ? 0 : wf_track_n_pieces(track);
    }
    return n;
}

static void fill_entries(entry *entries, const wfi_fits_idi_setup *setup)
{
    for (size_t i_scan = 0; i_scan < setup->observation->n_scans; i_scan++) {
        for (size_t i_station = 0; i_station < setup->observation->n_stations; i_station++) {
            const wf_track *track = track_of(setup, i_scan, i_station);
            const size_t n_pieces = track == NULL ? 0 : wf_track_n_pieces(track);
            for (size_t i = 0; i < n_pieces; i++) {
                const wf_track_piece *piece = wf_track_get_piece(track, i);
                const double start_s = wf_instant_difference_s(piece->start, setup->reference_0h);
                *entries++ = (entry){piece, start_s, i_station, i_scan};
            }
        }
    }
}

/* factor times the polynomial, or its derivative by time. */
static void put_polynomial(wfi_fits_table *table, const wf_track_piece *piece, double factor)
{
    for (int k = 0; k < N_POLY; k++)
        wfi_fits_put_double(table, factor * piece->coefficient[k]);
}

static void put_derivative(wfi_fits_table *table, const wf_track_piece *piece, double factor)
{
    for (int k = 1; k < N_POLY; k++)
        wfi_fits_put_double(table, factor * k * piece->coefficient[k]);
    wfi_fits_put_double(table, 0.0);
}

/* Columns PDELAY to DDISP of one polarization; both have the same delay. */
static void put_delays(wfi_fits_table *table, const wfi_fits_idi_setup *setup,
                       const wf_track_piece *piece)
{
    const wf_observation *observation = setup->observation;
    for (size_t i = 0; i < observation->n_bands; i++)
        put_polynomial(table, piece, wf_band_first_channel_hz(observation, i));
    put_polynomial(table, piece, 1.0);
    for (size_t i = 0; i < observation->n_bands; i++)
        put_derivative(table, piece, wf_band_first_channel_hz(observation, i));
    put_derivative(table, piece, 1.0);
    wfi_fits_repeat_float(table, 0.0, 2);
}

static void put_entry(wfi_fits_table *table, const wfi_fits_idi_setup *setup, const entry *row,
                      size_t n_polarizations)
{
    const wf_observation *observation = setup->observation;
    wfi_fits_put_double(table, row->start_s / DAY_S);
    wfi_fits_put_float(table, row->piece->length_s / DAY_S);
    wfi_fits_put_int32(table, (int32_t)observation->scans[row->i_scan].i_source + 1);
    wfi_fits_put_int32(table, (int32_t)row->i_station + 1);
    wfi_fits_repeat_int32(table, 1, 2); /* ARRAY, FREQID */
    wfi_fits_repeat_float(table, 0.0, 1 + observation->n_bands);
    for (size_t i = 0; i < n_polarizations; i++)
        put_delays(table, setup, row->piece);
}

/* One where all products are of one and the same polarization. */
static size_t count_polarizations(const wf_correlation *correlation)
{
    const wf_product *products = correlation->products;
    const bool one = correlation->n_products == 1 && products[0].first == products[0].second;
    return one ? 1 : 2;
}

static wf_status write_entries(const wfi_fits_idi_setup *setup, fitsfile *file,
                               const entry *entries, size_t n_entries, int *fits, wf_error *err)
{
    const size_t n_bands = setup->observation->n_bands;
    const size_t n_polarizations = count_polarizations(&setup->observation->correlation);
    const wfi_fits_column columns[] = {
        {"TIME", "DAYS", 'D', 1},
        {"TIME_INTERVAL", "DAYS", 'E', 1},
        {"SOURCE_ID", "", 'J', 1},
        {"ANTENNA_NO", "", 'J', 1},
        {"ARRAY", "", 'J', 1},
        {"FREQID", "", 'J', 1},
        {"I.FAR.ROT", "RAD/METER**2", 'E', 1},
        {"FREQ.VAR", "HZ", 'E', n_bands},
        {"PDELAY_1", "TURNS", 'D', N_POLY * n_bands},
        {"GDELAY_1", "SECONDS", 'D', N_POLY},
        {"PRATE_1", "HZ", 'D', N_POLY * n_bands},
        {"GRATE_1", "SEC/SEC", 'D', N_POLY},
        {"DISP_1", "SECONDS", 'E', 1},
        {"DDISP_1", "SEC/SEC", 'E', 1},
        {"PDELAY_2", "TURNS", 'D', N_POLY * n_bands},
        {"GDELAY_2", "SECONDS", 'D', N_POLY},
        {"PRATE_2", "HZ", 'D', N_POLY * n_bands},
        {"GRATE_2", "SEC/SEC", 'D', N_POLY},
        {"DISP_2", "SECONDS", 'E', 1},
        {"DDISP_2", "SEC/SEC", 'E', 1},
    };
    enum { N_OF_SECOND = 6 };
    wfi_fits_table table;
    WFI_TRY(wfi_fits_table_begin(&table, file, "INTERFEROMETER_MODEL", columns,
                                 N_ENTRIES(columns) - (n_polarizations == 1 ? N_OF_SECOND : 0),
                                 BLOCK_BYTES, fits, err));
    wfi_fits_idi_write_keywords(setup, file, 2, fits);
    fits_write_key_lng(file, "NPOLY", N_POLY, "terms of each polynomial", fits);
    fits_write_key_lng(file, "NO_POL", (LONGLONG)n_polarizations, "polarizations", fits);
    for (size_t i = 0; i < n_entries; i++) {
        put_entry(&table, setup, &entries[i], n_polarizations);
        wfi_fits_table_end_row(&table, fits);
    }
    wfi_fits_table_finish(&table, fits);
    wfi_fits_seal(file, fits);
    return WF_OK;
}

/* GDELAY + ATMOS - CLOCK is the delay that was taken out: the convention counts a clock that is
 * ahead as negative. All are of the instant TIME. */
static void put_component(wfi_fits_table *table, const wfi_fits_idi_setup *setup, const entry *row,
                          size_t n_polarizations)
{
    const wf_track_piece *piece = row->piece;
    wfi_fits_put_double(table, row->start_s / DAY_S);
    wfi_fits_put_int32(table, (int32_t)setup->observation->scans[row->i_scan].i_source + 1);
    wfi_fits_put_int32(table, (int32_t)row->i_station + 1);
    wfi_fits_repeat_int32(table, 1, 2); /* ARRAY, FREQID */
    for (int k = 0; k < 2; k++)
        wfi_fits_put_double(table, piece->atmosphere_coefficient[k]);
    for (int k = 0; k < 2; k++)
        wfi_fits_put_double(table, piece->coefficient[k] - piece->clock_coefficient[k] -
                                       piece->atmosphere_coefficient[k]);
    for (size_t i = 0; i < n_polarizations; i++) {
        for (int k = 0; k < 2; k++)
            wfi_fits_put_double(table, -piece->clock_coefficient[k]);
        wfi_fits_repeat_float(table, 0.0, 2 * setup->observation->n_bands + 2);
    }
}

static void write_component_keywords(const wfi_fits_idi_setup *setup, fitsfile *file,
                                     size_t n_polarizations, int *fits)
{
    const LONGLONG n_samples = 2 * (LONGLONG)setup->observation->correlation.n_channels;
    wfi_fits_idi_write_keywords(setup, file, 1, fits);
    fits_write_key_lng(file, "NO_POL", (LONGLONG)n_polarizations, "polarizations", fits);
    fits_write_key_lng(file, "FFT_SIZE", n_samples, "real samples of a channel width", fits);
    fits_write_key_lng(file, "OVERSAMP", 0, "oversampling", fits);
    fits_write_key_lng(file, "ZERO_PAD", 0, "zero padding", fits);
    fits_write_key_lng(file, "FFT_TWID", 1, "kind of FFT", fits);
    fits_write_key_str(file, "TAPER_FN", "UNIFORM", "weights of the samples", fits);
}

static wf_status write_components(const wfi_fits_idi_setup *setup, fitsfile *file,
                                  const entry *entries, size_t n_entries, int *fits, wf_error *err)
{
    const size_t n_bands = setup->observation->n_bands;
    const size_t n_polarizations = count_polarizations(&setup->observation->correlation);
    const wfi_fits_column columns[] = {
        {"TIME", "DAYS", 'D', 1},
        {"SOURCE_ID", "", 'J', 1},
        {"ANTENNA_NO", "", 'J', 1},
        {"ARRAY", "", 'J', 1},
        {"FREQID", "", 'J', 1},
        {"ATMOS", "SECONDS", 'D', 1},
        {"DATMOS", "SEC/SEC", 'D', 1},
        {"GDELAY", "SECONDS", 'D', 1},
        {"GRATE", "SEC/SEC", 'D', 1},
        {"CLOCK_1", "SECONDS", 'D', 1},
        {"DCLOCK_1", "SEC/SEC", 'D', 1},
        {"LO_OFFSET_1", "HZ", 'E', n_bands},
        {"DLO_OFFSET_1", "HZ/SEC", 'E', n_bands},
        {"DISP_1", "SECONDS", 'E', 1},
        {"DDISP_1", "SEC/SEC", 'E', 1},
        {"CLOCK_2", "SECONDS", 'D', 1},
        {"DCLOCK_2", "SEC/SEC", 'D', 1},
        {"LO_OFFSET_2", "HZ", 'E', n_bands},
        {"DLO_OFFSET_2", "HZ/SEC", 'E', n_bands},
        {"DISP_2", "SECONDS", 'E', 1},
        {"DDISP_2", "SEC/SEC", 'E', 1},
    };
    enum { N_OF_SECOND = 6 };
    wfi_fits_table table;
    WFI_TRY(wfi_fits_table_begin(&table, file, "MODEL_COMPS", columns,
                                 N_ENTRIES(columns) - (n_polarizations == 1 ? N_OF_SECOND : 0),
                                 BLOCK_BYTES, fits, err));
    write_component_keywords(setup, file, n_polarizations, fits);
    for (size_t i = 0; i < n_entries; i++) {
        put_component(&table, setup, &entries[i], n_polarizations);
        wfi_fits_table_end_row(&table, fits);
    }
    wfi_fits_table_finish(&table, fits);
    wfi_fits_seal(file, fits);
    return WF_OK;
}

wf_status wfi_fits_idi_write_model(const wfi_fits_idi_setup *setup, fitsfile *file, int *fits,
                                   wf_error *err)
{
    const size_t n_entries = count_entries(setup);
    entry *entries = NULL;
    WFI_TRY(wfi_allocate(&entries, n_entries, sizeof entries[0], "rows of the delay model", err));
    fill_entries(entries, setup);
    qsort(entries, n_entries, sizeof entries[0], compare_entries);
    wf_status status = write_entries(setup, file, entries, n_entries, fits, err);
    if (status == WF_OK)
        status = write_components(setup, file, entries, n_entries, fits, err);
    wfi_free(entries);
    return status;
}
