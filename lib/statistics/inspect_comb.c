/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Finding a comb of tones whose spacing, place and phases are not known. */
#include "statistics/inspect_comb.h"

#include <math.h>

#include "base/memory.h"
#include "base/order.h"
#include "base/status.h"
#include "base/turns.h"
#include "statistics/tones.h"

/* The finest first: every second tone of a comb is a comb too, but not the other way round. */
static const double USUAL_HZ[] = {100e3, 200e3, 500e3, 1e6, 2e6, 5e6, 10e6};
enum { N_USUAL = sizeof USUAL_HZ / sizeof USUAL_HZ[0], TONES_LEAST = 3, TONES_MOST = 4096 };
enum { PARTS_OF_A_PLACE = 4 };
static const double LEAST_SIGNIFICANCE = 7.0;
/* Round values of a frequency are taken where they are no farther than this many sigma. */
static const double ROUNDING_SIGMA = 5.0;

/* Powers over their level as normal deviates (Wilson and Hilferty 1931, PNAS 17, 684). */
static void normalise(double *out, const wfi_spectrum_sums *sums, const double *level)
{
    const double v = 1.0 / (9.0 * sums->n);
    for (size_t k = 0; k < sums->plan->n_bins; k++)
        out[k] = (cbrt(sums->power[k] / level[k]) - 1.0 + v) / sqrt(v);
}

/* Lower quartile of the bins from `offset` on, `step` apart, in its own sigma in noise: where a
 * quarter of the tones is missing there is no comb. */
static double quartile_sigma(const double *deviate, size_t n_bins, double offset, double step,
                             size_t *n_tones)
{
    double values[TONES_MOST];
    size_t n = 0;
    for (double k = offset; k < (double)n_bins - 1.5 && n < TONES_MOST; k += step) {
        if (k >= 1.5)
            values[n++] = deviate[(size_t)llround(k)];
    }
    *n_tones = n;
    if (n < TONES_LEAST)
        return 0.0;
    wfi_sort_ascending(values, n);
    /* quartile of a normal variable -0.674, its sigma over n of them 1.36/sqrt(n) */
    return (values[n / 4] + 0.674) * sqrt((double)n) / 1.36;
}

typedef struct candidate {
    double spacing_hz;
    size_t offset_bin;
    double significance;
} candidate;

static candidate search_spacing(const double *deviate, const wfi_spectrum_sums *sums,
                                double rate_hz, double spacing_hz)
{
    candidate best = {.spacing_hz = spacing_hz};
    const double bin_hz = rate_hz / (double)sums->plan->n_fft;
    const double step = spacing_hz / bin_hz;
    for (size_t k = 0; (double)k < step; k++) {
        size_t n_tones = 0;
        const double s = quartile_sigma(deviate, sums->plan->n_bins, (double)k, step, &n_tones);
        if (s > best.significance) {
            best.significance = s;
            best.offset_bin = k;
        }
    }
    return best;
}

/* Mean place of the tones round their bins. */
static double offset_of(const wfi_spectrum_sums *sums, const double *level, double rate_hz,
                        const candidate *c)
{
    const double bin_hz = rate_hz / (double)sums->plan->n_fft;
    const double step = c->spacing_hz / bin_hz;
    double weight = 0;
    double moment = 0;
    for (double k = (double)c->offset_bin; k < (double)sums->plan->n_bins - 2.5; k += step) {
        const size_t middle = (size_t)llround(k);
        for (size_t i = middle > 1 ? middle - 1 : 0; i <= middle + 1; i++) {
            const double excess = fmax(0.0, sums->power[i] - level[i]);
            weight += excess;
            moment += excess * ((double)i - k);
        }
    }
    const double shift = weight > 0 ? moment / weight : 0.0;
    const double first_hz = sums->plan->n_parts == 2 ? -0.5 * rate_hz : 0.0;
    return first_hz + bin_hz * ((double)c->offset_bin + shift);
}

static candidate search_all(const double *deviate, const wfi_spectrum_sums *sums, double rate_hz,
                            double spacing_hz)
{
    if (spacing_hz > 0)
        return search_spacing(deviate, sums, rate_hz, spacing_hz);
    candidate best = {0};
    for (size_t i = 0; i < N_USUAL && best.significance < LEAST_SIGNIFICANCE; i++) {
        if (USUAL_HZ[i] * TONES_LEAST < rate_hz &&
            USUAL_HZ[i] > 8.0 * rate_hz / (double)sums->plan->n_fft)
            best = search_spacing(deviate, sums, rate_hz, USUAL_HZ[i]);
    }
    return best;
}

wf_status wfi_comb_search(const wfi_stream_sums *sums, double rate_hz, double spacing_hz,
                          bool *found, wf_comb *out, wf_error *err)
{
    const wfi_spectrum_sums *fine = &sums->fine;
    const size_t n = fine->plan->n_bins;
    double *level = NULL;
    double *deviate = NULL;
    *found = false;
    if (!(fine->n > 0))
        return WF_OK;
    wf_status status = wfi_allocate(&level, n, sizeof *level, "a comb", err);
    if (status == WF_OK)
        status = wfi_allocate(&deviate, n, sizeof *deviate, "a comb", err);
    if (status == WF_OK)
        status = wfi_spectrum_level(level, fine->power, n, fine->n, err);
    if (status == WF_OK) {
        normalise(deviate, fine, level);
        const candidate c = search_all(deviate, fine, rate_hz, spacing_hz);
        *found = c.significance >= LEAST_SIGNIFICANCE;
        out->spacing_hz = *found ? c.spacing_hz : 0.0;
        out->offset_hz = *found ? offset_of(fine, level, rate_hz, &c) : 0.0;
        out->significance = c.significance;
    }
    wfi_free(level);
    wfi_free(deviate);
    return status;
}

