/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A user's own delay of a station, from a text file. */
#include "delay/delay_table.h"

#include <ctype.h>
#include <stdint.h>
#include <string.h>

#include "base/memory.h"
#include "base/status.h"
#include "base/text.h"
#include "delay/line_reader.h"

enum { WIDE_WINDOW = 8, NARROW_WINDOW = 4 };

static const double LARGEST_TAU_S = 1e6; /* light from beyond the planets: a unit is mistaken */

static const char *skip_blanks(const char *text)
{
    while (*text == ' ' || *text == '\t')
        text++;
    return text;
}

static wf_status fail_line(const wfi_line_reader *reader, wf_error *err)
{
    return wfi_fail(err, WF_FORMAT,
                    "%s: line %ld: \"%.60s\": expected a time (UTC) and a delay in seconds, such "
                    "as 2026-03-01T12:00:00.0 -1.234e-3",
                    reader->path, reader->number, reader->line);
}

/* Split "time delay" at the blanks before the last word. */
static wf_status parse_row(const wfi_line_reader *reader, const char *line, wfi_delay_row *row,
                           wf_error *err)
{
    size_t end = strlen(line);
    while (end > 0 && isspace((unsigned char)line[end - 1]))
        end--;
    size_t word = end;
    while (word > 0 && !isspace((unsigned char)line[word - 1]))
        word--;
    size_t n_time = word;
    while (n_time > 0 && isspace((unsigned char)line[n_time - 1]))
        n_time--;
    char time[WFI_LINE_BYTES];
    memcpy(time, line, n_time);
    time[n_time] = '\0';
    if (wf_instant_parse(&row->t, time, NULL) != WF_OK ||
        !wfi_parse_double(&row->tau_s, line + word, end - word))
        return fail_line(reader, err);
    if (row->tau_s > LARGEST_TAU_S || row->tau_s < -LARGEST_TAU_S)
        return wfi_fail(err, WF_FORMAT, "%s: line %ld: a delay of %g s: expected seconds",
                        reader->path, reader->number, row->tau_s);
    return WF_OK;
}

static wf_status append_row(wfi_delay_table *table, const wfi_line_reader *reader,
                            wfi_delay_row row, wf_error *err)
{
    const size_t n = table->n_rows;
    if (n > 0 && wf_instant_difference_s(row.t, table->rows[n - 1].t) <= 0.0)
        return wfi_fail(err, WF_FORMAT,
                        "%s: line %ld: its time is not later than that of the row before; "
                        "sort the table",
                        reader->path, reader->number);
    WFI_TRY(
        wfi_array_reserve(&table->rows, &table->capacity, n + 1, sizeof row, "a delay table", err));
    table->rows[table->n_rows++] = row;
    return WF_OK;
}

static wf_status read_rows(wfi_delay_table *table, wfi_line_reader *reader, wf_error *err)
{
    wf_status status = WF_OK;
    while ((status = wfi_line_reader_next(reader, err)) == WF_OK) {
        const char *line = skip_blanks(reader->line);
        if (*line == '\0' || *line == '#')
            continue;
        wfi_delay_row row = {0};
        WFI_TRY(parse_row(reader, line, &row, err));
        WFI_TRY(append_row(table, reader, row, err));
    }
    return status == WF_END ? WF_OK : status;
}

wf_status wfi_delay_table_read(wfi_delay_table *table, const char *path, wf_error *err)
{
    wfi_line_reader reader = {0};
    wf_status status = wfi_string_copy(&table->path, path, err);
    if (status == WF_OK)
        status = wfi_line_reader_open(&reader, path, err);
    if (status == WF_OK)
        status = read_rows(table, &reader, err);
    wfi_line_reader_close(&reader);
    if (status == WF_OK && table->n_rows < NARROW_WINDOW)
        status = wfi_fail(err, WF_FORMAT,
                          "%s holds %zu rows; a delay table needs at least %d to be interpolated",
                          path, table->n_rows, (int)NARROW_WINDOW);
    return status;
}

void wfi_delay_table_release(wfi_delay_table *table)
{
    wfi_free(table->path);
    wfi_free(table->rows);
    *table = (wfi_delay_table){0};
}

size_t wfi_delay_table_find(const wfi_delay_table *table, wf_instant t)
{
    size_t low = 0;
    size_t high = table->n_rows;
    while (high - low > 1) {
        const size_t middle = low + (high - low) / 2;
        if (wf_instant_difference_s(t, table->rows[middle].t) < 0.0)
            high = middle;
        else
            low = middle;
    }
    return low;
}

static wf_status fail_outside(const wfi_delay_table *table, wf_instant t, wf_error *err)
{
    char asked[WF_INSTANT_TEXT_BYTES];
    char first[WF_INSTANT_TEXT_BYTES];
    char last[WF_INSTANT_TEXT_BYTES];
    wf_instant_format(asked, t, 6);
    wf_instant_format(first, table->rows[0].t, 6);
    wf_instant_format(last, table->rows[table->n_rows - 1].t, 6);
    return wfi_fail(err, WF_RANGE,
                    "%s: the delay table spans %s to %s, asked for %s: it must cover the scans "
                    "and one second on either side",
                    table->path, first, last, asked);
}

/* First row of the window that is centred on the interval after row i. */
static size_t window_start(size_t i, size_t n_rows, size_t width)
{
    const size_t before = width / 2 - 1;
    size_t first = i > before ? i - before : 0;
    if (first + width > n_rows)
        first = n_rows - width;
    return first;
}

/* Neville's scheme over times relative to t. */
static double interpolate(const wfi_delay_row *rows, size_t n, wf_instant t)
{
    double node_s[WIDE_WINDOW];
    double value_s[WIDE_WINDOW];
    for (size_t i = 0; i < n; i++) {
        node_s[i] = wf_instant_difference_s(rows[i].t, t);
        value_s[i] = rows[i].tau_s;
    }
    for (size_t order = 1; order < n; order++)
        for (size_t i = 0; i + order < n; i++)
            value_s[i] +=
                node_s[i] / (node_s[i] - node_s[i + order]) * (value_s[i + 1] - value_s[i]);
    return value_s[0];
}

wf_status wfi_delay_table_evaluate(const wfi_delay_table *table, wf_instant t, double *tau_s,
                                   wf_error *err)
{
    const wf_instant first = table->rows[0].t;
    const wf_instant last = table->rows[table->n_rows - 1].t;
    if (wf_instant_difference_s(t, first) < 0.0 || wf_instant_difference_s(t, last) > 0.0)
        return fail_outside(table, t, err);
    const size_t width = table->n_rows < WIDE_WINDOW ? NARROW_WINDOW : WIDE_WINDOW;
    const size_t start = window_start(wfi_delay_table_find(table, t), table->n_rows, width);
    *tau_s = interpolate(&table->rows[start], width, t);
    return WF_OK;
}
