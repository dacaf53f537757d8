/* SPDX-License-Identifier: GPL-3.0-or-later */
/* PHASE-CAL and FLAG: AIPS Memo 114 (revised), sections on the two tables. */
#include "visibility/fits_idi_extras.h"

#include <math.h>

#include "base/memory.h"
#include "base/status.h"

#define N_ENTRIES(array) (sizeof(array) / sizeof(array)[0])

enum { REASON_CHARACTERS = 40, N_PRODUCT_FLAGS = 4, BLOCK_BYTES = 1 << 20 };
enum { PHASE_CAL_COLUMNS_OF_SECOND = 5 };
static const double DAY_S = 86400.0;

/* One where all products are of one and the same polarization. */
static size_t count_polarizations(const wfi_fits_idi_setup *setup)
{
    const wf_correlation *correlation = &setup->observation->correlation;
    const wf_product *products = correlation->products;
    return correlation->n_products == 1 && products[0].first == products[0].second ? 1 : 2;
}

static size_t phase_cal_row_bytes(const wfi_fits_idi_setup *setup, size_t n_tones)
{
    const size_t n_bands = setup->observation->n_bands;
    const size_t of_polarization = 4 * 4 * n_bands + (8 + 3 * 4) * n_tones * n_bands;
    return 8 + 4 + 4 * 4 + 8 + count_polarizations(setup) * of_polarization;
}

static size_t flag_row_bytes(const wfi_fits_idi_setup *setup)
{
    return 4 + 4 + 2 * 4 + 4 + 2 * 4 + 4 * setup->observation->n_bands + 2 * 4 + 4 * 4 +
           REASON_CHARACTERS + 4;
}

static void put_tones(wfi_fits_table *table, const wf_phase_cal *row, size_t n_tones,
                      size_t n_bands, size_t i_polarization)
{
    const size_t first = i_polarization * n_bands * n_tones;
    const size_t n = n_bands * n_tones;
    for (size_t i = 0; i < 4 * n_bands; i++)
        wfi_fits_put_float(table, (double)row->state_percent[i_polarization * 4 * n_bands + i]);
    for (size_t i = 0; i < n; i++)
        wfi_fits_put_double(table, row->frequency_hz[first + i]);
    for (size_t i = 0; i < n; i++)
        wfi_fits_put_float(table, (double)crealf(row->tone[first + i]));
    for (size_t i = 0; i < n; i++)
        wfi_fits_put_float(table, (double)cimagf(row->tone[first + i]));
    for (size_t i = 0; i < n; i++)
        wfi_fits_put_float(table, (double)row->rate_s_per_s[first + i]);
}

/* A row put together in a table's buffer that has no file. */
static wf_status begin_row(wfi_fits_table *row, size_t n_bytes, wf_error *err)
{
    *row = (wfi_fits_table){.row_bytes = n_bytes, .capacity = n_bytes};
    return wfi_allocate(&row->bytes, n_bytes, 1, "a row of the output", err);
}

wf_status wfi_fits_idi_spool_phase_cal(wfi_fits_idi_extras *extras, const wfi_fits_idi_setup *setup,
                                       const wf_phase_cal *row, const char *beside, wf_error *err)
{
    const wf_observation *observation = setup->observation;
    wfi_fits_table table;
    if (extras->n_tones == 0)
        return wfi_fail(err, WF_ARGUMENT, "tones for an output that was not made for any");
    WFI_TRY(begin_row(&table, phase_cal_row_bytes(setup, extras->n_tones), err));
    wfi_fits_put_double(&table, wfi_fits_idi_days(setup, row->middle));
    wfi_fits_put_float(&table, row->length_s / DAY_S);
    wfi_fits_put_int32(&table, (int32_t)observation->scans[row->i_scan].i_source + 1);
    wfi_fits_put_int32(&table, (int32_t)row->i_station + 1);
    wfi_fits_repeat_int32(&table, 1, 2);      /* ARRAY, FREQID */
    wfi_fits_put_double(&table, (double)NAN); /* CABLE_CAL: not measured */
    for (size_t p = 0; p < count_polarizations(setup); p++)
        put_tones(&table, row, extras->n_tones, observation->n_bands, p);
    const wf_status status =
        wfi_spool_append(&extras->phase_cal, beside, table.bytes, table.n, err);
    wfi_fits_table_release(&table);
    return status;
}

