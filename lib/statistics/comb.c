/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Tones at equal spacing: laid out, summed, and read. */
#include "statistics/comb.h"

#include <inttypes.h>
#include <math.h>
#include <string.h>

#include "base/memory.h"
#include "base/status.h"
#include "base/turns.h"

enum { PERIOD_MAX = 1 << 16, BLOCK_LEAST = 4096 };
/* A tone nearer than this part of the sample rate to an end of the band meets its own image. */
static const double END_ROOM = 1e-6;

static int64_t greatest_common_divisor(int64_t a, int64_t b)
{
    while (b != 0) {
        const int64_t rest = a % b;
        a = b;
        b = rest;
    }
    return a;
}

static wf_status find_period(wfi_comb_setup *out, wf_error *err)
{
    if (out->spacing_hz <= 0)
        return wfi_fail(err, WF_ARGUMENT, "tones %" PRId64 " Hz apart", out->spacing_hz);
    const int64_t common = greatest_common_divisor(out->rate_hz, out->spacing_hz);
    const int64_t period = out->rate_hz / common;
    if (period > PERIOD_MAX)
        return wfi_fail(
            err, WF_UNSUPPORTED,
            "tones every %" PRId64 " Hz repeat after %" PRId64 " samples only at %" PRId64
            " samples a second, more than the %d that are handled: is the spacing right?",
            out->spacing_hz, period, out->rate_hz, PERIOD_MAX);
    out->period = (size_t)period;
    out->step = (size_t)(out->spacing_hz / common % period);
    return WF_OK;
}

wf_status wfi_comb_setup_init(wfi_comb_setup *out, int64_t rate_hz, size_t n_parts,
                              int64_t spacing_hz, double phase_hz, wf_error *err)
{
    *out = (wfi_comb_setup){.rate_hz = rate_hz, .n_parts = n_parts, .spacing_hz = spacing_hz};
    WFI_TRY(find_period(out, err));
    const double rate = (double)rate_hz;
    const double spacing = (double)spacing_hz;
    const double room = END_ROOM * rate;
    const double low = n_parts == 2 ? -0.5 * rate : 0.0;
    const double high = 0.5 * rate;
    out->offset_hz = phase_hz + spacing * ceil((low + room - phase_hz) / spacing);
    const double n = floor((high - room - out->offset_hz) / spacing) + 1.0;
    out->n_tones = n > 0.0 ? (size_t)n : 0;
    return WF_OK;
}

wf_status wfi_comb_setup_sky(wfi_comb_setup *out, int64_t *first_number, int64_t rate_hz,
                             size_t n_parts, int64_t spacing_hz, double zero_hz, int sideband,
                             wf_error *err)
{
    const double spacing = (double)spacing_hz;
    /* the sky frequency above a tone, exactly: fmod rounds nothing */
    const double above = spacing_hz > 0 ? fmod(zero_hz, spacing) : 0.0;
    WFI_TRY(wfi_comb_setup_init(out, rate_hz, n_parts, spacing_hz, -sideband * above, err));
    *first_number = (int64_t)llround((zero_hz + sideband * out->offset_hz) / spacing);
    return WF_OK;
}

static void fill_turns(wfi_comb_sums *sums)
{
    for (size_t i = 0; i < sums->block; i++) {
        const double turns =
            wfi_turns_reduce(-(double)i * (sums->setup->offset_hz / (double)sums->setup->rate_hz));
        sums->turn_re[i] = (float)cos(WFI_RAD_PER_TURN * turns);
        sums->turn_im[i] = (float)sin(WFI_RAD_PER_TURN * turns);
    }
    for (size_t k = 0; k < sums->setup->period; k++) {
        const double turns = (double)k / (double)sums->setup->period;
        sums->wave_re[k] = cos(WFI_RAD_PER_TURN * turns);
        sums->wave_im[k] = sin(WFI_RAD_PER_TURN * turns);
    }
}

