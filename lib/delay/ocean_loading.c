/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How the ocean's tides press a station down and aside. */
#include "delay/ocean_loading.h"

#include <erfa.h>
#include <erfam.h>
#include <math.h>

enum { N_ARGUMENTS = 6, N_SPECIES = 3, NODES_MAX = 4 };

/* Rates of tau, s, h, p, N', ps at J2000.0 in cycles a day, from the Delaunay arguments of Simon et
 * al. 1994, Astron. Astrophys. 282, 663. They place the lines on the axis of frequency; phases come
 * from the arguments themselves. */
static const double CYCLES_PER_DAY[N_ARGUMENTS] = {0.966136808, 0.036601101, 0.002737909,
                                                   0.000309454, 0.000147094, 0.000000131};

/* The main waves of each species (long-period, diurnal, semi-diurnal) by frequency, and the
 * multipliers that name their line. */
typedef struct node {
    wfi_blq_wave wave;
    signed char multiplier[N_ARGUMENTS];
} node;

static const struct {
    int n;
    node nodes[NODES_MAX];
} SPECIES[N_SPECIES] = {
    {3,
     {{WFI_BLQ_SSA, {0, 0, 2, 0, 0, 0}},
      {WFI_BLQ_MM, {0, 1, 0, -1, 0, 0}},
      {WFI_BLQ_MF, {0, 2, 0, 0, 0, 0}}}},
    {4,
     {{WFI_BLQ_Q1, {1, -2, 0, 1, 0, 0}},
      {WFI_BLQ_O1, {1, -1, 0, 0, 0, 0}},
      {WFI_BLQ_P1, {1, 1, -2, 0, 0, 0}},
      {WFI_BLQ_K1, {1, 1, 0, 0, 0, 0}}}},
    {4,
     {{WFI_BLQ_N2, {2, -1, 0, 1, 0, 0}},
      {WFI_BLQ_M2, {2, 0, 0, 0, 0, 0}},
      {WFI_BLQ_S2, {2, 2, -2, 0, 0, 0}},
      {WFI_BLQ_K2, {2, 2, 0, 0, 0, 0}}}},
};

static double frequency(const signed char multiplier[N_ARGUMENTS])
{
    double cycles_per_day = 0;
    for (int i = 0; i < N_ARGUMENTS; i++)
        cycles_per_day += multiplier[i] * CYCLES_PER_DAY[i];
    return cycles_per_day;
}

static double equilibrium_amplitude(const node *wave)
{
    for (int i = 0; i < WFI_N_OCEAN_LOADING_LINES; i++) {
        const wfi_ocean_loading_line *line = &WFI_OCEAN_LOADING_LINES[i];
        int n_equal = 0;
        for (int k = 0; k < N_ARGUMENTS; k++)
            n_equal += line->multiplier[k] == wave->multiplier[k];
        if (n_equal == N_ARGUMENTS)
            return fabs(line->amplitude);
    }
    return HUGE_VAL; /* no main wave is missing: the table is fixed */
}

/* A cubic spline through a few nodes; no second derivatives: straight lines. */
typedef struct spline {
    int n;
    double x[NODES_MAX];
    double y[NODES_MAX];
    double second[NODES_MAX];
} spline;

/* Slope at x[a] of the parabola through three nodes. */
static double parabola_slope(const spline *s, int a, int b, int c)
{
    const double ab = s->x[b] - s->x[a], ac = s->x[c] - s->x[a];
    const double slope_b = (s->y[b] - s->y[a]) / ab, slope_c = (s->y[c] - s->y[a]) / ac;
    return (slope_b * ac - slope_c * ab) / (ac - ab);
}

/* Second derivatives of a spline through NODES_MAX nodes whose end slopes are those of parabolas:
 * the tridiagonal system by elimination. */
static void clamp_spline(spline *s)
{
    enum { last = NODES_MAX - 1 };
    double diagonal[NODES_MAX], right[NODES_MAX];
    double before_slope = parabola_slope(s, 0, 1, 2);
    for (int i = 0; i <= last; i++) {
        const double width = i < last ? s->x[i + 1] - s->x[i] : 0.0;
        const double before = i > 0 ? s->x[i] - s->x[i - 1] : 0.0;
        const double slope = i < last ? (s->y[i + 1] - s->y[i]) / width
                                      : parabola_slope(s, last, last - 1, last - 2);
        diagonal[i] = 2.0 * (before + width);
        right[i] = 6.0 * (slope - before_slope);
        before_slope = slope;
        if (i > 0) {
            const double factor = before / diagonal[i - 1];
            diagonal[i] -= factor * before;
            right[i] -= factor * right[i - 1];
        }
    }
    s->second[last] = right[last] / diagonal[last];
    for (int i = last - 1; i >= 0; i--)
        s->second[i] = (right[i] - (s->x[i + 1] - s->x[i]) * s->second[i + 1]) / diagonal[i];
}