/* TIMERANG has single precision, 4 ms at the end of a day: the range is widened to the next
 * numbers, so that the integration's middle is surely inside. */
static void put_time_range(wfi_fits_table *table, const wfi_fits_idi_setup *setup,
                           const wf_flag *flag)
{
    const double start = wfi_fits_idi_days(setup, flag->start);
    const double end = start + flag->length_s / DAY_S;
    float from = (float)start;
    float to = (float)end;
    from = (double)from > start ? nextafterf(from, -INFINITY) : from;
    to = (double)to < end ? nextafterf(to, INFINITY) : to;
    wfi_fits_put_float(table, (double)from);
    wfi_fits_put_float(table, (double)to);
}

wf_status wfi_fits_idi_spool_flag(wfi_fits_idi_extras *extras, const wfi_fits_idi_setup *setup,
                                  const wf_flag *flag, const char *beside, wf_error *err)
{
    const wf_observation *observation = setup->observation;
    const wf_correlation *correlation = &observation->correlation;
    wfi_fits_table table;
    WFI_TRY(begin_row(&table, flag_row_bytes(setup), err));
    wfi_fits_put_int32(&table, (int32_t)observation->scans[flag->i_scan].i_source + 1);
    wfi_fits_put_int32(&table, 0); /* ARRAY: all, as FREQID -1 */
    wfi_fits_put_int32(&table, (int32_t)flag->i_station + 1);
    wfi_fits_put_int32(&table, 0); /* with every other station, and with itself */
    wfi_fits_put_int32(&table, -1);
    put_time_range(&table, setup, flag);
    for (size_t b = 0; b < observation->n_bands; b++)
        wfi_fits_put_int32(&table, b == flag->i_band ? 1 : 0);
    wfi_fits_put_int32(&table, (int32_t)flag->first_channel + 1);
    wfi_fits_put_int32(&table, (int32_t)(flag->first_channel + flag->n_channels));
    for (size_t k = 0; k < N_PRODUCT_FLAGS; k++) {
        const wf_product *product = &correlation->products[k];
        wfi_fits_put_int32(&table,
                           k < correlation->n_products && (product->first == flag->polarization ||
                                                           product->second == flag->polarization)
                               ? 1
                               : 0);
    }
    wfi_fits_put_text(&table, flag->reason, REASON_CHARACTERS);
    wfi_fits_put_int32(&table, 1); /* SEVERITY: probably bad */
    const wf_status status = wfi_spool_append(&extras->flags, beside, table.bytes, table.n, err);
    wfi_fits_table_release(&table);
    return status;
}

/* Rows from a spool into the table that was begun, in whole rows. */
static wf_status copy_rows(wfi_fits_table *table, const wfi_spool *spool, int *fits, wf_error *err)
{
    wf_status status = WF_OK;
    for (int64_t at = 0; at < spool->n_bytes && status == WF_OK;) {
        const int64_t left = spool->n_bytes - at;
        const size_t n = left < (int64_t)table->capacity ? (size_t)left : table->capacity;
        status = wfi_spool_read(spool, at, table->bytes, n, err);
        table->n = n;
        if (n == table->capacity)
            wfi_fits_table_end_row(table, fits);
        at += (int64_t)n;
    }
    if (status == WF_OK)
        wfi_fits_table_finish(table, fits);
    else
        wfi_fits_table_release(table);
    return status;
}

