/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Whether measures of baselines will do. */
#ifndef WFI_FRINGE_MEASURES_H
#define WFI_FRINGE_MEASURES_H

#include <whitefringe/fringe_fit.h>

/** ARGUMENT: stations out of range or equal, errors or values that are none. */
wf_status wfi_measures_check(const wf_fringe_measure *measures, size_t n_measures,
                             size_t n_stations, size_t i_reference, wf_error *err);

/** Neither excluded nor of infinite error. */
bool wfi_measure_counts(const wf_fringe_measure *measure);

#endif
