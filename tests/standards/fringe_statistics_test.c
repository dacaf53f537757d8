/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Fringe fits of many invented observations against theory: errors, bounds, false alarms.
 *
 *  Sources: Thompson, Moran, Swenson 2017, 3rd ed., sections 9.3 and 9.8 (from memory) for snr =
 *  rho sqrt(2 B tau) and errors; Cramer 1946 and Rao 1945 for the bound; the stated probability of
 *  false detection is its own claim: over noise it is uniformly distributed. Seeds are fixed; with
 *  others each check fails by chance in less than 1e-4 of cases unless said otherwise.
 */
#include "support/check.h"

#include "../unit/fringe/bands.h"

enum { STATIONS = 4, BASELINES = 6, DRAWS = 120 };

/* Five narrow bands, spaced as no two alike: channels of 2.5 kHz for delays of 200 us,
 * integrations of 0.25 s for rates of 2e-10 at 8.4 GHz. */
static const band_shape bands_of_a_draw[] = {{8400.00e6, 2.5e3, 24},
                                             {8400.06e6, 2.5e3, 24},
                                             {8400.24e6, 2.5e3, 24},
                                             {8400.54e6, 2.5e3, 24},
                                             {8400.66e6, 2.5e3, 24}};
static const double REFERENCE_HZ = 8400.3e6;
enum { BANDS = 5, TIMES = 24 };
static const double INTERVAL_S = 0.25;
/* Beyond, a fit is on a side lobe: half the way to the first one, at 1.7 us; 8 sigma at an snr
 * of 7. */
static const double LOBE_S = 0.7e-6;
static const double LOBE_RATE = 1e-11;
/* Reached within 10 %; the scatter of 720 is known to 2.6 %. */
static const double BOUND = 0.1;

typedef struct draw {
    double clock_s[STATIONS];
    double rate[STATIONS];
    double snr;
} draw;

typedef struct pulls {
    const char *name;
    size_t n;
    size_t n_beyond_3;
    double square;
} pulls;

static void note(pulls *p, double pull)
{
    p->n++;
    p->n_beyond_3 += fabs(pull) > 3;
    p->square += pull * pull;
}

static double between(double low, double high, uint64_t seed, uint64_t counter)
{
    return low + (high - low) * invented_uniform(seed, counter);
}

/* Clocks to +-100 us and 1e-10 s/s, snr from 7 to 1000, evenly in its logarithm. */
static draw draw_of(uint64_t seed)
{
    draw d;
    for (uint64_t i = 0; i < STATIONS; i++) {
        d.clock_s[i] = between(-100e-6, 100e-6, seed, 10 + i);
        d.rate[i] = between(-1e-10, 1e-10, seed, 20 + i);
    }
    d.snr = exp(between(log(7), log(1000), seed, 30));
    return d;
}

static bands visibilities(const draw *d, size_t i, size_t j, uint64_t seed)
{
    bands all = bands_create(bands_of_a_draw, BANDS, TIMES, INTERVAL_S);
    const truth t = {d->clock_s[i] - d->clock_s[j], d->rate[i] - d->rate[j],
                     d->snr / bands_snr(&all, 1),
                     2 * INVENTED_PI * invented_uniform(seed, i * 7 + j), REFERENCE_HZ};
    bands_add_fringe(&all, &t, NULL);
    bands_add_noise(&all, 1, seed * 100 + i * 10 + j);
    return all;
}

typedef struct tally {
    pulls delay, rate, single_band, phase, station_delay, station_rate;
    size_t n_missed; /* fringes that noise or a side lobe outdid */
    double snr_ratio;
    size_t n_strong;
    double chi2;
} tally;

/* Stations from the baselines; returns reduced chi-squared. */
static double note_stations(pulls *p, wf_fringe_measure *measures, size_t n, const double *value)
{
    wf_station_value station[STATIONS];
    double reduced = 0;
    size_t n_excluded = 0;
    wf_error err = WF_ERROR_INIT;
    wf_check_ok(wf_fringe_exclude_outliers(measures, &n_excluded, n, STATIONS, 0, 6, &err), &err);
    wf_check_ok(wf_fringe_solve(station, NULL, &reduced, measures, n, STATIONS, 0, &err), &err);
    for (size_t i = 1; i < STATIONS; i++)
        note(p, (station[i].value - value[i] + value[0]) / station[i].error);
    return reduced;
}

