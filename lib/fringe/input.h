/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What is in a band's stretch of visibilities, and whether it will do. */
#ifndef WFI_FRINGE_INPUT_H
#define WFI_FRINGE_INPUT_H

#include <whitefringe/fringe.h>

double wfi_input_middle_hz(const wf_fringe_input *input);
size_t wfi_input_valid_times(const wf_fringe_input *input);

/** Sums over the valid integrations of weight * y^k, y counted from the middle of the stretch. */
void wfi_input_time_moments(const wf_fringe_input *input, double moment[3]);

/** Mean of the squared distance of a channel from the middle, in channels: (n^2 - 1) / 12. */
double wfi_input_channel_variance(const wf_fringe_input *input);

/** ARGUMENT: dimensions that are none | FORMAT: a valid visibility that is not a number. */
wf_status wfi_input_check(const wf_fringe_input *input, wf_error *err);

#endif
