/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Fringes over all bands of a baseline, and what they say of the stations. */
#include "report/survey_fit.h"

#include <math.h>

#include "base/memory.h"
#include "base/status.h"
#include "report/closures.h"

static const double PI = 3.14159265358979323846;
/* Free phases gain noise and lose delays: they are taken only where they gain this much more. */
static const double GAIN_OF_FREE_PHASES = 1.1;
/* Multi-band delays are those of one ambiguity while it is so many errors of the single-band delay
 * wide. */
static const double SAFE_AMBIGUITY = 10;
/* A measure that others contradict by more is left out of the solution. */
static const double OUTLIER_SIGMA = 6;

static wf_status fit_inputs(survey_fit *out, const wf_fringe_input *inputs, size_t n, wf_error *err)
{
    const wf_fringe_window whole = {0};
    wf_error trouble = WF_ERROR_INIT;
    wf_fringe_fit free_phases = {0};
    wf_status status = wf_fringe_fit_bands(&out->fit, NULL, inputs, n, &whole, &trouble);
    if (status == WF_OK && n > 1)
        status = wf_fringe_fit_bands_free_phases(&free_phases, NULL, inputs, n, &whole, &trouble);
    out->measured = status == WF_OK;
    out->free_phases =
        out->measured && n > 1 && free_phases.snr > GAIN_OF_FREE_PHASES * out->fit.snr;
    if (out->free_phases)
        out->fit = free_phases;
    return status == WF_OK || status == WF_RANGE ? WF_OK
                                                 : wfi_fail(err, status, "%s", trouble.message);
}

wf_status survey_fit_product(survey_fit *out, const wf_stretch_data *data, size_t i_product,
                             wf_error *err)
{
    const size_t n = data->info->n_bands;
    wf_fringe_input *inputs = NULL;
    *out = (survey_fit){.i_product = i_product};
    WFI_TRY(wfi_allocate(&inputs, n, sizeof *inputs, "the bands of a baseline", err));
    for (size_t b = 0; b < n; b++)
        inputs[b] = wf_stretch_input(data, b, i_product);
    const wf_status status = fit_inputs(out, inputs, n, err);
    wfi_free(inputs);
    return status;
}

/* The baselines of a stretch that are fitted in one and the same product, as measures. */
typedef struct measures {
    wf_fringe_measure *delay;
    wf_fringe_measure *rate;
    wf_fringe_measure *phase;
    size_t n;
    size_t n_phases;
} measures;

static bool is_of(const survey *s, size_t i, size_t i_stretch)
{
    return s->baselines[i].i_stretch == i_stretch;
}

/* The product whose fringes are the strongest, summed over the stretch's baselines. */
static bool choose_product(const survey *s, survey_solution *solution, size_t i_stretch)
{
    double best = 0;
    for (size_t p = 0; p < s->info->n_products; p++) {
        double sum = 0;
        for (size_t i = s->first_baseline[i_stretch]; i < s->n_baselines; i++) {
            const survey_fit *fit = &survey_fits(s, &s->baselines[i])[p];
            if (is_of(s, i, i_stretch) && survey_fit_found(fit))
                sum += fit->fit.snr;
        }
        if (sum > best) {
            best = sum;
            solution->i_product = p;
        }
    }
    return best > 0;
}

/* Single-band delays where one baseline's multi-band delay could be that of the next ambiguity. */
static bool all_unambiguous(const survey *s, size_t i_stretch, size_t i_product)
{
    bool safe = true;
    for (size_t i = s->first_baseline[i_stretch]; i < s->n_baselines; i++) {
        const survey_fit *f = &survey_fits(s, &s->baselines[i])[i_product];
        if (is_of(s, i, i_stretch) && survey_fit_found(f))
            safe = safe && !f->free_phases &&
                   (!(f->fit.delay_ambiguity_s > 0) ||
                    f->fit.delay_ambiguity_s > SAFE_AMBIGUITY * f->fit.single_band_delay_error_s);
    }
    return safe;
}

