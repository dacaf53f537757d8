/* SPDX-License-Identifier: GPL-3.0-or-later */
/* HISTORY, and the tables ANTENNA, MODEL_COMPS and FLAG as far as a report wants them. */
#include "visibility/fits_idi_notes.h"

#include <stdio.h>
#include <string.h>

#include "base/memory.h"
#include "base/status.h"
#include "base/text.h"
#include "visibility/cfitsio.h"
#include "visibility/fits_rows.h"

static const double DAY_S = 86400.0;

typedef struct source {
    fitsfile *file;
    const char *path;
    int64_t file_bytes;
    const wfi_catalogue *catalogue;
} source;

/* Go to the first table of a name; false where there is none. */
static bool find_table(const source *s, const char *name)
{
    int fits = 0;
    char text[FLEN_VALUE];
    snprintf(text, sizeof text, "%s", name);
    fits_movnam_hdu(s->file, BINARY_TBL, text, 0, &fits);
    if (fits != 0)
        fits_clear_errmsg();
    return fits == 0;
}

static wf_status begin(wfi_fits_rows *rows, const source *s, wf_error *err)
{
    return wfi_fits_rows_begin(rows, s->file, s->path, s->file_bytes, err);
}

static wf_status find(wfi_fits_field *out, const wfi_fits_rows *rows, const char *name,
                      wf_error *err)
{
    return wfi_fits_layout_find(out, &rows->layout, rows->path, &name, 1, 0, err);
}

static wf_status read_history(wf_fits_idi_notes *notes, const source *s, wf_error *err)
{
    static const char KEY[] = "HISTORY ";
    int fits = 0;
    int n_cards = 0;
    wfi_text text = {0};
    fits_movabs_hdu(s->file, 1, NULL, &fits);
    fits_get_hdrspace(s->file, &n_cards, NULL, &fits);
    for (int i = 1; i <= n_cards && fits == 0; i++) {
        char card[FLEN_CARD] = "";
        fits_read_record(s->file, i, card, &fits);
        if (strncmp(card, KEY, sizeof KEY - 1) == 0)
            wfi_text_append(&text, "%s\n", card + sizeof KEY - 1);
    }
    wf_status status =
        wfi_cfitsio_check(fits, s->path, "the primary header could not be read", WF_FORMAT, err);
    if (status == WF_OK && text.failed)
        status = wfi_fail(err, WF_MEMORY, "out of memory for the history of %s", s->path);
    if (status == WF_OK)
        status = wfi_string_copy(&notes->history, text.bytes != NULL ? text.bytes : "", err);
    wfi_text_release(&text);
    return status;
}

/* A number from 1 on as an index; false where it names none of n. */
static bool index_of(size_t *out, double number, size_t n)
{
    const bool good = number >= 1.0 && number <= (double)n;
    *out = good ? (size_t)number - 1 : 0;
    return good;
}

static wf_status read_levels(wf_fits_idi_notes *notes, const source *s, wfi_fits_rows *rows,
                             wf_error *err)
{
    wfi_fits_field station;
    wfi_fits_field levels;
    WFI_TRY(begin(rows, s, err));
    WFI_TRY(find(&station, rows, "ANTENNA_NO", err));
    if (find(&levels, rows, "NO_LEVELS", NULL) != WF_OK)
        return WF_OK;
    for (int64_t i = 0; i < rows->layout.n_rows; i++) {
        size_t i_station;
        WFI_TRY(wfi_fits_rows_read(rows, i, err));
        const double n = wfi_fits_number(&levels, rows->row, 0);
        if (index_of(&i_station, wfi_fits_number(&station, rows->row, 0),
                     s->catalogue->info.n_stations) &&
            n >= 2 && n <= 65536)
            notes->n_levels[i_station] = (unsigned)n;
    }
    return WF_OK;
}

static wf_status read_flags(wf_fits_idi_notes *notes, const source *s, wfi_fits_rows *rows,
                            wf_error *err)
{
    const size_t n_stations = s->catalogue->info.n_stations;
    wfi_fits_field stations;
    WFI_TRY(begin(rows, s, err));
    WFI_TRY(find(&stations, rows, "ANTS", err));
    for (int64_t i = 0; i < rows->layout.n_rows; i++) {
        WFI_TRY(wfi_fits_rows_read(rows, i, err));
        const double number = wfi_fits_number(&stations, rows->row, 0);
        for (size_t k = 0; k < n_stations; k++)
            notes->n_flags[k] += number <= 0.0 || number == (double)(k + 1);
    }
    return WF_OK;
}

