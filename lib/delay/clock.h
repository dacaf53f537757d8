/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A station's clock against UTC. */
#ifndef WFI_DELAY_CLOCK_H
#define WFI_DELAY_CLOCK_H

#include <whitefringe/observation.h>

/** How far the clock is ahead when the wave arrives, tau_s after the geocentre's t. */
double wfi_clock_ahead_s(const wf_clock *clock, wf_instant t, double tau_s);

#endif
