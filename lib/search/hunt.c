/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Trials, and what they teach. */
#include "search/hunt.h"

#include <math.h>
#include <string.h>

#include "base/memory.h"
#include "base/status.h"
#include "base/text.h"
#include "run/coverage.h"
#include "search/detect.h"

/* The longest of those that most stations observe. */
static size_t usual_scan(const wf_observation *observation)
{
    size_t best = 0;
    size_t most = 0;
    for (size_t s = 0; s < observation->n_scans; s++) {
        const wf_scan *scan = &observation->scans[s];
        const size_t n = wfi_count_stations(scan->station_takes_part, observation->n_stations);
        if (n > most || (n == most && scan->duration_s > observation->scans[best].duration_s)) {
            best = s;
            most = n;
        }
    }
    return best;
}

static wf_status choose_reference(wfi_hunt *hunt, wf_error *err)
{
    const wf_observation *observation = hunt->observation;
    const char *name = hunt->options->reference_name;
    if (name == NULL)
        return WF_OK;
    for (size_t i = 0; i < observation->n_stations; i++) {
        if (strcmp(observation->stations[i].name, name) != 0)
            continue;
        hunt->i_reference = i;
        hunt->has_reference = true;
        if (hunt->recorded[i])
            return WF_OK;
        return wfi_fail(err, WF_RANGE, "station %s did not record scan %s; take another reference",
                        name, observation->scans[hunt->i_scan].name);
    }
    return wfi_fail(err, WF_MISSING, "no station \"%s\" in the job; its first is %s", name,
                    observation->stations[0].name);
}

static bool anybody_has(const wf_observation *observation, wf_polarization polarization)
{
    for (size_t r = 0; r < observation->n_recordings; r++)
        for (size_t k = 0; k < observation->recordings[r].n_streams; k++)
            if (observation->recordings[r].streams[k].polarization == polarization)
                return true;
    return false;
}

/* All four where both polarizations were recorded, whatever the job asks for: a station whose
 * polarizations are swapped shows its fringes in the crossed ones. */
static void choose_products(wfi_hunt *hunt)
{
    const wf_correlation *correlation = &hunt->observation->correlation;
    hunt->n_products = correlation->n_products;
    for (size_t p = 0; p < correlation->n_products; p++)
        hunt->products[p] = correlation->products[p];
    const bool is_circular = correlation->products[0].first <= WF_POLARIZATION_L;
    const wf_polarization a = is_circular ? WF_POLARIZATION_R : WF_POLARIZATION_X;
    const wf_polarization b = is_circular ? WF_POLARIZATION_L : WF_POLARIZATION_Y;
    if (!anybody_has(hunt->observation, a) || !anybody_has(hunt->observation, b))
        return;
    const wf_product all[WF_SEARCH_PRODUCTS_MAX] = {{a, a}, {b, b}, {a, b}, {b, a}};
    hunt->n_products = WF_SEARCH_PRODUCTS_MAX;
    for (size_t p = 0; p < WF_SEARCH_PRODUCTS_MAX; p++)
        hunt->products[p] = all[p];
}

static wf_status allocate(wfi_hunt *hunt, wf_error *err)
{
    const wf_observation *o = hunt->observation;
    const size_t n = o->n_stations;
    const size_t n_pairs = n * (n - 1) / 2;
    WFI_TRY(wfi_allocate(&hunt->recorded, n, sizeof(bool), "stations", err));
    WFI_TRY(wfi_allocate(&hunt->found, n, sizeof(bool), "stations", err));
    WFI_TRY(wfi_allocate(&hunt->connected, n, sizeof(bool), "stations", err));
    WFI_TRY(wfi_allocate(&hunt->clocks, n, sizeof *hunt->clocks, "clocks", err));
    WFI_TRY(wfi_allocate(&hunt->trial_clocks, n, sizeof *hunt->clocks, "clocks", err));
    WFI_TRY(wfi_allocate(&hunt->delay_s, n, sizeof *hunt->delay_s, "clocks", err));
    WFI_TRY(wfi_allocate(&hunt->rate_s_per_s, n, sizeof *hunt->rate_s_per_s, "clocks", err));
    WFI_TRY(wfi_allocate(&hunt->baselines, n_pairs, sizeof *hunt->baselines, "baselines", err));
    return wfi_allocate(&hunt->sample_rates_hz, o->n_recordings, sizeof(int64_t), "rates", err);
}

wf_status wfi_hunt_open(wfi_hunt *hunt, wf_error *err)
{
    const wf_observation *observation = hunt->observation;
    const wf_search_options *options = hunt->options;
    const char *scan = options->scan_name;
    hunt->i_scan = usual_scan(observation);
    if (scan == NULL)
        scan = observation->scans[hunt->i_scan].name;
    hunt->session = (wfi_session){.keep_going = options->keep_going,
                                  .n_threads = hunt->n_threads,
                                  .plan_options = {.kernels = options->kernels}};
    WFI_TRY(
        wfi_session_begin(&hunt->session, observation, scan, options->warn, options->context, err));
    while (!hunt->session.scan_wanted[hunt->i_scan])
        hunt->i_scan = (hunt->i_scan + 1) % observation->n_scans;
    WFI_TRY(allocate(hunt, err));
    const wf_scan *chosen = &observation->scans[hunt->i_scan];
    wfi_coverage_of_scan(hunt->recorded, &hunt->span, observation,
                         (const wf_recording *const *)hunt->session.recordings, chosen,
                         chosen->station_takes_part);
    if (wfi_count_stations(hunt->recorded, observation->n_stations) < 2)
        return wfi_fail(err, WF_RANGE,
                        "fewer than two stations recorded scan %s; choose another with --scan, or "
                        "compare its start with the recordings' times (inspect FILE)",
                        chosen->name);
    for (size_t r = 0; r < observation->n_recordings; r++)
        hunt->sample_rates_hz[r] =
            wf_recording_describe(hunt->session.recordings[r])->sample_rate_hz;
    for (size_t i = 0; i < observation->n_stations; i++)
        hunt->clocks[i] = observation->stations[i].clock;
    wfi_hunt_reset_clocks(hunt);
    choose_products(hunt);
    return choose_reference(hunt, err);
}

