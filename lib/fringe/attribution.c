/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Least squares of one number for each of two stations, and the choice between them. */
#include "fringe/attribution.h"

#include <math.h>

#include "base/turns.h"

/* Four sigma between the two, and five beyond what chi^2 of so many measurements scatters. */
static const double CHI2_BETWEEN = 16;
static const double CHI2_SIGMA = 5;

typedef struct hypothesis {
    double complex value;
    double error;
    double chi2;
    size_t n_with; /* baselines of the station */
    size_t n;
} hypothesis;

/* What a baseline says of the station's value; 0 of a baseline without it. */
static double complex seen(const wfi_event_measure *m, size_t station, double complex near,
                           bool turns)
{
    const double complex value = m->j_station == station ? -m->value : m->value;
    const bool is_with = m->i_station == station || m->j_station == station;
    const double complex target = is_with ? near : 0;
    if (!turns)
        return value;
    return creal(target) + remainder(creal(value - target), WFI_RAD_PER_TURN);
}

static bool is_with(const wfi_event_measure *m, size_t station)
{
    return m->i_station == station || m->j_station == station;
}

static double square(double complex z)
{
    return creal(z) * creal(z) + cimag(z) * cimag(z);
}

static hypothesis suppose(const wfi_event_measure *measures, size_t n_measures, size_t i_seed,
                          size_t station, bool turns)
{
    hypothesis h = {0};
    const double complex near = seen(&measures[i_seed], station, 0, false);
    double total = 0;
    for (size_t b = 0; b < n_measures; b++) {
        const wfi_event_measure *m = &measures[b];
        if (!(m->error > 0) || !is_with(m, station))
            continue;
        const double weight = 1 / (m->error * m->error);
        h.value += weight * seen(m, station, near, turns);
        total += weight;
        h.n_with++;
    }
    h.value /= total;
    h.error = 1 / sqrt(total);
    for (size_t b = 0; b < n_measures; b++) {
        const wfi_event_measure *m = &measures[b];
        if (!(m->error > 0))
            continue;
        const double complex want = is_with(m, station) ? h.value : 0;
        h.chi2 += square(seen(m, station, near, turns) - want) / (m->error * m->error);
        h.n++;
    }
    return h;
}

wfi_attribution wfi_attribute(const wfi_event_measure *measures, size_t n_measures, size_t i_seed,
                              int n_components, bool turns)
{
    const size_t ends[2] = {measures[i_seed].i_station, measures[i_seed].j_station};
    const hypothesis of[2] = {suppose(measures, n_measures, i_seed, ends[0], turns),
                              suppose(measures, n_measures, i_seed, ends[1], turns)};
    const int best = of[1].chi2 < of[0].chi2;
    const double freedom = n_components * (double)(of[best].n - 1);
    const double chi2_max = freedom + CHI2_SIGMA * sqrt(2 * freedom) + CHI2_BETWEEN;
    return (wfi_attribution){
        .assigned = of[1 - best].chi2 - of[best].chi2 >= CHI2_BETWEEN && of[best].chi2 <= chi2_max,
        .i_station = ends[best],
        .n_baselines = of[best].n_with,
        .value = of[best].value,
        .error = of[best].error,
    };
}
