/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the bench programs are asked for. */
#ifndef BENCH_ARGUMENTS_H
#define BENCH_ARGUMENTS_H

#include <stdbool.h>
#include <stddef.h>

enum { BENCH_LIST_MAX = 16 };

typedef struct bench_list {
    size_t values[BENCH_LIST_MAX];
    size_t n;
} bench_list;

typedef struct bench_arguments {
    bool json;
    bool quick;
    bool wall; /* time by the clock on the wall, not by the thread's own */
    const char *kernels;
    bench_list stations;
    bench_list channels;
} bench_arguments;

/** Read the options; lists that are not given keep what `out` holds already.
 *
 *  returns  false, with a message on stderr, where they are at fault
 */
bool bench_arguments_parse(bench_arguments *out, int argc, char **argv);

#endif
