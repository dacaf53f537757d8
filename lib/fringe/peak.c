/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The exact maximum of a stretch's Fourier sum, and the noise around it.
 *
 *  A visibility of channel x and integration y, both counted from the middle, is turned back by
 *  x * delay + (1 + x * k) * y * rate turns, with k = channel width / frequency of the middle: the
 *  rate belongs to each channel's own frequency. For one integration that is linear in x, so that
 *  one phasor steps through the channels.
 */
#include "fringe/peak.h"

#include <math.h>
#include <stdbool.h>

#include "base/memory.h"
#include "base/status.h"
#include "base/turns.h"
#include "fringe/grid.h"

enum { CLIMB_STEPS_MAX = 30, HALVINGS_MAX = 12, LANES = 8 };
/* A step below this part of a cell moves no result by more than its rounding. */
static const double STEP_MIN_CELLS = 1e-9;

static double complex phasor(double turns)
{
    const double angle = WFI_RAD_PER_TURN * wfi_turns_reduce(turns);
    return CMPLX(cos(angle), sin(angle));
}

static double from_middle(size_t i, size_t n)
{
    return (double)i - 0.5 * (double)(n - 1);
}

static double relative_width(const wf_fringe_input *input)
{
    const double half_band = 0.5 * (double)(input->n_channels - 1) * input->channel_width_hz;
    return input->channel_width_hz / (input->first_channel_hz + half_band);
}

/* Phase of an integration's middle channel, and step from channel to channel, turns. */
static void turns_of_time(const wf_fringe_input *input, wfi_trial trial, size_t t, double *middle,
                          double *step)
{
    const double y = from_middle(t, input->n_times);
    *middle = y * trial.rate;
    *step = trial.delay + relative_width(input) * y * trial.rate;
}

/* Sums over every LANES-th channel of k^p * visibility, turned back, for k = 0, 1, ... channels of
 * a lane: lanes do not wait for each other, and compilers make vectors of them. */
typedef struct lanes {
    double turn_re[LANES], turn_im[LANES];
    double re[3][LANES], im[3][LANES];
} lanes;

static void add_lane(lanes *l, size_t i, float complex visibility, double k)
{
    const double re = (double)crealf(visibility);
    const double im = (double)cimagf(visibility);
    const double turned_re = re * l->turn_re[i] - im * l->turn_im[i];
    const double turned_im = re * l->turn_im[i] + im * l->turn_re[i];
    l->re[0][i] += turned_re;
    l->im[0][i] += turned_im;
    l->re[1][i] += k * turned_re;
    l->im[1][i] += k * turned_im;
    l->re[2][i] += k * k * turned_re;
    l->im[2][i] += k * k * turned_im;
}

static void turn_lane(lanes *l, size_t i, double step_re, double step_im)
{
    const double re = l->turn_re[i] * step_re - l->turn_im[i] * step_im;
    l->turn_im[i] = l->turn_re[i] * step_im + l->turn_im[i] * step_re;
    l->turn_re[i] = re;
}

static void sum_lanes(lanes *l, const float complex *visibility, size_t n, double complex step)
{
    const double step_re = creal(step);
    const double step_im = cimag(step);
    size_t c = 0;
    double k = 0;
    for (; c + LANES <= n; c += LANES, k++) {
        for (size_t i = 0; i < LANES; i++)
            add_lane(l, i, visibility[c + i], k);
        for (size_t i = 0; i < LANES; i++)
            turn_lane(l, i, step_re, step_im);
    }
    for (size_t i = 0; c + i < n; i++)
        add_lane(l, i, visibility[c + i], k);
}

/* Moments over the channels of one integration: sums of x^p * visibility, turned back; x = x0 + i +
 * LANES k. */
