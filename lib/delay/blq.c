/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Ocean-loading coefficients of stations: files in the BLQ format. */
#include "delay/blq.h"

#include <erfa.h>
#include <erfam.h>
#include <math.h>
#include <string.h>

#include "base/memory.h"
#include "base/status.h"
#include "base/text.h"
#include "delay/columns.h"

enum { N_ROWS = 6, STATIONS_MAX = 20000 };

static const char *const ROW_NAMES[N_ROWS] = {"up amplitudes",    "west amplitudes",
                                              "south amplitudes", "up phases",
                                              "west phases",      "south phases"};

/* The largest loading known is 0.15 m (English Channel); phases come as +-180 or 0 to 360. */
static const double AMPLITUDE_MOST_M = 0.5;
static const double PHASE_MOST_DEG = 360.0;

static const char BLANKS[] = " \t";

/* The next line that holds something, or END. */
static wf_status next_content(wfi_line_reader *reader, const char **content, wf_error *err)
{
    wf_status status = WF_OK;
    while ((status = wfi_line_reader_next(reader, err)) == WF_OK) {
        *content = reader->line + strspn(reader->line, BLANKS);
        if (**content != '\0' && strncmp(*content, "$$", 2) != 0)
            return WF_OK;
    }
    return status;
}

static wf_status read_value(const wfi_line_reader *reader, const char *word, size_t n, int i_row,
                            double *value, wf_error *err)
{
    if (!wfi_parse_double(value, word, n))
        return wfi_fail(
            err, WF_FORMAT, "%s: line %ld: \"%.*s\" is no number; expected eleven %s, M2 to Ssa",
            reader->path, reader->number, (int)(n < 40 ? n : 40), word, ROW_NAMES[i_row]);
    const bool is_phase = i_row >= 3;
    const double least = is_phase ? -PHASE_MOST_DEG : 0.0;
    const double most = is_phase ? PHASE_MOST_DEG : AMPLITUDE_MOST_M;
    if (*value >= least && *value <= most)
        return WF_OK;
    return wfi_fail(err, WF_FORMAT, "%s: line %ld: found %g; expected %s from %g to %g %s",
                    reader->path, reader->number, *value, ROW_NAMES[i_row], least, most,
                    is_phase ? "degrees" : "m: is the file in mm or cm? divide by 1000 or 100");
}

static wf_status read_row(const wfi_line_reader *reader, const char *content, int i_row,
                          double values[WFI_N_BLQ_WAVES], wf_error *err)
{
    const char *cursor = content, *word = NULL;
    for (int i = 0; i < WFI_N_BLQ_WAVES; i++) {
        const size_t n = wfi_next_word(&cursor, &word);
        if (n == 0)
            return wfi_fail(err, WF_FORMAT,
                            "%s: line %ld holds %d numbers; expected eleven %s, M2 to Ssa",
                            reader->path, reader->number, i, ROW_NAMES[i_row]);
        WFI_TRY(read_value(reader, word, n, i_row, &values[i], err));
    }
    if (wfi_next_word(&cursor, &word) > 0)
        return wfi_fail(err, WF_FORMAT,
                        "%s: line %ld holds more than eleven numbers; expected the %s of M2, S2, "
                        "N2, K2, K1, O1, P1, Q1, Mf, Mm, Ssa",
                        reader->path, reader->number, ROW_NAMES[i_row]);
    return WF_OK;
}

static wf_status read_rows(wfi_line_reader *reader, wfi_blq_station *station, wf_error *err)
{
    for (int i_row = 0; i_row < N_ROWS; i_row++) {
        const char *content = NULL;
        const wf_status status = next_content(reader, &content, err);
        if (status == WF_END)
            return wfi_fail(err, WF_FORMAT,
                            "%s ends after %d of the six rows of station %s (line %ld): the file "
                            "is cut off; fetch it again",
                            reader->path, i_row, station->name, station->line);
        WFI_TRY(status);
        double values[WFI_N_BLQ_WAVES];
        WFI_TRY(read_row(reader, content, i_row, values, err));
        for (int i = 0; i < WFI_N_BLQ_WAVES; i++)
            if (i_row < 3)
                station->amplitude_m[i_row][i] = values[i];
            else
                station->lag_rad[i_row - 3][i] = values[i] * ERFA_DD2R;
    }
    return WF_OK;
}

/* A row of numbers in place of a name: the station before has rows too many, or the name is
 * missing. One number may be a name. */
