/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Closures of very many triangles. */
#include "report/closures.h"

#include <math.h>
#include <stdlib.h>

static int compare_stations(const void *left, const void *right)
{
    const wf_closure *a = left;
    const wf_closure *b = right;
    if (a->i_station != b->i_station)
        return a->i_station < b->i_station ? -1 : 1;
    if (a->j_station != b->j_station)
        return a->j_station < b->j_station ? -1 : 1;
    return a->k_station < b->k_station ? -1 : a->k_station > b->k_station;
}

/* The farthest from zero first. */
static int compare_distances(const void *left, const void *right)
{
    const wf_closure *a = left;
    const wf_closure *b = right;
    const double x = fabs(a->value) / a->error;
    const double y = fabs(b->value) / b->error;
    if (x < y || x > y)
        return x > y ? -1 : 1;
    return compare_stations(left, right);
}

static void cut(wf_closure *list, size_t *n)
{
    if (*n <= CLOSURES_MAX)
        return;
    qsort(list, *n, sizeof *list, compare_distances);
    *n = CLOSURES_MAX;
    qsort(list, *n, sizeof *list, compare_stations);
}

/* Lists are in the order of stations. */
const wf_closure *closures_find(const wf_closure *list, size_t n, const wf_closure *triangle)
{
    return n > 0 ? bsearch(triangle, list, n, sizeof *list, compare_stations) : NULL;
}

void closures_keep_farthest(survey_solution *solution)
{
    const size_t n_delays = solution->n_delay_closures;
    solution->n_triangles =
        n_delays > solution->n_phase_closures ? n_delays : solution->n_phase_closures;
    cut(solution->phase_closures, &solution->n_phase_closures);
    if (solution->n_phase_closures == 0)
        cut(solution->delay_closures, &solution->n_delay_closures);
    if (solution->n_phase_closures == 0 || n_delays <= CLOSURES_MAX)
        return;
    solution->n_delay_closures = 0;
    for (size_t i = 0; i < n_delays; i++) {
        const wf_closure *c = &solution->delay_closures[i];
        if (closures_find(solution->phase_closures, solution->n_phase_closures, c) != NULL)
            solution->delay_closures[solution->n_delay_closures++] = *c;
    }
}
