/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Verbs and options: one table gives the parser and the help. */
#include "options.h"

#include <limits.h>
#include <math.h>
#include <stdint.h>
#include <string.h>

#include "base/text.h"

const option option_scan = {.name = "scan",
                            .value = "NAME",
                            .help = "only this scan",
                            .offset = offsetof(settings, scan),
                            .kind = OPTION_TEXT};
const option option_kernels = {.name = "kernels",
                               .value = "NAME",
                               .help = "plain, avx2 or avx512 (default: the fastest here)",
                               .offset = offsetof(settings, kernels),
                               .kind = OPTION_TEXT};
const option option_threads = {.name = "threads",
                               .value = "N",
                               .help = "threads to use (default: one for each core)",
                               .offset = offsetof(settings, threads),
                               .kind = OPTION_COUNT};
const option option_json = {.name = "json",
                            .help = "write one JSON object instead of text",
                            .offset = offsetof(settings, json),
                            .kind = OPTION_FLAG};
static const option option_help = {.name = "help",
                                   .letter = 'h',
                                   .help = "show this help",
                                   .offset = offsetof(settings, help),
                                   .kind = OPTION_FLAG};

enum { OPTIONS_MAX = 16, NAME_MAX_LENGTH = 64 };

/* One run over a command line. */
typedef struct parser {
    settings *out;
    const verb *v;
    char *message;
    size_t n_message;
    int n;
    char *const *words;
    int i;
    bool seen[OPTIONS_MAX];
} parser;

#define FAIL(p, ...) (snprintf((p)->message, (p)->n_message, __VA_ARGS__), false)

/* Option i of a verb: those of its table, then --help, then NULL. */
static const option *option_of(const verb *v, size_t i)
{
    size_t n = 0;
    while (v->options[n] != NULL)
        n++;
    return i < n ? v->options[i] : i == n ? &option_help : NULL;
}

static bool parse_count(int *out, const char *text)
{
    int64_t value = 0;
    if (!wfi_parse_int64(&value, text, strlen(text)) || value < 1 || value > INT_MAX)
        return false;
    *out = (int)value;
    return true;
}

static bool parse_positive(double *out, const char *text)
{
    return wfi_parse_double(out, text, strlen(text)) && *out > 0;
}

static bool parse_hertz(double *out, const char *text)
{
    return wfi_parse_double(out, text, strlen(text)) && *out >= 1 && *out <= 1e15 &&
           *out == floor(*out);
}

static bool parse_instant(option_instant *out, const char *text)
{
    out->given = wf_instant_parse(&out->value, text, NULL) == WF_OK;
    return out->given;
}

static bool store(parser *p, const option *o, const char *value)
{
    void *field = (char *)p->out + o->offset;
    switch (o->kind) {
    case OPTION_FLAG:
        *(bool *)field = true;
        return true;
    case OPTION_TEXT:
        *(const char **)field = value;
        return value[0] != '\0' || FAIL(p, "--%s needs a %s that is not empty", o->name, o->value);
    case OPTION_COUNT:
        return parse_count(field, value) ||
               FAIL(p, "--%s needs a whole number from 1, not \"%s\"", o->name, value);
    case OPTION_SECONDS:
        return parse_positive(field, value) ||
               FAIL(p, "--%s needs a positive number of seconds, not \"%s\"", o->name, value);
    case OPTION_RATIO:
        return parse_positive(field, value) ||
               FAIL(p, "--%s needs a positive number, not \"%s\"", o->name, value);
    case OPTION_HERTZ:
        return parse_positive(field, value) ||
               FAIL(p, "--%s needs a positive number of hertz, not \"%s\"", o->name, value);
    case OPTION_WHOLE_HERTZ:
        return parse_hertz(field, value) ||
               FAIL(p, "--%s needs a whole number of hertz, such as 32000000 or 32e6, not \"%s\"",
                    o->name, value);
    case OPTION_INSTANT:
        return parse_instant(field, value) ||
               FAIL(p, "--%s needs a UTC time such as 2026-03-01T12:00:00.25, not \"%s\"", o->name,
                    value);
    }
    return false;
}

/* value: what stood after '=', or NULL. */
static bool take(parser *p, size_t i_option, const char *value)
{
    const option *o = option_of(p->v, i_option);
    if (p->seen[i_option])
        return FAIL(p, "--%s is given twice", o->name);
    p->seen[i_option] = true;
    if (o->kind == OPTION_FLAG)
        return value == NULL ? store(p, o, NULL) : FAIL(p, "--%s takes no value", o->name);
    if (value == NULL && p->i + 1 >= p->n)
        return FAIL(p, "--%s needs a value: --%s %s", o->name, o->name, o->value);
    return store(p, o, value != NULL ? value : p->words[++p->i]);
}