void wfi_hunt_close(wfi_hunt *hunt)
{
    wfi_session_close(&hunt->session);
    wfi_trial_release(&hunt->trial);
    wfi_free(hunt->recorded);
    wfi_free(hunt->found);
    wfi_free(hunt->connected);
    wfi_free(hunt->clocks);
    wfi_free(hunt->trial_clocks);
    wfi_free(hunt->delay_s);
    wfi_free(hunt->rate_s_per_s);
    wfi_free(hunt->baselines);
    wfi_free(hunt->sample_rates_hz);
    *hunt = (wfi_hunt){0};
}

void wfi_hunt_reset_clocks(wfi_hunt *hunt)
{
    memcpy(hunt->trial_clocks, hunt->clocks, hunt->observation->n_stations * sizeof *hunt->clocks);
}

size_t wfi_hunt_n_found(const wfi_hunt *hunt)
{
    return wfi_count_stations(hunt->found, hunt->observation->n_stations);
}

bool wfi_hunt_is_connected(const wfi_hunt *hunt, size_t i_station)
{
    return hunt->connected[i_station];
}

void wfi_hunt_forget(wfi_hunt *hunt, size_t i_station)
{
    hunt->found[i_station] = false;
    hunt->clocks[i_station] = hunt->observation->stations[i_station].clock;
}

void wfi_hunt_forget_all(wfi_hunt *hunt)
{
    for (size_t i = 0; i < hunt->observation->n_stations; i++)
        wfi_hunt_forget(hunt, i);
    hunt->has_reference = hunt->options->reference_name != NULL;
}

size_t wfi_hunt_n_missing(const wfi_hunt *hunt)
{
    size_t n = 0;
    for (size_t i = 0; i < hunt->observation->n_stations; i++)
        n += hunt->recorded[i] && !hunt->found[i];
    return n;
}

static wf_status report_progress(wfi_hunt *hunt, wf_error *err)
{
    const wf_search_options *options = hunt->options;
    const int64_t n_done = (int64_t)hunt->result->n_steps;
    const double expected = fmax(hunt->n_steps_expected, (double)n_done);
    const wf_progress progress = {.n_done = n_done,
                                  .n_total = (int64_t)expected,
                                  .unit = "steps",
                                  .data_seconds_done = hunt->result->correlated_s};
    if (options->progress != NULL && options->progress(options->context, &progress))
        return wfi_fail(err, WF_CANCELLED, "stopped on request");
    return WF_OK;
}

/* The session lets go of the old trial, and borrows from the new one, which stays in its place. */
static wf_status plan_trial(wfi_hunt *hunt, const wfi_look *look, wf_error *err)
{
    const wfi_trial_setup setup = {
        .i_scan = hunt->i_scan,
        .span = hunt->span,
        .length_s = look->length_s,
        .window_delay_s = look->delay_s,
        .window_rate_s_per_s = look->rate_s_per_s,
        .stations = look->stations,
        .clocks = hunt->trial_clocks,
        .sample_rates_hz = hunt->sample_rates_hz,
        .products = hunt->products,
        .n_products = look->is_coarse ? 1 : hunt->n_products,
        .first_band_only = look->is_coarse,
    };
    wfi_session_drop_plan(&hunt->session);
    wfi_trial_release(&hunt->trial);
    WFI_TRY(wfi_trial_create(&hunt->trial, hunt->observation, &setup, err));
    return wfi_session_plan_other(&hunt->session, &hunt->trial.observation, err);
}

wf_status wfi_hunt_look(wfi_hunt *hunt, const wfi_look *look, wf_error *err)
{
    WFI_TRY(plan_trial(hunt, look, err));
    wfi_cube cube = {0};
    WFI_TRY(wfi_cube_correlate(&cube, &hunt->session, hunt->trial.n_times,
                               look->is_coarse ? hunt->i_reference : WFI_CUBE_ALL_PAIRS,
                               hunt->n_threads, err));
    const wf_fringe_window window = {.delay_s = hunt->trial.window_delay_s,
                                     .rate_s_per_s = hunt->trial.window_rate_s_per_s};
    hunt->n_baselines = cube.n_pairs;
    const wf_status status =
        wfi_detect(hunt->baselines, &cube, &window, look->false_alarm, hunt->n_threads, err);
    wfi_cube_release(&cube);
    WFI_TRY(status);
    hunt->result->n_steps++;
    hunt->result->correlated_s += hunt->trial.scan.duration_s;
    return report_progress(hunt, err);
}

double wfi_hunt_widest_delay_s(const wfi_hunt *hunt, bool is_coarse)
{
    return wfi_trial_widest_delay_s(hunt->observation, hunt->options->window_delay_s,
                                    wf_instant_difference_s(hunt->span.stop, hunt->span.start),
                                    is_coarse);
}
