/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How far an Allan variance may be trusted: kind of noise, degrees of freedom, interval. */
#include "fringe/allan.h"

#include <math.h>

#include "base/memory.h"
#include "base/status.h"
#include "fringe/phase_trend.h"
#include "statistics/normal.h"

enum { PHASES_MIN = 30, DIFFERENCES_MAX = 2 };
/* From there on a process is not stationary: it is differenced. */
static const double DELTA_STATIONARY = 0.25;
/* One tail of a normal variable's one sigma. */
static const double TAIL = 0.15865525393145705;

static size_t take_phases(double *x, const wf_fringe_phase *phase, size_t m)
{
    size_t n = 0;
    for (size_t t = 0; t < phase->n_times; t += m)
        x[n++] = phase->phase_rad[t];
    return n;
}

static size_t count(const double *x, size_t n)
{
    size_t n_valid = 0;
    for (size_t i = 0; i < n; i++)
        n_valid += isnan(x[i]) ? 0 : 1;
    return n_valid;
}

static double lag_1(const double *x, size_t n)
{
    double mean = 0;
    double square = 0;
    double product = 0;
    size_t n_products = 0;
    const size_t n_valid = count(x, n);
    for (size_t i = 0; i < n; i++)
        mean += isnan(x[i]) ? 0 : x[i] / (double)n_valid;
    for (size_t i = 0; i < n; i++) {
        if (isnan(x[i]))
            continue;
        square += (x[i] - mean) * (x[i] - mean);
        if (i + 1 < n && !isnan(x[i + 1])) {
            product += (x[i] - mean) * (x[i + 1] - mean);
            n_products++;
        }
    }
    /* without holes n - 1 of n products: the usual, biased estimate */
    const double scale = (double)(n_valid - 1) / (double)n_valid;
    return n_products > 0 && square > 0
               ? scale * product / (double)n_products * (double)n_valid / square
               : 0;
}

static size_t difference(double *x, size_t n)
{
    for (size_t i = 0; i + 1 < n; i++)
        x[i] = x[i + 1] - x[i];
    return n - 1;
}

/* The nearest kind. Frequencies that are means over many intervals are smoother than those of the
 * paper's single steps: their differences' lag-1 correlation is -0.217 for flicker frequency (ratio
 * of two-sample variances with dead time 4.343 / 2.773) and up to 1/4 for a random walk, which come
 * out at -1.45 and at -2.3 to -2.4. */
static int nearest_kind(double alpha, size_t m)
{
    const double border = m == 1 ? -1.5 : -1.85;
    if (alpha < -1)
        return alpha < border ? -2 : -1;
    return (int)rint(fmin(alpha, 2));
}

static int exponent(double *x, size_t n, size_t m)
{
    wfi_phase_subtract_parabola(x, n);
    for (int d = 0;; d++) {
        const double r = lag_1(x, n);
        const double delta = r / (1 + r);
        if (delta < DELTA_STATIONARY || d == DIFFERENCES_MAX || count(x, n) < PHASES_MIN) {
            return nearest_kind(2 - 2 * (delta + d), m);
        }
        n = difference(x, n);
    }
}

wf_status wfi_allan_noise(int *alpha, const wf_fringe_phase *phase, size_t m, wf_error *err)
{
    if (phase->n_times / m < PHASES_MIN)
        return WF_OK;
    double *x = NULL;
    WFI_TRY(wfi_allocate(&x, phase->n_times / m + 1, sizeof *x, "phases", err));
    const size_t n = take_phases(x, phase, m);
    if (count(x, n) >= PHASES_MIN)
        *alpha = exponent(x, n, m);
    wfi_free(x);
    return WF_OK;
}

double wfi_allan_edf(int alpha, size_t n_phases, size_t n_intervals)
{
    const double n = (double)n_phases;
    const double m = (double)n_intervals;
    double edf = 1;
    switch (alpha) {
    case 2:
        edf = (n + 1) * (n - 2 * m) / (2 * (n - m));
        break;
    case 1:
        edf = exp(sqrt(log((n - 1) / (2 * m)) * log((2 * m + 1) * (n - 1) / 4)));
        break;
    case 0:
        edf = (3 * (n - 1) / (2 * m) - 2 * (n - 2) / n) * 4 * m * m / (4 * m * m + 5);
        break;
    case -1:
        edf = n_intervals == 1 ? 2 * (n - 2) * (n - 2) / (2.3 * n - 4.9)
                               : 5 * n * n / (4 * m * (n + 3 * m));
        break;
    default:
        edf = (n - 2) / m * ((n - 1) * (n - 1) - 3 * m * (n - 1) + 4 * m * m) / ((n - 3) * (n - 3));
        break;
    }
    return edf > 1 ? edf : 1; /* also of what is no number */
}

void wfi_allan_interval(double *low, double *high, double variance, double edf)
{
    *low = variance * edf / (2 * wfi_gamma_quantile_above(0.5 * edf, TAIL));
    *high = variance * edf / (2 * wfi_gamma_quantile_above(0.5 * edf, 1 - TAIL));
}
