/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How stable the phase of each baseline and station was. */
#include "report/survey_stability.h"

#include "base/memory.h"
#include "base/status.h"

/* Integrations that a stretch must have, averages of them that must be left; the SNR of each by
 * which turns can be followed; chance of an event where there is none. */
enum { TIMES_MIN = 16, AVERAGES_MIN = 12 };
static const double SNR_MIN = 3;
static const double FALSE_ALARM = 1e-3;

/* What is no failure of the machine or of the program: too little to measure. */
static wf_status forgive(wf_status status, const wf_error *trouble, wf_error *err)
{
    return status == WF_OK || status == WF_RANGE ? WF_OK
                                                 : wfi_fail(err, status, "%s", trouble->message);
}

static wf_status make_series(wf_fringe_series **out, const wf_stretch_data *data,
                             const survey_fit *fit, wf_error *err)
{
    const size_t n = data->info->n_bands;
    wf_error trouble = WF_ERROR_INIT;
    wf_fringe_input *inputs = NULL;
    WFI_TRY(wfi_allocate(&inputs, n, sizeof *inputs, "the bands of a baseline", err));
    for (size_t b = 0; b < n; b++)
        inputs[b] = wf_stretch_input(data, b, fit->i_product);
    const wf_status status = wf_fringe_series_create(out, inputs, n, fit->fit.single_band_delay_s,
                                                     fit->fit.rate_s_per_s, &trouble);
    wfi_free(inputs);
    return forgive(status, &trouble, err);
}

/* Average twice as long until the fringe shows in each average. */
static wf_status average(survey_phase *p, const wf_fringe_series *full, wf_coherence **coherence,
                         wf_error *err)
{
    for (size_t n = 1; full->n_times / n >= AVERAGES_MIN; n *= 2) {
        wf_error trouble = WF_ERROR_INIT;
        WFI_TRY(wf_fringe_series_average(&p->series, full, n, err));
        const wf_status status = wf_coherence_measure(coherence, p->series, &trouble);
        if (status == WF_OK && (*coherence)->snr >= SNR_MIN) {
            p->n_averaged = n;
            return WF_OK;
        }
        wf_coherence_destroy(*coherence);
        wf_fringe_series_destroy(p->series);
        *coherence = NULL;
        p->series = NULL;
        WFI_TRY(forgive(status, &trouble, err));
    }
    return WF_OK;
}

wf_status survey_phase_make(survey_phase *out, const wf_stretch_data *data, const survey_fit *fit,
                            wf_coherence **coherence, wf_error *err)
{
    wf_fringe_series *full = NULL;
    wf_error trouble = WF_ERROR_INIT;
    *coherence = NULL;
    if (data->stretch->n_times < TIMES_MIN)
        return WF_OK;
    WFI_TRY(make_series(&full, data, fit, err));
    wf_status status = full != NULL ? average(out, full, coherence, err) : WF_OK;
    wf_fringe_series_destroy(full);
    if (status == WF_OK && out->series != NULL)
        status = forgive(wf_fringe_phase_create(&out->phase, out->series, &trouble), &trouble, err);
    return status;
}

void survey_phase_release(survey_phase *phase)
{
    wf_fringe_series_destroy(phase->series);
    wf_fringe_phase_destroy(phase->phase);
    *phase = (survey_phase){0};
}

static wf_status look_at_phase(survey_stability *out, const wf_fringe_phase *phase, wf_error *err)
{
    wf_error trouble = WF_ERROR_INIT;
    out->expected_slips = phase->expected_slips;
    WFI_TRY(forgive(wf_allan_measure(&out->allan, phase, &trouble), &trouble, err));
    WFI_TRY(wf_phase_events_find(&out->events, phase, FALSE_ALARM, err));
    return forgive(wf_phase_spectrum_measure(&out->spectrum, out->events->phase_rad,
                                             out->events->n_times, phase->interval_s, FALSE_ALARM,
                                             &trouble),
                   &trouble, err);
}

