/* SPDX-License-Identifier: GPL-3.0-or-later */
/* FITS-IDI files, ours and others': tables by name, rows in blocks. */
#include <whitefringe/visibility.h>

#include <errno.h>
#include <inttypes.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>

#include "base/memory.h"
#include "base/output.h"
#include "base/status.h"
#include "visibility/cfitsio.h"
#include "visibility/fits_idi_notes.h"
#include "visibility/fits_idi_uv_label.h"

static const size_t BLOCK_BYTES = (size_t)4 << 20;

/* One UV_DATA table; a file may have several. */
typedef struct part {
    int i_hdu;
    size_t first_row;
    wfi_uv_layout layout;
} part;

struct wf_fits_idi_reader {
    char *path;
    fitsfile *file;
    int64_t file_bytes;
    wfi_catalogue catalogue;
    part *parts;
    size_t n_parts;
    size_t part_capacity;
    /* rows [first_cached, end_cached) of the file, within one part, each of row_bytes */
    uint8_t *bytes;
    size_t byte_capacity;
    size_t first_cached;
    size_t end_cached;
};

static wf_status check_path(wf_fits_idi_reader *reader, wf_error *err)
{
    struct stat entry;
    char words[WFI_ERRNO_TEXT_BYTES];
    if (stat(reader->path, &entry) != 0)
        return wfi_fail(err, errno == ENOENT ? WF_MISSING : WF_IO, "%s: cannot be opened: %s",
                        reader->path, wfi_errno_text(words, errno));
    if (!S_ISREG(entry.st_mode))
        return wfi_fail(err, WF_FORMAT, "%s: is a folder or device; expected a FITS-IDI file",
                        reader->path);
    if (strlen(reader->path) >= FLEN_FILENAME)
        return wfi_fail(err, WF_UNSUPPORTED, "%s: the path is longer than CFITSIO takes",
                        reader->path);
    reader->file_bytes = entry.st_size;
    return WF_OK;
}

static wf_status open_file(wf_fits_idi_reader *reader, wf_error *err)
{
    int fits = 0;
    FILE *test = fopen(reader->path, "rb");
    char words[WFI_ERRNO_TEXT_BYTES];
    if (test == NULL)
        return wfi_fail(err, WF_IO, "%s: cannot be opened: %s", reader->path,
                        wfi_errno_text(words, errno));
    char magic[] = "SIMPLE  =";
    char head[sizeof magic] = "";
    const size_t n = fread(head, 1, sizeof head - 1, test);
    fclose(test);
    if (n < sizeof head - 1 || memcmp(head, magic, sizeof head - 1) != 0)
        return wfi_fail(err, WF_FORMAT, "%s: is no FITS file: it does not begin with \"SIMPLE  =\"",
                        reader->path);
    fits_open_diskfile(&reader->file, reader->path, READONLY, &fits);
    return wfi_cfitsio_check(fits, reader->path, "could not be opened", WF_FORMAT, err);
}

static wf_status read_part(wf_fits_idi_reader *reader, int i_hdu, wf_error *err)
{
    WFI_TRY(wfi_array_reserve(&reader->parts, &reader->part_capacity, reader->n_parts + 1,
                              sizeof reader->parts[0], "UV_DATA tables", err));
    part *new_part = &reader->parts[reader->n_parts++];
    *new_part = (part){.i_hdu = i_hdu, .first_row = reader->catalogue.info.n_rows};
    WFI_TRY(
        wfi_uv_layout_read(&new_part->layout, reader->file, reader->path, reader->file_bytes, err));
    reader->catalogue.info.n_rows += (size_t)new_part->layout.table.n_rows;
    return WF_OK;
}

enum { STATIONS, SOURCES, ANTENNA, BANDS, UV_DATA, N_TABLES };

static const char *const TABLES[N_TABLES] = {"ARRAY_GEOMETRY", "SOURCE", "ANTENNA", "FREQUENCY",
                                             "UV_DATA"};

/* Read one table; of all but UV_DATA the first of its name. */
static wf_status read_table(wf_fits_idi_reader *reader, int i_hdu, bool seen[N_TABLES],
                            const char *name, wf_error *err)
{
    int which = 0;
    while (which < N_TABLES && strcmp(name, TABLES[which]) != 0)
        which++;
    if (which == N_TABLES || (seen[which] && which != UV_DATA))
        return WF_OK;
    seen[which] = true;
    wfi_catalogue *catalogue = &reader->catalogue;
    const int64_t file_bytes = reader->file_bytes;
    switch (which) {
    case STATIONS:
        return wfi_catalogue_read_stations(catalogue, reader->file, reader->path, file_bytes, err);
    case SOURCES:
        return wfi_catalogue_read_sources(catalogue, reader->file, reader->path, file_bytes, err);
    case BANDS:
        return wfi_catalogue_read_bands(catalogue, reader->file, reader->path, file_bytes, err);
    case UV_DATA:
        return read_part(reader, i_hdu, err);
    default:
        return WF_OK;
    }
}