wf_status wfi_comb_sums_create(wfi_comb_sums *out, const wfi_comb_setup *setup, wf_error *err)
{
    *out = (wfi_comb_sums){.setup = setup};
    const size_t n = setup->period;
    out->block = (BLOCK_LEAST + n - 1) / n * n;
    WFI_TRY(wfi_allocate(&out->turn_re, out->block, sizeof(float), "tones", err));
    WFI_TRY(wfi_allocate(&out->turn_im, out->block, sizeof(float), "tones", err));
    WFI_TRY(wfi_allocate(&out->wave_re, n, sizeof(double), "tones", err));
    WFI_TRY(wfi_allocate(&out->wave_im, n, sizeof(double), "tones", err));
    WFI_TRY(wfi_allocate(&out->sum_re, n, sizeof(double), "tones", err));
    WFI_TRY(wfi_allocate(&out->sum_im, n, sizeof(double), "tones", err));
    WFI_TRY(wfi_allocate(&out->block_re, n, sizeof(float), "tones", err));
    WFI_TRY(wfi_allocate(&out->block_im, n, sizeof(float), "tones", err));
    fill_turns(out);
    return WF_OK;
}

void wfi_comb_sums_release(wfi_comb_sums *sums)
{
    wfi_free(sums->turn_re);
    wfi_free(sums->turn_im);
    wfi_free(sums->wave_re);
    wfi_free(sums->wave_im);
    wfi_free(sums->sum_re);
    wfi_free(sums->sum_im);
    wfi_free(sums->block_re);
    wfi_free(sums->block_im);
    *sums = (wfi_comb_sums){0};
}

void wfi_comb_sums_clear(wfi_comb_sums *sums)
{
    memset(sums->sum_re, 0, sums->setup->period * sizeof(double));
    memset(sums->sum_im, 0, sums->setup->period * sizeof(double));
    sums->n = 0;
    sums->power = 0;
}

/* n samples of one period, from a place in it on, turned by the offset. */
static void fold_real(wfi_comb_sums *s, size_t place, size_t in_block, const float *x, size_t n)
{
    float *restrict re = s->block_re + place;
    float *restrict im = s->block_im + place;
    const float *restrict c = s->turn_re + in_block;
    const float *restrict d = s->turn_im + in_block;
    for (size_t i = 0; i < n; i++) {
        re[i] += x[i] * c[i];
        im[i] += x[i] * d[i];
    }
}

static void fold_complex(wfi_comb_sums *s, size_t place, size_t in_block, const float *x, size_t n)
{
    float *restrict re = s->block_re + place;
    float *restrict im = s->block_im + place;
    const float *restrict c = s->turn_re + in_block;
    const float *restrict d = s->turn_im + in_block;
    for (size_t i = 0; i < n; i++) {
        re[i] += x[2 * i] * c[i] - x[2 * i + 1] * d[i];
        im[i] += x[2 * i] * d[i] + x[2 * i + 1] * c[i];
    }
}

static double power_of(const float *x, size_t n)
{
    double sum = 0;
    for (size_t i = 0; i < n; i++)
        sum += (double)x[i] * (double)x[i];
    return sum;
}

/* At most a block; the block begins at a sample whose number is a multiple of the period. */
static void add_block(wfi_comb_sums *s, int64_t block_first, size_t skip, const float *x, size_t n)
{
    const size_t period = s->setup->period;
    memset(s->block_re, 0, period * sizeof(float));
    memset(s->block_im, 0, period * sizeof(float));
    for (size_t done = 0; done < n;) {
        const size_t place = (skip + done) % period;
        const size_t left = period - place < n - done ? period - place : n - done;
        const float *from = x + done * s->setup->n_parts;
        if (s->setup->n_parts == 2)
            fold_complex(s, place, skip + done, from, left);
        else
            fold_real(s, place, skip + done, from, left);
        done += left;
    }
    /* the first sample's phase: exact, whatever its number */
    const double rate = (double)s->setup->rate_hz;
    const double whole = (double)(block_first / s->setup->rate_hz);
    const double rest = (double)(block_first % s->setup->rate_hz) / rate;
    const double turns = wfi_turns_product(s->setup->offset_hz, whole) +
                         wfi_turns_product(s->setup->offset_hz, rest);
    const double c = cos(WFI_RAD_PER_TURN * turns);
    const double d = -sin(WFI_RAD_PER_TURN * turns);
    for (size_t k = 0; k < period; k++) {
        s->sum_re[k] += c * (double)s->block_re[k] - d * (double)s->block_im[k];
        s->sum_im[k] += d * (double)s->block_re[k] + c * (double)s->block_im[k];
    }
}

