/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What part of the amplitude is left of what the sky sent, loss by loss. */
#include "report/loss_factors.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const double PI = 3.14159265358979323846;

/* Best efficiency by number of levels: Thompson, Emerson, Schwab 2007; 4 levels of weights 1 and
 * 3.3359, others evenly spaced. */
static const struct {
    unsigned n_levels;
    double efficiency;
} BEST[] = {
    {2, 0.636620},  {3, 0.809826},  {4, 0.882518},  {8, 0.962560},   {9, 0.969304},
    {16, 0.988457}, {32, 0.996505}, {64, 0.998960}, {128, 0.999696}, {256, 0.999912},
};

static double efficiency_of(unsigned n_levels)
{
    for (size_t i = 0; i < sizeof BEST / sizeof BEST[0]; i++) {
        if (BEST[i].n_levels == n_levels)
            return BEST[i].efficiency;
    }
    return n_levels > 256 ? 1 : (double)NAN;
}

static double sinc(double x)
{
    return fabs(x) > 0 ? fabs(sin(PI * x) / (PI * x)) : 1;
}

/* The number behind some words of the history. */
static double number_after(const char *history, const char *words)
{
    const char *found = strstr(history, words);
    return found != NULL ? strtod(found + strlen(words), NULL) : (double)NAN;
}

/* The fewest samples a segment, of "samples a segment: 320, 160". */
static double fewest_samples(const char *history)
{
    static const char WORDS[] = "samples a segment: ";
    const char *p = strstr(history, WORDS);
    double fewest = INFINITY;
    if (p == NULL)
        return (double)NAN;
    p += sizeof WORDS - 1;
    for (;;) {
        char *end = NULL;
        const double n = strtod(p, &end);
        if (end == p || !(n >= 1))
            break;
        fewest = fmin(fewest, n);
        if (*end != ',')
            break;
        p = end + 1;
    }
    return isfinite(fewest) ? fewest : (double)NAN;
}

loss_factors loss_factors_of(const survey *s, const report_row *row)
{
    const char *history = s->notes->history;
    const double interval_s = wf_stretches_get(s->stretches, row->i_stretch)->interval_s;
    loss_factors f;
    f.quantisation = sqrt(efficiency_of(s->notes->n_levels[row->i_station]) *
                          efficiency_of(s->notes->n_levels[row->j_station]));
    f.quantisation_is_corrected = strstr(history, "to quantisation is corrected") != NULL;
    f.rotation = 1 - number_after(history, "amplitude lost to rotation: ");
    f.alignment = 1 - 1 / (3 * fewest_samples(history));
    f.channel = sinc(s->info->channel_width_hz * row->peak.delay_s);
    f.integration =
        sinc(survey_band_middle_hz(s, row->i_band) * row->peak.rate_s_per_s * interval_s);
    return f;
}

double loss_expected_noise(const survey *s, const report_row *row)
{
    const wf_stretch *stretch = wf_stretches_get(s->stretches, row->i_stretch);
    const loss_factors f = loss_factors_of(s, row);
    if (strstr(s->notes->history, "correlation coefficients") == NULL)
        return (double)NAN;
    const double n_samples = 2 * (double)s->info->n_channels * s->info->channel_width_hz *
                             (double)stretch->n_times * stretch->interval_s * row->valid_fraction;
    return 1 / ((f.quantisation_is_corrected ? f.quantisation : 1) * sqrt(n_samples));
}
