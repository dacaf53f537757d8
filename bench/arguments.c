/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the bench programs are asked for. */
#include "arguments.h"

#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include "base/text.h"

static const size_t VALUE_MAX = (size_t)1 << 20;

static bool parse_list(bench_list *out, const char *text)
{
    out->n = 0;
    for (const char *p = text; p != NULL;) {
        const char *comma = strchr(p, ',');
        int64_t value = 0;
        const size_t n = comma != NULL ? (size_t)(comma - p) : strlen(p);
        if (out->n == BENCH_LIST_MAX || !wfi_parse_int64(&value, p, n) || value < 1 ||
            value > (int64_t)VALUE_MAX)
            return false;
        out->values[out->n++] = (size_t)value;
        p = comma != NULL ? comma + 1 : NULL;
    }
    return true;
}

static int refuse(const char *program, const char *word)
{
    fprintf(stderr,
            "%s: \"%s\" is not understood\nusage: %s [--json] [--quick] [--wall] "
            "[--kernels NAME] [--stations 2,4,...] [--channels 256,1024,...]\n",
            program, word, program);
    return false;
}

bool bench_arguments_parse(bench_arguments *out, int argc, char **argv)
{
    for (int i = 1; i < argc; i++) {
        const char *word = argv[i];
        const char *value = i + 1 < argc ? argv[i + 1] : NULL;
        bool *flag = strcmp(word, "--json") == 0    ? &out->json
                     : strcmp(word, "--quick") == 0 ? &out->quick
                     : strcmp(word, "--wall") == 0  ? &out->wall
                                                    : NULL;
        if (flag != NULL) {
            *flag = true;
            continue;
        }
        bench_list *list = strcmp(word, "--stations") == 0   ? &out->stations
                           : strcmp(word, "--channels") == 0 ? &out->channels
                                                             : NULL;
        const bool names_kernels = strcmp(word, "--kernels") == 0;
        if (value == NULL || (list == NULL && !names_kernels))
            return refuse(argv[0], word);
        if (list != NULL && !parse_list(list, value))
            return refuse(argv[0], value);
        if (names_kernels)
            out->kernels = value;
        i++;
    }
    return true;
}
