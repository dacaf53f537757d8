/* SPDX-License-Identifier: GPL-3.0-or-later */
/* States of a sampler, for people and machines. */
#include "sampler.h"

#include <stdio.h>

void sampler_format_states(char text[SAMPLER_STATES_BYTES], const wf_sampler_statistics *s)
{
    int n = 0;
    text[0] = '\0';
    for (size_t k = 0; k < s->n_states && s->n_states <= 4; k++)
        n += snprintf(text + n, SAMPLER_STATES_BYTES - (size_t)n, "%s%.4f", k > 0 ? " " : "",
                      s->state_fraction[k]);
    if (n == 0)
        snprintf(text, SAMPLER_STATES_BYTES, "%.6g to %.6g, ends %.2g", s->lowest, s->highest,
                 s->extreme_fraction);
}

void sampler_append_json(json *out, const wf_sampler_statistics *s)
{
    json_open(out, NULL, '{');
    json_text(out, "verdict", wf_sampler_verdict_text(s->verdict));
    json_number(out, "samples", s->n_samples);
    json_number(out, "mean", s->mean);
    json_number(out, "rms", s->rms);
    json_number(out, "lowest", s->lowest);
    json_number(out, "highest", s->highest);
    json_number(out, "extreme_fraction", s->extreme_fraction);
    json_number(out, "sigma_steps", s->sigma_steps);
    json_number(out, "offset_sigma", s->offset_sigma);
    json_number(out, "quantisation_efficiency", s->efficiency);
    json_number(out, "best_quantisation_efficiency", s->best_efficiency);
    json_open(out, "state_fractions", '[');
    for (size_t k = 0; k < s->n_states; k++)
        json_number(out, NULL, s->state_fraction[k]);
    json_close(out);
    json_close(out);
}
