/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The table of delays as text, CSV and JSON. */
#include "delays_table.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "base/text.h"
#include "json.h"

enum { TIME_DIGITS = 9, STATIONS_A_LINE = 6, KEY_BYTES = 48 };

/* A number of a row, by its key in CSV and JSON. */
typedef struct column {
    const char *key;
    size_t offset; /* in delay_row */
} column;

#define FIELD(name) offsetof(delay_row, name)
static const column first_columns[] = {
    {"total_s", FIELD(total_s)},
    {"rate_s_per_s", FIELD(rate_s_per_s)},
    {"azimuth_deg", FIELD(azimuth_deg)},
    {"elevation_deg", FIELD(elevation_deg)},
    {"u_m", FIELD(delay.uvw_m[0])},
    {"v_m", FIELD(delay.uvw_m[1])},
    {"w_m", FIELD(delay.uvw_m[2])},
    {"delay_s", FIELD(delay.tau_s)},
    {"geometry_s", FIELD(delay.geometry_s)},
};
static const column last_columns[] = {
    {"table_s", FIELD(delay.table_s)},
    {"clock_ahead_s", FIELD(delay.clock_ahead_s)},
};
enum {
    N_FIRST = sizeof first_columns / sizeof first_columns[0],
    N_LAST = sizeof last_columns / sizeof last_columns[0]
};

static size_t n_columns(void)
{
    size_t n_shares = 0;
    (void)wf_delay_shares(&n_shares);
    return N_FIRST + n_shares + N_LAST;
}

static column column_at(size_t i, char key[KEY_BYTES])
{
    size_t n_shares = 0;
    const wf_delay_share *shares = wf_delay_shares(&n_shares);
    if (i < N_FIRST)
        return first_columns[i];
    if (i >= N_FIRST + n_shares)
        return last_columns[i - N_FIRST - n_shares];
    const wf_delay_share *share = &shares[i - N_FIRST];
    snprintf(key, KEY_BYTES, "%s_s", share->name);
    return (column){key, FIELD(delay) + share->delay_offset};
}

static double value_at(const delay_row *r, size_t offset)
{
    double value = 0;
    memcpy(&value, (const char *)r + offset, sizeof value);
    return value;
}

static bool same_moment(const delay_row *a, const delay_row *b)
{
    return a->i_scan == b->i_scan && wf_instant_difference_s(a->t, b->t) == 0;
}

static const char *station_name(const delay_table *t, const delay_row *r)
{
    return t->observation->stations[r->i_station].name;
}

static const char *source_name(const delay_table *t, const delay_row *r)
{
    const wf_observation *o = t->observation;
    return o->sources[o->scans[r->i_scan].i_source].name;
}

static void print_directions(const delay_table *t, const delay_row *rows, size_t n)
{
    printf("  %-8s%19s%15s%13s%15s%15s%15s%15s\n", "station", "total/us", "rate/(ns/s)",
           "azimuth/deg", "elevation/deg", "u/m", "v/m", "w/m");
    for (const delay_row *r = rows; r < rows + n; r++)
        printf("  %-8s%19.9f%15.6f%13.4f%15.4f%15.3f%15.3f%15.3f%s\n", station_name(t, r),
               1e6 * r->total_s, 1e9 * r->rate_s_per_s, r->azimuth_deg, r->elevation_deg,
               r->delay.uvw_m[0], r->delay.uvw_m[1], r->delay.uvw_m[2],
               r->below_limit ? "  below its limit" : "");
}

/* One line of the terms: what all the stations have of it; nothing where none has. */
static void print_line(const char *heading, const delay_row *rows, size_t n, size_t offset,
                       bool always)
{
    bool any = always;
    for (size_t i = 0; i < n; i++)
        any = any || value_at(&rows[i], offset) != 0.0;
    if (!any)
        return;
    printf("  %-16s", heading);
    for (size_t i = 0; i < n; i++)
        printf("%20.4f", 1e12 * value_at(&rows[i], offset));
    putchar('\n');
}

static void print_terms(const delay_table *t, const delay_row *rows, size_t n)
{
    size_t n_shares = 0;
    const wf_delay_share *shares = wf_delay_shares(&n_shares);
    printf("\n  %-16s", "ps");
    for (size_t i = 0; i < n; i++)
        printf("%20s", station_name(t, &rows[i]));
    putchar('\n');
    print_line("delay", rows, n, FIELD(delay.tau_s), true);
    print_line("geometry", rows, n, FIELD(delay.geometry_s), false);
    for (size_t k = 0; k < n_shares; k++)
        print_line(shares[k].heading, rows, n, FIELD(delay) + shares[k].delay_offset, false);
    print_line("table", rows, n, FIELD(delay.table_s), false);
    print_line("clock", rows, n, FIELD(delay.clock_ahead_s), false);
}

/* What is left out, and why: the terms that are off, then those for which a station has no data. */
static void print_absent(const delay_table *t)
{
    size_t n_shares = 0;
    const wf_delay_share *shares = wf_delay_shares(&n_shares);
    const size_t n_stations = t->observation->n_stations;
    for (size_t k = 0; k < n_shares; k++) {
        const char *before = "";
        size_t n_off = 0;
        for (size_t i = 0; i < n_stations; i++) {
            const wf_term_state state = wf_delay_share_state(t->model, i, k);
            n_off += state == WF_TERM_OFF;
            if (state != WF_TERM_NO_DATA)
                continue;
            if (*before == '\0')
                printf("no data, left out: %s of", shares[k].description);
            printf("%s %s", before, t->observation->stations[i].name);
            before = ",";
        }
        if (*before != '\0')
            putchar('\n');
        /* a table or an orbit leaves terms off for its station alone */
        if (n_off == n_stations)
            printf("off: %s\n", shares[k].description);
    }
}

