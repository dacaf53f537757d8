/* SPDX-License-Identifier: GPL-3.0-or-later */
/* States of a sampler, for people and machines. */
#ifndef CLI_SAMPLER_H
#define CLI_SAMPLER_H

#include <whitefringe/statistics.h>

#include "json.h"

/** "0.1632 0.3368 0.3368 0.1632" of up to four states, else the range of the samples. */
enum { SAMPLER_STATES_BYTES = 96 };
void sampler_format_states(char text[SAMPLER_STATES_BYTES], const wf_sampler_statistics *s);

/** One object. */
void sampler_append_json(json *out, const wf_sampler_statistics *s);

#endif