static wf_status write_phase_cal(const wfi_fits_idi_extras *extras, const wfi_fits_idi_setup *setup,
                                 fitsfile *file, int *fits, wf_error *err)
{
    const size_t n_bands = setup->observation->n_bands;
    const size_t n_tones = extras->n_tones * n_bands;
    const size_t n_polarizations = count_polarizations(setup);
    const wfi_fits_column columns[] = {
        {"TIME", "DAYS", 'D', 1},
        {"TIME_INTERVAL", "DAYS", 'E', 1},
        {"SOURCE_ID", "", 'J', 1},
        {"ANTENNA_NO", "", 'J', 1},
        {"ARRAY", "", 'J', 1},
        {"FREQID", "", 'J', 1},
        {"CABLE_CAL", "SECONDS", 'D', 1},
        {"STATE_1", "PERCENT", 'E', 4 * n_bands},
        {"PC_FREQ_1", "HZ", 'D', n_tones},
        {"PC_REAL_1", "", 'E', n_tones},
        {"PC_IMAG_1", "", 'E', n_tones},
        {"PC_RATE_1", "SEC/SEC", 'E', n_tones},
        {"STATE_2", "PERCENT", 'E', 4 * n_bands},
        {"PC_FREQ_2", "HZ", 'D', n_tones},
        {"PC_REAL_2", "", 'E', n_tones},
        {"PC_IMAG_2", "", 'E', n_tones},
        {"PC_RATE_2", "SEC/SEC", 'E', n_tones},
    };
    wfi_fits_table table;
    WFI_TRY(wfi_fits_table_begin(&table, file, "PHASE-CAL", columns,
                                 N_ENTRIES(columns) -
                                     (n_polarizations == 1 ? PHASE_CAL_COLUMNS_OF_SECOND : 0),
                                 BLOCK_BYTES, fits, err));
    wfi_fits_idi_write_keywords(setup, file, 2, fits);
    fits_write_key_lng(file, "NO_POL", (LONGLONG)n_polarizations, "polarizations", fits);
    fits_write_key_lng(file, "NO_TONES", (LONGLONG)extras->n_tones, "tones of a band", fits);
    WFI_TRY(copy_rows(&table, &extras->phase_cal, fits, err));
    wfi_fits_seal(file, fits);
    return WF_OK;
}

static wf_status write_flags(const wfi_fits_idi_extras *extras, const wfi_fits_idi_setup *setup,
                             fitsfile *file, int *fits, wf_error *err)
{
    const wfi_fits_column columns[] = {
        {"SOURCE_ID", "", 'J', 1},
        {"ARRAY", "", 'J', 1},
        {"ANTS", "", 'J', 2},
        {"FREQID", "", 'J', 1},
        {"TIMERANG", "DAYS", 'E', 2},
        {"BANDS", "", 'J', setup->observation->n_bands},
        {"CHANS", "", 'J', 2},
        {"PFLAGS", "", 'J', N_PRODUCT_FLAGS},
        {"REASON", "", 'A', REASON_CHARACTERS},
        {"SEVERITY", "", 'J', 1},
    };
    wfi_fits_table table;
    WFI_TRY(wfi_fits_table_begin(&table, file, "FLAG", columns, N_ENTRIES(columns), BLOCK_BYTES,
                                 fits, err));
    wfi_fits_idi_write_keywords(setup, file, 2, fits);
    WFI_TRY(copy_rows(&table, &extras->flags, fits, err));
    wfi_fits_seal(file, fits);
    return WF_OK;
}

wf_status wfi_fits_idi_write_extras(const wfi_fits_idi_extras *extras,
                                    const wfi_fits_idi_setup *setup, fitsfile *file, int *fits,
                                    wf_error *err)
{
    if (extras->flags.n_bytes > 0)
        WFI_TRY(write_flags(extras, setup, file, fits, err));
    return extras->n_tones > 0 ? write_phase_cal(extras, setup, file, fits, err) : WF_OK;
}

void wfi_fits_idi_release_extras(wfi_fits_idi_extras *extras)
{
    wfi_spool_release(&extras->phase_cal);
    wfi_spool_release(&extras->flags);
}
