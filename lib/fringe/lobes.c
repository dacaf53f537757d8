/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Peaks of noise that bands with gaps make in company.
 *
 *  A peak is put at delay 0: noise of the bands, of which the part that makes the sum and its
 *  slope there is replaced by what makes a peak of the given height. The lobes around it that are
 *  as high are counted. A band is some frequencies, enough for its envelope over a lobe. */
#include "fringe/lobes.h"

#include <math.h>
#include <stdint.h>

#include "base/memory.h"
#include "base/status.h"
#include "fringe/product.h"

enum { TONES_PER_BAND = 4, DRAWS_MOST = 128, DRAWS_LEAST = 16, LAGS_PER_RESOLUTION = 4 };
static const double PRODUCTS_MAX = 2e7; /* some 50 ms */

typedef struct lobes {
    size_t n_tones;
    double *amplitude;    /* [n_tones], squares add to 1 */
    double *frequency_hz; /* from the centroid */
    double complex *noise;
    double complex *turn; /* tones' phasors while the lag grows */
    double complex *step;
    double spread_hz2;
    double lag_s;   /* from one lag to the next */
    double reach_s; /* beyond, lobes have nothing in common with the peak */
    double window_s;
    uint64_t counter;
} lobes;

/* Uniform in (0, 1): the mixing function of the splitmix64 generator over a counter. */
static double uniform(lobes *l)
{
    uint64_t z = ++l->counter * UINT64_C(0x9e3779b97f4a7c15);
    z = (z ^ (z >> 30)) * UINT64_C(0xbf58476d1ce4e5b9);
    z = (z ^ (z >> 27)) * UINT64_C(0x94d049bb133111eb);
    z ^= z >> 31;
    return ((double)(z >> 11) + 0.5) / 9007199254740992.0;
}

static void set_tones(lobes *l, const wfi_bands *bands)
{
    double widest_hz = 0;
    for (size_t b = 0; b < bands->n; b++) {
        const wfi_band *band = &bands->band[b];
        const double width_hz = (double)band->input->n_channels * band->input->channel_width_hz;
        widest_hz = fmax(widest_hz, width_hz);
        for (size_t i = 0; i < TONES_PER_BAND; i++) {
            const double place = ((double)i + 0.5) / TONES_PER_BAND - 0.5;
            const size_t k = b * TONES_PER_BAND + i;
            l->amplitude[k] = sqrt(band->total / bands->total / TONES_PER_BAND);
            l->frequency_hz[k] = band->offset_hz + place * width_hz;
            l->spread_hz2 += pow(l->amplitude[k] * l->frequency_hz[k], 2);
        }
    }
    l->reach_s = 1 / widest_hz;
    l->window_s = bands->delay_high_s - bands->delay_low_s;
    l->lag_s = 1 / (LAGS_PER_RESOLUTION * bands->span_hz);
    for (size_t k = 0; k < l->n_tones; k++)
        l->step[k] = wfi_phasor(wfi_turns_product(l->frequency_hz[k], l->lag_s));
}

/* Noise with a peak of this height, phase 0, at lag 0. */
static void draw(lobes *l, double height)
{
    double complex sum = 0;
    double slope = 0;
    for (size_t k = 0; k < l->n_tones; k++) {
        const double radius = sqrt(-2 * log(uniform(l)));
        l->noise[k] = radius * wfi_phasor(uniform(l));
        sum += l->amplitude[k] * l->noise[k];
    }
    for (size_t k = 0; k < l->n_tones; k++) {
        l->noise[k] += l->amplitude[k] * (height - sum);
        slope += l->amplitude[k] * l->frequency_hz[k] * cimag(l->noise[k]);
    }
    for (size_t k = 0; k < l->n_tones; k++)
        l->noise[k] -= CMPLX(0, l->amplitude[k] * l->frequency_hz[k] * slope / l->spread_hz2);
}

static double power_of(const lobes *l)
{
    double complex sum = 0;
    for (size_t k = 0; k < l->n_tones; k++)
        sum += l->amplitude[k] * l->turn[k];
    return wfi_power(sum);
}

/* What a parabola through three powers has at its top. */
static double top_of(double before, double at, double after)
{
    const double curve = before + after - 2 * at;
    const double slope = 0.5 * (after - before);
    return curve < 0 ? at - 0.5 * slope * slope / curve : at;
}

/* Lobes above the level on one side, as far as the window and their kinship go. The first lags
 * are the peak itself. */
static size_t count_side(lobes *l, int side, double reach_s, double level)
{
    const size_t n = (size_t)(fmin(reach_s, l->reach_s) / l->lag_s);
    size_t n_above = 0;
    double before = 0;
    double at = 0;
    for (size_t k = 0; k < l->n_tones; k++)
        l->turn[k] = l->noise[k];
    for (size_t i = 0; i <= n; i++) {
        const double after = power_of(l);
        if (i > LAGS_PER_RESOLUTION / 2 + 1 && at >= before && at > after &&
            top_of(before, at, after) > level)
            n_above++;
        before = at;
        at = after;
        for (size_t k = 0; k < l->n_tones; k++)
            l->turn[k] = wfi_product(l->turn[k], side > 0 ? l->step[k] : conj(l->step[k]));
    }
    return n_above;
}

static size_t choose_draws(const lobes *l)
{
    const double n_lags = 2 * fmin(l->reach_s, l->window_s) / l->lag_s;
    const double n = PRODUCTS_MAX / (n_lags * (double)l->n_tones);
    return n > DRAWS_MOST ? DRAWS_MOST : n < DRAWS_LEAST ? DRAWS_LEAST : (size_t)n;
}

/* Peaks above a level are somewhat higher: by their own distribution, exp(-height^2 / 2). */
static double mean_share(lobes *l, double height)
{
    const size_t n_draws = choose_draws(l);
    double sum = 0;
    for (size_t i = 0; i < n_draws; i++) {
        const double place_s = l->window_s * uniform(l);
        draw(l, sqrt(height * height - 2 * log(uniform(l))));
        const size_t n_others = count_side(l, -1, place_s, height * height) +
                                count_side(l, 1, l->window_s - place_s, height * height);
        sum += 1 / (1 + (double)n_others);
    }
    return sum / (double)n_draws;
}

static wf_status allocate(lobes *l, wf_error *err)
{
    static const char what[] = "the lobes of a fringe's bands";
    const size_t n = l->n_tones;
    WFI_TRY(wfi_allocate(&l->amplitude, n, sizeof *l->amplitude, what, err));
    WFI_TRY(wfi_allocate(&l->frequency_hz, n, sizeof *l->frequency_hz, what, err));
    WFI_TRY(wfi_allocate(&l->noise, n, sizeof *l->noise, what, err));
    WFI_TRY(wfi_allocate(&l->turn, n, sizeof *l->turn, what, err));
    return wfi_allocate(&l->step, n, sizeof *l->step, what, err);
}

wf_status wfi_lobes_share(double *share, const wfi_bands *bands, double height, wf_error *err)
{
    *share = 1;
    if (bands->n == 1 || !(bands->span_hz > 0) || !(height > 0) || isinf(height))
        return WF_OK;
    lobes l = {.n_tones = bands->n * TONES_PER_BAND};
    const wf_status status = allocate(&l, err);
    if (status == WF_OK) {
        set_tones(&l, bands);
        *share = mean_share(&l, height);
    }
    wfi_free(l.amplitude);
    wfi_free(l.frequency_hz);
    wfi_free(l.noise);
    wfi_free(l.turn);
    wfi_free(l.step);
    return status;
}