static void read_campaign(wf_fits_idi_reader *reader)
{
    char code[FLEN_VALUE] = "";
    int fits = 0;
    fits_read_key(reader->file, TSTRING, "OBSCODE", code, NULL, &fits);
    if (fits == 0 && reader->catalogue.info.campaign[0] == '\0')
        snprintf(reader->catalogue.info.campaign, WF_NAME_BYTES, "%.*s", WF_NAME_BYTES - 1, code);
}

static wf_status read_tables(wf_fits_idi_reader *reader, wf_error *err)
{
    bool seen[N_TABLES] = {false};
    int fits = 0;
    for (int i_hdu = 2;; i_hdu++) {
        int type = 0;
        fits_movabs_hdu(reader->file, i_hdu, &type, &fits);
        if (fits == END_OF_FILE && i_hdu > 2)
            break;
        WFI_TRY(wfi_cfitsio_check(fits, reader->path, "a table's header could not be read",
                                  WF_FORMAT, err));
        char name[FLEN_VALUE] = "";
        int no_name = 0;
        fits_read_key(reader->file, TSTRING, "EXTNAME", name, NULL, &no_name);
        if (type != BINARY_TBL)
            continue;
        read_campaign(reader);
        WFI_TRY(read_table(reader, i_hdu, seen, name, err));
    }
    char missing[100] = "";
    for (int i = 0; i < N_TABLES; i++) {
        const size_t n = strlen(missing);
        if (!seen[i])
            snprintf(missing + n, sizeof missing - n, "%s%s", n == 0 ? "" : ", ", TABLES[i]);
    }
    if (missing[0] != '\0')
        return wfi_fail(err, WF_FORMAT, "%s: is no complete FITS-IDI file: table %s is missing",
                        reader->path, missing);
    return WF_OK;
}

static wf_status check_parts(wf_fits_idi_reader *reader, wf_error *err)
{
    wf_fits_idi_info *info = &reader->catalogue.info;
    const wfi_uv_layout *first = &reader->parts[0].layout;
    info->n_channels = first->channel.n;
    info->n_products = first->product.n;
    info->first_product_code = first->first_product_code;
    for (size_t i = 0; i < reader->n_parts; i++) {
        const wfi_uv_layout *layout = &reader->parts[i].layout;
        if (layout->band.n != info->n_bands)
            return wfi_fail(err, WF_FORMAT, "%s: UV_DATA has %zu bands, FREQUENCY %zu",
                            reader->path, layout->band.n, info->n_bands);
        if (layout->channel.n != info->n_channels || layout->product.n != info->n_products ||
            layout->first_product_code != info->first_product_code)
            return wfi_fail(err, WF_UNSUPPORTED, "%s: its UV_DATA tables differ in shape",
                            reader->path);
    }
    info->station_names = (const char(*)[WF_NAME_BYTES])reader->catalogue.station_names;
    info->source_names = (const char(*)[WF_NAME_BYTES])reader->catalogue.source_names;
    info->band_first_hz = reader->catalogue.band_first_hz;
    return WF_OK;
}

wf_status wf_fits_idi_open(wf_fits_idi_reader **out, const char *path, wf_error *err)
{
    *out = NULL;
    wf_fits_idi_reader *reader = NULL;
    WFI_TRY(wfi_allocate(&reader, 1, sizeof *reader, "the reader of a FITS-IDI file", err));
    const size_t capacity = strlen(path) + sizeof "./";
    wf_status status = wfi_allocate(&reader->path, capacity, 1, "a file name", err);
    if (status == WF_OK) {
        /* CFITSIO skips blanks before a name */
        snprintf(reader->path, capacity, "%s%s", path[0] == ' ' ? "./" : "", path);
        status = check_path(reader, err);
    }
    wfi_cfitsio_enter();
    if (status == WF_OK)
        status = open_file(reader, err);
    if (status == WF_OK)
        status = read_tables(reader, err);
    wfi_cfitsio_leave();
    if (status == WF_OK)
        status = check_parts(reader, err);
    if (status == WF_OK)
        *out = reader;
    else
        wf_fits_idi_close(reader);
    return status;
}

