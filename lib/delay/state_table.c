/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A user's positions and velocities of a spacecraft, from a text file. */
#include "delay/state_table.h"

#include <erfa.h>
#include <erfam.h>
#include <math.h>
#include <string.h>

#include "base/memory.h"
#include "base/status.h"
#include "base/text.h"
#include "delay/line_reader.h"
#include "delay/time_scales.h"

enum { WINDOW = 4, N_NODES = 2 * WINDOW, N_VALUES = 6 };

static const double TT_MINUS_TAI_S = 32.184;
enum { TAI_MINUS_UTC_2000_S = 32, MJD_2000 = 51544, DAY_S = 86400 };

/* A step's end and the path along its velocities may differ by this part of the step: orbits curve
 * by less from row to row, mistaken units make it a thousand. */
static const double LARGEST_MISFIT = 0.2;

/* The stamp was read as UTC; its digits are those of a scale that has no leap seconds. */
static wf_instant instant_of_uniform(wf_instant stamp, wf_time_scale scale)
{
    int32_t mjd = 0, second_of_day = 0;
    wf_instant_utc(stamp, &mjd, &second_of_day);
    wf_instant t = {.second =
                        (int64_t)(mjd - MJD_2000) * DAY_S + second_of_day - TAI_MINUS_UTC_2000_S,
                    .fraction = stamp.fraction};
    t = wf_instant_add(t, -TT_MINUS_TAI_S);
    if (scale != WF_TIME_TDB)
        return t;
    double tt_jd[2];
    wfi_tt(t, tt_jd);
    return wf_instant_add(t, -eraDtdb(tt_jd[0], tt_jd[1], 0.0, 0.0, 0.0, 0.0));
}

/* The next word of a line; false where there is none. */
static bool next_word(const char **rest, const char **word, size_t *n)
{
    *word = *rest + strspn(*rest, " \t\r");
    *n = strcspn(*word, " \t\r");
    *rest = *word + *n;
    return *n > 0;
}

static wf_status fail_line(const wfi_line_reader *reader, wf_error *err)
{
    return wfi_fail(err, WF_FORMAT,
                    "%s: line %ld: \"%.60s\": expected a time, x, y, z in m and vx, vy, vz in m/s, "
                    "such as 2026-03-01T12:00:00 6.9e6 1.2e5 -3.4e5 -10.0 7500.0 120.0",
                    reader->path, reader->number, reader->line);
}

static wf_status parse_row(const wfi_line_reader *reader, wf_time_scale scale, wfi_state *row,
                           wf_error *err)
{
    const char *rest = reader->line, *word = NULL;
    char time[WF_INSTANT_TEXT_BYTES];
    double value[N_VALUES];
    size_t n = 0;
    if (!next_word(&rest, &word, &n) || n >= sizeof time)
        return fail_line(reader, err);
    memcpy(time, word, n);
    time[n] = '\0';
    if (wf_instant_parse(&row->t, time, NULL) != WF_OK)
        return fail_line(reader, err);
    if (scale != WF_TIME_UTC)
        row->t = instant_of_uniform(row->t, scale);
    for (int i = 0; i < N_VALUES; i++)
        if (!next_word(&rest, &word, &n) || !wfi_parse_double(&value[i], word, n))
            return fail_line(reader, err);
    if (next_word(&rest, &word, &n))
        return fail_line(reader, err);
    memcpy(row->position_m, value, sizeof row->position_m);
    memcpy(row->velocity_m_per_s, value + 3, sizeof row->velocity_m_per_s);
    return WF_OK;
}

static wf_status check_step(const wfi_line_reader *reader, const wfi_state *a, const wfi_state *b,
                            wf_error *err)
{
    const double step_s = wf_instant_difference_s(b->t, a->t);
    double missed = 0.0, gone = 0.0;
    if (step_s <= 0.0)
        return wfi_fail(err, WF_FORMAT,
                        "%s: line %ld: its time is not later than that of the row before; "
                        "sort the table",
                        reader->path, reader->number);
    for (int i = 0; i < 3; i++) {
        const double path = (a->velocity_m_per_s[i] + b->velocity_m_per_s[i]) / 2.0 * step_s;
        const double way = b->position_m[i] - a->position_m[i];
        missed = hypot(missed, way - path);
        gone = hypot(gone, fmax(fabs(way), fabs(path)));
    }
    if (missed > LARGEST_MISFIT * gone)
        return wfi_fail(err, WF_FORMAT,
                        "%s: line %ld: the velocities lead %.3g m away from the position that "
                        "stands there, over %.3g s: give m and m/s of one frame, in shorter steps",
                        reader->path, reader->number, missed, step_s);
    return WF_OK;
}

