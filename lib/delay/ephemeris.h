/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Where the Earth and the bodies that bend light are. */
#ifndef WFI_DELAY_EPHEMERIS_H
#define WFI_DELAY_EPHEMERIS_H

/** A body in the barycentric frame (BCRS axes). */
typedef struct wfi_body {
    double gm_m3_per_s2;
    double position_m[3];
    double velocity_m_per_s[3];
} wfi_body;

/** The Moon and all planets but the Earth. */
enum { WFI_N_PLANETS = 8 };

typedef struct wfi_ephemeris {
    double earth_position_m[3]; /* of the geocentre, barycentric */
    double earth_velocity_m_per_s[3];
    wfi_body sun;
    wfi_body planets[WFI_N_PLANETS];
} wfi_ephemeris;

/** Positions at a time of TT as a two-part Julian date.
 *
 *  accuracy  against JPL DE405: velocity of the Earth 2.3 mm/s, its position 7 km, the Moon 14 km
 *  source    Earth: Bretagnon and Francou 1988 as of ERFA epv00; Moon: Meeus 1998 (moon98);
 *            planets: Simon et al. 1994, Astron. Astrophys. 282, 663 (plan94)
 */
void wfi_ephemeris_at(wfi_ephemeris *out, const double tt_jd[2]);

/** The geocentre alone. */
void wfi_earth_position(const double tt_jd[2], double position_m[3]);

#endif