static bool is_row(const char *content)
{
    const char *cursor = content, *word = NULL;
    size_t n_words = 0;
    for (size_t n = 0; (n = wfi_next_word(&cursor, &word)) > 0; n_words++) {
        double unused = 0;
        if (!wfi_parse_double(&unused, word, n))
            return false;
    }
    return n_words > 1;
}

static wf_status read_name(const wfi_blq *blq, const wfi_line_reader *reader, const char *content,
                           wfi_blq_station *station, wf_error *err)
{
    size_t n = strlen(content);
    while (n > 0 && strchr(BLANKS, content[n - 1]) != NULL)
        n--;
    if (is_row(content))
        return wfi_fail(err, WF_FORMAT,
                        "%s: line %ld: a row of numbers where a station's name is expected: a "
                        "station has six rows, three of amplitudes and three of phases",
                        reader->path, reader->number);
    if (n >= sizeof station->name)
        return wfi_fail(err, WF_FORMAT,
                        "%s: line %ld: \"%.40s...\" where a station's name of at most %zu "
                        "characters is expected: no BLQ file, or a damaged one",
                        reader->path, reader->number, content, sizeof station->name - 1);
    memcpy(station->name, content, n);
    station->name[n] = '\0';
    station->line = reader->number;
    for (size_t i = 0; i < blq->n_stations; i++)
        if (strcmp(blq->stations[i].name, station->name) == 0)
            return wfi_fail(err, WF_FORMAT,
                            "%s: line %ld: station %s stands in line %ld already: keep one of them",
                            reader->path, reader->number, station->name, blq->stations[i].line);
    return WF_OK;
}

wf_status wfi_blq_parse(wfi_blq *blq, wfi_line_reader *reader, wf_error *err)
{
    const char *content = NULL;
    wf_status status = wfi_string_copy(&blq->path, reader->path, err);
    while (status == WF_OK && (status = next_content(reader, &content, err)) == WF_OK) {
        if (blq->n_stations == STATIONS_MAX)
            return wfi_fail(err, WF_FORMAT, "%s: line %ld: more than %d stations", reader->path,
                            reader->number, (int)STATIONS_MAX);
        wfi_blq_station station = {0};
        WFI_TRY(read_name(blq, reader, content, &station, err));
        WFI_TRY(read_rows(reader, &station, err));
        WFI_TRY(wfi_array_reserve(&blq->stations, &blq->capacity, blq->n_stations + 1,
                                  sizeof station, "ocean-loading coefficients", err));
        blq->stations[blq->n_stations++] = station;
    }
    if (status != WF_END)
        return status;
    if (blq->n_stations == 0)
        return wfi_fail(err, WF_FORMAT, "%s holds no station: no BLQ file", reader->path);
    return WF_OK;
}

wf_status wfi_blq_read(wfi_blq *blq, const char *path, wf_error *err)
{
    wfi_line_reader reader = {0};
    wf_status status = wfi_line_reader_open(&reader, path, err);
    if (status == WF_OK)
        status = wfi_blq_parse(blq, &reader, err);
    wfi_line_reader_close(&reader);
    return status;
}

void wfi_blq_release(wfi_blq *blq)
{
    wfi_free(blq->path);
    wfi_free(blq->stations);
    *blq = (wfi_blq){0};
}

static wf_status fail_missing(const wfi_blq *blq, const char *name, wf_error *err)
{
    const char **names = NULL;
    WFI_TRY(wfi_allocate(&names, blq->n_stations, sizeof names[0], "names of stations", err));
    for (size_t i = 0; i < blq->n_stations; i++)
        names[i] = blq->stations[i].name;
    const char *nearest = wfi_nearest_word(name, names, blq->n_stations);
    const wf_status status =
        wfi_fail(err, WF_MISSING,
                 "%s has no ocean loading of station %s%s%s%s; add its coefficients under this "
                 "name, or switch ocean_loading off in delay_terms",
                 blq->path, name, nearest != NULL ? " (did you mean \"" : "",
                 nearest != NULL ? nearest : "", nearest != NULL ? "\"?)" : "");
    wfi_free(names);
    return status;
}

wf_status wfi_blq_find(const wfi_blq *blq, const char *name, const wfi_blq_station **out,
                       wf_error *err)
{
    *out = NULL;
    for (size_t i = 0; i < blq->n_stations; i++)
        if (strcmp(blq->stations[i].name, name) == 0)
            *out = &blq->stations[i];
    return *out != NULL ? WF_OK : fail_missing(blq, name, err);
}
