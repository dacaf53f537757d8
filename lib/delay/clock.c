/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A station's clock against UTC. */
#include "delay/clock.h"

double wfi_clock_ahead_s(const wf_clock *clock, wf_instant t, double tau_s)
{
    const double elapsed_s = wf_instant_difference_s(t, clock->reference) + tau_s;
    return clock->ahead_s + clock->rate_s_per_s * elapsed_s;
}
