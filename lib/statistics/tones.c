/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Lines that stand out of a power spectrum. */
#include "statistics/tones.h"

#include <math.h>
#include <string.h>

#include "base/memory.h"
#include "base/order.h"
#include "base/status.h"
#include "statistics/normal.h"

enum { REACH = 64, LOBE = 2 };
static const double FALSE_ALARM = 1e-7;

wf_status wfi_spectrum_level(double *level, const double *power, size_t n_bins, double n_spectra,
                             wf_error *err)
{
    double near[2 * REACH + 1];
    double *knot = NULL;
    const size_t n_knots = n_bins / REACH + 2;
    WFI_TRY(wfi_allocate(&knot, n_knots, sizeof *knot, "the level of a spectrum", err));
    const double correction = n_spectra / wfi_gamma_quantile_above(n_spectra, 0.5);
    double largest = 0;
    for (size_t k = 0; k < n_bins; k++)
        largest = fmax(largest, power[k]);
    for (size_t i = 0; i < n_knots; i++) {
        const size_t middle = i * REACH < n_bins ? i * REACH : n_bins - 1;
        const size_t from = middle > REACH ? middle - REACH : 0;
        const size_t to = middle + REACH + 1 < n_bins ? middle + REACH + 1 : n_bins;
        memcpy(near, power + from, (to - from) * sizeof *near);
        knot[i] = fmax(correction * wfi_median(near, to - from), 1e-12 * largest);
        knot[i] = knot[i] > 0 ? knot[i] : 1.0;
    }
    for (size_t k = 0; k < n_bins; k++) {
        const double part = (double)(k % REACH) / REACH;
        level[k] = (1.0 - part) * knot[k / REACH] + part * knot[k / REACH + 1];
    }
    wfi_free(knot);
    return WF_OK;
}

double wfi_power_significance(double power, double level, double n_spectra)
{
    const double p = wfi_gamma_above(n_spectra, n_spectra * power / level);
    if (p > 1e-300)
        return wfi_normal_quantile_above(p);
    return (power / level - 1.0) * sqrt(n_spectra); /* so far out that only the size counts */
}

/* Power above the level within the main lobe of the window. */
static double lobe_power(const double *power, const double *level, size_t n_bins, size_t peak)
{
    const size_t from = peak > LOBE ? peak - LOBE : 0;
    const size_t to = peak + LOBE + 1 < n_bins ? peak + LOBE + 1 : n_bins;
    double sum = 0;
    for (size_t k = from; k < to; k++)
        sum += power[k] - level[k];
    return fmax(sum, 0.0);
}

/* A tone between two bins of a Hann-windowed transform: amplitudes of the larger and the next are
 * as 1 + d to 2 - d where it lies d of a bin from the larger (the window's transform near it). */
static double place_of(const double *power, size_t n_bins, size_t peak)
{
    const double left = peak > 0 ? power[peak - 1] : 0.0;
    const double right = peak + 1 < n_bins ? power[peak + 1] : 0.0;
    const double ratio = sqrt(fmax(left, right) / power[peak]);
    const double shift = fmin(fmax((2.0 * ratio - 1.0) / (ratio + 1.0), 0.0), 0.5);
    return (double)peak + (right > left ? shift : -shift);
}

static bool is_peak(const double *power, size_t n_bins, size_t k)
{
    for (size_t i = k > LOBE ? k - LOBE : 0; i <= k + LOBE && i < n_bins; i++) {
        if (power[i] > power[k] || (power[i] >= power[k] && i < k))
            return false;
    }
    return true;
}

static void insert(wf_tone *tones, size_t *n, size_t n_max, wf_tone tone)
{
    size_t i = *n < n_max ? (*n)++ : n_max;
    if (i == n_max && tones[n_max - 1].power_fraction >= tone.power_fraction)
        return;
    i = i == n_max ? n_max - 1 : i;
    for (; i > 0 && tones[i - 1].power_fraction < tone.power_fraction; i--)
        tones[i] = tones[i - 1];
    tones[i] = tone;
}

size_t wfi_find_tones(wf_tone *tones, size_t n_max, const double *power, const double *level,
                      size_t n_bins, double n_spectra, double first_hz, double bin_hz)
{
    const double least =
        wfi_gamma_quantile_above(n_spectra, FALSE_ALARM / (double)n_bins) / n_spectra;
    double total = 0;
    size_t n = 0;
    for (size_t k = 0; k < n_bins; k++)
        total += power[k];
    for (size_t k = 0; k < n_bins; k++) {
        if (power[k] <= least * level[k] || !is_peak(power, n_bins, k))
            continue;
        insert(tones, &n, n_max,
               (wf_tone){
                   .frequency_hz = first_hz + bin_hz * place_of(power, n_bins, k),
                   .power_fraction = lobe_power(power, level, n_bins, k) / total,
                   .significance = wfi_power_significance(power[k], level[k], n_spectra),
               });
    }
    return n;
}
