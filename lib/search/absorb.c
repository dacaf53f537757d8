/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a trial teaches: the reference, and the clocks of all that fringes connect with it. */
#include <string.h>

#include "base/memory.h"
#include "base/status.h"
#include "search/baselines.h"
#include "search/detect.h"
#include "search/hunt.h"

/* By how much a station must surpass another to be taken as the reference before it. */
static const double CLEARLY = 1.2;

static double strength(const wfi_hunt *hunt, size_t i_station)
{
    double sum = 0;
    for (size_t k = 0; k < hunt->n_baselines; k++) {
        const wf_search_baseline *b = &hunt->baselines[k];
        if (b->found && wfi_baseline_involves(b, i_station))
            sum += b->fit.snr * b->fit.snr;
    }
    return sum;
}

static size_t size_of_group(const size_t *group, size_t n, size_t i)
{
    size_t size = 0;
    for (size_t k = 0; k < n; k++)
        size += group[k] == group[i];
    return size;
}

/* The strongest station of the largest group; of those that are nearly as strong, the job's first.
 */
static wf_status take_reference(wfi_hunt *hunt, wf_error *err)
{
    const size_t n = hunt->observation->n_stations;
    size_t *group = NULL;
    WFI_TRY(wfi_allocate(&group, n, sizeof *group, "groups of stations", err));
    wfi_connect(group, n, hunt->baselines, hunt->n_baselines);
    size_t best = n;
    for (size_t i = 0; i < n; i++) {
        if (!hunt->recorded[i])
            continue;
        const size_t size = size_of_group(group, n, i);
        const size_t most = best < n ? size_of_group(group, n, best) : 0;
        if (size > most || (size == most && strength(hunt, i) > CLEARLY * strength(hunt, best)))
            best = i;
    }
    wfi_free(group);
    hunt->i_reference = best;
    hunt->has_reference = true;
    return WF_OK;
}

static void mend_station(wfi_hunt *hunt, const wfi_clock_solution *solution, size_t i)
{
    const wf_instant middle = wfi_trial_middle(&hunt->trial);
    const wf_track *track = hunt->session.tracks[i];
    double tau_s = 0;
    wf_track_evaluate(track, middle, &tau_s, NULL);
    hunt->clocks[i] = wfi_clock_mended(&hunt->trial_clocks[i], middle, tau_s,
                                       solution->delay_s[i].value, solution->rate_s_per_s[i].value);
    hunt->delay_s[i] = solution->delay_s[i];
    hunt->rate_s_per_s[i] = solution->rate_s_per_s[i];
    hunt->found[i] = true;
}

wf_status wfi_hunt_absorb(wfi_hunt *hunt, wf_error *err)
{
    const size_t n = hunt->observation->n_stations;
    if (!hunt->has_reference && wfi_baselines_any_found(hunt->baselines, hunt->n_baselines))
        WFI_TRY(take_reference(hunt, err));
    memset(hunt->connected, false, n * sizeof(bool));
    if (!hunt->has_reference)
        return WF_OK;
    wfi_clock_solution solution;
    WFI_TRY(
        wfi_clocks_solve(&solution, hunt->baselines, hunt->n_baselines, n, hunt->i_reference, err));
    for (size_t i = 0; i < n; i++) {
        hunt->connected[i] = solution.delay_s[i].n_used > 0 && solution.delay_s[i].solved &&
                             solution.rate_s_per_s[i].solved;
        if (hunt->connected[i])
            mend_station(hunt, &solution, i);
    }
    for (size_t k = 0; k < hunt->n_baselines; k++) {
        hunt->baselines[k].delay_residual_sigma = solution.delay_residual_sigma[k];
        hunt->baselines[k].rate_residual_sigma = solution.rate_residual_sigma[k];
    }
    hunt->result->delay_chi2 = solution.delay_chi2;
    hunt->result->rate_chi2 = solution.rate_chi2;
    wfi_clock_solution_release(&solution);
    return WF_OK;
}
