/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The fringe of a baseline over its bands: search, climb, errors, significance. */
#include <whitefringe/fringe_fit.h>

#include <math.h>

#include "base/memory.h"
#include "base/status.h"
#include "base/turns.h"
#include "fringe/lobes.h"
#include "fringe/noise.h"
#include "fringe/scan.h"
#include "fringe/significance.h"
#include "fringe/spacing.h"

/* How well a summit's height is known from the lattice, and its power from one look at the data. */
static const double HEIGHT_DOUBT = 1.1;
static const double PROMISE_DOUBT = 1.1;
static const double TOLERANCE_FIRST = 1e-2;
static const double TOLERANCE_LAST = 1e-9;
static const double SQRT_12 = 3.4641016151377545871;

/* One fit while it is made. */
typedef struct fitting {
    wfi_bands bands;
    wfi_phases phases;
    wfi_spreads spreads; /* of the slopes that the phases leave: see slopes_of */
    wfi_place place;
    double power;
    double complex *sum;   /* [bands.n] at the place */
    wfi_noise *band_noise; /* [bands.n] */
    wfi_noise noise;       /* of all bands */
} fitting;

static bool is_resolved(double central, double raw)
{
    return central > 1e-12 * raw;
}

static wfi_spreads resolved_only(wfi_spreads raw)
{
    wfi_spreads s = wfi_spreads_central(raw);
    if (!is_resolved(s.delay_delay, raw.delay_delay))
        s.delay_delay = s.delay_rate = 0;
    if (!is_resolved(s.rate_rate, raw.rate_rate))
        s.rate_rate = s.delay_rate = 0;
    s.phase_delay = raw.phase_delay;
    s.phase_rate = raw.phase_rate;
    return s;
}

/* Slopes of all bands in phase, or of the bands each by itself: their mean by weight, as the
 * fringe has it, or one for one, as the noise of the bands' powers does. */
static wfi_spreads slopes_of(const wfi_bands *bands, wfi_phases phases, bool by_weight)
{
    if (phases == WFI_PHASES_COMMON)
        return resolved_only(wfi_bands_spreads(bands));
    wfi_spreads mean = {0};
    for (size_t b = 0; b < bands->n; b++) {
        const wfi_spreads s = resolved_only(wfi_band_spreads(&bands->band[b]));
        const double part = by_weight ? bands->band[b].total / bands->total : 1 / (double)bands->n;
        mean.delay_delay += part * s.delay_delay;
        mean.delay_rate += part * s.delay_rate;
        mean.rate_rate += part * s.rate_rate;
    }
    return mean;
}

/* What a uniform aperture of this spread resolves: 1 / bandwidth, 1 / (frequency * stretch). */
static double resolution(double spread)
{
    return spread > 0 ? WFI_RAD_PER_TURN / (SQRT_12 * sqrt(spread)) : 0;
}

static wfi_place resolution_of(const wfi_spreads *s)
{
    return (wfi_place){resolution(s->delay_delay), resolution(s->rate_rate)};
}

static wfi_bounds bounds_around(wfi_place at, wfi_place unit, double reach)
{
    const wfi_place r = {reach * unit.delay_s, reach * unit.rate};
    return (wfi_bounds){{at.delay_s - r.delay_s, at.rate - r.rate},
                        {at.delay_s + r.delay_s, at.rate + r.rate},
                        unit};
}

static wfi_bounds within_window(wfi_bounds b, const wfi_bands *bands)
{
    b.low.delay_s = fmin(fmax(b.low.delay_s, bands->delay_low_s), bands->delay_high_s);
    b.high.delay_s = fmin(fmax(b.high.delay_s, bands->delay_low_s), bands->delay_high_s);
    b.low.rate = fmin(fmax(b.low.rate, bands->rate_low), bands->rate_high);
    b.high.rate = fmin(fmax(b.high.rate, bands->rate_low), bands->rate_high);
    return b;
}

