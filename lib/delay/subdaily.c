/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Variations of the Earth's rotation within a day. */
#include "delay/subdaily.h"

#include <erfa.h>
#include <erfam.h>
#include <math.h>

#include "delay/time_scales.h"

static const double UAS2R = 1e-6 * ERFA_DAS2R;

void wfi_delaunay_arguments(double t, double argument[5])
{
    argument[0] = eraFal03(t);
    argument[1] = eraFalp03(t);
    argument[2] = eraFaf03(t);
    argument[3] = eraFad03(t);
    argument[4] = eraFaom03(t);
}

void wfi_tidal_arguments(const double ut1_jd[2], const double tt_jd[2], double argument[6])
{
    argument[0] = eraGmst06(ut1_jd[0], ut1_jd[1], tt_jd[0], tt_jd[1]) + ERFA_DPI;
    wfi_delaunay_arguments(wfi_centuries(tt_jd), argument + 1);
}

wfi_rotation_shift wfi_subdaily_sum(const wfi_subdaily_line *lines, size_t n,
                                    const double argument[6])
{
    double x = 0, y = 0, ut1 = 0;
    for (size_t i = 0; i < n; i++) {
        const wfi_subdaily_line *line = &lines[i];
        double angle = 0;
        for (int j = 0; j < 6; j++)
            angle += line->multiplier[j] * argument[j];
        const double s = sin(angle), c = cos(angle);
        x += line->pole_x_sin * s + line->pole_x_cos * c;
        y += line->pole_y_sin * s + line->pole_y_cos * c;
        ut1 += line->ut1_sin * s + line->ut1_cos * c;
    }
    return (wfi_rotation_shift){x * UAS2R, y * UAS2R, ut1 * 1e-6};
}
