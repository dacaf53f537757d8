/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What stations have, from what baselines measure: weighted least squares. */
#include <whitefringe/fringe_fit.h>

#include <math.h>

#include "base/memory.h"
#include "base/status.h"
#include "fringe/measures.h"

/* The worst measure is excluded only if chi-squared falls by this much more than it would without
 * the next one: two sigma tell them apart. */
static const double CHI2_APART = 4;

typedef struct network {
    const wf_fringe_measure *measures;
    size_t n_measures;
    size_t n_stations;
    size_t i_reference;
} network;

typedef struct solution {
    bool *is_connected; /* [n_stations] to the reference */
    size_t *row;        /* [n_stations] of the matrix; those connected but the reference */
    size_t n;           /* rows */
    double *matrix;     /* [n][n] normal matrix, then its Cholesky factor, then the covariance */
    double *value;      /* [n] right side, then the solution */
    double *scratch;    /* [n][n] */
} solution;

static void connect(solution *s, const network *net)
{
    s->is_connected[net->i_reference] = true;
    bool has_grown = true;
    while (has_grown) {
        has_grown = false;
        for (size_t k = 0; k < net->n_measures; k++) {
            const wf_fringe_measure *m = &net->measures[k];
            if (!wfi_measure_counts(m) ||
                s->is_connected[m->i_station] == s->is_connected[m->j_station])
                continue;
            s->is_connected[m->i_station] = s->is_connected[m->j_station] = true;
            has_grown = true;
        }
    }
    s->n = 0;
    for (size_t i = 0; i < net->n_stations; i++) {
        if (s->is_connected[i] && i != net->i_reference)
            s->row[i] = s->n++;
    }
}

static void add_to_diagonal(solution *s, const network *net, size_t i_station, double weight,
                            double value)
{
    if (i_station == net->i_reference)
        return;
    const size_t row = s->row[i_station];
    s->matrix[row * s->n + row] += weight;
    s->value[row] += weight * value;
}

static void add_measure(solution *s, const network *net, const wf_fringe_measure *m)
{
    const double weight = 1 / (m->error * m->error);
    add_to_diagonal(s, net, m->i_station, weight, m->value);
    add_to_diagonal(s, net, m->j_station, weight, -m->value);
    if (m->i_station == net->i_reference || m->j_station == net->i_reference)
        return;
    const size_t i = s->row[m->i_station];
    const size_t j = s->row[m->j_station];
    s->matrix[i * s->n + j] -= weight;
    s->matrix[j * s->n + i] -= weight;
}

/* Lower triangle of the matrix into its Cholesky factor; a connected network is positive. */
static void factorise(double *a, size_t n)
{
    for (size_t j = 0; j < n; j++) {
        for (size_t i = j; i < n; i++) {
            double sum = a[i * n + j];
            for (size_t k = 0; k < j; k++)
                sum -= a[i * n + k] * a[j * n + k];
            a[i * n + j] = i == j ? sqrt(sum) : sum / a[j * n + j];
        }
    }
}

static void substitute(const double *factor, size_t n, double *x)
{
    for (size_t i = 0; i < n; i++) {
        for (size_t k = 0; k < i; k++)
            x[i] -= factor[i * n + k] * x[k];
        x[i] /= factor[i * n + i];
    }
    for (size_t i = n; i-- > 0;) {
        for (size_t k = i + 1; k < n; k++)
            x[i] -= factor[k * n + i] * x[k];
        x[i] /= factor[i * n + i];
    }
}

/* Scratch becomes the covariance: the matrix's inverse, column by column. */
static void invert(solution *s)
{
    const size_t n = s->n;
    for (size_t j = 0; j < n; j++) {
        double *column = s->scratch + j * n;
        for (size_t i = 0; i < n; i++)
            column[i] = i == j;
        substitute(s->matrix, n, column);
    }
    double *factor = s->matrix;
    s->matrix = s->scratch;
    s->scratch = factor;
}

static wf_status allocate(solution *s, size_t n, wf_error *err)
{
    static const char what[] = "a solution for stations";
    WFI_TRY(wfi_allocate(&s->is_connected, n, sizeof *s->is_connected, what, err));
    WFI_TRY(wfi_allocate(&s->row, n, sizeof *s->row, what, err));
    WFI_TRY(wfi_allocate(&s->matrix, n * n, sizeof *s->matrix, what, err));
    WFI_TRY(wfi_allocate(&s->scratch, n * n, sizeof *s->scratch, what, err));
    return wfi_allocate(&s->value, n, sizeof *s->value, what, err);
}

static void release(solution *s)
{
    wfi_free(s->is_connected);
    wfi_free(s->row);
    wfi_free(s->matrix);
    wfi_free(s->scratch);
    wfi_free(s->value);
}

static wf_status solve(solution *s, const network *net, wf_error *err)
{
    *s = (solution){0};
    const wf_status status = allocate(s, net->n_stations, err);
    if (status != WF_OK) {
        release(s);
        return status;
    }
    connect(s, net);
    for (size_t k = 0; k < net->n_measures; k++) {
        const wf_fringe_measure *m = &net->measures[k];
        if (wfi_measure_counts(m) && s->is_connected[m->i_station])
            add_measure(s, net, m);
    }
    factorise(s->matrix, s->n);
    substitute(s->matrix, s->n, s->value);
    invert(s);
    return WF_OK;
}

