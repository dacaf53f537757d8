/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The table of delays as text, CSV and JSON. */
#include "delays_table.h"

#include <stdbool.h>
#include <stdio.h>
#include <string.h>

#include "base/text.h"
#include "json.h"

enum { TIME_DIGITS = 9 };

/* A column of all three outputs: key of CSV and JSON; heading, scale and format of the text. */
typedef struct column {
    const char *key;
    size_t offset;
    const char *heading;
    double scale;
    int width;
    int decimals;
} column;

#define COLUMN(field, heading, scale, width, decimals)                                             \
    {                                                                                              \
#field, offsetof(delay_row, field), heading, scale, width, decimals                        \
    }
static const column columns[] = {
    COLUMN(total_s, "total/us", 1e6, 19, 9),
    COLUMN(rate_s_per_s, "rate/(ns/s)", 1e9, 15, 6),
    COLUMN(azimuth_deg, "azimuth/deg", 1, 13, 4),
    COLUMN(elevation_deg, "elevation/deg", 1, 14, 4),
    COLUMN(u_m, "u/m", 1, 15, 3),
    COLUMN(v_m, "v/m", 1, 15, 3),
    COLUMN(w_m, "w/m", 1, 15, 3),
    COLUMN(delay_s, "delay/us", 1e6, 19, 9),
    COLUMN(geometry_s, "geometry/us", 1e6, 19, 9),
    COLUMN(gravity_sun_s, "Sun/ps", 1e12, 10, 3),
    COLUMN(gravity_planets_s, "planets/ps", 1e12, 11, 4),
    COLUMN(gravity_earth_s, "Earth/ps", 1e12, 10, 3),
    COLUMN(table_s, "table/us", 1e6, 19, 9),
    COLUMN(clock_ahead_s, "clock/us", 1e6, 15, 6),
};
enum { N_COLUMNS = sizeof columns / sizeof columns[0], N_COLUMNS_FIRST_PART = 7 };

static double value_of(const delay_row *r, const column *c)
{
    double value = 0;
    memcpy(&value, (const char *)r + c->offset, sizeof value);
    return value;
}

static bool same_moment(const delay_row *a, const delay_row *b)
{
    return a->i_scan == b->i_scan && wf_instant_difference_s(a->t, b->t) == 0;
}

static void print_part(const delay_row *rows, size_t n, const wf_observation *o,
                       size_t first_column, size_t end_column)
{
    printf("  %-8s", "station");
    for (size_t c = first_column; c < end_column; c++)
        printf("%*s", columns[c].width, columns[c].heading);
    putchar('\n');
    for (size_t i = 0; i < n; i++) {
        printf("  %-8s", o->stations[rows[i].i_station].name);
        for (size_t c = first_column; c < end_column; c++)
            printf("%*.*f", columns[c].width, columns[c].decimals,
                   columns[c].scale * value_of(&rows[i], &columns[c]));
        putchar('\n');
    }
}

static void print_text(const delay_table *t, const wf_observation *o)
{
    printf("campaign %s; total = delay + clock, against the geocentre\n", o->campaign);
    for (size_t i = 0; i < t->n;) {
        size_t n = 1;
        while (i + n < t->n && same_moment(&t->rows[i], &t->rows[i + n]))
            n++;
        const wf_scan *scan = &o->scans[t->rows[i].i_scan];
        char time[WF_INSTANT_TEXT_BYTES];
        wf_instant_format(time, t->rows[i].t, TIME_DIGITS);
        printf("\nscan %s  source %s  %s UTC\n", scan->name, o->sources[scan->i_source].name, time);
        print_part(t->rows + i, n, o, 0, N_COLUMNS_FIRST_PART);
        putchar('\n');
        print_part(t->rows + i, n, o, N_COLUMNS_FIRST_PART, N_COLUMNS);
        i += n;
    }
}

/* RFC 4180: a field with a comma, a quote or a new line stands in quotes. */
static void print_csv_text(const char *text)
{
    if (strpbrk(text, ",\"\r\n") == NULL) {
        fputs(text, stdout);
        return;
    }
    putchar('"');
    for (const char *p = text; *p != '\0'; p++) {
        if (*p == '"')
            putchar('"');
        putchar(*p);
    }
    putchar('"');
}

static void print_csv(const delay_table *t, const wf_observation *o)
{
    fputs("time_utc,scan,source,station", stdout);
    for (size_t c = 0; c < N_COLUMNS; c++)
        printf(",%s", columns[c].key);
    putchar('\n');
    for (size_t i = 0; i < t->n; i++) {
        const delay_row *r = &t->rows[i];
        const wf_scan *scan = &o->scans[r->i_scan];
        const char *const texts[] = {scan->name, o->sources[scan->i_source].name,
                                     o->stations[r->i_station].name};
        char time[WF_INSTANT_TEXT_BYTES];
        wf_instant_format(time, r->t, TIME_DIGITS);
        fputs(time, stdout);
        for (size_t k = 0; k < sizeof texts / sizeof texts[0]; k++) {
            putchar(',');
            print_csv_text(texts[k]);
        }
        for (size_t c = 0; c < N_COLUMNS; c++) {
            char number[WFI_NUMBER_BYTES];
            wfi_format_double(number, value_of(r, &columns[c]));
            printf(",%s", number);
        }
        putchar('\n');
    }
}

static wf_status print_json(const delay_table *t, const wf_observation *o, wf_error *err)
{
    json out = {0};
    json_open(&out, NULL, '{');
    json_text(&out, "campaign", o->campaign);
    json_open(&out, "delays", '[');
    for (size_t i = 0; i < t->n; i++) {
        const delay_row *r = &t->rows[i];
        const wf_scan *scan = &o->scans[r->i_scan];
        char time[WF_INSTANT_TEXT_BYTES];
        wf_instant_format(time, r->t, TIME_DIGITS);
        json_open(&out, NULL, '{');
        json_text(&out, "time_utc", time);
        json_text(&out, "scan", scan->name);
        json_text(&out, "source", o->sources[scan->i_source].name);
        json_text(&out, "station", o->stations[r->i_station].name);
        for (size_t c = 0; c < N_COLUMNS; c++)
            json_number(&out, columns[c].key, value_of(r, &columns[c]));
        json_close(&out);
    }
    json_close(&out);
    json_close(&out);
    const wf_status status = json_write(&out, stdout, err);
    json_release(&out);
    return status;
}

wf_status delay_table_print(const delay_table *t, const settings *asked, const wf_observation *o,
                            wf_error *err)
{
    if (asked->json)
        return print_json(t, o, err);
    if (asked->csv)
        print_csv(t, o);
    else
        print_text(t, o);
    return WF_OK;
}