static bool is_near(wfi_place a, wfi_place b, wfi_place unit)
{
    return fabs(a.delay_s - b.delay_s) <= 0.1 * unit.delay_s &&
           fabs(a.rate - b.rate) <= 0.1 * unit.rate;
}

/* The highest summit, known as well as the data tell it: those that might be it are climbed. */
static void climb_highest(fitting *f, const wfi_summits *summits)
{
    const wfi_place unit = resolution_of(&f->spreads);
    f->place = (wfi_place){0.5 * (f->bands.delay_low_s + f->bands.delay_high_s),
                           0.5 * (f->bands.rate_low + f->bands.rate_high)};
    f->power = 0;
    for (size_t i = 0; i < summits->n; i++) {
        const wfi_summit *summit = &summits->summit[i];
        if (HEIGHT_DOUBT * summit->height < sqrt(f->power))
            break;
        if (i > 0 && (is_near(summit->place, f->place, unit) ||
                      PROMISE_DOUBT * wfi_climb_promise(&f->bands, f->phases, summit->place, unit) <
                          f->power))
            continue;
        const wfi_bounds bounds = within_window(bounds_around(summit->place, unit, 0.5), &f->bands);
        double power = 0;
        const wfi_place top =
            wfi_climb(&power, &f->bands, f->phases, summit->place, &bounds, TOLERANCE_FIRST);
        if (power > f->power) {
            f->power = power;
            f->place = top;
        }
    }
    const wfi_bounds bounds = within_window(bounds_around(f->place, unit, 0.5), &f->bands);
    f->place = wfi_climb(&f->power, &f->bands, f->phases, f->place, &bounds, TOLERANCE_LAST);
}

static double error_of(double variance, double snr)
{
    return sqrt(variance) / snr;
}

/* Inverse of the slopes' 2 x 2 matrix: variances of delay and rate at an snr of 1. */
typedef struct variances {
    double delay, delay_rate, rate;
} variances;

static variances invert(const wfi_spreads *s)
{
    const double determinant = s->delay_delay * s->rate_rate - s->delay_rate * s->delay_rate;
    if (determinant > 1e-12 * s->delay_delay * s->rate_rate)
        return (variances){s->rate_rate / determinant, -s->delay_rate / determinant,
                           s->delay_delay / determinant};
    return (variances){1 / s->delay_delay, 0, 1 / s->rate_rate};
}

static double quadratic(double a, double b, const variances *v)
{
    const double delay = a == 0 ? 0 : a * a * v->delay;
    const double rate = b == 0 ? 0 : b * b * v->rate;
    return delay + rate + 2 * a * b * v->delay_rate;
}

static void fill_errors(wf_fringe_fit *fit, const fitting *f)
{
    const wfi_spreads s = slopes_of(&f->bands, f->phases, true);
    const variances v = invert(&s);
    fit->delay_error_s = error_of(v.delay, fit->snr);
    fit->rate_error_s_per_s = error_of(v.rate, fit->snr);
    fit->phase_error_rad = f->phases == WFI_PHASES_FREE
                               ? INFINITY
                               : error_of(1 + quadratic(s.phase_delay, s.phase_rate, &v), fit->snr);
    const wfi_spreads alone = slopes_of(&f->bands, WFI_PHASES_FREE, true);
    fit->single_band_delay_error_s = error_of(invert(&alone).delay, fit->snr);
}

static bool widths_are_equal(const wfi_bands *bands)
{
    for (size_t b = 1; b < bands->n; b++) {
        if (bands->band[b].input->channel_width_hz != bands->band[0].input->channel_width_hz)
            return false;
    }
    return true;
}

