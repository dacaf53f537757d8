/* SPDX-License-Identifier: GPL-3.0-or-later */
/* An instant with all that its stations share: how the Earth is turned, where the bodies are. */
#ifndef WFI_DELAY_MOMENT_H
#define WFI_DELAY_MOMENT_H

#include "delay/displacement.h"
#include "delay/earth.h"
#include "delay/ephemeris.h"
#include "delay/light_time.h"
#include "delay/model.h"

/** What turns the Earth beyond the bare series: each is reported as a term of its own. */
enum {
    WFI_CELESTIAL_POLE_OFFSETS,
    WFI_UT1_ZONAL_TIDES,
    WFI_LIBRATION,
    WFI_SUBDAILY_ROTATION,
    WFI_N_ROTATION_PARTS
};

typedef struct wfi_moment {
    wf_instant t;
    wfi_eop_values eop; /* all parts that are switched on included */
    wfi_earth earth;    /* so turned */
    /* r_GCRS = (bare + sum over the parts) x r_ITRS; a part that is off is 0 */
    double bare[3][3];
    double part[WFI_N_ROTATION_PARTS][3][3];
    wfi_ephemeris ephemeris;
    wfi_tides tides;
    double galactic[3]; /* what Galactic aberration adds to the direction; 0 where it is off */
    wfi_wave wave;      /* of the source */
    double right_ascension_rad; /* that the wave came from: of a spacecraft at its emission */
    double declination_rad;
} wfi_moment;

/** The moment at which the wave of a source passes the geocentre.
 *
 *  status  OK | RANGE: t outside Earth orientation, or a spacecraft's table
 */
wf_status wfi_moment_set(wfi_moment *out, const wf_delay_model *model, size_t i_source,
                         wf_instant t, wf_error *err);

/** wf_delay_evaluate for a moment that is set. */
wf_status wfi_delay_at(const wf_delay_model *model, size_t i_station, const wfi_moment *moment,
                       wf_delay *out, wf_error *err);

#endif
