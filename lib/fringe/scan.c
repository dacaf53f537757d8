/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The highest points of a window, to be climbed from.
 *
 *  Bands in phase make a comb in delay, finer than the lattice by the span over a band's width. It
 *  is looked at only where the bands' amplitudes, added, could reach what was found before: that
 *  bound holds for any phases, so that nothing is missed, and little is computed. */
#include "fringe/scan.h"

#include <math.h>
#include <string.h>

#include "base/memory.h"
#include "base/status.h"
#include "fringe/product.h"

enum { ROWS = 3, FINE_PER_RESOLUTION = 4 };
/* Summits below this part of the highest so far are dropped. The lattice misses at most 1 - 0.9^2
 * of a summit's height, the parabolas give back all but some 0.05. */
static const double KEEP = 0.75;
/* Between two delays of the lattice a sum is at most so much higher than at the nearer one. */
static const double BETWEEN = 1.12;

typedef struct scan {
    const wfi_bands *bands;
    wfi_phases phases;
    wfi_lattice_axis delays;
    wfi_lattice_axis rates;
    long n_fine;              /* fine delays in a step of the lattice; 1: the lattice's own */
    float complex *row[ROWS]; /* [n bands][n_delays], rates m - 1, m, m + 1 */
    bool has_row[ROWS];
    float *bound;         /* [n_delays]: no fine delay around is higher */
    double complex *comb; /* [n bands][n_fine + 3]: turns of the fine delays around a coarse one */
    double complex *base; /* [n bands]: turns at the coarse delay */
    double *fine;         /* [n_fine + 3] powers */
    double best;          /* highest so far */
    wfi_summits *out;
} scan;

static void insert(wfi_summits *s, wfi_summit summit)
{
    if (s->n == WFI_SCAN_SUMMITS_MAX) {
        if (summit.height <= s->summit[s->n - 1].height)
            return;
        s->n--;
    }
    size_t i = s->n++;
    for (; i > 0 && s->summit[i - 1].height < summit.height; i--)
        s->summit[i] = s->summit[i - 1];
    s->summit[i] = summit;
}

/* What a parabola through log power at -1, 0, 1 adds to the middle one. */
static double gain(double before, double at, double after)
{
    if (!(before > 0) || !(after > 0))
        return 0;
    const double slope = 0.5 * log(after / before);
    const double curve = log(before / at) + log(after / at);
    return curve < 0 ? fmin(-0.5 * slope * slope / curve, 0.25) : 0;
}

/* Power at a fine delay `j` steps from the coarse one `k`, by a parabola between coarse sums. */
static double power_at(const scan *s, int i_row, size_t k, long j)
{
    const size_t n_delays = s->delays.n;
    const size_t before = k > 0 ? k - 1 : k;
    const size_t after = k + 1 < n_delays ? k + 1 : k;
    const double x = (double)j / (double)s->n_fine;
    const double weight[3] = {0.5 * x * (x - 1), 1 - x * x, 0.5 * x * (x + 1)};
    const size_t n_comb = (size_t)s->n_fine + 3;
    const size_t i_comb = (size_t)(j + s->n_fine / 2 + 1);
    double complex sum = 0;
    double power = 0;
    for (size_t b = 0; b < s->bands->n; b++) {
        const float complex *row = s->row[i_row] + b * n_delays;
        if (s->phases == WFI_PHASES_FREE || s->n_fine == 1) {
            sum += row[k];
            power += wfi_power(row[k]) / s->bands->band[b].total;
            continue;
        }
        const double complex near =
            weight[0] * row[before] + weight[1] * row[k] + weight[2] * row[after];
        sum += wfi_product(near, wfi_product(s->base[b], s->comb[b * n_comb + i_comb]));
    }
    return s->phases == WFI_PHASES_FREE ? power : wfi_power(sum) / s->bands->total;
}

/* Of a row that is there, else nothing. */
static double power_beside(const scan *s, int i_row, size_t k, long j)
{
    return s->has_row[i_row] ? power_at(s, i_row, k, j) : 0;
}

static void note(scan *s, size_t k, long j, size_t m, const double around[5])
{
    const double at = around[2];
    const double log_gain = gain(around[1], at, around[3]) + gain(around[0], at, around[4]);
    const double height = sqrt(at * exp(log_gain));
    const double fine_step = s->delays.step / (double)s->n_fine;
    s->best = fmax(s->best, height);
    if (height < KEEP * s->best)
        return;
    insert(s->out,
           (wfi_summit){{s->delays.first + (double)k * s->delays.step + (double)j * fine_step,
                         s->rates.first + (double)m * s->rates.step},
                        height});
}

/* around: rate before, delay before, here, delay after, rate after. */
static void look_at(scan *s, size_t k, long j, size_t m, double before, double at, double after)
{
    if (!(at > 0) || before > at || after >= at)
        return;
    const double around[5] = {power_beside(s, 0, k, j), before, at, after,
                              power_beside(s, 2, k, j)};
    if (around[0] > at || around[4] >= at)
        return;
    note(s, k, j, m, around);
}

static void look_coarse(scan *s, size_t k, size_t m)
{
    const double before = k > 0 ? power_at(s, 1, k - 1, 0) : 0;
    const double after = k + 1 < s->delays.n ? power_at(s, 1, k + 1, 0) : 0;
    look_at(s, k, 0, m, before, power_at(s, 1, k, 0), after);
}

