/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Zonal tides in UT1. */
#include "delay/zonal_tides.h"

#include <math.h>

#include "delay/subdaily.h"

double wfi_zonal_tides_s(double t)
{
    double argument[5];
    wfi_delaunay_arguments(t, argument);
    double sum = 0;
    for (int i = 0; i < WFI_N_ZONAL_TIDE_LINES; i++) {
        const wfi_zonal_tide_line *line = &wfi_zonal_tide_lines[i];
        double angle = 0;
        for (int j = 0; j < 5; j++)
            angle += line->multiplier[j] * argument[j];
        sum += line->ut1_sin * sin(angle);
        if (line->ut1_cos != 0.0)
            sum += line->ut1_cos * cos(angle);
    }
    return sum * 1e-4;
}