/* One draw: every baseline by itself, then the stations. */
static void add_draw(tally *all, const draw *d, uint64_t seed)
{
    const wf_fringe_window window = {200e-6, 2e-10, 0, 0};
    wf_fringe_measure delays[BASELINES];
    wf_fringe_measure rates[BASELINES];
    size_t n = 0;
    for (size_t i = 0; i < STATIONS; i++) {
        for (size_t j = i + 1; j < STATIONS; j++) {
            bands v = visibilities(d, i, j, seed);
            wf_fringe_fit fit;
            wf_error err = WF_ERROR_INIT;
            wf_check_ok(wf_fringe_fit_bands(&fit, NULL, v.input, v.n, &window, &err), &err);
            bands_destroy(&v);
            const double delay_s = d->clock_s[i] - d->clock_s[j];
            const double rate = d->rate[i] - d->rate[j];
            delays[n] = (wf_fringe_measure){i, j, fit.delay_s, fit.delay_error_s, false};
            rates[n++] = (wf_fringe_measure){i, j, fit.rate_s_per_s, fit.rate_error_s_per_s, false};
            if (fabs(fit.delay_s - delay_s) > LOBE_S || fabs(fit.rate_s_per_s - rate) > LOBE_RATE) {
                all->n_missed++;
                continue;
            }
            note(&all->delay, (fit.delay_s - delay_s) / fit.delay_error_s);
            note(&all->rate, (fit.rate_s_per_s - rate) / fit.rate_error_s_per_s);
            note(&all->single_band,
                 (fit.single_band_delay_s - delay_s) / fit.single_band_delay_error_s);
            const double turns = (fit.reference_hz - REFERENCE_HZ) * delay_s;
            const double phase_rad = 2 * INVENTED_PI * (invented_uniform(seed, i * 7 + j) - turns);
            note(&all->phase,
                 remainder(fit.phase_rad - phase_rad, 2 * INVENTED_PI) / fit.phase_error_rad);
            all->snr_ratio += d->snr > 30 ? fit.snr / d->snr : 0;
            all->n_strong += d->snr > 30;
        }
    }
    all->chi2 += note_stations(&all->station_delay, delays, n, d->clock_s);
    note_stations(&all->station_rate, rates, n, d->rate);
}

/* Largest count that chance exceeds in less than 1e-4 of cases, of a mean this large (Poisson). */
static size_t counting_limit(double mean)
{
    double term = exp(-mean);
    double sum = term;
    size_t k = 0;
    while (1 - sum > 1e-4) {
        k++;
        term *= mean / (double)k;
        sum += term;
    }
    return k;
}

/* The scatter is the predicted one, Cramer and Rao's, within the limit; beyond 3 sigma lie no more
 * than a normal distribution's 0.27 %, by counting. */
static void check_pulls(const pulls *p, double limit)
{
    const double scatter = sqrt(p->square / (double)p->n);
    const size_t most = counting_limit(0.0027 * (double)p->n);
    print_message("%-20s %4zu, scatter %.3f of the bound, %zu beyond 3 sigma (limit %zu)\n",
                  p->name, p->n, scatter, p->n_beyond_3, most);
    wf_check_near(p->name, scatter, 1, limit, "of the predicted error");
    assert_true(p->n_beyond_3 <= most);
}

/* 120 draws of 4 stations: 720 fringes. One may lose against a side lobe of the bands, 0.57 of it,
 * near an snr of 7: expected 0.016 of all, the sum over side lobes of height r of the chance that
 * noise makes up for snr sqrt((1 - r) / 2) sigma. */
