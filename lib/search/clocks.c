/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Weighted least squares over the baselines. */
#include "search/clocks.h"

#include <math.h>

#include "base/memory.h"
#include "base/status.h"
#include "delay/clock.h"

/* Single-band delays must tell ambiguities of the multi-band delay apart with this certainty. */
static const double SIGMAS_OF_HALF_AMBIGUITY = 5.0;
/* A fringe that the others contradict so much is not that of the source. */
static const double CONTRADICTION_SIGMAS = 6.0;

wf_fringe_measure wfi_clock_measure(const wf_search_baseline *baseline)
{
    const wf_fringe_fit *fit = &baseline->fit;
    const bool is_ambiguous =
        fit->delay_ambiguity_s > 0 &&
        SIGMAS_OF_HALF_AMBIGUITY * fit->single_band_delay_error_s > 0.5 * fit->delay_ambiguity_s;
    const double error_s = is_ambiguous ? fit->single_band_delay_error_s : fit->delay_error_s;
    return (wf_fringe_measure){
        .i_station = baseline->i_station,
        .j_station = baseline->j_station,
        .value = is_ambiguous ? fit->single_band_delay_s : fit->delay_s,
        .error = error_s,
        .excluded = !baseline->found || !isfinite(error_s),
    };
}

static wf_fringe_measure rate_measure(const wf_search_baseline *baseline)
{
    const double error = baseline->fit.rate_error_s_per_s;
    return (wf_fringe_measure){.i_station = baseline->i_station,
                               .j_station = baseline->j_station,
                               .value = baseline->fit.rate_s_per_s,
                               .error = error,
                               .excluded = !baseline->found || !isfinite(error)};
}

/* What the solver refuses it need not look at. */
static wf_fringe_measure harmless(wf_fringe_measure measure)
{
    if (measure.excluded) {
        measure.value = 0;
        measure.error = 1;
    }
    return measure;
}

typedef struct unknowns {
    wf_station_value *stations;
    double *residuals; /* in sigma */
    double *chi2;
} unknowns;

static wf_status solve(const unknowns *out, wf_fringe_measure *measures, size_t n_measures,
                       size_t n_stations, size_t i_reference, wf_error *err)
{
    size_t n_excluded = 0;
    WFI_TRY(wf_fringe_exclude_outliers(measures, &n_excluded, n_measures, n_stations, i_reference,
                                       CONTRADICTION_SIGMAS, err));
    WFI_TRY(wf_fringe_solve(out->stations, out->residuals, out->chi2, measures, n_measures,
                            n_stations, i_reference, err));
    return WF_OK;
}

static wf_status allocate(wfi_clock_solution *out, size_t n_baselines, size_t n_stations,
                          wf_error *err)
{
    *out = (wfi_clock_solution){0};
    WFI_TRY(wfi_allocate(&out->delay_s, n_stations, sizeof *out->delay_s, "clocks", err));
    WFI_TRY(wfi_allocate(&out->rate_s_per_s, n_stations, sizeof *out->rate_s_per_s, "clocks", err));
    WFI_TRY(
        wfi_allocate(&out->delay_residual_sigma, n_baselines, sizeof(double), "residuals", err));
    return wfi_allocate(&out->rate_residual_sigma, n_baselines, sizeof(double), "residuals", err);
}

static wf_status solve_all(wfi_clock_solution *out, wf_fringe_measure *measures,
                           const wf_search_baseline *baselines, size_t n_baselines,
                           size_t n_stations, size_t i_reference, wf_error *err)
{
    const unknowns delays = {out->delay_s, out->delay_residual_sigma, &out->delay_chi2};
    const unknowns rates = {out->rate_s_per_s, out->rate_residual_sigma, &out->rate_chi2};
    for (size_t k = 0; k < n_baselines; k++)
        measures[k] = harmless(wfi_clock_measure(&baselines[k]));
    WFI_TRY(solve(&delays, measures, n_baselines, n_stations, i_reference, err));
    for (size_t k = 0; k < n_baselines; k++)
        measures[k] = harmless(rate_measure(&baselines[k]));
    return solve(&rates, measures, n_baselines, n_stations, i_reference, err);
}

wf_status wfi_clocks_solve(wfi_clock_solution *out, const wf_search_baseline *baselines,
                           size_t n_baselines, size_t n_stations, size_t i_reference, wf_error *err)
{
    wf_fringe_measure *measures = NULL;
    wf_status status = allocate(out, n_baselines, n_stations, err);
    if (status == WF_OK)
        status = wfi_allocate(&measures, n_baselines, sizeof *measures, "measures", err);
    if (status == WF_OK)
        status = solve_all(out, measures, baselines, n_baselines, n_stations, i_reference, err);
    wfi_free(measures);
    if (status != WF_OK)
        wfi_clock_solution_release(out);
    return status;
}

void wfi_clock_solution_release(wfi_clock_solution *solution)
{
    wfi_free(solution->delay_s);
    wfi_free(solution->rate_s_per_s);
    wfi_free(solution->delay_residual_sigma);
    wfi_free(solution->rate_residual_sigma);
    *solution = (wfi_clock_solution){0};
}

wf_clock wfi_clock_mended(const wf_clock *clock, wf_instant middle, double tau_s, double delay_s,
                          double rate_s_per_s)
{
    return (wf_clock){
        .reference = middle,
        .ahead_s = wfi_clock_ahead_s(clock, middle, 0.0) + delay_s - rate_s_per_s * tau_s,
        .rate_s_per_s = clock->rate_s_per_s + rate_s_per_s,
    };
}
