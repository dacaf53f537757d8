/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How much longer the way through the troposphere is towards a source than towards the zenith. */
#ifndef WFI_DELAY_MAPPING_H
#define WFI_DELAY_MAPPING_H

/** Expansions over the sphere of degree and order 9: one {cos, sin} pair for each degree and
 *  order, (0,0), (1,0), (1,1), (2,0), ... */
typedef struct wfi_harmonic {
    double cos, sin;
} wfi_harmonic;

enum { WFI_N_HARMONICS = 55 };

/** Sums n_columns such expansions: out[k] = sum over i of table[i * n_columns + k].
 *
 *  source  Legendre functions as in the IERS Conventions (2010) routine GMF: not normalised,
 *          without the Condon-Shortley phase
 */
void wfi_harmonic_sums(const wfi_harmonic *table, int n_columns, double latitude_rad,
                       double longitude_rad, double *out);

/** Radians of the year since 28 January, as these models count it. */
double wfi_season_rad(double mjd);

/** Columns of the table of the Global Mapping Function. */
enum {
    WFI_GMF_HYDROSTATIC_MEAN,
    WFI_GMF_HYDROSTATIC_AMPLITUDE,
    WFI_GMF_WET_MEAN,
    WFI_GMF_WET_AMPLITUDE,
    WFI_N_GMF
};
extern const wfi_harmonic wfi_gmf_harmonics[WFI_N_HARMONICS][WFI_N_GMF];

/** The leading coefficient of both mapping functions at an instant. */
typedef struct wfi_mapping_a {
    double hydrostatic;
    double wet;
} wfi_mapping_a;

/** given   gmf  [WFI_N_GMF] sums of wfi_gmf_harmonics at the station, in 1e-5
 *  source  Boehm, Niell, Tregoning, Schuh 2006, Geophys. Res. Lett. 33, L07304
 */
wfi_mapping_a wfi_gmf_a(const double gmf[WFI_N_GMF], double mjd);

/** Slant over zenith delay for a source outside the atmosphere at elevation_rad > 0.
 *
 *  given   a         of GMF or VMF1
 *          height_m  of the station, for a mapping function at sea level (GMF, and VMF1 of a grid);
 *                    0 where `a` is the station's own (VMF1 of sites)
 *  source  Boehm, Werl, Schuh 2006, J. Geophys. Res. 111, B02406 (b, c); Niell 1996, J. Geophys.
 *          Res. 101, 3227 (height); IERS Conventions (2010) routines GMF, VMF1, VMF1_HT
 */
double wfi_map_hydrostatic(double a, double mjd, double latitude_rad, double height_m,
                           double elevation_rad);
double wfi_map_wet(double a, double elevation_rad);

/** Delay in a direction over that of a unit gradient, where n and e are the gradients to the
 *  north and east: the delay is this x (n cos azimuth + e sin azimuth).
 *
 *  source  Chen and Herring 1997, J. Geophys. Res. 102, 20489
 */
double wfi_map_gradient(double elevation_rad);

#endif