static void clocks_of_four_stations_are_recovered(void **state)
{
    (void)state;
    tally all = {.delay = {.name = "delay"},
                 .rate = {.name = "rate"},
                 .single_band = {.name = "single-band delay"},
                 .phase = {.name = "phase"},
                 .station_delay = {.name = "station's clock"},
                 .station_rate = {.name = "station's rate"}};
    for (uint64_t seed = 1; seed <= DRAWS; seed++) {
        const draw d = draw_of(seed);
        add_draw(&all, &d, seed);
    }
    print_message("%zu of %d fringes outdone by a side lobe, snr %.4f of theory\n", all.n_missed,
                  DRAWS * BASELINES, all.snr_ratio / (double)all.n_strong);
    assert_true(all.n_missed <= counting_limit(0.016));
    check_pulls(&all.delay, BOUND);
    check_pulls(&all.rate, BOUND);
    check_pulls(&all.single_band, BOUND);
    check_pulls(&all.phase, BOUND);
    /* stations share the reference: correlated by half, 240 of 360 count; 4 / sqrt(2 * 240) */
    check_pulls(&all.station_delay, 0.18);
    check_pulls(&all.station_rate, 0.18);
    /* the noise of 2880 visibilities is known to 1.3 %, its mean over 500 fringes to 0.06 % */
    wf_check_near("snr", all.snr_ratio / (double)all.n_strong, 1, 0.003, "of theory");
    /* 3 degrees of freedom a draw */
    wf_check_near("reduced chi-squared", all.chi2 / DRAWS, 1, 4 * sqrt(2.0 / (3 * DRAWS)), "");
}

typedef struct noise_case {
    const char *name;
    wf_status (*fit)(wf_fringe_fit *, wf_fringe_peak *, const wf_fringe_input *, size_t,
                     const wf_fringe_window *, wf_error *);
    size_t n_bands;
    wf_fringe_window window;
} noise_case;

/* The stated probability, over fits of pure noise, lies below p in a part p of them: within 4
 * standard deviations of the count (6e-5 by chance, for each of the 21). */
static void noise_is_called_a_fringe_as_often_as_stated(void **state)
{
    (void)state;
    enum { FITS = 600, LEVELS = 3 };
    static const double level[LEVELS] = {0.01, 0.03, 0.1};
    static const band_shape shapes[] = {
        {8.4e9, 62.5e3, 32}, {8.41e9, 62.5e3, 32}, {8.43e9, 62.5e3, 32}, {8.45e9, 62.5e3, 32}};
    static const noise_case cases[] = {
        {"one band, full window", wf_fringe_fit_bands, 1, {0}},
        {"one band, part", wf_fringe_fit_bands, 1, {2e-6, 3e-11, 1e-6, 2e-11}},
        {"one band, less than a cell", wf_fringe_fit_bands, 1, {5e-8, 1e-12, 0, 0}},
        {"four bands, full window", wf_fringe_fit_bands, 4, {0}},
        {"four bands, part", wf_fringe_fit_bands, 4, {1e-6, 3e-11, 0, 0}},
        {"four free bands, full window", wf_fringe_fit_bands_free_phases, 4, {0}},
        {"four free bands, part", wf_fringe_fit_bands_free_phases, 4, {2e-6, 4e-11, 0, 0}},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        size_t n_below[LEVELS] = {0};
        for (uint64_t seed = 0; seed < FITS; seed++) {
            bands all = bands_create(shapes, cases[i].n_bands, 32, 0.5);
            bands_add_noise(&all, 1, 100000 * (i + 1) + seed);
            wf_fringe_fit fit;
            wf_error err = WF_ERROR_INIT;
            wf_check_ok(cases[i].fit(&fit, NULL, all.input, all.n, &cases[i].window, &err), &err);
            bands_destroy(&all);
            for (size_t k = 0; k < LEVELS; k++)
                n_below[k] += fit.false_alarm < level[k];
        }
        print_message("%-30s", cases[i].name);
        for (size_t k = 0; k < LEVELS; k++)
            print_message("  %.2f: %zu of %g", level[k], n_below[k], FITS * level[k]);
        print_message("\n");
        for (size_t k = 0; k < LEVELS; k++)
            wf_check_near(cases[i].name, (double)n_below[k], FITS * level[k],
                          4 * sqrt(FITS * level[k] * (1 - level[k])), "fits");
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(clocks_of_four_stations_are_recovered),
        cmocka_unit_test(noise_is_called_a_fringe_as_often_as_stated),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
