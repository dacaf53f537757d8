/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Timing things against one another. */
#include "interleave.h"

#include <time.h>

#include "stopwatch.h"

double bench_thread_s(void)
{
    struct timespec t;
    clock_gettime(CLOCK_THREAD_CPUTIME_ID, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

bool bench_interleave(bench_subject *const *subjects, size_t n_subjects, size_t n_repeats,
                      double (*clock)(void))
{
    for (size_t s = 0; s < n_subjects; s++) {
        subjects[s]->n = 0;
        if (!subjects[s]->run(subjects[s]->context))
            return false;
    }
    for (size_t i = 0; i < n_repeats && i < BENCH_REPEATS_MAX; i++) {
        for (size_t s = 0; s < n_subjects; s++) {
            const double begin = clock();
            if (!subjects[s]->run(subjects[s]->context))
                return false;
            subjects[s]->seconds[subjects[s]->n] = clock() - begin;
            subjects[s]->in_turn[subjects[s]->n] = subjects[s]->seconds[subjects[s]->n];
            subjects[s]->n++;
        }
    }
    for (size_t s = 0; s < n_subjects; s++)
        qsort(subjects[s]->seconds, subjects[s]->n, sizeof(double), bench_ascending);
    return true;
}

double bench_subject_median(const bench_subject *subject)
{
    const size_t n = subject->n;
    return n % 2 == 1 ? subject->seconds[n / 2]
                      : 0.5 * (subject->seconds[n / 2 - 1] + subject->seconds[n / 2]);
}

double bench_subject_least(const bench_subject *subject)
{
    return subject->seconds[0];
}

double bench_subject_paired(const bench_subject *a, const bench_subject *b)
{
    double ratios[BENCH_REPEATS_MAX];
    for (size_t i = 0; i < a->n; i++)
        ratios[i] = a->in_turn[i] / b->in_turn[i];
    return bench_median(ratios, a->n);
}
