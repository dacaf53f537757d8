/* SPDX-License-Identifier: GPL-3.0-or-later */
/* One piece of a track: a polynomial through a smooth function at Chebyshev's nodes. */
#include "delay/track_fit.h"

#include <erfam.h>
#include <math.h>

static double node(size_t i)
{
    return cos(ERFA_DPI * ((double)i + 0.5) / WFI_TRACK_NODES);
}

wf_instant wfi_track_node(wf_instant start, double length_s, size_t i_node)
{
    return wf_instant_add(start, length_s / 2.0 * (1.0 + node(i_node)));
}

/* Coefficients of the interpolating series of Chebyshev polynomials on [-1, 1]. */
static void chebyshev_series(const double value[WFI_TRACK_NODES], double series[WFI_TRACK_NODES])
{
    for (size_t k = 0; k < WFI_TRACK_NODES; k++) {
        double sum = 0;
        for (size_t i = 0; i < WFI_TRACK_NODES; i++)
            sum += value[i] * cos(ERFA_DPI * (double)k * ((double)i + 0.5) / WFI_TRACK_NODES);
        series[k] = sum * (k == 0 ? 1.0 : 2.0) / WFI_TRACK_NODES;
    }
}

/* The same polynomial in powers of u = 1 + x, in [0, 2]: T_k(u - 1) by its recurrence. */
static void powers_from_start(const double series[WFI_TRACK_NODES], double power[WFI_TRACK_NODES])
{
    double before[WFI_TRACK_NODES] = {1.0};        /* T_0 */
    double current[WFI_TRACK_NODES] = {-1.0, 1.0}; /* T_1 */
    for (size_t j = 0; j < WFI_TRACK_NODES; j++)
        power[j] = series[0] * before[j] + series[1] * current[j];
    for (size_t k = 2; k < WFI_TRACK_NODES; k++) {
        double next[WFI_TRACK_NODES];
        for (size_t j = 0; j < WFI_TRACK_NODES; j++)
            next[j] = 2.0 * ((j > 0 ? current[j - 1] : 0.0) - current[j]) - before[j];
        for (size_t j = 0; j < WFI_TRACK_NODES; j++) {
            power[j] += series[k] * next[j];
            before[j] = current[j];
            current[j] = next[j];
        }
    }
}

double wfi_track_fit(const double value_s[WFI_TRACK_NODES], double length_s,
                     double coefficient[WFI_TRACK_NODES])
{
    double series[WFI_TRACK_NODES];
    chebyshev_series(value_s, series);
    powers_from_start(series, coefficient);
    double scale = 1.0;
    for (size_t k = 0; k < WFI_TRACK_NODES; k++, scale /= length_s / 2.0)
        coefficient[k] *= scale;
    return fabs(series[WF_TRACK_DEGREE]);
}
