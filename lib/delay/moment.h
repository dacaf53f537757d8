/* SPDX-License-Identifier: GPL-3.0-or-later */
/* An instant with all that its stations share: how the Earth is turned, where the bodies are. */
#ifndef WFI_DELAY_MOMENT_H
#define WFI_DELAY_MOMENT_H

#include "delay/earth.h"
#include "delay/ephemeris.h"
#include "delay/model.h"

typedef struct wfi_moment {
    wf_instant t;
    wfi_eop_values eop;
    wfi_earth earth;
    wfi_ephemeris ephemeris;
} wfi_moment;

/** status  OK | RANGE: t outside Earth orientation */
wf_status wfi_moment_set(wfi_moment *out, const wf_delay_model *model, wf_instant t, wf_error *err);

/** wf_delay_evaluate for a moment that is set. */
wf_status wfi_delay_at(const wf_delay_model *model, size_t i_station, size_t i_source,
                       const wfi_moment *moment, wf_delay *out, wf_error *err);

#endif