/* The band that is the strongest on all baselines together. True where one baseline's bands do not
 * line up, so that the band's own phases must do. */
static bool choose_band(const survey *s, survey_solution *solution, size_t i_stretch)
{
    double best = 0;
    bool line_up = true;
    for (size_t band = 0; band < s->info->n_bands; band++) {
        double sum = 0;
        for (size_t i = s->first_baseline[i_stretch]; i < s->n_baselines; i++) {
            const survey_baseline *b = &s->baselines[i];
            const report_row *row =
                &survey_rows(s, b)[band * s->info->n_products + solution->i_product];
            const survey_fit *fit = &survey_fits(s, b)[solution->i_product];
            if (!is_of(s, i, i_stretch))
                continue;
            sum += report_row_found(row) ? row->peak.snr : 0;
            line_up = line_up && !(survey_fit_found(fit) && fit->free_phases);
        }
        if (sum > best) {
            best = sum;
            solution->i_band = band;
        }
    }
    return !line_up;
}

static void add_phase(measures *m, const survey *s, const survey_baseline *b,
                      const survey_solution *solution, wf_fringe_measure like)
{
    const wf_fringe_fit *fit = &survey_fits(s, b)[solution->i_product].fit;
    const report_row *row =
        &survey_rows(s, b)[solution->i_band * s->info->n_products + solution->i_product];
    if (!solution->phases_of_one_band) {
        /* in the middle of a band, where the phase is the same for a delay of the next ambiguity;
         * between two bands it would be half a turn off */
        const double from_centroid =
            2 * PI * (survey_band_middle_hz(s, solution->i_band) - fit->reference_hz);
        like.value = fit->phase_rad - from_centroid * fit->delay_s;
        like.error = hypot(fit->phase_error_rad, from_centroid * fit->delay_error_s);
    } else {
        if (!report_row_found(row))
            return;
        like.value = row->peak.phase_rad;
        like.error = 1 / row->peak.snr;
    }
    m->phase[m->n_phases++] = like;
}

static void add(measures *m, const survey *s, const survey_baseline *b,
                const survey_solution *solution)
{
    const wf_fringe_fit *fit = &survey_fits(s, b)[solution->i_product].fit;
    const wf_fringe_measure like = {.i_station = b->i_station, .j_station = b->j_station};
    wf_fringe_measure *delay = &m->delay[m->n];
    wf_fringe_measure *rate = &m->rate[m->n];
    *delay = *rate = like;
    delay->value = solution->multi_band ? fit->delay_s : fit->single_band_delay_s;
    delay->error = solution->multi_band ? fit->delay_error_s : fit->single_band_delay_error_s;
    rate->value = fit->rate_s_per_s;
    rate->error = fit->rate_error_s_per_s;
    m->n++;
    add_phase(m, s, b, solution, like);
}

/* The station with the strongest fringes. */
static size_t choose_reference(const survey *s, size_t i_stretch, size_t i_product)
{
    size_t best = 0;
    double most = -1;
    for (size_t k = 0; k < s->info->n_stations; k++) {
        double sum = 0;
        for (size_t i = s->first_baseline[i_stretch]; i < s->n_baselines; i++) {
            const survey_baseline *b = &s->baselines[i];
            const survey_fit *fit = &survey_fits(s, b)[i_product];
            if (is_of(s, i, i_stretch) && (b->i_station == k || b->j_station == k) &&
                survey_fit_found(fit))
                sum += fit->fit.snr;
        }
        if (sum > most) {
            most = sum;
            best = k;
        }
    }
    return best;
}

/* Nothing to solve where an axis is not resolved: errors are infinite. */
static bool all_finite(const wf_fringe_measure *of, size_t n)
{
    bool finite = n > 0;
    for (size_t i = 0; i < n; i++)
        finite = finite && isfinite(of[i].error) && of[i].error > 0;
    return finite;
}

