/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Spectra of phases and the lines in them. */
#include "support/check.h"

#include "power_law.h"

enum { N = 600 };

static const double INTERVAL_S = 0.1;

static wf_phase_spectrum *measured(const double *x, size_t n, double false_alarm)
{
    wf_error err = WF_ERROR_INIT;
    wf_phase_spectrum *spectrum = NULL;
    wf_check_ok(wf_phase_spectrum_measure(&spectrum, x, n, INTERVAL_S, false_alarm, &err), &err);
    return spectrum;
}

/* Parseval: white noise of variance s^2 has the one-sided density 2 s^2 dt; the mean over 290 bins,
 * 1.5 of which are one, is within 5 / sqrt(190) = 36 %. The background is a mean of as much. */
static void white_noise_has_its_density(void **state)
{
    (void)state;
    double x[N];
    for (size_t t = 0; t < N; t++)
        x[t] = 0.3 * power_law_normal(2, t) + 5 + 0.2 * (double)t;
    wf_phase_spectrum *s = measured(x, N, 0.001);
    assert_int_equal(s->n_bins, N / 2 + 1);
    wf_check_near("step", s->step_hz, 1 / 60.0, 1e-15, "Hz");
    double mean = 0;
    double background = 0;
    for (size_t k = 10; k < 300; k++) {
        mean += s->density[k] / 290;
        background += s->background[k] / 290;
    }
    wf_check_near("density", mean / (2 * 0.09 * INTERVAL_S), 1, 0.36, "");
    wf_check_near("background", background / (2 * 0.09 * INTERVAL_S), 1, 0.4, "");
    assert_int_equal(s->n_lines, 0);
    wf_phase_spectrum_destroy(s);
}

/* A line between two bins in wander and noise: frequency, amplitude and phase within 5 errors each,
 * over 60 draws with pulls of mean square 1 to 5 sqrt(2/60) = 0.9. */
static void a_line_is_measured(void **state)
{
    (void)state;
    const double frequency_hz = 2.3456;
    double pulls[2] = {0};
    for (uint64_t draw = 0; draw < 60; draw++) {
        double x[N];
        double walk = 0;
        for (size_t t = 0; t < N; t++) {
            walk += 0.05 * power_law_normal(70 + draw, 2 * t);
            const double time_s = ((double)t + 0.5) * INTERVAL_S;
            x[t] = walk + 0.1 * power_law_normal(70 + draw, 2 * t + 1) +
                   0.2 * cos(2 * INVENTED_PI * frequency_hz * time_s + 1);
        }
        for (size_t t = 200; t < 240; t++)
            x[t] = NAN;
        wf_phase_spectrum *s = measured(x, N, 0.001);
        assert_true(s->n_lines >= 1);
        const wf_phase_line *line = &s->lines[0];
        for (size_t i = 0; i < s->n_lines; i++) {
            if (s->lines[i].false_alarm < line->false_alarm)
                line = &s->lines[i];
        }
        pulls[0] += pow((line->frequency_hz - frequency_hz) / line->frequency_error_hz, 2) / 60;
        pulls[1] += pow((line->amplitude_rad - 0.2) / line->amplitude_error_rad, 2) / 60;
        wf_check_near("frequency", line->frequency_hz, frequency_hz, 5 * line->frequency_error_hz,
                      "Hz");
        wf_check_near("amplitude", line->amplitude_rad, 0.2, 5 * line->amplitude_error_rad, "rad");
        /* the phase leans on the frequency: half the stretch, 30 s, of 2 pi df */
        const double phase_error =
            hypot(line->amplitude_error_rad / 0.2, 2 * INVENTED_PI * 30 * line->frequency_error_hz);
        wf_check_near("phase", line->phase_rad, 1, 5 * phase_error, "rad");
        wf_phase_spectrum_destroy(s);
    }
    print_message("pulls %g %g\n", pulls[0], pulls[1]);
    wf_check_near("mean square pull of frequency", pulls[0], 1, 0.9, "");
    wf_check_near("mean square pull of amplitude", pulls[1], 1, 0.9, "");
}

/* At a stated 0.1 about 20 of 200 spectra without lines show one: at most 20 and 5 sqrt(18) more,
 * whether the noise is white or falls with the frequency's power of 8/3, as the atmosphere's. */
static void false_alarms_are_as_rare_as_stated(void **state)
{
    (void)state;
    static const double exponents[] = {0, 2, 8.0 / 3};
    for (size_t e = 0; e < 3; e++) {
        size_t n_alarms = 0;
        for (uint64_t draw = 0; draw < 200; draw++) {
            double x[N];
            power_law_fill(x, 400, exponents[e], 900 + draw);
            wf_phase_spectrum *s = measured(x, 400, 0.1);
            n_alarms += s->n_lines > 0;
            wf_phase_spectrum_destroy(s);
        }
        print_message("lines in 200 spectra ~ f^-%g at 0.1: %zu\n", exponents[e], n_alarms);
        assert_in_range(n_alarms, 1, 41);
    }
}

static void too_little_is_refused(void **state)
{
    (void)state;
    double x[9] = {0, NAN, NAN};
    wf_error err = WF_ERROR_INIT;
    wf_phase_spectrum *s = NULL;
    wf_check_refused(wf_phase_spectrum_measure(&s, x, 9, 1, 0.01, &err), WF_RANGE, &err, "are 7");
    assert_null(s);
    err = (wf_error)WF_ERROR_INIT;
    wf_check_refused(wf_phase_spectrum_measure(&s, x, 9, 0, 0.01, &err), WF_ARGUMENT, &err, "0 s");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(white_noise_has_its_density),
        cmocka_unit_test(a_line_is_measured),
        cmocka_unit_test(false_alarms_are_as_rare_as_stated),
        cmocka_unit_test(too_little_is_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
