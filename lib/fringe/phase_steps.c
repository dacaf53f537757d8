/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Offsets and changes of slope between straight lines before and after a time. */
#include "fringe/phase_steps.h"

#include <math.h>

#include "base/memory.h"
#include "base/order.h"
#include "base/status.h"

/* The spread is the mean square of the smaller four fifths of the moduli, which events leave alone,
 * over that of a normal variable: (erf(q/sqrt(2)) - 2 q phi(q)) / 0.8, q the quantile of 0.9. */
static const double KEPT = 0.8;
static const double MEAN_SQUARE_KEPT = 0.4377245949036389;
/* Degrees of freedom of that mean square a window of steps, by numpy on white noise and on a random
 * walk, 512 phases, windows of 4 to 32: 1.31 to 2.99 for offsets, 0.93 to 1.39 for slopes. */
static const double FREEDOM_OFFSET = 1.3;
static const double FREEDOM_SLOPE = 0.9;
/* Visibilities have single precision: no phase is steadier. */
static const double SPREAD_MIN_RAD = 1e-7;
enum { VALUES_MIN = 8 };

/* A line through n integrations: its value at a boundary, its slope, and their variances. */
typedef struct line {
    double value, slope;
    double value_variance, slope_variance;
} line;

/* Integrations `first` to `first + n`, times counted from the boundary. */
static bool fit(line *out, const double *x, size_t first, size_t n, double boundary)
{
    double count = 0, t_sum = 0, x_sum = 0;
    for (size_t i = first; i < first + n; i++) {
        if (isnan(x[i]))
            continue;
        count++;
        t_sum += (double)i - boundary;
        x_sum += x[i];
    }
    if (count < 0.75 * (double)n || count < 2)
        return false;
    const double t_mean = t_sum / count;
    const double x_mean = x_sum / count;
    double tt = 0, tx = 0;
    for (size_t i = first; i < first + n; i++) {
        if (isnan(x[i]))
            continue;
        const double t = (double)i - boundary - t_mean;
        tt += t * t;
        tx += t * (x[i] - x_mean);
    }
    out->slope = tx / tt;
    out->value = x_mean - out->slope * t_mean;
    out->slope_variance = 1 / tt;
    out->value_variance = 1 / count + t_mean * t_mean / tt;
    return true;
}

bool wfi_phase_step(double *size, double *factor, const double *phase_rad, size_t n_times,
                    size_t i_boundary, size_t n, wfi_step_kind kind)
{
    if (i_boundary < n || i_boundary + n > n_times)
        return false;
    const double boundary = (double)i_boundary - 0.5;
    line before;
    line after;
    if (!fit(&before, phase_rad, i_boundary - n, n, boundary) ||
        !fit(&after, phase_rad, i_boundary, n, boundary))
        return false;
    const bool slope = kind == WFI_STEP_SLOPE;
    *size = slope ? after.slope - before.slope : after.value - before.value;
    *factor = sqrt(slope ? before.slope_variance + after.slope_variance
                         : before.value_variance + after.value_variance);
    return true;
}

/* Root of the mean square of what is kept. */
static double spread(double *moduli, size_t n)
{
    wfi_sort_ascending(moduli, n);
    const size_t n_kept = (size_t)(KEPT * (double)n);
    double square = 0;
    for (size_t i = 0; i < n_kept; i++)
        square += moduli[i] * moduli[i];
    return sqrt(square / (double)n_kept / MEAN_SQUARE_KEPT);
}

wf_status wfi_phase_step_scatter(wfi_step_scatter *scatter, const double *phase_rad, size_t n_times,
                                 size_t n, wfi_step_kind kind, wf_error *err)
{
    *scatter = (wfi_step_scatter){0};
    double *values = NULL;
    WFI_TRY(wfi_allocate(&values, n_times, sizeof *values, "steps of a phase", err));
    size_t n_values = 0;
    for (size_t b = 0; b < n_times; b++) {
        double size = 0;
        double factor = 0;
        if (wfi_phase_step(&size, &factor, phase_rad, n_times, b, n, kind))
            values[n_values++] = size / factor;
    }
    if (n_values >= VALUES_MIN) {
        scatter->median = wfi_median(values, n_values);
        for (size_t i = 0; i < n_values; i++)
            values[i] = fabs(values[i] - scatter->median);
        scatter->spread = fmax(spread(values, n_values), SPREAD_MIN_RAD);
        scatter->n_freedom = (size_t)((kind == WFI_STEP_SLOPE ? FREEDOM_SLOPE : FREEDOM_OFFSET) *
                                      (double)n_values / (double)n);
    }
    wfi_free(values);
    return WF_OK;
}