static wfi_searched searched_by(const fitting *f)
{
    const wfi_bands *bands = &f->bands;
    const wfi_spreads s = slopes_of(bands, f->phases, false);
    const double product = s.delay_delay * s.rate_rate;
    return (wfi_searched){
        .width = {(bands->delay_high_s - bands->delay_low_s) * sqrt(s.delay_delay),
                  (bands->rate_high - bands->rate_low) * sqrt(s.rate_rate)},
        .correlation = product > 0 ? s.delay_rate / sqrt(product) : 0,
        .freedom = f->noise.freedom,
        .is_cyclic = {
            bands->delay_is_whole && s.delay_delay > 0 &&
                (bands->n == 1 || (f->phases == WFI_PHASES_FREE && widths_are_equal(bands))),
            bands->rate_is_whole && s.rate_rate > 0 && bands->n == 1}};
}

static double cells_of(const wfi_searched *searched)
{
    const double per_turn = SQRT_12 / WFI_RAD_PER_TURN;
    return fmax(searched->width[0] * per_turn, 1) * fmax(searched->width[1] * per_turn, 1);
}

static wf_status fill_significance(wf_fringe_fit *fit, const fitting *f, wf_error *err)
{
    wfi_searched searched = searched_by(f);
    const size_t n = f->phases == WFI_PHASES_FREE ? f->bands.n : 1;
    const double power = f->power / f->noise.variance;
    if (f->phases == WFI_PHASES_COMMON)
        WFI_TRY(wfi_lobes_share(&searched.share, &f->bands, sqrt(power), err));
    fit->snr = f->power > 0 ? sqrt(fmax(power - 2 * (double)(n - 1), 0)) : 0;
    fit->false_alarm = f->power > 0 ? wfi_false_alarm(power, n, &searched) : 1;
    fit->n_cells = cells_of(&searched);
    return WF_OK;
}

static void fill_phase(wf_fringe_fit *fit, const fitting *f)
{
    const double complex coherent = wfi_climb_coherent(f->sum, &f->bands, f->place);
    double moduli = 0;
    for (size_t b = 0; b < f->bands.n; b++)
        moduli += cabs(f->sum[b]);
    fit->reference_hz = f->bands.reference_hz;
    fit->phase_rad = carg(coherent);
    fit->band_coherence = moduli > 0 ? cabs(coherent) / moduli : 0;
    fit->amplitude = (f->phases == WFI_PHASES_COMMON ? cabs(coherent) : moduli) / f->bands.total;
}

/* The common slope of the bands around the fit, each with a phase of its own. */
static double single_band_delay(const fitting *f)
{
    if (f->phases == WFI_PHASES_FREE || f->bands.n == 1)
        return f->place.delay_s;
    const wfi_spreads alone = slopes_of(&f->bands, WFI_PHASES_FREE, true);
    const wfi_bounds bounds = bounds_around(f->place, resolution_of(&alone), 1);
    return wfi_climb(NULL, &f->bands, WFI_PHASES_FREE, f->place, &bounds, TOLERANCE_LAST).delay_s;
}

static wf_status fill(wf_fringe_fit *fit, const fitting *f, wf_error *err)
{
    WFI_TRY(fill_significance(fit, f, err));
    fill_errors(fit, f);
    fill_phase(fit, f);
    fit->delay_s = f->place.delay_s;
    fit->rate_s_per_s = f->place.rate;
    fit->single_band_delay_s = single_band_delay(f);
    fit->delay_ambiguity_s = f->phases == WFI_PHASES_COMMON ? wfi_spacing_ambiguity(&f->bands) : 0;
    return WF_OK;
}

