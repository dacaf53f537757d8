/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A diagnosis in plain words. */
#ifndef WFI_SEARCH_VERDICT_H
#define WFI_SEARCH_VERDICT_H

#include <whitefringe/diagnosis.h>

#include "observation/hypotheses.h"

/** Fill in verdict and text.
 *
 *  given  mistake  the hypothesis that brings the fringes, or NULL
 */
void wfi_verdict_write(wf_diagnosis *diagnosis, const wfi_hypothesis *mistake,
                       const wf_observation *observation, const wf_search_result *result);

/** "station Birch: its bands ..." without the station, where that is said already. */
const char *wfi_sentence_alone(const char *sentence, const char *name);

#endif