static void look_fine(scan *s, size_t k, size_t m)
{
    const double delay_s = s->delays.first + (double)k * s->delays.step;
    const long half = s->n_fine / 2;
    for (size_t b = 0; b < s->bands->n; b++)
        s->base[b] = wfi_phasor(wfi_turns_product(s->bands->band[b].offset_hz, delay_s));
    for (long j = -half - 1; j <= half + 1; j++)
        s->fine[j + half + 1] = power_at(s, 1, k, j);
    for (long j = -half; j <= half; j++)
        look_at(s, k, j, m, s->fine[j + half], s->fine[j + half + 1], s->fine[j + half + 2]);
}

static void bound_row(scan *s)
{
    const size_t n = s->delays.n;
    memset(s->bound, 0, n * sizeof *s->bound);
    for (size_t b = 0; b < s->bands->n; b++) {
        const float complex *row = s->row[1] + b * n;
        const float scale = (float)(1 / s->bands->band[b].total);
        for (size_t k = 0; k < n; k++) {
            const float power = crealf(row[k]) * crealf(row[k]) + cimagf(row[k]) * cimagf(row[k]);
            s->bound[k] += s->phases == WFI_PHASES_FREE ? scale * power : sqrtf(power);
        }
    }
    const float scale = (float)(BETWEEN / sqrt(s->bands->total));
    for (size_t k = 0; k < n; k++)
        s->bound[k] = s->phases == WFI_PHASES_FREE ? sqrtf(s->bound[k]) : scale * s->bound[k];
}

static void look_along(scan *s, size_t m)
{
    bound_row(s);
    for (size_t k = 0; k < s->delays.n; k++) {
        if ((double)s->bound[k] < KEEP * s->best)
            continue;
        if (s->n_fine > 1)
            look_fine(s, k, m);
        else
            look_coarse(s, k, m);
    }
}

/* Rows are turned over: no sums are moved. */
static wf_status next_row(scan *s, wfi_lattice *lattice, size_t m, wf_error *err)
{
    float complex *oldest = s->row[0];
    for (int i = 0; i + 1 < ROWS; i++) {
        s->row[i] = s->row[i + 1];
        s->has_row[i] = s->has_row[i + 1];
    }
    s->row[ROWS - 1] = oldest;
    s->has_row[ROWS - 1] = m < s->rates.n;
    return m < s->rates.n ? wfi_lattice_row(oldest, lattice, m, err) : WF_OK;
}

static wf_status look_over(scan *s, wfi_lattice *lattice, wf_error *err)
{
    WFI_TRY(next_row(s, lattice, 0, err));
    for (size_t m = 0; m < s->rates.n; m++) {
        WFI_TRY(next_row(s, lattice, m + 1, err));
        look_along(s, m);
    }
    return WF_OK;
}

static void fill_comb(scan *s)
{
    const long half = s->n_fine / 2;
    const size_t n_comb = (size_t)s->n_fine + 3;
    for (size_t b = 0; b < s->bands->n; b++) {
        for (long j = -half - 1; j <= half + 1; j++) {
            const double delay_s = (double)j * s->delays.step / (double)s->n_fine;
            s->comb[b * n_comb + (size_t)(j + half + 1)] =
                wfi_phasor(wfi_turns_product(s->bands->band[b].offset_hz, delay_s));
        }
    }
}

static wf_status set_up(scan *s, wf_error *err)
{
    const size_t n_bands = s->bands->n;
    for (int i = 0; i < ROWS; i++)
        WFI_TRY(
            wfi_allocate(&s->row[i], n_bands * s->delays.n, sizeof **s->row, "fringe rows", err));
    WFI_TRY(wfi_allocate(&s->bound, s->delays.n, sizeof *s->bound, "fringe rows", err));
    if (s->phases == WFI_PHASES_COMMON && n_bands > 1) {
        const double fine = ceil(FINE_PER_RESOLUTION * s->bands->span_hz * s->delays.step);
        s->n_fine = fine > 1 ? (long)fine + (long)fine % 2 : 2;
    }
    const size_t n_comb = (size_t)s->n_fine + 3;
    WFI_TRY(wfi_allocate(&s->comb, n_bands * n_comb, sizeof *s->comb, "fringe phases", err));
    WFI_TRY(wfi_allocate(&s->base, n_bands, sizeof *s->base, "fringe phases", err));
    WFI_TRY(wfi_allocate(&s->fine, n_comb, sizeof *s->fine, "fringe phases", err));
    fill_comb(s);
    return WF_OK;
}

static void release(scan *s)
{
    for (int i = 0; i < ROWS; i++)
        wfi_free(s->row[i]);
    wfi_free(s->bound);
    wfi_free(s->comb);
    wfi_free(s->base);
    wfi_free(s->fine);
}

wf_status wfi_scan(wfi_summits *summits, const wfi_bands *bands, wfi_phases phases, wf_error *err)
{
    summits->n = 0;
    wfi_lattice *lattice = NULL;
    WFI_TRY(wfi_lattice_create(&lattice, bands, err));
    scan s = {.bands = bands,
              .phases = phases,
              .delays = *wfi_lattice_delays(lattice),
              .rates = *wfi_lattice_rates(lattice),
              .n_fine = 1,
              .out = summits};
    summits->step = (wfi_place){s.delays.step, s.rates.step};
    wf_status status = set_up(&s, err);
    if (status == WF_OK)
        status = look_over(&s, lattice, err);
    release(&s);
    wfi_lattice_destroy(lattice);
    return status;
}
