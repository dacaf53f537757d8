/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Instants as Julian dates in two parts. */
#include "delay/time_scales.h"

#include <erfa.h>
#include <erfam.h>

#include "delay/constants.h"

/* TAI - UTC when instants count from zero, 2000-01-01T00:00:00 UTC (IERS Bulletin C). */
enum { TAI_MINUS_UTC_2000_S = 32, DAY_S = 86400 };
static const double JD_2000_JANUARY_1 = 2451544.5;
static const double TT_MINUS_TAI_S = 32.184;

/* The day is that of TAI; the rest may run beyond it. */
static void shifted_tai(wf_instant t, double shift_s, double jd[2])
{
    const int64_t tai = t.second + TAI_MINUS_UTC_2000_S;
    const int64_t day = tai / DAY_S - (tai % DAY_S < 0);
    jd[0] = JD_2000_JANUARY_1 + (double)day;
    jd[1] = ((double)(tai - day * DAY_S) + t.fraction + shift_s) / WFI_DAY_S;
}

void wfi_tt(wf_instant t, double jd[2])
{
    shifted_tai(t, TT_MINUS_TAI_S, jd);
}

void wfi_ut1(wf_instant t, double ut1_minus_tai_s, double jd[2])
{
    shifted_tai(t, ut1_minus_tai_s, jd);
}

double wfi_centuries(const double tt_jd[2])
{
    return ((tt_jd[0] - ERFA_DJ00) + tt_jd[1]) / ERFA_DJC;
}