void wfi_comb_sums_add(wfi_comb_sums *sums, int64_t first, const float *x, size_t n)
{
    const int64_t period = (int64_t)sums->setup->period;
    sums->n += (double)n;
    sums->power += power_of(x, n * sums->setup->n_parts);
    for (size_t done = 0; done < n;) {
        const int64_t at = first + (int64_t)done;
        const size_t skip = (size_t)((at % period + period) % period);
        const size_t room = sums->block - skip;
        const size_t part = room < n - done ? room : n - done;
        add_block(sums, at - (int64_t)skip, skip, x + done * sums->setup->n_parts, part);
        done += part;
    }
}

/* The turned tone m goes round m * step times in a period. */
static double complex tone_of(const wfi_comb_sums *sums, size_t m)
{
    const size_t period = sums->setup->period;
    const size_t stride = (size_t)((uint64_t)m % period * sums->setup->step % period);
    double re = 0;
    double im = 0;
    for (size_t k = 0, place = 0; k < period; k++) {
        const double c = sums->wave_re[place];
        const double d = -sums->wave_im[place];
        re += sums->sum_re[k] * c - sums->sum_im[k] * d;
        im += sums->sum_re[k] * d + sums->sum_im[k] * c;
        place += stride;
        place -= place >= period ? period : 0;
    }
    return CMPLX(re, im);
}

void wfi_comb_tones(const wfi_comb_sums *sums, double complex *tones)
{
    /* a real tone a cos has a phasor a/2 and the power a^2/2 */
    const double real = sums->setup->n_parts == 2 ? 1.0 : sqrt(2.0);
    const bool any = sums->n > 0 && sums->power > 0;
    const double scale = any ? real / sqrt(sums->n * sums->power) : 0.0;
    for (size_t m = 0; m < sums->setup->n_tones; m++)
        tones[m] = any ? scale * tone_of(sums, m) : 0.0;
}

double wfi_comb_sigma(const wfi_comb_sums *sums)
{
    if (!(sums->n > 0))
        return INFINITY;
    /* sum x cos: n/2 of power 1 for real samples, of power 1/2 a part, both parts, for complex */
    return sums->setup->n_parts == 2 ? sqrt(0.5 / sums->n) : 1.0 / sqrt(sums->n);
}

static double complex sum_at(const double complex *tones, size_t n, double turns_a_tone)
{
    double complex sum = 0;
    for (size_t m = 0; m < n; m++) {
        const double turns = wfi_turns_reduce(turns_a_tone * ((double)m - 0.5 * (double)(n - 1)));
        sum += tones[m] * cexp(I * WFI_RAD_PER_TURN * turns);
    }
    return sum;
}

/* The largest sum on a grid, then by golden section between its neighbours. */
static double best_turns(const double complex *tones, size_t n)
{
    const size_t n_grid = 8 * n;
    const double step = 1.0 / (double)n_grid;
    double best = 0;
    double largest = -1;
    for (size_t k = 0; k < n_grid; k++) {
        const double turns = (double)k * step - 0.5;
        const double height = cabs(sum_at(tones, n, turns));
        if (height > largest) {
            largest = height;
            best = turns;
        }
    }
    static const double GOLDEN = 0.61803398874989485;
    double low = best - step;
    double high = best + step;
    for (int i = 0; i < 60; i++) {
        const double a = high - GOLDEN * (high - low);
        const double b = low + GOLDEN * (high - low);
        if (cabs(sum_at(tones, n, a)) > cabs(sum_at(tones, n, b)))
            high = b;
        else
            low = a;
    }
    return 0.5 * (low + high);
}

wfi_comb_fit wfi_comb_fit_delay(const double complex *tones, size_t n_tones, double spacing_hz,
                                double sigma)
{
    wfi_comb_fit fit = {.delay_error_s = INFINITY};
    if (n_tones == 0)
        return fit;
    const double turns = n_tones > 1 ? best_turns(tones, n_tones) : 0.0;
    const double complex sum = sum_at(tones, n_tones, turns);
    const double n = (double)n_tones;
    fit.phase_rad = carg(sum);
    fit.snr = cabs(sum) / (sigma * sqrt(n));
    double reduced = wfi_turns_reduce(turns);
    fit.delay_s = reduced / spacing_hz;
    if (n_tones > 1) {
        const double spread_hz = spacing_hz * sqrt((n * n - 1.0) / 12.0);
        fit.delay_error_s = 1.0 / (WFI_RAD_PER_TURN * spread_hz * fit.snr);
    }
    return fit;
}
