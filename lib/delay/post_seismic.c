/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How the ground of a station settles after earthquakes. */
#include "delay/post_seismic.h"

#include <math.h>

#include "delay/constants.h"

static double value_m(const wf_post_seismic *term, double elapsed)
{
    if (term->law == WF_POST_SEISMIC_LOGARITHMIC)
        return term->amplitude_m * log1p(elapsed);
    return -term->amplitude_m * expm1(-elapsed);
}

void wfi_post_seismic(const wf_post_seismic *terms, size_t n, wf_instant t, double enu_m[3])
{
    enu_m[0] = enu_m[1] = enu_m[2] = 0.0;
    for (size_t i = 0; i < n; i++) {
        const double since_s = wf_instant_difference_s(t, terms[i].earthquake);
        if (since_s > 0.0)
            enu_m[terms[i].component] +=
                value_m(&terms[i], since_s / (terms[i].relaxation_years * WFI_JULIAN_YEAR_S));
    }
}