static wf_status read_rows(wfi_state_table *table, wf_time_scale scale, wfi_line_reader *reader,
                           wf_error *err)
{
    wf_status status = WF_OK;
    while ((status = wfi_line_reader_next(reader, err)) == WF_OK) {
        const char *line = reader->line + strspn(reader->line, " \t\r");
        if (*line == '\0' || *line == '#')
            continue;
        wfi_state row;
        WFI_TRY(parse_row(reader, scale, &row, err));
        if (table->n_rows > 0)
            WFI_TRY(check_step(reader, &table->rows[table->n_rows - 1], &row, err));
        WFI_TRY(wfi_array_reserve(&table->rows, &table->capacity, table->n_rows + 1, sizeof row,
                                  "a state table", err));
        table->rows[table->n_rows++] = row;
    }
    return status == WF_END ? WF_OK : status;
}

wf_status wfi_state_table_read(wfi_state_table *table, const wf_state_table *entry, wf_error *err)
{
    wfi_line_reader reader = {0};
    table->frame = entry->frame;
    wf_status status = wfi_string_copy(&table->path, entry->path, err);
    if (status == WF_OK)
        status = wfi_line_reader_open(&reader, entry->path, err);
    if (status == WF_OK)
        status = read_rows(table, entry->time_scale, &reader, err);
    wfi_line_reader_close(&reader);
    if (status == WF_OK && table->n_rows < WINDOW)
        status = wfi_fail(err, WF_FORMAT,
                          "%s holds %zu rows; a state table needs at least %d to be interpolated",
                          entry->path, table->n_rows, (int)WINDOW);
    return status;
}

void wfi_state_table_release(wfi_state_table *table)
{
    wfi_free(table->path);
    wfi_free(table->rows);
    *table = (wfi_state_table){0};
}

static size_t window_start(const wfi_state_table *table, wf_instant t)
{
    size_t low = 0, high = table->n_rows;
    while (high - low > 1) {
        const size_t middle = low + (high - low) / 2;
        if (wf_instant_difference_s(t, table->rows[middle].t) < 0.0)
            high = middle;
        else
            low = middle;
    }
    const size_t before = WINDOW / 2 - 1;
    const size_t first = low > before ? low - before : 0;
    return first + WINDOW > table->n_rows ? table->n_rows - WINDOW : first;
}

/* Newton's divided differences with every node twice, of one coordinate; value and slope at t. */
static void interpolate(const wfi_state *rows, const double node_s[N_NODES], int i, double *value,
                        double *slope)
{
    double c[N_NODES];
    for (int k = 0; k < N_NODES; k++)
        c[k] = rows[k / 2].position_m[i];
    for (int order = 1; order < N_NODES; order++)
        for (int k = N_NODES - 1; k >= order; k--) {
            const double step_s = node_s[k] - node_s[k - order];
            c[k] = step_s == 0.0 ? rows[k / 2].velocity_m_per_s[i] : (c[k] - c[k - 1]) / step_s;
        }
    *value = c[N_NODES - 1];
    *slope = 0.0;
    for (int k = N_NODES - 2; k >= 0; k--) {
        *slope = *value - node_s[k] * *slope;
        *value = c[k] - node_s[k] * *value;
    }
}

wf_status wfi_state_table_evaluate(const wfi_state_table *table, wf_instant t, wfi_state *out,
                                   wf_error *err)
{
    char asked[WF_INSTANT_TEXT_BYTES], first[WF_INSTANT_TEXT_BYTES], last[WF_INSTANT_TEXT_BYTES];
    const wfi_state *end = &table->rows[table->n_rows - 1];
    if (wf_instant_difference_s(t, table->rows[0].t) < 0.0 ||
        wf_instant_difference_s(t, end->t) > 0.0) {
        wf_instant_format(asked, t, 6);
        wf_instant_format(first, table->rows[0].t, 6);
        wf_instant_format(last, end->t, 6);
        return wfi_fail(err, WF_RANGE,
                        "%s: the state table spans %s to %s UTC, asked for %s: it must cover the "
                        "scans, the light's way before them and one second on either side",
                        table->path, first, last, asked);
    }
    const wfi_state *rows = &table->rows[window_start(table, t)];
    double node_s[N_NODES];
    for (int k = 0; k < N_NODES; k++)
        node_s[k] = wf_instant_difference_s(rows[k / 2].t, t);
    out->t = t;
    for (int i = 0; i < 3; i++)
        interpolate(rows, node_s, i, &out->position_m[i], &out->velocity_m_per_s[i]);
    return WF_OK;
}
