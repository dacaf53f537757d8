/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The exact sums of a fit's bands, and the climb to their maximum. */
#include "fringe/climb.h"

#include <math.h>

#include "fringe/peak.h"
#include "fringe/product.h"

enum { STEPS_MAX = 30, HALVINGS_MAX = 12 };

/* log(power), its slopes and curvatures by delay and rate, in units of the bounds. */
typedef struct height {
    double value;
    double slope[2];
    double curve[3]; /* delay delay, delay rate, rate rate */
} height;

static wfi_trial trial_of(const wfi_band *band, wfi_place at)
{
    const wf_fringe_input *input = band->input;
    return (wfi_trial){at.delay_s * input->channel_width_hz,
                       at.rate * input->interval_s * band->middle_hz};
}

/* A band's sum and derivatives, each without its power of 2 pi i, by units of delay and rate;
 * turned to the reference where the phases are common. */
static wfi_sums band_sums(const wfi_band *band, wfi_phases phases, wfi_place at, wfi_place unit)
{
    wfi_sums s = wfi_peak_sums(band->input, trial_of(band, at));
    const double f = phases == WFI_PHASES_COMMON ? band->offset_hz : 0;
    const double complex turn =
        band->scale * wfi_phasor(phases == WFI_PHASES_COMMON
                                     ? wfi_turns_product(band->offset_hz, at.delay_s)
                                     : 0);
    const double d = band->input->channel_width_hz;
    const double r = unit.rate * band->input->interval_s * band->middle_hz;
    const double u = unit.delay_s;
    const wfi_sums by_unit = {
        s.s,
        u * (d * s.d + f * s.s),
        r * s.r,
        u * u * (d * d * s.dd + 2 * f * d * s.d + f * f * s.s),
        u * r * (d * s.dr + f * s.r),
        r * r * s.rr,
    };
    return (wfi_sums){wfi_product(by_unit.s, turn),  wfi_product(by_unit.d, turn),
                      wfi_product(by_unit.r, turn),  wfi_product(by_unit.dd, turn),
                      wfi_product(by_unit.dr, turn), wfi_product(by_unit.rr, turn)};
}

static double real_of_product(double complex conjugated, double complex b)
{
    return creal(conjugated) * creal(b) + cimag(conjugated) * cimag(b);
}

/* Add |s|^2 / weight with its derivatives: s' = 2 pi i d, s'' = -(2 pi)^2 dd. */
static void add_power(height *h, const wfi_sums *s, double weight)
{
    const double one = 2 * WFI_RAD_PER_TURN / weight;
    const double two = one * WFI_RAD_PER_TURN;
    h->value += wfi_power(s->s) / weight;
    h->slope[0] += one * (cimag(s->s) * creal(s->d) - creal(s->s) * cimag(s->d));
    h->slope[1] += one * (cimag(s->s) * creal(s->r) - creal(s->s) * cimag(s->r));
    h->curve[0] += two * (wfi_power(s->d) - real_of_product(s->s, s->dd));
    h->curve[1] += two * (real_of_product(s->d, s->r) - real_of_product(s->s, s->dr));
    h->curve[2] += two * (wfi_power(s->r) - real_of_product(s->s, s->rr));
}

/* Of the logarithm: its shape is concave over the whole main lobe. */
static height height_at(const wfi_bands *bands, wfi_phases phases, wfi_place at, wfi_place unit)
{
    height h = {0};
    wfi_sums all = {0};
    for (size_t b = 0; b < bands->n; b++) {
        const wfi_sums s = band_sums(&bands->band[b], phases, at, unit);
        if (phases == WFI_PHASES_FREE)
            add_power(&h, &s, bands->band[b].total);
        all.s += s.s;
        all.d += s.d;
        all.r += s.r;
        all.dd += s.dd;
        all.dr += s.dr;
        all.rr += s.rr;
    }
    if (phases == WFI_PHASES_COMMON)
        add_power(&h, &all, bands->total);
    if (!(h.value > 0))
        return (height){.value = -INFINITY};
    const double p = h.value;
    h.value = log(p);
    for (int i = 0; i < 2; i++)
        h.slope[i] /= p;
    h.curve[0] = h.curve[0] / p - h.slope[0] * h.slope[0];
    h.curve[1] = h.curve[1] / p - h.slope[0] * h.slope[1];
    h.curve[2] = h.curve[2] / p - h.slope[1] * h.slope[1];
    return h;
}

