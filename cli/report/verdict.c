/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What is to be said of a station. */
#include "report/verdict.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>

#include "report/loss_factors.h"

/* Less valid data than this, or more amplitude lost to a residual, is worth a word. */
static const double VALID_MIN = 0.98;
static const double LOSS_MAX = 0.01;
/* Part of the window's half-width beyond which a delay may be one that wrapped. */
static const double EDGE = 0.9;

static void doubt(verdict *v, const char *format, ...) __attribute__((format(printf, 2, 3)));

static void doubt(verdict *v, const char *format, ...)
{
    va_list arguments;
    if (v->n_doubts == VERDICT_DOUBTS_MAX)
        return;
    va_start(arguments, format);
    vsnprintf(v->doubts[v->n_doubts++], VERDICT_BYTES, format, arguments);
    va_end(arguments);
}

static bool has(const survey_baseline *b, size_t i_station)
{
    return b->i_station == i_station || b->j_station == i_station;
}

static void count(verdict *v, const survey *s, size_t i_station)
{
    v->snr_low = INFINITY;
    for (size_t i = 0; i < s->n_baselines; i++) {
        const survey_baseline *b = &s->baselines[i];
        if (!has(b, i_station))
            continue;
        v->n_baselines++;
        if (!survey_any_found(s, b))
            continue;
        const double snr = survey_snr(s, b);
        v->n_found++;
        v->snr_low = fmin(v->snr_low, snr);
        v->snr_high = fmax(v->snr_high, snr);
    }
}

static void weigh(verdict *v, const survey *s, size_t i_station)
{
    const float *weight = s->weight + i_station * s->n_times;
    double sum = 0;
    size_t n = 0;
    for (size_t t = 0; t < s->n_times; t++) {
        sum += weight[t] >= 0 ? (double)weight[t] : 0;
        n += weight[t] >= 0;
    }
    v->valid_fraction = n > 0 ? sum / (double)n : (double)NAN;
    if (n > 0 && v->valid_fraction < VALID_MIN)
        doubt(v, "%.1f %% of the data are missing or not valid.", 100 * (1 - v->valid_fraction));
}

static bool is_cross(const survey *s, size_t i_product)
{
    const char *name = survey_product(s, i_product);
    return name[0] != '\0' && name[1] != '\0' && name[0] != name[1];
}

/* What holds for each of a station's baselines with fringes. */
typedef struct pattern {
    size_t n;
    size_t n_swapped; /* the crossed products are the strong ones */
    size_t n_at_edge; /* of the window of delays */
    size_t n_delay;   /* the residual delay costs amplitude */
    size_t n_rate;
} pattern;

static void look_at(pattern *p, const survey *s, const survey_baseline *b)
{
    const report_row *best = survey_strongest(s, b);
    const loss_factors loss = loss_factors_of(s, best);
    const double half_window_s = 0.5 / s->info->channel_width_hz;
    p->n++;
    p->n_swapped += is_cross(s, best->i_product);
    p->n_at_edge += s->info->n_channels > 1 && fabs(best->peak.delay_s) > EDGE * half_window_s;
    p->n_delay += loss.channel < 1 - LOSS_MAX;
    p->n_rate += loss.integration < 1 - LOSS_MAX;
}

static void look_for_patterns(verdict *v, const survey *s, size_t i_station)
{
    pattern p = {0};
    for (size_t i = 0; i < s->n_baselines; i++) {
        if (has(&s->baselines[i], i_station) && survey_any_found(s, &s->baselines[i]))
            look_at(&p, s, &s->baselines[i]);
    }
    if (p.n == 0)
        return;
    if (p.n_swapped == p.n)
        doubt(v, "Crossed polarizations are the strong ones: its polarizations may be swapped.");
    if (p.n_at_edge == p.n)
        doubt(v, "The residual delay is at the edge of the window and may be another one, wrapped: "
                 "correlate with more channels.");
    else if (p.n_delay == p.n)
        doubt(v, "The residual delay costs more than 1 %% of the amplitude within each channel.");
    if (p.n_rate == p.n)
        doubt(v,
              "The residual rate costs more than 1 %% of the amplitude within each integration.");
}

/* Bands without a fringe on baselines that have one in another band. */
static void look_for_dead_bands(verdict *v, const survey *s, size_t i_station)
{
    if (v->n_found == 0)
        return;
    for (size_t b = 0; b < s->info->n_bands; b++) {
        bool found = false;
        for (size_t i = 0; i < s->n_baselines; i++) {
            const report_row *rows = survey_rows(s, &s->baselines[i]);
            for (size_t k = 0; has(&s->baselines[i], i_station) && k < s->info->n_products; k++)
                found = found || report_row_found(&rows[b * s->info->n_products + k]);
        }
        if (!found)
            doubt(v, "No fringe in band %zu (%.3f MHz), though there is one in others.", b + 1,
                  1e-6 * survey_band_middle_hz(s, b));
    }
}