static void print_text(const delay_table *t)
{
    const wf_observation *o = t->observation;
    printf("campaign %s; total = delay + clock, against the geocentre\n", o->campaign);
    print_absent(t);
    for (size_t i = 0; i < t->n;) {
        size_t n = 1;
        while (i + n < t->n && same_moment(&t->rows[i], &t->rows[i + n]))
            n++;
        char time[WF_INSTANT_TEXT_BYTES];
        wf_instant_format(time, t->rows[i].t, TIME_DIGITS);
        printf("\nscan %s  source %s  %s UTC\n", o->scans[t->rows[i].i_scan].name,
               source_name(t, &t->rows[i]), time);
        print_directions(t, t->rows + i, n);
        for (size_t k = 0; k < n; k += STATIONS_A_LINE)
            print_terms(t, t->rows + i + k, n - k < STATIONS_A_LINE ? n - k : STATIONS_A_LINE);
        i += n;
    }
}

/* For outputs that a machine reads: once a station, on stderr. */
static void warn_below_at(const delay_table *t, size_t i_station)
{
    const delay_row *first = NULL;
    size_t n_scans = 0, i_last = 0;
    for (size_t i = 0; i < t->n; i++) {
        const delay_row *r = &t->rows[i];
        if (r->i_station != i_station || !r->below_limit || (n_scans > 0 && r->i_scan == i_last))
            continue;
        first = n_scans++ == 0 ? r : first;
        i_last = r->i_scan;
    }
    if (first == NULL)
        return;
    char more[64] = "";
    if (n_scans > 1)
        snprintf(more, sizeof more, " (and in %zu more scan%s)", n_scans - 1,
                 n_scans > 2 ? "s" : "");
    fprintf(stderr,
            "whitefringe: warning: station %s, scan %s%s: %s stands at an elevation of %.2f deg, "
            "below its limit; such rows are marked\n",
            station_name(t, first), t->observation->scans[first->i_scan].name, more,
            source_name(t, first), first->elevation_deg);
}

static void warn_below(const delay_table *t)
{
    for (size_t i = 0; i < t->observation->n_stations; i++)
        warn_below_at(t, i);
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

static void print_csv_row(const delay_table *t, const delay_row *r)
{
    const char *const texts[] = {t->observation->scans[r->i_scan].name, source_name(t, r),
                                 station_name(t, r)};
    char time[WF_INSTANT_TEXT_BYTES];
    wf_instant_format(time, r->t, TIME_DIGITS);
    fputs(time, stdout);
    for (size_t k = 0; k < sizeof texts / sizeof texts[0]; k++) {
        putchar(',');
        print_csv_text(texts[k]);
    }
    printf(",%d", r->below_limit);
    for (size_t c = 0; c < n_columns(); c++) {
        char key[KEY_BYTES], number[WFI_NUMBER_BYTES] = "";
        const double value = value_at(r, column_at(c, key).offset);
        if (isfinite(value))
            wfi_format_double(number, value);
        printf(",%s", number);
    }
    putchar('\n');
}

static void print_csv(const delay_table *t)
{
    fputs("time_utc,scan,source,station,below_limit", stdout);
    for (size_t c = 0; c < n_columns(); c++) {
        char key[KEY_BYTES];
        printf(",%s", column_at(c, key).key);
    }
    putchar('\n');
    for (size_t i = 0; i < t->n; i++)
        print_csv_row(t, &t->rows[i]);
}

static void write_absent(json *out, const delay_table *t)
{
    size_t n_shares = 0;
    const wf_delay_share *shares = wf_delay_shares(&n_shares);
    json_open(out, "without_data", '[');
    for (size_t k = 0; k < n_shares; k++)
        for (size_t i = 0; i < t->observation->n_stations; i++) {
            if (wf_delay_share_state(t->model, i, k) != WF_TERM_NO_DATA)
                continue;
            json_open(out, NULL, '{');
            json_text(out, "term", shares[k].name);
            json_text(out, "station", t->observation->stations[i].name);
            json_close(out);
        }
    json_close(out);
}

static void write_row(json *out, const delay_table *t, const delay_row *r)
{
    char time[WF_INSTANT_TEXT_BYTES];
    wf_instant_format(time, r->t, TIME_DIGITS);
    json_open(out, NULL, '{');
    json_text(out, "time_utc", time);
    json_text(out, "scan", t->observation->scans[r->i_scan].name);
    json_text(out, "source", source_name(t, r));
    json_text(out, "station", station_name(t, r));
    json_bool(out, "below_limit", r->below_limit);
    for (size_t c = 0; c < n_columns(); c++) {
        char key[KEY_BYTES];
        const column at = column_at(c, key);
        json_number(out, at.key, value_at(r, at.offset));
    }
    json_close(out);
}

static wf_status print_json(const delay_table *t, wf_error *err)
{
    json out = {0};
    json_open(&out, NULL, '{');
    json_text(&out, "campaign", t->observation->campaign);
    write_absent(&out, t);
    json_open(&out, "delays", '[');
    for (size_t i = 0; i < t->n; i++)
        write_row(&out, t, &t->rows[i]);
    json_close(&out);
    json_close(&out);
    const wf_status status = json_write(&out, stdout, err);
    json_release(&out);
    return status;
}

wf_status delay_table_print(const delay_table *t, const settings *asked, wf_error *err)
{
    if (asked->json || asked->csv)
        warn_below(t);
    if (asked->json)
        return print_json(t, err);
    if (asked->csv)
        print_csv(t);
    else
        print_text(t);
    return WF_OK;
}