static void channel_moments(const wf_fringe_input *input, wfi_trial trial, size_t t,
                            double complex moment[3])
{
    const size_t n = input->n_channels;
    const double x0 = from_middle(0, n);
    double middle = 0;
    double step = 0;
    turns_of_time(input, trial, t, &middle, &step);
    lanes l = {0};
    for (size_t i = 0; i < LANES; i++) {
        const double complex turn = phasor(middle + (x0 + (double)i) * step);
        l.turn_re[i] = creal(turn);
        l.turn_im[i] = cimag(turn);
    }
    sum_lanes(&l, input->visibility + t * n, n, phasor(LANES * step));
    moment[0] = moment[1] = moment[2] = 0;
    for (size_t i = 0; i < LANES; i++) {
        const double x = x0 + (double)i;
        const double complex m[3] = {CMPLX(l.re[0][i], l.im[0][i]),
                                     LANES * CMPLX(l.re[1][i], l.im[1][i]),
                                     LANES * LANES * CMPLX(l.re[2][i], l.im[2][i])};
        moment[0] += m[0];
        moment[1] += x * m[0] + m[1];
        moment[2] += x * x * m[0] + 2 * x * m[1] + m[2];
    }
}

/* A sum and its derivatives by delay (d) and rate (r), each without its power of 2 pi i. */
wfi_sums wfi_peak_sums(const wf_fringe_input *input, wfi_trial trial)
{
    wfi_sums out = {0};
    const double k = relative_width(input);
    for (size_t t = 0; t < input->n_times; t++) {
        const double weight = input->weight[t];
        if (!(weight > 0))
            continue;
        const double y = from_middle(t, input->n_times);
        double complex m[3];
        channel_moments(input, trial, t, m);
        out.s += weight * m[0];
        out.d += weight * m[1];
        out.dd += weight * m[2];
        out.r += weight * y * (m[0] + k * m[1]);
        out.dr += weight * y * (m[1] + k * m[2]);
        out.rr += weight * y * y * (m[0] + 2 * k * m[1] + k * k * m[2]);
    }
    return out;
}

double complex wfi_peak_sum(const wf_fringe_input *input, wfi_trial trial)
{
    return wfi_peak_sums(input, trial).s;
}

/* Newton's step for the maximum of log |sum|, whose shape is concave over the whole main lobe: log
 * of sinc. Along an axis that is not concave, or not resolved, there is no step. */
static wfi_trial newton_step(const wfi_sums *at, wfi_trial cell)
{
    const double complex d = at->d / at->s;
    const double complex r = at->r / at->s;
    const double gradient[2] = {-WFI_RAD_PER_TURN * cimag(d), -WFI_RAD_PER_TURN * cimag(r)};
    const double scale = WFI_RAD_PER_TURN * WFI_RAD_PER_TURN;
    const double h_dd = -scale * creal(at->dd / at->s - d * d);
    const double h_rr = -scale * creal(at->rr / at->s - r * r);
    const double h_dr = -scale * creal(at->dr / at->s - d * r);
    const double determinant = h_dd * h_rr - h_dr * h_dr;
    const bool climb_delay = cell.delay > 0 && h_dd < 0;
    const bool climb_rate = cell.rate > 0 && h_rr < 0;
    if (climb_delay && climb_rate && determinant > 0)
        return (wfi_trial){-(h_rr * gradient[0] - h_dr * gradient[1]) / determinant,
                           -(h_dd * gradient[1] - h_dr * gradient[0]) / determinant};
    return (wfi_trial){climb_delay ? -gradient[0] / h_dd : 0, climb_rate ? -gradient[1] / h_rr : 0};
}

static double clamp(double value, double centre, double reach)
{
    return fmin(fmax(value, centre - reach), centre + reach);
}

static wfi_trial moved(wfi_trial from, wfi_trial step, double part, wfi_trial start, wfi_trial cell)
{
    return (wfi_trial){clamp(from.delay + part * step.delay, start.delay, cell.delay),
                       clamp(from.rate + part * step.rate, start.rate, cell.rate)};
}