/* A station's baselines with another one. */
typedef struct partner {
    size_t n;       /* each in each stretch */
    size_t n_found; /* with a fringe */
    bool dead;      /* the partner has no fringe with anybody */
} partner;

enum { STATIONS_MAX = 255 }; /* of a FITS-IDI file */

static void count_partners(partner partners[STATIONS_MAX], const survey *s, size_t i_station)
{
    for (size_t k = 0; k < s->info->n_stations; k++)
        partners[k] = (partner){.dead = true};
    for (size_t i = 0; i < s->n_baselines; i++) {
        const survey_baseline *b = &s->baselines[i];
        const bool found = survey_any_found(s, b);
        partners[b->i_station].dead = partners[b->i_station].dead && !found;
        partners[b->j_station].dead = partners[b->j_station].dead && !found;
        if (!has(b, i_station))
            continue;
        partner *other = &partners[b->i_station == i_station ? b->j_station : b->i_station];
        other->n++;
        other->n_found += found;
    }
}

/* Names of the partners without a fringe, those that have none with anybody or the others; at most
 * three. Returns how many there are. */
static size_t name_partners(char names[VERDICT_BYTES - 64], const survey *s,
                            const partner partners[STATIONS_MAX], bool dead)
{
    enum { NAMED_MAX = 3 };
    size_t n = 0;
    size_t n_named = 0;
    names[0] = '\0';
    for (size_t k = 0; k < s->info->n_stations; k++) {
        if (partners[k].n == 0 || partners[k].n_found > 0 || partners[k].dead != dead)
            continue;
        if (n_named < NAMED_MAX)
            n += (size_t)snprintf(names + n, VERDICT_BYTES - 64 - n, "%s%s", n > 0 ? ", " : "",
                                  s->info->station_names[k]);
        n_named++;
    }
    if (n_named > NAMED_MAX)
        snprintf(names + n, VERDICT_BYTES - 64 - n, " and %zu more", n_named - NAMED_MAX);
    return n_named;
}

/* Baselines without a fringe for which the partner cannot be blamed. */
static size_t look_at_partners(verdict *v, const survey *s, size_t i_station)
{
    partner partners[STATIONS_MAX];
    char names[VERDICT_BYTES - 64];
    size_t n_unexplained = 0;
    count_partners(partners, s, i_station);
    for (size_t k = 0; k < s->info->n_stations; k++)
        n_unexplained += partners[k].dead ? 0 : partners[k].n - partners[k].n_found;
    const size_t n_dead = name_partners(names, s, partners, true);
    if (n_dead > 0)
        doubt(v, "No fringe with %s, which ha%s none with anybody.", names,
              n_dead > 1 ? "ve" : "s");
    if (name_partners(names, s, partners, false) > 0)
        doubt(v, "No fringe with %s.", names);
    return n_unexplained;
}

static void put_words(verdict *v)
{
    if (v->n_baselines == 0)
        snprintf(v->words, sizeof v->words, "No baselines in this file");
    else if (v->n_found == 0)
        snprintf(v->words, sizeof v->words, "No fringe on any of %zu baselines", v->n_baselines);
    else if (v->n_found == v->n_baselines && v->n_baselines == 1)
        snprintf(v->words, sizeof v->words, "A fringe on its only baseline");
    else if (v->n_found == v->n_baselines)
        snprintf(v->words, sizeof v->words, "Fringes on all %zu baselines", v->n_baselines);
    else
        snprintf(v->words, sizeof v->words, "Fringes on %zu of %zu baselines", v->n_found,
                 v->n_baselines);
}

verdict verdict_of(const survey *s, size_t i_station)
{
    verdict v = {0};
    size_t n_unexplained = 0;
    count(&v, s, i_station);
    weigh(&v, s, i_station);
    look_for_patterns(&v, s, i_station);
    look_for_dead_bands(&v, s, i_station);
    const bool doubtful = v.n_doubts > 0;
    if (v.n_found > 0 && v.n_found < v.n_baselines)
        n_unexplained = look_at_partners(&v, s, i_station);
    put_words(&v);
    if (v.n_found == 0)
        v.level = VERDICT_BAD;
    else
        v.level = doubtful || n_unexplained > 0 ? VERDICT_DOUBT : VERDICT_GOOD;
    return v;
}