static double spline_value(const spline *s, double x)
{
    if (x <= s->x[0])
        return s->y[0];
    if (x >= s->x[s->n - 1])
        return s->y[s->n - 1];
    int i = 0;
    while (x > s->x[i + 1])
        i++;
    const double width = s->x[i + 1] - s->x[i];
    const double b = (x - s->x[i]) / width, a = 1.0 - b;
    return a * s->y[i] + b * s->y[i + 1] +
           ((a * a * a - a) * s->second[i] + (b * b * b - b) * s->second[i + 1]) * width * width /
               6.0;
}

/* The admittance of one component in one species. */
typedef struct admittance {
    spline real;
    spline imaginary;
} admittance;

static void set_admittance(admittance *out, int i_species, const double amplitude_m[],
                           const double lag_rad[])
{
    *out = (admittance){{.n = SPECIES[i_species].n}, {.n = SPECIES[i_species].n}};
    for (int i = 0; i < out->real.n; i++) {
        const node *wave = &SPECIES[i_species].nodes[i];
        const double ratio_m = amplitude_m[wave->wave] / equilibrium_amplitude(wave);
        out->real.x[i] = out->imaginary.x[i] = frequency(wave->multiplier);
        out->real.y[i] = ratio_m * cos(lag_rad[wave->wave]);
        out->imaginary.y[i] = -ratio_m * sin(lag_rad[wave->wave]);
    }
    if (out->real.n == NODES_MAX) {
        clamp_spline(&out->real);
        clamp_spline(&out->imaginary);
    }
}

/* Real part of amplitude * (real + i imaginary) * exp(i (argument + offset)), the offset being half
 * a turn in the long-period species and a quarter in the diurnal one. */
static void set_line(const wfi_ocean_loading_line *line, double real_m, double imaginary_m,
                     double *in_phase_m, double *quadrature_m)
{
    static const double offset_cos[N_SPECIES] = {-1, 0, 1};
    static const double offset_sin[N_SPECIES] = {0, 1, 0};
    const double c = offset_cos[line->multiplier[0]], s = offset_sin[line->multiplier[0]];
    *in_phase_m = line->amplitude * (real_m * c - imaginary_m * s);
    *quadrature_m = -line->amplitude * (real_m * s + imaginary_m * c);
}

static void set_component(const wfi_blq_station *station, int i_row, double sign,
                          double in_phase_m[], double quadrature_m[])
{
    admittance by_species[N_SPECIES];
    for (int i = 0; i < N_SPECIES; i++)
        set_admittance(&by_species[i], i, station->amplitude_m[i_row], station->lag_rad[i_row]);
    for (int i = 0; i < WFI_N_OCEAN_LOADING_LINES; i++) {
        const wfi_ocean_loading_line *line = &WFI_OCEAN_LOADING_LINES[i];
        const admittance *a = &by_species[line->multiplier[0]];
        const double x = frequency(line->multiplier);
        set_line(line, sign * spline_value(&a->real, x), sign * spline_value(&a->imaginary, x),
                 &in_phase_m[i], &quadrature_m[i]);
    }
}

void wfi_ocean_loading_set(wfi_ocean_loading *out, const wfi_blq_station *station)
{
    /* the format's rows are up, west, south */
    static const int row[3] = {1, 2, 0};
    static const double sign[3] = {-1.0, -1.0, 1.0};
    for (int i = 0; i < 3; i++)
        set_component(station, row[i], sign[i], out->in_phase_m[i], out->quadrature_m[i]);
}

void wfi_ocean_phases_at(wfi_ocean_phases *out, wfi_tidal_time time)
{
    const double t = time.tt_centuries;
    const double l = eraFal03(t), sun_l = eraFalp03(t), f = eraFaf03(t), d = eraFad03(t);
    const double ascending_node = eraFaom03(t);
    const double argument[N_ARGUMENTS] = {ERFA_D2PI * fmod(time.utc_days, 1.0) - d,
                                          f + ascending_node,
                                          f + ascending_node - d,
                                          f + ascending_node - l,
                                          -ascending_node,
                                          f + ascending_node - d - sun_l};
    for (int i = 0; i < WFI_N_OCEAN_LOADING_LINES; i++) {
        const signed char *multiplier = WFI_OCEAN_LOADING_LINES[i].multiplier;
        double phase = 0;
        for (int k = 0; k < N_ARGUMENTS; k++)
            phase += multiplier[k] * argument[k];
        out->cosine[i] = cos(phase);
        out->sine[i] = sin(phase);
    }
}

void wfi_ocean_loading_at(const wfi_ocean_loading *loading, const wfi_ocean_phases *phases,
                          double enu_m[3])
{
    for (int i = 0; i < 3; i++) {
        double sum_m = 0;
        for (int k = 0; k < WFI_N_OCEAN_LOADING_LINES; k++)
            sum_m += loading->in_phase_m[i][k] * phases->cosine[k] +
                     loading->quadrature_m[i][k] * phases->sine[k];
        enu_m[i] = sum_m;
    }
}