static bool is_tiny(wfi_trial a, wfi_trial b, wfi_trial cell)
{
    return fabs(a.delay - b.delay) <= STEP_MIN_CELLS * cell.delay &&
           fabs(a.rate - b.rate) <= STEP_MIN_CELLS * cell.rate;
}

wfi_trial wfi_peak_refine(const wf_fringe_input *input, wfi_trial start, wfi_trial cell)
{
    wfi_trial best = start;
    wfi_sums at = wfi_peak_sums(input, best);
    for (int i = 0; i < CLIMB_STEPS_MAX && cabs(at.s) > 0; i++) {
        const wfi_trial step = newton_step(&at, cell);
        double part = 1;
        wfi_trial next = moved(best, step, part, start, cell);
        wfi_sums there = wfi_peak_sums(input, next);
        for (int k = 0; k < HALVINGS_MAX && !(cabs(there.s) >= cabs(at.s)); k++) {
            part /= 2;
            next = moved(best, step, part, start, cell);
            there = wfi_peak_sums(input, next);
        }
        if (!(cabs(there.s) >= cabs(at.s)))
            break;
        const bool arrived = is_tiny(next, best, cell);
        best = next;
        at = there;
        if (arrived)
            break;
    }
    return best;
}

/* The visibilities turned back by the trial, without their mean. What the band's shape leaves of
 * the fringe then lies at rate 0, what its changes in time leave at delay 0: nothing spreads. */
static void subtract_fringe(float complex *residual, const wf_fringe_input *input, wfi_trial trial,
                            double complex mean)
{
    const size_t n = input->n_channels;
    for (size_t t = 0; t < input->n_times; t++) {
        if (!(input->weight[t] > 0))
            continue;
        double middle = 0;
        double step = 0;
        turns_of_time(input, trial, t, &middle, &step);
        double complex turn = phasor(middle + from_middle(0, n) * step);
        const double complex turn_step = phasor(step);
        for (size_t c = 0; c < n; c++) {
            residual[t * n + c] = (float complex)(input->visibility[t * n + c] * turn - mean);
            turn *= turn_step;
        }
    }
}

/* Mean of the middle (upper middle) one of n exponential variables of mean 1: exact order
 * statistics, which tend to ln 2. */
static double expected_median(size_t n)
{
    double sum = 0;
    for (size_t i = n - n / 2; i <= n; i++)
        sum += 1.0 / (double)i;
    return sum;
}

static void count_weights(const wf_fringe_input *input, size_t *n_valid, double *total)
{
    *n_valid = 0;
    *total = 0;
    for (size_t t = 0; t < input->n_times; t++) {
        if (!(input->weight[t] > 0))
            continue;
        *n_valid += input->n_channels;
        *total += input->weight[t] * (double)input->n_channels;
    }
}

/* The cells of an unpadded transform are independent, and their median does not feel the few that
 * a band's shape or an interferer fills. The fit took 4 of 2 n_valid degrees of freedom. */
wf_status wfi_peak_noise(double *sigma, const wf_fringe_input *input, wfi_trial trial,
                         double complex sum, wf_error *err)
{
    size_t n_valid = 0;
    double total = 0;
    count_weights(input, &n_valid, &total);
    float complex *residual = NULL;
    WFI_TRY(wfi_allocate(&residual, input->n_times * input->n_channels, sizeof *residual,
                         "a fringe's residuals", err));
    subtract_fringe(residual, input, trial, sum / total);
    wf_fringe_input rest = *input;
    rest.visibility = residual;
    wfi_grid grid = {0};
    const wf_status status =
        wfi_grid_transform(&grid, &rest, input->n_times, input->n_channels, err);
    if (status == WF_OK) {
        const size_t n_cells = grid.n_rates * grid.n_delays;
        const double mean = wfi_grid_median_power(&grid) / expected_median(n_cells);
        *sigma = sqrt(0.5 * mean * (double)n_valid / (double)(n_valid - 2));
    }
    wfi_grid_release(&grid);
    wfi_free(residual);
    return status;
}
