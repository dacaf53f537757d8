/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Verbs and options: one table gives the parser and the help. */
#ifndef CLI_OPTIONS_H
#define CLI_OPTIONS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdio.h>
#include <whitefringe/status.h>
#include <whitefringe/time.h>

typedef struct option_instant {
    bool given;
    wf_instant value;
} option_instant;

/** A set-up in numbers; 0: not given. */
typedef struct option_setup {
    int stations;
    int polarizations;
    int bands;
    int channels;
    int bits;
    double rate_hz;
    double edge_hz;
    double integration_s;
    bool complex_samples;
} option_setup;

enum { OPERANDS_MAX = 4096 };

/** What a command line asked for. */
typedef struct settings {
    const char *operand;                /* the file that the verb works on, or the first of them */
    const char *operands[OPERANDS_MAX]; /* [n_operands] */
    size_t n_operands;
    const char *output;
    const char *scan;
    const char *kernels;
    const char *station;
    option_instant at;
    double step_s;  /* 0: not given */
    int threads;    /* 0: not given */
    double seconds; /* 0: not given */
    option_setup setup;
    const char *plot;
    const char *sampling;
    double sample_rate_hz; /* 0: not given */
    double spacing_hz;     /* 0: not given */
    double window_delay_s; /* 0: not given */
    double window_rate;    /* s/s; 0: not given */
    const char *reference;
    bool apply;
    bool quick;
    bool all;
    bool json;
    bool csv;
    bool keep_going;
    bool help;
} settings;

typedef enum option_kind {
    OPTION_FLAG,        /* bool */
    OPTION_TEXT,        /* const char * */
    OPTION_COUNT,       /* int, 1 or more */
    OPTION_SECONDS,     /* double, positive */
    OPTION_RATIO,       /* double, positive */
    OPTION_HERTZ,       /* double, positive */
    OPTION_WHOLE_HERTZ, /* double, a whole positive number */
    OPTION_INSTANT,     /* option_instant */
} option_kind;

typedef struct option {
    const char *name;  /* without its dashes */
    const char *value; /* what follows it, in capitals; NULL for flags */
    const char *help;
    size_t offset; /* of its field in settings */
    option_kind kind;
    char letter; /* of its short form; 0: none */
    bool required;
} option;

typedef struct verb {
    const char *name;
    const char *summary;
    const char *operand; /* "JOB.yaml" */
    bool operand_optional;
    bool takes_many;              /* operands */
    const char *details;          /* a paragraph for the verb's help */
    const option *const *options; /* NULL at the end */
    /* A sentence about options that do not go together, or NULL; may be NULL itself. */
    const char *(*check)(const settings *);
    wf_status (*run)(const settings *, wf_error *);
} verb;

/* Options that several verbs share. */
extern const option option_scan;
extern const option option_kernels;
extern const option option_threads;
extern const option option_json;

/** Read what follows the verb.
 *
 *  given    n, words  without program and verb
 *  returns  false where the command line is at fault; `message` (n_message bytes) then says how
 */
bool options_parse(settings *out, const verb *v, int n, char *const *words, char *message,
                   size_t n_message);

/** The verb's usage, details and options. */
void options_print_help(const verb *v, FILE *file);

#endif