wf_status wfi_comb_follow_create(wfi_comb_follow *out, int64_t rate_hz, size_t n_parts,
                                 const wf_comb *comb, wf_error *err)
{
    *out = (wfi_comb_follow){0};
    WFI_TRY(wfi_comb_setup_init(&out->setup, rate_hz, n_parts, llround(comb->spacing_hz),
                                comb->offset_hz, err));
    WFI_TRY(wfi_comb_sums_create(&out->sums, &out->setup, err));
    const size_t n = out->setup.n_tones;
    WFI_TRY(wfi_allocate(&out->tones, PARTS_OF_A_PLACE * n, sizeof *out->tones, "a comb", err));
    return wfi_allocate(&out->aligned, n, sizeof *out->aligned, "a comb", err);
}

void wfi_comb_follow_release(wfi_comb_follow *follow)
{
    wfi_comb_sums_release(&follow->sums);
    wfi_free(follow->tones);
    wfi_free(follow->aligned);
    *follow = (wfi_comb_follow){0};
}

void wfi_comb_follow_drift(wfi_comb_follow *follow, int64_t first, const float *x, size_t n)
{
    const size_t n_tones = follow->setup.n_tones;
    const size_t part = n / PARTS_OF_A_PLACE;
    for (size_t p = 0; p < PARTS_OF_A_PLACE; p++) {
        wfi_comb_sums_clear(&follow->sums);
        wfi_comb_sums_add(&follow->sums, first + (int64_t)(p * part),
                          x + p * part * follow->setup.n_parts, part);
        wfi_comb_tones(&follow->sums, follow->tones + p * n_tones);
    }
    for (size_t i = n_tones; i < PARTS_OF_A_PLACE * n_tones; i++)
        follow->drift += follow->tones[i] * conj(follow->tones[i - n_tones]);
    follow->part_s = (double)part / (double)follow->setup.rate_hz;
    follow->n_places += 1.0;
    follow->n += (double)n;
}

void wfi_comb_follow_correct(const wfi_comb_follow *follow, wf_comb *comb)
{
    if (!(cabs(follow->drift) > 0))
        return;
    const double hz = comb->offset_hz + carg(follow->drift) / (WFI_RAD_PER_TURN * follow->part_s);
    /* phase noise of a part's tones over their number and that of the parts */
    const double tone_power = cabs(follow->drift) / (follow->n_places * (PARTS_OF_A_PLACE - 1) *
                                                     (double)follow->setup.n_tones);
    const double part_n = follow->n / follow->n_places / PARTS_OF_A_PLACE;
    const double snr_square = 2.0 * tone_power * part_n * (double)follow->setup.n_tones *
                              follow->n_places * PARTS_OF_A_PLACE;
    const double error_hz = 1.0 / (WFI_RAD_PER_TURN * follow->part_s * sqrt(snr_square));
    const double round_hz = 1e3 * rint(1e-3 * hz);
    comb->offset_hz = fabs(hz - round_hz) < ROUNDING_SIGMA * error_hz ? round_hz : hz;
}

void wfi_comb_follow_add(wfi_comb_follow *follow, int64_t first, const float *x, size_t n)
{
    const size_t n_tones = follow->setup.n_tones;
    wfi_comb_sums_clear(&follow->sums);
    wfi_comb_sums_add(&follow->sums, first, x, n);
    wfi_comb_tones(&follow->sums, follow->tones);
    const double sigma = wfi_comb_sigma(&follow->sums);
    const wfi_comb_fit fit =
        wfi_comb_fit_delay(follow->tones, n_tones, (double)follow->setup.spacing_hz, sigma);
    const double complex phase = cexp(I * fit.phase_rad);
    for (size_t m = 0; m < n_tones; m++)
        follow->aligned[m] += (double)n * follow->tones[m] * conj(phase);
    follow->common += (double)n * phase;
    follow->n += (double)n;
    follow->n_places += 1.0;
    follow->variance += (double)n * (double)n * sigma * sigma;
}

wf_status wfi_comb_follow_judge(const wfi_comb_follow *follow, wf_comb *comb, wf_error *err)
{
    const size_t n = follow->setup.n_tones;
    WFI_TRY(wfi_allocate(&comb->tones, n, sizeof *comb->tones, "a comb", err));
    comb->n_tones = n;
    comb->offset_hz = follow->setup.offset_hz;
    const double sigma = sqrt(follow->variance) / follow->n;
    const double spacing_hz = (double)follow->setup.spacing_hz;
    const wfi_comb_fit fit =
        wfi_comb_fit_delay(follow->aligned, n, spacing_hz, sqrt(follow->variance));
    comb->delay_s = fit.delay_s;
    comb->delay_error_s = fit.delay_error_s;
    comb->coherence = cabs(follow->common) / follow->n;
    double power = 0;
    for (size_t m = 0; m < n; m++) {
        const double complex p = follow->aligned[m] / follow->n * cexp(I * carg(follow->common));
        comb->tones[m] = (wf_comb_tone){
            .frequency_hz = comb->offset_hz + (double)m * spacing_hz,
            .amplitude = cabs(p),
            .phase_rad = carg(p),
            .phase_error_rad = cabs(p) > 0 ? sigma / cabs(p) : INFINITY,
        };
        power += cabs(p) * cabs(p) - 2.0 * sigma * sigma;
    }
    comb->amplitude = sqrt(fmax(0.0, power / (double)n));
    return WF_OK;
}