static wf_status solve(const survey *s, const survey_solution *solution, wf_station_value *out,
                       double *chi2, size_t *n_excluded, wf_fringe_measure *of, size_t n,
                       wf_error *err)
{
    const size_t n_stations = s->info->n_stations;
    *chi2 = (double)NAN;
    if (!all_finite(of, n))
        return WF_OK;
    WFI_TRY(wf_fringe_exclude_outliers(of, n_excluded, n, n_stations, solution->i_reference,
                                       OUTLIER_SIGMA, err));
    return wf_fringe_solve(out, NULL, chi2, of, n, n_stations, solution->i_reference, err);
}

static wf_status close_triangles(const survey *s, survey_solution *solution, const measures *m,
                                 wf_error *err)
{
    const size_t n_stations = s->info->n_stations;
    if (all_finite(m->delay, m->n))
        WFI_TRY(wf_fringe_closures(solution->delay_closures, &solution->n_delay_closures, m->delay,
                                   m->n, n_stations, 0, err));
    if (!all_finite(m->phase, m->n_phases))
        return WF_OK;
    return wf_fringe_closures(solution->phase_closures, &solution->n_phase_closures, m->phase,
                              m->n_phases, n_stations, 2 * PI, err);
}

static wf_status solve_all(const survey *s, survey_solution *solution, measures *m, wf_error *err)
{
    /* closures come first: they are there to show what the solution leaves out */
    WFI_TRY(close_triangles(s, solution, m, err));
    WFI_TRY(solve(s, solution, solution->delay, &solution->delay_chi2, &solution->n_excluded,
                  m->delay, m->n, err));
    size_t n_of_rates = 0;
    return solve(s, solution, solution->rate, &solution->rate_chi2, &n_of_rates, m->rate, m->n,
                 err);
}

static wf_status allocate(const survey *s, survey_solution *solution, measures *m, size_t n,
                          wf_error *err)
{
    const size_t n_stations = s->info->n_stations;
    const size_t n_closures = WF_CLOSURES_OF(n_stations);
    const char *what = "a solution for the stations";
    WFI_TRY(wfi_allocate(&solution->delay, n_stations, sizeof *solution->delay, what, err));
    WFI_TRY(wfi_allocate(&solution->rate, n_stations, sizeof *solution->rate, what, err));
    WFI_TRY(wfi_allocate(&solution->delay_closures, n_closures, sizeof *solution->delay_closures,
                         what, err));
    WFI_TRY(wfi_allocate(&solution->phase_closures, n_closures, sizeof *solution->phase_closures,
                         what, err));
    WFI_TRY(wfi_allocate(&m->delay, n, sizeof *m->delay, what, err));
    WFI_TRY(wfi_allocate(&m->rate, n, sizeof *m->rate, what, err));
    return wfi_allocate(&m->phase, n, sizeof *m->phase, what, err);
}

wf_status survey_solve(survey *s, size_t i_stretch, wf_error *err)
{
    survey_solution *solution = &s->solutions[i_stretch];
    measures m = {0};
    if (!choose_product(s, solution, i_stretch))
        return WF_OK;
    solution->multi_band = all_unambiguous(s, i_stretch, solution->i_product);
    solution->phases_of_one_band = choose_band(s, solution, i_stretch);
    solution->i_reference = choose_reference(s, i_stretch, solution->i_product);
    wf_status status = allocate(s, solution, &m, s->n_baselines, err);
    for (size_t i = s->first_baseline[i_stretch]; i < s->n_baselines && status == WF_OK; i++) {
        if (is_of(s, i, i_stretch) &&
            survey_fit_found(&survey_fits(s, &s->baselines[i])[solution->i_product]))
            add(&m, s, &s->baselines[i], solution);
    }
    if (status == WF_OK)
        status = solve_all(s, solution, &m, err);
    closures_keep_farthest(solution);
    solution->solved = status == WF_OK;
    wfi_free(m.delay);
    wfi_free(m.rate);
    wfi_free(m.phase);
    return status;
}

void survey_solution_release(survey_solution *solution)
{
    wfi_free(solution->delay);
    wfi_free(solution->rate);
    wfi_free(solution->delay_closures);
    wfi_free(solution->phase_closures);
}