static bool unknown(parser *p, const char *word)
{
    const char *names[OPTIONS_MAX];
    size_t n = 0;
    for (; option_of(p->v, n) != NULL; n++)
        names[n] = option_of(p->v, n)->name;
    const size_t length = strcspn(word, "=");
    char name[NAME_MAX_LENGTH] = "";
    if (length > 2 && length - 2 < sizeof name && strncmp(word, "--", 2) == 0)
        memcpy(name, word + 2, length - 2);
    const char *nearest = name[0] != '\0' ? wfi_nearest_word(name, names, n) : NULL;
    if (nearest != NULL)
        return FAIL(p, "there is no option %.*s; did you mean --%s?", (int)length, word, nearest);
    return FAIL(p, "there is no option %.*s", (int)length, word);
}

static bool long_option(parser *p, const char *word)
{
    const char *equals = strchr(word, '=');
    const size_t length = equals != NULL ? (size_t)(equals - word) - 2 : strlen(word) - 2;
    for (size_t i = 0; option_of(p->v, i) != NULL; i++) {
        const char *name = option_of(p->v, i)->name;
        if (strlen(name) == length && strncmp(name, word + 2, length) == 0)
            return take(p, i, equals != NULL ? equals + 1 : NULL);
    }
    return unknown(p, word);
}

static bool short_option(parser *p, const char *word)
{
    for (size_t i = 0; option_of(p->v, i) != NULL; i++) {
        const char letter = option_of(p->v, i)->letter;
        if (letter != '\0' && word[1] == letter)
            return take(p, i, word[2] != '\0' ? word + 2 : NULL);
    }
    return unknown(p, word);
}

static bool operand(parser *p, const char *word)
{
    if (p->out->operand != NULL && !p->v->takes_many)
        return FAIL(p, "\"%s\" is one too many: only one %s is taken", word, p->v->operand);
    if (p->out->n_operands == OPERANDS_MAX)
        return FAIL(p, "\"%s\" is one too many: at most %d are taken", word, OPERANDS_MAX);
    if (word[0] == '\0')
        return FAIL(p, "the name of the %s is empty", p->v->operand);
    if (p->out->operand == NULL)
        p->out->operand = word;
    p->out->operands[p->out->n_operands++] = word;
    return true;
}

static bool all_given(parser *p)
{
    if (p->out->operand == NULL && !p->v->operand_optional)
        return FAIL(p, "which %s?", p->v->operand);
    for (size_t i = 0; option_of(p->v, i) != NULL; i++) {
        const option *o = option_of(p->v, i);
        if (o->required && !p->seen[i])
            return FAIL(p, "--%s %s is needed", o->name, o->value);
    }
    const char *conflict = p->v->check != NULL ? p->v->check(p->out) : NULL;
    return conflict == NULL || FAIL(p, "%s", conflict);
}

bool options_parse(settings *out, const verb *v, int n, char *const *words, char *message,
                   size_t n_message)
{
    *out = (settings){0};
    parser p = {
        .out = out, .v = v, .message = message, .n_message = n_message, .n = n, .words = words};
    bool only_operands = false;
    for (; p.i < n; p.i++) {
        const char *word = words[p.i];
        bool good = true;
        if (only_operands || word[0] != '-' || word[1] == '\0')
            good = operand(&p, word);
        else if (strcmp(word, "--") == 0)
            only_operands = true;
        else if (word[1] == '-')
            good = long_option(&p, word);
        else
            good = short_option(&p, word);
        if (!good)
            return false;
    }
    return out->help || all_given(&p);
}

void options_print_help(const verb *v, FILE *file)
{
    fprintf(file, "whitefringe %s: %s\n\nusage: whitefringe %s %s%s%s", v->name, v->summary,
            v->name, v->operand_optional ? "[" : "", v->operand, v->operand_optional ? "]" : "");
    for (size_t i = 0; v->options[i] != NULL; i++) {
        const option *o = v->options[i];
        if (o->required && o->letter != '\0')
            fprintf(file, " -%c %s", o->letter, o->value);
        else if (o->required)
            fprintf(file, " --%s %s", o->name, o->value);
    }
    fprintf(file, " [options]\n\n%s\n", v->details);
    for (size_t i = 0; option_of(v, i) != NULL; i++) {
        const option *o = option_of(v, i);
        char left[NAME_MAX_LENGTH];
        const char prefix[] = {'-', o->letter, ',', ' ', '\0'};
        snprintf(left, sizeof left, "%s--%s%s%s", o->letter != '\0' ? prefix : "    ", o->name,
                 o->value != NULL ? " " : "", o->value != NULL ? o->value : "");
        fprintf(file, "  %-24s %s\n", left, o->help);
    }
}
