/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What was lost in a correlation, and why. */
#ifndef CLI_LOSSES_H
#define CLI_LOSSES_H

#include <whitefringe/observation.h>
#include <whitefringe/run.h>

#include "json.h"

/** A table of lost fractions and one of faults; nothing where nothing was lost or wrong. */
void losses_print(const wf_observation *observation, const wf_correlate_summary *summary);

/** Members of the object of one stream. */
void losses_add_stream(json *out, const wf_stream_summary *stream);

/** A member "faults": what was found wrong, by recording and kind. */
void losses_add_faults(json *out, const wf_observation *observation,
                       const wf_correlate_summary *summary);

#endif