/* One band's own fringe, from the fit of all. */
static wf_fringe_peak peak_of(const fitting *f, size_t b)
{
    wfi_bands alone = {.band = &f->bands.band[b], .n = 1, .total = f->bands.band[b].total};
    const wfi_spreads s = resolved_only(wfi_band_spreads(alone.band));
    const wfi_bounds bounds = bounds_around(f->place, resolution_of(&s), 1);
    const wfi_place at =
        wfi_climb(NULL, &alone, WFI_PHASES_FREE, f->place, &bounds, TOLERANCE_LAST);
    double complex sum = 0;
    wfi_climb_sums(&sum, &alone, at);
    const double snr = cabs(sum) / sqrt(f->band_noise[b].variance * alone.total);
    const wfi_searched searched = {
        .width = {(bounds.high.delay_s - bounds.low.delay_s) * sqrt(s.delay_delay),
                  (bounds.high.rate - bounds.low.rate) * sqrt(s.rate_rate)},
        .freedom = f->band_noise[b].freedom};
    return (wf_fringe_peak){.delay_s = at.delay_s,
                            .delay_error_s = error_of(invert(&s).delay, snr),
                            .rate_s_per_s = at.rate,
                            .rate_error_s_per_s = error_of(invert(&s).rate, snr),
                            .amplitude = cabs(sum) / alone.total,
                            .phase_rad = carg(sum),
                            .snr = sum == 0 ? 0 : snr,
                            .false_alarm = sum == 0 ? 1 : wfi_false_alarm(snr * snr, 1, &searched)};
}

static wf_status find(fitting *f, wf_error *err)
{
    wfi_summits *summits = NULL;
    f->spreads = slopes_of(&f->bands, f->phases, true);
    WFI_TRY(wfi_allocate(&f->sum, f->bands.n, sizeof *f->sum, "a fringe's sums", err));
    WFI_TRY(
        wfi_allocate(&f->band_noise, f->bands.n, sizeof *f->band_noise, "a fringe's noise", err));
    WFI_TRY(wfi_allocate(&summits, 1, sizeof *summits, "a fringe's summits", err));
    wf_status status = wfi_scan(summits, &f->bands, f->phases, err);
    if (status == WF_OK) {
        climb_highest(f, summits);
        wfi_climb_sums(f->sum, &f->bands, f->place);
        status = wfi_noise_measure(f->band_noise, &f->noise, &f->bands, f->phases, f->sum, f->place,
                                   err);
    }
    wfi_free(summits);
    return status;
}

static wf_status fit_bands(wf_fringe_fit *fit, wf_fringe_peak *peaks, wfi_phases phases,
                           const wf_fringe_input *inputs, size_t n_inputs,
                           const wf_fringe_window *window, wf_error *err)
{
    *fit = (wf_fringe_fit){0};
    for (size_t i = 0; peaks != NULL && i < n_inputs; i++)
        peaks[i] = (wf_fringe_peak){
            .delay_error_s = INFINITY, .rate_error_s_per_s = INFINITY, .false_alarm = 1};
    fitting f = {.phases = phases};
    WFI_TRY(wfi_bands_create(&f.bands, inputs, n_inputs, window, err));
    wf_status status = find(&f, err);
    if (status == WF_OK)
        status = fill(fit, &f, err);
    for (size_t b = 0; status == WF_OK && peaks != NULL && b < f.bands.n; b++)
        peaks[f.bands.band[b].i_input] = peak_of(&f, b);
    if (status != WF_OK)
        *fit = (wf_fringe_fit){0};
    wfi_free(f.sum);
    wfi_free(f.band_noise);
    wfi_bands_release(&f.bands);
    return status;
}

wf_status wf_fringe_fit_bands(wf_fringe_fit *fit, wf_fringe_peak *peaks,
                              const wf_fringe_input *inputs, size_t n_inputs,
                              const wf_fringe_window *window, wf_error *err)
{
    return fit_bands(fit, peaks, WFI_PHASES_COMMON, inputs, n_inputs, window, err);
}

wf_status wf_fringe_fit_bands_free_phases(wf_fringe_fit *fit, wf_fringe_peak *peaks,
                                          const wf_fringe_input *inputs, size_t n_inputs,
                                          const wf_fringe_window *window, wf_error *err)
{
    return fit_bands(fit, peaks, WFI_PHASES_FREE, inputs, n_inputs, window, err);
}