const wf_fits_idi_info *wf_fits_idi_describe(const wf_fits_idi_reader *reader)
{
    return &reader->catalogue.info;
}

static wf_status read_bytes(wf_fits_idi_reader *reader, const part *from, size_t i_row, size_t n,
                            wf_error *err)
{
    WFI_TRY(
        wfi_array_reserve(&reader->bytes, &reader->byte_capacity, n, 1, "rows of UV_DATA", err));
    reader->first_cached = reader->end_cached = 0;
    int fits = 0;
    wfi_cfitsio_enter();
    fits_movabs_hdu(reader->file, from->i_hdu, NULL, &fits);
    fits_read_tblbytes(reader->file, (LONGLONG)(i_row - from->first_row) + 1, 1, (LONGLONG)n,
                       reader->bytes, &fits);
    const wf_status status =
        wfi_cfitsio_check(fits, reader->path, "UV_DATA could not be read", WF_FORMAT, err);
    wfi_cfitsio_leave();
    return status;
}

/* Rows that are read one after another come in blocks, others one by one; of those only the label
 * where no more is wanted. */
static wf_status load_row(wf_fits_idi_reader *reader, const part *from, size_t i_row,
                          bool label_is_enough, wf_error *err)
{
    const wfi_fits_layout *table = &from->layout.table;
    if (i_row >= reader->first_cached && i_row < reader->end_cached)
        return WF_OK;
    const size_t block = BLOCK_BYTES / table->row_bytes;
    if (label_is_enough && block < 2) {
        return read_bytes(reader, from, i_row, from->layout.label_bytes, err);
    }
    const size_t end_of_part = from->first_row + (size_t)table->n_rows;
    size_t n = i_row == reader->end_cached && block > 1 ? block : 1;
    if (n > end_of_part - i_row)
        n = end_of_part - i_row;
    WFI_TRY(read_bytes(reader, from, i_row, n * table->row_bytes, err));
    reader->first_cached = i_row;
    reader->end_cached = i_row + n;
    return WF_OK;
}

static const part *part_of(const wf_fits_idi_reader *reader, size_t i_row)
{
    size_t i = reader->n_parts - 1;
    while (i_row < reader->parts[i].first_row)
        i--;
    return &reader->parts[i];
}

wf_status wf_fits_idi_read(wf_fits_idi_reader *reader, size_t i_row, wf_fits_idi_row *row,
                           wf_error *err)
{
    if (i_row >= reader->catalogue.info.n_rows)
        return wfi_fail(err, WF_ARGUMENT, "%s: row %zu was asked for; there are %zu", reader->path,
                        i_row, reader->catalogue.info.n_rows);
    const part *from = part_of(reader, i_row);
    const wfi_uv_layout *layout = &from->layout;
    const bool weights_in_flux = layout->component.n == 3;
    const bool label_is_enough =
        row->visibility == NULL && !(row->weight != NULL && weights_in_flux);
    WFI_TRY(load_row(reader, from, i_row, label_is_enough, err));
    const uint8_t *bytes = reader->bytes;
    if (i_row >= reader->first_cached && i_row < reader->end_cached)
        bytes += (i_row - reader->first_cached) * layout->table.row_bytes;
    WFI_TRY(wfi_uv_decode_label(row, layout, &reader->catalogue, reader->path, i_row, bytes, err));
    if (row->weight != NULL)
        wfi_uv_decode_weights(row->weight, layout, bytes);
    if (row->visibility != NULL)
        wfi_uv_decode_visibilities(row->visibility, layout, reader->catalogue.descending, bytes);
    return WF_OK;
}

wf_status wf_fits_idi_read_notes(wf_fits_idi_notes **out, wf_fits_idi_reader *reader, wf_error *err)
{
    *out = NULL;
    wfi_cfitsio_enter();
    const wf_status status = wfi_notes_read(out, reader->file, reader->path, reader->file_bytes,
                                            &reader->catalogue, err);
    wfi_cfitsio_leave();
    return status;
}

void wf_fits_idi_close(wf_fits_idi_reader *reader)
{
    if (reader == NULL)
        return;
    if (reader->file != NULL) {
        int fits = 0;
        wfi_cfitsio_enter();
        fits_close_file(reader->file, &fits);
        wfi_cfitsio_leave();
    }
    for (size_t i = 0; i < reader->n_parts; i++)
        wfi_uv_layout_release(&reader->parts[i].layout);
    wfi_catalogue_release(&reader->catalogue);
    wfi_free(reader->parts);
    wfi_free(reader->bytes);
    wfi_free(reader->path);
    wfi_free(reader);
}
