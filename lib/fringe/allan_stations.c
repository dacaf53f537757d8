/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Whose instability it is: Allan variances of baselines into those of stations. */
#include <whitefringe/stability.h>

#include <math.h>

#include "base/memory.h"
#include "base/status.h"

/* A pivot below this part of its start is 0: the station is not separated. */
static const double PIVOT_MIN = 1e-12;

static wf_status check(const wf_allan_baseline *baselines, size_t n_baselines, size_t n_stations,
                       wf_error *err)
{
    for (size_t b = 0; b < n_baselines; b++) {
        const wf_allan_baseline *of = &baselines[b];
        if (of->i_station >= n_stations || of->j_station >= n_stations ||
            of->i_station == of->j_station)
            return wfi_fail(err, WF_ARGUMENT,
                            "baseline %zu joins stations %zu and %zu; give two unlike ones below "
                            "%zu",
                            b + 1, of->i_station, of->j_station, n_stations);
        for (size_t k = 0; k < of->allan->n_points && k < baselines[0].allan->n_points; k++) {
            const double tau_s = of->allan->points[k].tau_s;
            const double first_s = baselines[0].allan->points[k].tau_s;
            if (fabs(tau_s - first_s) > 1e-9 * first_s)
                return wfi_fail(err, WF_ARGUMENT,
                                "averaging time %zu of baseline %zu is %g s, that of baseline 1 "
                                "%g s: give baselines of the same interval",
                                k + 1, b + 1, tau_s, first_s);
        }
    }
    return WF_OK;
}

/* Normal equations of one averaging time. */
typedef struct equations {
    size_t n;
    double *matrix;   /* [n][n] */
    double *right;    /* [n] */
    double *inverse;  /* [n][n] */
    bool *is_solved;  /* [n] */
    double *diagonal; /* [n] before elimination */
} equations;

static void release(equations *e)
{
    wfi_free(e->matrix);
    wfi_free(e->right);
    wfi_free(e->inverse);
    wfi_free(e->is_solved);
    wfi_free(e->diagonal);
}

static wf_status allocate(equations *e, size_t n, wf_error *err)
{
    static const char what[] = "stations' Allan variances";
    *e = (equations){.n = n};
    wf_status status = wfi_allocate(&e->matrix, n * n, sizeof(double), what, err);
    if (status == WF_OK)
        status = wfi_allocate(&e->right, n, sizeof(double), what, err);
    if (status == WF_OK)
        status = wfi_allocate(&e->inverse, n * n, sizeof(double), what, err);
    if (status == WF_OK)
        status = wfi_allocate(&e->is_solved, n, sizeof(bool), what, err);
    if (status == WF_OK)
        status = wfi_allocate(&e->diagonal, n, sizeof(double), what, err);
    return status;
}

/* A variance with edf degrees of freedom scatters by 2 variance^2 / edf. */
static void accumulate(equations *e, const wf_allan_baseline *baselines, size_t n_baselines,
                       size_t k)
{
    const size_t n = e->n;
    for (size_t i = 0; i < n * n; i++)
        e->matrix[i] = e->inverse[i] = 0;
    for (size_t i = 0; i < n; i++) {
        e->right[i] = 0;
        e->inverse[i * n + i] = 1;
        e->is_solved[i] = true;
    }
    for (size_t b = 0; b < n_baselines; b++) {
        if (k >= baselines[b].allan->n_points)
            continue;
        const wf_allan_point *at = &baselines[b].allan->points[k];
        const double variance = at->deviation * at->deviation;
        if (!(variance > 0))
            continue;
        const double weight = at->edf / (2 * variance * variance);
        const double value = variance - at->thermal * at->thermal;
        const size_t ends[2] = {baselines[b].i_station, baselines[b].j_station};
        for (int p = 0; p < 2; p++) {
            e->right[ends[p]] += weight * value;
            for (int q = 0; q < 2; q++)
                e->matrix[ends[p] * n + ends[q]] += weight;
        }
    }
    for (size_t i = 0; i < n; i++)
        e->diagonal[i] = e->matrix[i * n + i];
}

static void add_row(equations *e, size_t to, size_t from, double factor)
{
    for (size_t c = 0; c < e->n; c++) {
        e->matrix[to * e->n + c] += factor * e->matrix[from * e->n + c];
        e->inverse[to * e->n + c] += factor * e->inverse[from * e->n + c];
    }
    e->right[to] += factor * e->right[from];
}

/* Gauss and Jordan, in the order of the stations: the matrix is symmetric and not negative. A
 * pivot of 0 leaves its station open, and with it all that lean on it. */
static void solve(equations *e)
{
    const size_t n = e->n;
    for (size_t p = 0; p < n; p++) {
        if (!(e->matrix[p * n + p] > PIVOT_MIN * e->diagonal[p])) {
            e->is_solved[p] = false;
            continue;
        }
        for (size_t r = 0; r < n; r++) {
            if (r != p)
                add_row(e, r, p, -e->matrix[r * n + p] / e->matrix[p * n + p]);
        }
    }
    for (size_t p = 0; p < n; p++) {
        if (e->matrix[p * n + p] > PIVOT_MIN * e->diagonal[p])
            continue;
        for (size_t r = 0; r < n; r++) {
            if (r != p && fabs(e->matrix[r * n + p]) > PIVOT_MIN * e->diagonal[r])
                e->is_solved[r] = false;
        }
    }
}

static wf_allan_station_point station_point(const equations *e, size_t i, double tau_s)
{
    wf_allan_station_point point = {.solved = e->is_solved[i], .tau_s = tau_s};
    if (!point.solved)
        return point;
    const double pivot = e->matrix[i * e->n + i];
    point.variance = e->right[i] / pivot;
    point.variance_error = sqrt(fmax(e->inverse[i * e->n + i] / pivot, 0));
    point.deviation = sqrt(fmax(point.variance, 0));
    return point;
}

static double averaging_time_s(const wf_allan_baseline *baselines, size_t n_baselines, size_t k)
{
    for (size_t b = 0; b < n_baselines; b++) {
        if (k < baselines[b].allan->n_points)
            return baselines[b].allan->points[k].tau_s;
    }
    return 0;
}

wf_status wf_allan_stations(wf_allan_station_point *points, size_t n_points, size_t n_stations,
                            const wf_allan_baseline *baselines, size_t n_baselines, wf_error *err)
{
    WFI_TRY(check(baselines, n_baselines, n_stations, err));
    equations e = {0};
    const wf_status status = allocate(&e, n_stations, err);
    for (size_t k = 0; k < n_points && status == WF_OK; k++) {
        accumulate(&e, baselines, n_baselines, k);
        solve(&e);
        const double tau_s = averaging_time_s(baselines, n_baselines, k);
        for (size_t i = 0; i < n_stations; i++)
            points[i * n_points + k] = station_point(&e, i, tau_s);
    }
    release(&e);
    return status;
}
