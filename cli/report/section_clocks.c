/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The stations' clocks that the file's delays contain. */
#include <math.h>

#include "base/status.h"
#include "measure.h"
#include "report/page.h"

/* First entry of a station, or NULL. */
static const wf_fits_idi_clock *first_of(const survey *s, size_t i_station)
{
    for (size_t i = 0; i < s->notes->n_clocks; i++) {
        if (s->notes->clocks[i].i_station == i_station)
            return &s->notes->clocks[i];
    }
    return NULL;
}

/* The entry whose offset strays farthest from what the first one's rate foretells. */
static double largest_departure_s(const survey *s, const wf_fits_idi_clock *first)
{
    double largest = 0;
    for (size_t i = 0; i < s->notes->n_clocks; i++) {
        const wf_fits_idi_clock *clock = &s->notes->clocks[i];
        if (clock->i_station != first->i_station)
            continue;
        const double t_s = wf_instant_difference_s(clock->time, first->time);
        largest = fmax(largest, fabs(clock->ahead_s - first->ahead_s - first->rate_s_per_s * t_s));
    }
    return largest;
}

static void append_row(wfi_text *out, const survey *s, size_t i_station)
{
    const wf_fits_idi_clock *first = first_of(s, i_station);
    char text[MEASURE_BYTES];
    char time[WF_INSTANT_TEXT_BYTES];
    html_row_begin(out);
    html_row_head(out, "%s", s->info->station_names[i_station]);
    if (first == NULL) {
        wfi_text_append(out, "<td colspan=\"4\">none in the file</td>");
    } else {
        wf_instant_format(time, wf_instant_add(first->time, 0.05), 1);
        html_cell(out, "%.10s %s", time, time + 11);
        measure_format(text, first->ahead_s, 0, "s");
        html_number(out, "%s", text);
        measure_format(text, first->rate_s_per_s, 0, "s/s");
        html_number(out, "%s", text);
        const double departure_s = largest_departure_s(s, first);
        measure_format(text, departure_s, 0, "s");
        html_number(out, "%s", departure_s > 1e-13 ? text : "none");
    }
    html_row_end(out);
}

static wf_status append(page *p, wf_error *err)
{
    const survey *s = p->survey;
    (void)err;
    if (s->notes->n_clocks == 0)
        return WF_OK;
    html_element(&p->body, "p", "note",
                 "What the model counted as each station's clock: how far ahead of UTC it was. "
                 "Residual delays and rates of the stations are what is still missing from it.");
    html_table_begin(&p->body, "Clocks of the delay model",
                     "station|at (UTC)|#ahead|#rate|#later departure from it");
    for (size_t i = 0; i < s->info->n_stations; i++)
        append_row(&p->body, s, i);
    html_table_end(&p->body);
    return WF_OK;
}

const section section_clocks = {"clocks", "Clocks", append};
