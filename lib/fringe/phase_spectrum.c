/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Spectrum of a fringe's phase, and the lines in it. */
#include "fringe/phase_spectrum.h"

#include <fftw3.h>
#include <math.h>

#include "base/fftw_lock.h"
#include "base/memory.h"
#include "base/order.h"
#include "base/status.h"

enum { TIMES_MIN = 8, PERIODS_MIN = 10, REACH_MAX = 40, LINE_BINS = 2 };
static const double REACH = 1.5;
/* Of K independent exponential variables the median knows the mean as well as the mean of that part
 * of them does: ln(2)^2. Hann's taper makes 1.5 bins one. */
static const double MEDIAN_EFFICIENCY = 0.48045301391820139;
static const double BINS_ALIKE = 1.5;

static wf_status transform(wf_phase_spectrum *out, const wfi_tapered *in, double interval_s,
                           wf_error *err)
{
    float *series = NULL;
    fftwf_complex *bins = NULL;
    fftwf_plan plan = NULL;
    wf_status status = wfi_allocate(&series, in->n, sizeof *series, "a phase", err);
    if (status == WF_OK)
        status = wfi_allocate(&bins, out->n_bins, sizeof *bins, "a phase's spectrum", err);
    if (status != WF_OK)
        goto done;
    wfi_fftw_lock();
    plan = fftwf_plan_dft_r2c_1d((int)in->n, series, bins, FFTW_ESTIMATE);
    wfi_fftw_unlock();
    if (plan == NULL) {
        status =
            wfi_fail(err, WF_MEMORY, "the transform of %zu phases could not be planned", in->n);
        goto done;
    }
    for (size_t t = 0; t < in->n; t++)
        series[t] = (float)(in->taper[t] * in->phase[t]);
    fftwf_execute(plan);
    for (size_t k = 0; k < out->n_bins; k++) {
        const double re = (double)crealf(bins[k]);
        const double im = (double)cimagf(bins[k]);
        out->density[k] = 2 * interval_s * (re * re + im * im) / in->square;
    }
    wfi_fftw_lock();
    fftwf_destroy_plan(plan);
    wfi_fftw_unlock();
done:
    wfi_free(series);
    wfi_free(bins);
    return status;
}

/* The bins around k but those that a line there fills, [low, high]. */
static void around(size_t k, size_t n_bins, size_t *low, size_t *high)
{
    const double down = floor((double)k - (double)k / REACH);
    const double up = floor((double)k * REACH - (double)k);
    const size_t below = (size_t)fmin(fmax(down, LINE_BINS + 2), REACH_MAX);
    const size_t above = (size_t)fmin(fmax(up, LINE_BINS + 2), REACH_MAX);
    *low = k > below + 1 ? k - below : 1;
    *high = k + above < n_bins - 1 ? k + above : n_bins - 1;
}

static size_t is_background(size_t i, size_t k)
{
    return i + LINE_BINS < k || i > k + LINE_BINS;
}

static double background(const double *density, size_t k, size_t n_bins, size_t *n_taken)
{
    double values[2 * REACH_MAX + 1];
    size_t low = 0;
    size_t high = 0;
    size_t n = 0;
    around(k, n_bins, &low, &high);
    for (size_t i = low; i <= high; i++) {
        if (is_background(i, k))
            values[n++] = density[i];
    }
    *n_taken = n;
    if (n == 0)
        return density[k];
    return wfi_median(values, n) / log(2);
}

static bool is_highest(const double *density, size_t k, size_t n_bins)
{
    for (size_t i = k > LINE_BINS ? k - LINE_BINS : 0; i <= k + LINE_BINS && i < n_bins; i++) {
        if (density[i] > density[k] || (density[i] == density[k] && i < k))
            return false;
    }
    return true;
}

static double line_false_alarm(double ratio, size_t n_taken, size_t n_searched)
{
    const double n = fmax(MEDIAN_EFFICIENCY * (double)n_taken / BINS_ALIKE, 1);
    const double one = exp(-n * log1p(ratio / n));
    return -expm1((double)n_searched * log1p(-one));
}

static void find_lines(wf_phase_spectrum *out, const wfi_tapered *in, double interval_s,
                       double false_alarm)
{
    const size_t n_searched = out->n_bins > PERIODS_MIN ? out->n_bins - PERIODS_MIN : 0;
    for (size_t k = 1; k < out->n_bins; k++) {
        size_t n_taken = 0;
        out->background[k] = background(out->density, k, out->n_bins, &n_taken);
        if (k < PERIODS_MIN || !(out->background[k] > 0) ||
            !is_highest(out->density, k, out->n_bins))
            continue;
        const double alarm =
            line_false_alarm(out->density[k] / out->background[k], n_taken, n_searched);
        if (alarm > false_alarm)
            continue;
        wf_phase_line line =
            wfi_tapered_line(in, (double)k / (double)in->n, out->background[k], interval_s);
        line.false_alarm = alarm;
        out->lines[out->n_lines++] = line;
    }
    out->background[0] = out->background[1];
}

static wf_status make(wf_phase_spectrum **out, size_t n_times, wf_error *err)
{
    static const char what[] = "a phase's spectrum";
    WFI_TRY(wfi_allocate(out, 1, sizeof **out, what, err));
    wf_phase_spectrum *made = *out;
    made->n_bins = n_times / 2 + 1;
    WFI_TRY(wfi_allocate(&made->density, made->n_bins, sizeof(double), what, err));
    WFI_TRY(wfi_allocate(&made->background, made->n_bins, sizeof(double), what, err));
    return wfi_allocate(&made->lines, made->n_bins, sizeof *made->lines, what, err);
}

static wf_status check(const double *phase_rad, size_t n_times, double interval_s,
                       double false_alarm, wf_error *err)
{
    if (!(false_alarm > 0 && false_alarm < 1) || !(interval_s > 0))
        return wfi_fail(err, WF_ARGUMENT,
                        "a phase's spectrum every %g s at a false-alarm probability of %g; give a "
                        "positive interval and a probability between 0 and 1",
                        interval_s, false_alarm);
    size_t n_valid = 0;
    for (size_t t = 0; t < n_times; t++)
        n_valid += isnan(phase_rad[t]) ? 0 : 1;
    if (n_valid < TIMES_MIN)
        return wfi_fail(err, WF_RANGE, "a phase's spectrum needs %d phases, there are %zu",
                        TIMES_MIN, n_valid);
    return WF_OK;
}

wf_status wf_phase_spectrum_measure(wf_phase_spectrum **out, const double *phase_rad,
                                    size_t n_times, double interval_s, double false_alarm,
                                    wf_error *err)
{
    *out = NULL;
    WFI_TRY(check(phase_rad, n_times, interval_s, false_alarm, err));
    wfi_tapered in = {0};
    wf_phase_spectrum *made = NULL;
    wf_status status = make(&made, n_times, err);
    if (status == WF_OK)
        status = wfi_tapered_fill(&in, phase_rad, n_times, err);
    if (status == WF_OK) {
        made->step_hz = 1 / ((double)n_times * interval_s);
        status = transform(made, &in, interval_s, err);
    }
    if (status == WF_OK) {
        find_lines(made, &in, interval_s, false_alarm);
        *out = made;
        made = NULL;
    }
    wf_phase_spectrum_destroy(made);
    wfi_tapered_release(&in);
    return status;
}

void wf_phase_spectrum_destroy(wf_phase_spectrum *spectrum)
{
    if (spectrum == NULL)
        return;
    wfi_free(spectrum->density);
    wfi_free(spectrum->background);
    wfi_free(spectrum->lines);
    wfi_free(spectrum);
}
