/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Two straight lines that meet at a time: offset and change of slope between them. */
#ifndef WFI_FRINGE_PHASE_STEPS_H
#define WFI_FRINGE_PHASE_STEPS_H

#include <stdbool.h>
#include <stddef.h>
#include <whitefringe/status.h>

typedef enum wfi_step_kind { WFI_STEP_OFFSET, WFI_STEP_SLOPE } wfi_step_kind;

/** Offset (rad) or change of slope (rad an integration) at the boundary before integration
 *  `i_boundary`, from n integrations on each side.
 *
 *  returned  factor  its standard deviation where the phases have independent errors of 1
 *            false: fewer than 3/4 n of either side are valid (of 2 both), or the stretch ends
 */
bool wfi_phase_step(double *size, double *factor, const double *phase_rad, size_t n_times,
                    size_t i_boundary, size_t n, wfi_step_kind kind);

/** How such steps scatter over a stretch.
 *
 *  median     of the sizes
 *  spread     of one whose factor is 1, as a standard deviation; events do not raise it much
 *  n_freedom  degrees of freedom of the spread
 */
typedef struct wfi_step_scatter {
    double median;
    double spread;
    size_t n_freedom;
} wfi_step_scatter;

/** status  OK, n_freedom 0 where there are too few | MEMORY */
wf_status wfi_phase_step_scatter(wfi_step_scatter *scatter, const double *phase_rad, size_t n_times,
                                 size_t n, wfi_step_kind kind, wf_error *err);

#endif