/* 0h of the reference date of the current table, in the time scale of the file. */
static bool reference_of(wf_instant *out, const source *s)
{
    char date[FLEN_VALUE] = "";
    char text[FLEN_VALUE + 16];
    int fits = 0;
    fits_read_key(s->file, TSTRING, "RDATE", date, NULL, &fits);
    if (fits != 0)
        fits_clear_errmsg();
    snprintf(text, sizeof text, "%sT00:00:00", date);
    if (fits != 0 || wf_instant_parse(out, text, NULL) != WF_OK)
        return false;
    if (s->catalogue->times_are_tai)
        *out = wf_instant_add(*out, -wf_tai_minus_utc_s(*out));
    return true;
}

static wf_status read_clocks(wf_fits_idi_notes *notes, const source *s, wfi_fits_rows *rows,
                             wf_error *err)
{
    enum { TIME, SOURCE, STATION, CLOCK, RATE, N_FIELDS };
    static const char *const names[N_FIELDS] = {"TIME", "SOURCE_ID", "ANTENNA_NO", "CLOCK_1",
                                                "DCLOCK_1"};
    wfi_fits_field field[N_FIELDS];
    wf_instant reference;
    const wf_fits_idi_info *info = &s->catalogue->info;
    WFI_TRY(begin(rows, s, err));
    for (size_t k = 0; k < N_FIELDS; k++)
        WFI_TRY(find(&field[k], rows, names[k], err));
    if (!reference_of(&reference, s))
        return WF_OK;
    WFI_TRY(wfi_allocate(&notes->clocks, (size_t)rows->layout.n_rows, sizeof *notes->clocks,
                         "the clocks of a file", err));
    for (int64_t i = 0; i < rows->layout.n_rows; i++) {
        wf_fits_idi_clock clock;
        double number[N_FIELDS];
        WFI_TRY(wfi_fits_rows_read(rows, i, err));
        for (size_t k = 0; k < N_FIELDS; k++)
            number[k] = wfi_fits_number(&field[k], rows->row, 0);
        if (!index_of(&clock.i_station, number[STATION], info->n_stations) ||
            !index_of(&clock.i_source, number[SOURCE], info->n_sources) ||
            !(number[TIME] > -10000.0 && number[TIME] < 10000.0))
            continue;
        clock.time = wf_instant_add(reference, number[TIME] * DAY_S);
        clock.ahead_s = -number[CLOCK];
        clock.rate_s_per_s = -number[RATE];
        notes->clocks[notes->n_clocks++] = clock;
    }
    return WF_OK;
}

static wf_status read_table(wf_fits_idi_notes *notes, const source *s, const char *name,
                            wf_status (*read)(wf_fits_idi_notes *, const source *, wfi_fits_rows *,
                                              wf_error *),
                            wf_error *err)
{
    wfi_fits_rows rows = {0};
    if (!find_table(s, name))
        return WF_OK;
    const wf_status status = read(notes, s, &rows, err);
    wfi_fits_rows_end(&rows);
    return status;
}

static wf_status read_all(wf_fits_idi_notes *notes, const source *s, wf_error *err)
{
    const size_t n = s->catalogue->info.n_stations;
    WFI_TRY(wfi_allocate(&notes->n_levels, n, sizeof *notes->n_levels, "samplers", err));
    WFI_TRY(wfi_allocate(&notes->n_flags, n, sizeof *notes->n_flags, "flags", err));
    WFI_TRY(read_history(notes, s, err));
    WFI_TRY(read_table(notes, s, "ANTENNA", read_levels, err));
    WFI_TRY(read_table(notes, s, "MODEL_COMPS", read_clocks, err));
    return read_table(notes, s, "FLAG", read_flags, err);
}

wf_status wfi_notes_read(wf_fits_idi_notes **out, fitsfile *file, const char *path,
                         int64_t file_bytes, const wfi_catalogue *catalogue, wf_error *err)
{
    const source s = {file, path, file_bytes, catalogue};
    WFI_TRY(wfi_allocate(out, 1, sizeof **out, "the notes of a file", err));
    const wf_status status = read_all(*out, &s, err);
    if (status != WF_OK) {
        wf_fits_idi_notes_destroy(*out);
        *out = NULL;
    }
    return status;
}

void wf_fits_idi_notes_destroy(wf_fits_idi_notes *notes)
{
    if (notes == NULL)
        return;
    wfi_free(notes->history);
    wfi_free(notes->n_levels);
    wfi_free(notes->n_flags);
    wfi_free(notes->clocks);
    wfi_free(notes);
}