void wfi_climb_sums(double complex *sum, const wfi_bands *bands, wfi_place at)
{
    for (size_t b = 0; b < bands->n; b++)
        sum[b] = bands->band[b].scale *
                 wfi_peak_sum(bands->band[b].input, trial_of(&bands->band[b], at));
}

double complex wfi_climb_coherent(const double complex *sum, const wfi_bands *bands, wfi_place at)
{
    double complex all = 0;
    for (size_t b = 0; b < bands->n; b++)
        all += wfi_product(sum[b],
                           wfi_phasor(wfi_turns_product(bands->band[b].offset_hz, at.delay_s)));
    return all;
}

/* An axis on which there is room to climb. */
static bool is_free(double value, double low, double high, double unit, double slope)
{
    return unit > 0 && !(value <= low && slope <= 0) && !(value >= high && slope >= 0);
}

/* Newton's step where the height is concave, half a unit uphill where it is not. */
static double lone_step(double slope, double curve)
{
    if (curve < 0)
        return -slope / curve;
    return slope == 0 ? 0 : copysign(0.5, slope);
}

static void find_step(double step[2], const height *h, bool free_delay, bool free_rate)
{
    const double determinant = h->curve[0] * h->curve[2] - h->curve[1] * h->curve[1];
    if (free_delay && free_rate && h->curve[0] < 0 && determinant > 0) {
        step[0] = (h->curve[1] * h->slope[1] - h->curve[2] * h->slope[0]) / determinant;
        step[1] = (h->curve[1] * h->slope[0] - h->curve[0] * h->slope[1]) / determinant;
        return;
    }
    step[0] = free_delay ? lone_step(h->slope[0], h->curve[0]) : 0;
    step[1] = free_rate ? lone_step(h->slope[1], h->curve[2]) : 0;
}

/* Where the parabola turns up, or promises more than a unit of the logarithm, it is not believed.
 */
double wfi_climb_promise(const wfi_bands *bands, wfi_phases phases, wfi_place at, wfi_place unit)
{
    const height h = height_at(bands, phases, at, unit);
    double step[2];
    find_step(step, &h, unit.delay_s > 0, unit.rate > 0);
    const double gain = 0.5 * (step[0] * h.slope[0] + step[1] * h.slope[1]);
    return exp(h.value + (gain >= 0 && gain < 1 ? gain : 1));
}

static wfi_place moved(wfi_place from, const double step[2], double part, const wfi_bounds *b)
{
    const double delay_s = from.delay_s + part * step[0] * b->unit.delay_s;
    const double rate = from.rate + part * step[1] * b->unit.rate;
    return (wfi_place){fmin(fmax(delay_s, b->low.delay_s), b->high.delay_s),
                       fmin(fmax(rate, b->low.rate), b->high.rate)};
}

static bool is_tiny(wfi_place a, wfi_place b, wfi_place unit, double tolerance)
{
    return fabs(a.delay_s - b.delay_s) <= tolerance * unit.delay_s &&
           fabs(a.rate - b.rate) <= tolerance * unit.rate;
}

wfi_place wfi_climb(double *power, const wfi_bands *bands, wfi_phases phases, wfi_place start,
                    const wfi_bounds *bounds, double tolerance)
{
    static const double no_step[2] = {0, 0};
    const wfi_place unit = bounds->unit;
    wfi_place best = moved(start, no_step, 0, bounds);
    height at = height_at(bands, phases, best, unit);
    for (int i = 0; i < STEPS_MAX && isfinite(at.value); i++) {
        double step[2];
        find_step(step, &at,
                  is_free(best.delay_s, bounds->low.delay_s, bounds->high.delay_s, unit.delay_s,
                          at.slope[0]),
                  is_free(best.rate, bounds->low.rate, bounds->high.rate, unit.rate, at.slope[1]));
        double part = 1;
        wfi_place next = moved(best, step, part, bounds);
        height there = height_at(bands, phases, next, unit);
        for (int k = 0; k < HALVINGS_MAX && !(there.value >= at.value); k++) {
            part /= 2;
            next = moved(best, step, part, bounds);
            there = height_at(bands, phases, next, unit);
        }
        if (!(there.value >= at.value))
            break;
        const bool arrived = is_tiny(next, best, unit, tolerance);
        best = next;
        at = there;
        if (arrived)
            break;
    }
    if (power != NULL)
        *power = exp(at.value);
    return best;
}