static double value_of(const solution *s, const network *net, size_t i_station)
{
    return i_station == net->i_reference ? 0 : s->value[s->row[i_station]];
}

static double covariance_of(const solution *s, const network *net, size_t i, size_t j)
{
    if (i == net->i_reference || j == net->i_reference)
        return 0;
    return s->matrix[s->row[i] * s->n + s->row[j]];
}

static bool is_solved(const solution *s, const wf_fringe_measure *m)
{
    return s->is_connected[m->i_station] && s->is_connected[m->j_station];
}

static double residual_of(const solution *s, const network *net, const wf_fringe_measure *m)
{
    return m->value - (value_of(s, net, m->i_station) - value_of(s, net, m->j_station));
}

static void fill_stations(wf_station_value *stations, const solution *s, const network *net)
{
    for (size_t i = 0; i < net->n_stations; i++) {
        stations[i] = (wf_station_value){.solved = s->is_connected[i]};
        if (!s->is_connected[i])
            continue;
        stations[i].value = value_of(s, net, i);
        stations[i].error = sqrt(covariance_of(s, net, i, i));
    }
    for (size_t k = 0; k < net->n_measures; k++) {
        const wf_fringe_measure *m = &net->measures[k];
        if (!wfi_measure_counts(m) || !is_solved(s, m))
            continue;
        stations[m->i_station].n_used++;
        stations[m->j_station].n_used++;
    }
}

wf_status wf_fringe_solve(wf_station_value *stations, double *residuals, double *reduced_chi2,
                          const wf_fringe_measure *measures, size_t n_measures, size_t n_stations,
                          size_t i_reference, wf_error *err)
{
    const network net = {measures, n_measures, n_stations, i_reference};
    WFI_TRY(wfi_measures_check(measures, n_measures, n_stations, i_reference, err));
    solution s;
    WFI_TRY(solve(&s, &net, err));
    fill_stations(stations, &s, &net);
    double chi2 = 0;
    size_t n_used = 0;
    for (size_t k = 0; k < n_measures; k++) {
        const wf_fringe_measure *m = &measures[k];
        const double residual = is_solved(&s, m) ? residual_of(&s, &net, m) / m->error : NAN;
        if (residuals != NULL)
            residuals[k] = residual;
        if (wfi_measure_counts(m) && is_solved(&s, m)) {
            chi2 += residual * residual;
            n_used++;
        }
    }
    if (reduced_chi2 != NULL)
        *reduced_chi2 = n_used > s.n ? chi2 / (double)(n_used - s.n) : NAN;
    release(&s);
    return WF_OK;
}

/* Residual over its own standard deviation; 0 where nothing else measures the same. */
static double contradiction(const solution *s, const network *net, const wf_fringe_measure *m)
{
    if (!wfi_measure_counts(m) || !is_solved(s, m))
        return 0;
    const size_t i = m->i_station;
    const size_t j = m->j_station;
    const double own = m->error * m->error;
    const double fitted =
        covariance_of(s, net, i, i) + covariance_of(s, net, j, j) - 2 * covariance_of(s, net, i, j);
    const double left = own - fitted;
    return left > 1e-6 * own ? fabs(residual_of(s, net, m)) / sqrt(left) : 0;
}

/* The measure to exclude, or n_measures. */
static size_t worst(const solution *s, const network *net, double limit_sigma)
{
    size_t i_worst = net->n_measures;
    double highest = limit_sigma;
    double next = 0;
    for (size_t k = 0; k < net->n_measures; k++) {
        const double sigma = contradiction(s, net, &net->measures[k]);
        if (sigma > highest) {
            next = i_worst < net->n_measures ? highest : next;
            highest = sigma;
            i_worst = k;
        } else {
            next = fmax(next, sigma);
        }
    }
    return highest * highest - next * next > CHI2_APART ? i_worst : net->n_measures;
}

wf_status wf_fringe_exclude_outliers(wf_fringe_measure *measures, size_t *n_excluded,
                                     size_t n_measures, size_t n_stations, size_t i_reference,
                                     double limit_sigma, wf_error *err)
{
    const network net = {measures, n_measures, n_stations, i_reference};
    *n_excluded = 0;
    if (!(limit_sigma > 0))
        return wfi_fail(err, WF_ARGUMENT,
                        "a limit of %g sigma excludes nothing or all: expected "
                        "more than 0, 5 is usual",
                        limit_sigma);
    WFI_TRY(wfi_measures_check(measures, n_measures, n_stations, i_reference, err));
    for (;;) {
        solution s;
        WFI_TRY(solve(&s, &net, err));
        const size_t k = worst(&s, &net, limit_sigma);
        release(&s);
        if (k == n_measures)
            return WF_OK;
        measures[k].excluded = true;
        ++*n_excluded;
    }
}
