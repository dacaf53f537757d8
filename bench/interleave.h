/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Timing things against one another: A B C A B C, so that what disturbs one disturbs all. */
#ifndef BENCH_INTERLEAVE_H
#define BENCH_INTERLEAVE_H

#include <stdbool.h>
#include <stddef.h>

enum { BENCH_REPEATS_MAX = 64 };

/** Something that is timed; run returns false where it failed. */
typedef struct bench_subject {
    bool (*run)(void *context);
    void *context;
    double in_turn[BENCH_REPEATS_MAX]; /* seconds, as they came */
    double seconds[BENCH_REPEATS_MAX]; /* sorted after bench_interleave */
    size_t n;
} bench_subject;

/** Seconds that this thread has had a core: single-threaded work in memory takes as long beside
 *  other programs as alone, but for the caches that they share. */
double bench_thread_s(void);

/** Warm up once, then run every subject in turn, n_repeats times.
 *
 *  given  clock  bench_thread_s or bench_now_s
 */
bool bench_interleave(bench_subject *const *subjects, size_t n_subjects, size_t n_repeats,
                      double (*clock)(void));

double bench_subject_median(const bench_subject *subject);
double bench_subject_least(const bench_subject *subject);

/** Median of the ratios of two subjects' times in the same turn: what slows the machine down for
 *  longer than a turn drops out. */
double bench_subject_paired(const bench_subject *a, const bench_subject *b);

#endif
