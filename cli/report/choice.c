/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Which baselines are drawn. */
#include "report/choice.h"

#include "base/memory.h"
#include "base/status.h"

typedef struct choice {
    const survey *survey;
    bool *chosen;
    size_t n;
} choice;

static double snr_of(const survey *s, size_t i_baseline)
{
    return survey_snr(s, &s->baselines[i_baseline]);
}

static bool belongs(const survey_baseline *b, size_t i_stretch, size_t i_station)
{
    return b->i_stretch == i_stretch && (b->i_station == i_station || b->j_station == i_station);
}

/* The strongest or weakest baseline of a station in a stretch; n_baselines: it has none. */
static size_t extreme_of(const survey *s, size_t i_stretch, size_t i_station, bool weakest)
{
    size_t best = s->n_baselines;
    for (size_t i = 0; i < s->n_baselines; i++) {
        if (belongs(&s->baselines[i], i_stretch, i_station) &&
            (best == s->n_baselines ||
             (weakest ? snr_of(s, i) < snr_of(s, best) : snr_of(s, i) > snr_of(s, best))))
            best = i;
    }
    return best;
}

/* In the first round one baseline of each stretch, of another station each time; and so on. */
static void choose_extremes(choice *c, size_t n_max, bool weakest)
{
    const survey *s = c->survey;
    const size_t n_stations = s->info->n_stations;
    for (size_t round = 0; round < n_stations; round++) {
        for (size_t i = 0; i < wf_stretches_n(s->stretches) && c->n < n_max; i++) {
            const size_t k = extreme_of(s, i, (round + i) % n_stations, weakest);
            if (k < s->n_baselines && !c->chosen[k]) {
                c->chosen[k] = true;
                c->n++;
            }
        }
    }
}

wf_status choice_of_baselines(bool **chosen, size_t *n, const survey *s, bool all, wf_error *err)
{
    choice c = {.survey = s};
    WFI_TRY(wfi_allocate(&c.chosen, s->n_baselines, sizeof *c.chosen, "a choice", err));
    if (all || s->n_baselines <= CHOICE_MAX) {
        for (size_t i = 0; i < s->n_baselines; i++)
            c.chosen[i] = true;
        c.n = s->n_baselines;
    } else {
        choose_extremes(&c, CHOICE_MAX / 2, false);
        choose_extremes(&c, CHOICE_MAX, true);
    }
    *chosen = c.chosen;
    *n = c.n;
    return WF_OK;
}

void choice_release(bool *chosen)
{
    wfi_free(chosen);
}