wf_status survey_measure_stability(survey_stability *out, const wf_stretch_data *data,
                                   const survey_fit *fit, wf_error *err)
{
    survey_phase p = {0};
    wf_status status = survey_phase_make(&p, data, fit, &out->coherence, err);
    if (status == WF_OK && p.phase != NULL) {
        out->n_averaged = p.n_averaged;
        out->interval_s = p.phase->interval_s;
        status = look_at_phase(out, p.phase, err);
    }
    survey_phase_release(&p);
    return status;
}

/* Baselines of one interval only can be told apart: that of most of them. */
static double common_interval_s(const survey *s, size_t i_stretch)
{
    double shortest = 0;
    for (size_t i = 0; i < s->n_baselines; i++) {
        const survey_stability *st = &s->baselines[i].stability;
        if (s->baselines[i].i_stretch == i_stretch && st->events != NULL &&
            (!(shortest > 0) || st->interval_s < shortest))
            shortest = st->interval_s;
    }
    return shortest;
}

typedef struct apart {
    wf_allan_baseline *allan;
    wf_event_baseline *events;
    size_t n_allan;
    size_t n_events;
    size_t n_points;
} apart;

static void gather(apart *a, const survey *s, size_t i_stretch, double interval_s)
{
    for (size_t i = 0; i < s->n_baselines; i++) {
        const survey_baseline *b = &s->baselines[i];
        const survey_stability *st = &b->stability;
        if (b->i_stretch != i_stretch || st->events == NULL || st->interval_s > interval_s ||
            st->interval_s < interval_s)
            continue;
        a->events[a->n_events++] =
            (wf_event_baseline){b->i_station, b->j_station, st->events, st->spectrum};
        if (st->allan == NULL)
            continue;
        a->allan[a->n_allan++] = (wf_allan_baseline){b->i_station, b->j_station, st->allan};
        a->n_points = st->allan->n_points > a->n_points ? st->allan->n_points : a->n_points;
    }
}

static wf_status separate(survey *s, apart *a, size_t i_stretch, double interval_s, wf_error *err)
{
    survey_stretch_stability *out = &s->stabilities[i_stretch];
    const size_t n_stations = s->info->n_stations;
    if (a->n_events > 0)
        WFI_TRY(wf_station_events_find(&out->events, a->events, a->n_events, interval_s, err));
    if (a->n_allan == 0 || a->n_points == 0)
        return WF_OK;
    WFI_TRY(wfi_allocate(&out->allan, n_stations * a->n_points, sizeof *out->allan,
                         "Allan deviations of stations", err));
    out->n_points = a->n_points;
    return wf_allan_stations(out->allan, a->n_points, n_stations, a->allan, a->n_allan, err);
}

/* Phases are large: they go once the stretch is done. */
static void forget_phases(survey *s, size_t i_stretch)
{
    for (size_t i = 0; i < s->n_baselines; i++) {
        survey_stability *st = &s->baselines[i].stability;
        if (s->baselines[i].i_stretch != i_stretch)
            continue;
        wf_phase_events_destroy(st->events);
        wf_phase_spectrum_destroy(st->spectrum);
        st->events = NULL;
        st->spectrum = NULL;
    }
}

wf_status survey_separate_stations(survey *s, size_t i_stretch, wf_error *err)
{
    apart a = {0};
    const double interval_s = common_interval_s(s, i_stretch);
    wf_status status = WF_OK;
    if (interval_s > 0) {
        status = wfi_allocate(&a.allan, s->n_baselines, sizeof *a.allan, "baselines", err);
        if (status == WF_OK)
            status = wfi_allocate(&a.events, s->n_baselines, sizeof *a.events, "baselines", err);
        if (status == WF_OK) {
            gather(&a, s, i_stretch, interval_s);
            status = separate(s, &a, i_stretch, interval_s, err);
        }
    }
    wfi_free(a.allan);
    wfi_free(a.events);
    forget_phases(s, i_stretch);
    return status;
}

void survey_stability_release(survey_stability *stability)
{
    wf_coherence_destroy(stability->coherence);
    wf_allan_destroy(stability->allan);
    wf_phase_events_destroy(stability->events);
    wf_phase_spectrum_destroy(stability->spectrum);
}

void survey_stretch_stability_release(survey_stretch_stability *stability)
{
    wf_station_events_destroy(stability->events);
    wfi_free(stability->allan);
}
