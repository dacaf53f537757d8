/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Prints lib/engine/wisdom.c: FFTW's plans for the lengths that the engine needs most, measured
 * here. Wisdom of another FFTW than the one that reads it is ignored. */
#include <fftw3.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "stopwatch.h"

enum { LONGEST = 1 << 20, TRIES = 3, REPEATS = 9, PATIENT_LONGEST = 1 << 14 };

static const double WORK = 4e6; /* points of one timing */

static double time_plan(fftwf_plan plan, int n)
{
    const int rounds = (int)(WORK / n) + 1;
    double best_s = 0;
    for (int r = 0; r < REPEATS; r++) {
        const double begin = bench_now_s();
        for (int i = 0; i < rounds; i++)
            fftwf_execute(plan);
        const double t = (bench_now_s() - begin) / rounds;
        best_s = r == 0 || t < best_s ? t : best_s;
    }
    return best_s;
}

/* The best of several plannings, since one may be misled by a moment's load. The caller frees it.
 */
static char *best_wisdom(int n, fftwf_complex *in, fftwf_complex *out)
{
    char *best = NULL;
    double best_s = 0;
    for (int k = 0; k < TRIES; k++) {
        fftwf_forget_wisdom();
        const unsigned effort = n <= PATIENT_LONGEST ? FFTW_PATIENT : FFTW_MEASURE;
        const fftwf_plan plan = fftwf_plan_dft_1d(n, in, out, FFTW_FORWARD, effort);
        memset(in, 0, sizeof *in * (size_t)n);
        const double t = time_plan(plan, n);
        if (best == NULL || t < best_s) {
            free(best);
            best = fftwf_export_wisdom_to_string();
            best_s = t;
        }
        fftwf_destroy_plan(plan);
    }
    fprintf(stderr, "%8d points: %.3f us\n", n, 1e6 * best_s);
    return best;
}

static void print_lines(const char *text)
{
    for (const char *line = text; *line != '\0';) {
        const size_t n = strcspn(line, "\n");
        printf("    \"%.*s\\n\",\n", (int)n, line);
        line += n + (line[n] == '\n');
    }
    puts("    NULL,\n};");
}

int main(void)
{
    enum { LENGTHS_MAX = 64 };
    char *best[LENGTHS_MAX] = {NULL};
    size_t n_lengths = 0;
    fftwf_complex *in = fftwf_alloc_complex(LONGEST);
    fftwf_complex *out = fftwf_alloc_complex(LONGEST);
    if (in == NULL || out == NULL)
        return 3;
    for (int odd = 1; odd <= 5; odd += 2) {
        for (int n = 16 * odd; n <= LONGEST / odd; n *= 2)
            best[n_lengths++] = best_wisdom(n, in, out);
    }
    fftwf_forget_wisdom();
    for (size_t i = 0; i < n_lengths; i++) {
        fftwf_import_wisdom_from_string(best[i]);
        free(best[i]);
    }
    char *all = fftwf_export_wisdom_to_string();
    puts("/* SPDX-License-Identifier: GPL-3.0-or-later */\n"
         "/* Made by build/bench/wisdom: plans of complex transforms, single precision. */\n"
         "#include \"engine/wisdom.h\"\n\n"
         "#include <stddef.h>\n\n"
         "const char *const wfi_wisdom[] = {");
    print_lines(all);
    free(all);
    fftwf_free(in);
    fftwf_free(out);
    return 0;
}
