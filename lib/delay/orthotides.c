/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Ocean tides in the Earth's rotation by orthotides (Groves and Reynolds 1975). */
#include "delay/orthotides.h"

#include <erfa.h>
#include <erfam.h>
#include <math.h>

static const double REFERENCE_MJD = 37076.5;
static const double LAG_DAYS = 2.0;

/* The tidal potential's two parts, two days before, at, and two days after the date. */
typedef struct potential {
    double a[3];
    double b[3];
} potential;

static void add_line(potential *sum, const wfi_orthotide_line *line, double mjd)
{
    /* where degree (2) and order together are odd, the potential is a sine */
    const double shift_rad = line->order == 1 ? -ERFA_DPI / 2.0 : 0.0;
    for (int k = 0; k < 3; k++) {
        const double days = mjd - REFERENCE_MJD - (k - 1) * LAG_DAYS;
        const double angle =
            fmod(line->phase_rad + shift_rad + line->rate_rad_per_day * days, ERFA_D2PI);
        sum->a[k] += line->height_mm * cos(angle);
        sum->b[k] -= line->height_mm * sin(angle);
    }
}

static void partials_of_order(const potential *v, const double f[6], double out[6])
{
    const double a_sum = v->a[2] + v->a[0], a_difference = v->a[2] - v->a[0];
    const double b_sum = v->b[2] + v->b[0], b_difference = v->b[2] - v->b[0];
    out[0] = f[0] * v->a[1];
    out[1] = f[0] * v->b[1];
    out[2] = f[1] * v->a[1] - f[2] * a_sum;
    out[3] = f[1] * v->b[1] - f[2] * b_sum;
    out[4] = f[3] * v->a[1] - f[4] * a_sum + f[5] * b_difference;
    out[5] = f[3] * v->b[1] - f[4] * b_sum - f[5] * a_difference;
}

void wfi_orthotide_partials(double mjd, double partial[WFI_N_ORTHOTIDES])
{
    potential of_order[2] = {0};
    for (int i = 0; i < WFI_N_ORTHOTIDE_LINES; i++)
        add_line(&of_order[wfi_orthotide_lines[i].order - 1], &wfi_orthotide_lines[i], mjd);
    for (int m = 0; m < 2; m++)
        partials_of_order(&of_order[m], wfi_orthotide_factors[m], partial + 6 * m);
}

wfi_rotation_shift wfi_orthotides(double mjd)
{
    double partial[WFI_N_ORTHOTIDES];
    wfi_orthotide_partials(mjd, partial);
    double sum[3] = {0};
    for (int j = 0; j < WFI_N_ORTHOTIDES; j++)
        for (int k = 0; k < 3; k++)
            sum[k] += partial[j] * wfi_orthotide_weights[j][k];
    const double uas2r = 1e-6 * ERFA_DAS2R;
    return (wfi_rotation_shift){sum[0] * uas2r, sum[1] * uas2r, sum[2] * 1e-6};
}
