/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The single values of a YAML file. */
#include "observation/fields.h"

#include <math.h>
#include <stdio.h>
#include <string.h>
#include <strings.h>

#include "base/memory.h"
#include "base/status.h"
#include "base/text.h"

/* Whole numbers that doubles hold exactly end here. */
static const double WHOLE_MAX = 9007199254740992.0;

/* What most likely made a text no number. */
static const char *remedy_for_text(const char *text)
{
    const size_t n_number = strspn(text, "+-.0123456789eE");
    const bool starts_as_number = strcspn(text, "0123456789") < n_number;
    if (starts_as_number && text[n_number] == ',')
        return "write a point before the decimals, and no signs between the thousands";
    if (starts_as_number)
        return "write the number alone: its unit stands in the key";
    return "write a number such as 16.0e6";
}

static bool in_range(const wfi_quantity *quantity, double value)
{
    const bool above = quantity->above_least ? value > quantity->least : value >= quantity->least;
    return above && value <= quantity->most;
}

static wf_status refuse_range(const wfi_place *place, const char *key, const char *text,
                              const wfi_quantity *quantity)
{
    return wfi_place_fail(place, key, "expected %s, found %.60s%s%s", quantity->expected, text,
                          quantity->remedy != NULL ? "; " : "",
                          quantity->remedy != NULL ? quantity->remedy : "");
}

wf_status wfi_read_number(const wfi_place *place, const char *key, const char *text,
                          const wfi_quantity *quantity, double *out)
{
    double value = 0;
    if (!wfi_parse_double(&value, text, strlen(text)))
        return wfi_place_fail(place, key, "expected %s, found \"%.60s\"; %s", quantity->expected,
                              text, remedy_for_text(text));
    if (!in_range(quantity, value))
        return refuse_range(place, key, text, quantity);
    *out = value;
    return WF_OK;
}

wf_status wfi_read_vector(const wfi_place *place, const char *key, char *const text[3],
                          const wfi_quantity *quantity, double out[3])
{
    for (int i = 0; i < 3; i++) {
        char entry[WFI_PLACE_BYTES];
        snprintf(entry, sizeof entry, "%s[%d]", key, i);
        WFI_TRY(wfi_read_number(place, entry, text[i], quantity, &out[i]));
    }
    return WF_OK;
}

wf_status wfi_read_count(const wfi_place *place, const char *key, const char *text,
                         const wfi_quantity *quantity, int64_t *out)
{
    double value = 0;
    WFI_TRY(wfi_read_number(place, key, text, quantity, &value));
    if (wfi_parse_int64(out, text, strlen(text)))
        return WF_OK;
    if (value != floor(value) || fabs(value) > WHOLE_MAX)
        return wfi_place_fail(place, key, "expected %s, a whole number, found %.60s",
                              quantity->expected, text);
    *out = (int64_t)value;
    return WF_OK;
}

/* Write "a, b, c" into a list that may be too short for all. */
static void append_word(char *list, size_t capacity, const char *word)
{
    const size_t used = strlen(list);
    snprintf(list + used, capacity - used, "%s%s", used > 0 ? ", " : "", word);
}

enum { CHOICES_MAX = 16 };

wf_status wfi_read_choice(const wfi_place *place, const char *key, const char *text,
                          const wfi_choice *choices, size_t n_choices, int *out)
{
    const char *words[CHOICES_MAX];
    char list[256] = "";
    for (size_t i = 0; i < n_choices && i < CHOICES_MAX; i++) {
        if (strcmp(text, choices[i].word) == 0) {
            *out = choices[i].value;
            return WF_OK;
        }
        words[i] = choices[i].word;
        append_word(list, sizeof list, words[i]);
    }
    const char *nearest =
        wfi_nearest_word(text, words, n_choices < CHOICES_MAX ? n_choices : CHOICES_MAX);
    return wfi_place_fail(place, key, "expected one of %s, found \"%.60s\"%s%s%s", list, text,
                          nearest != NULL ? "; did you mean " : "", nearest != NULL ? nearest : "",
                          nearest != NULL ? "?" : "");
}

wf_status wfi_read_flag(const wfi_place *place, const char *key, const char *text, bool *out)
{
    static const wfi_choice words[] = {{"true", true}, {"false", false}, {"yes", true},
                                       {"no", false},  {"on", true},     {"off", false}};
    for (size_t i = 0; i < sizeof words / sizeof words[0]; i++) {
        if (strcasecmp(text, words[i].word) == 0) {
            *out = words[i].value;
            return WF_OK;
        }
    }
    return wfi_place_fail(place, key, "expected true or false, found \"%.60s\"", text);
}

wf_status wfi_read_instant(const wfi_place *place, const char *key, const char *text,
                           wf_instant *out)
{
    wf_error cause = WF_ERROR_INIT;
    if (wf_instant_parse(out, text, &cause) != WF_OK)
        return wfi_place_fail(place, key, "%s", cause.message);
    return WF_OK;
}

static const char *name_at(const wfi_names *names, size_t i)
{
    return names->first + i * names->stride;
}

static bool find_name(const wfi_names *names, const char *text, size_t *i)
{
    for (*i = 0; *i < names->n; (*i)++) {
        if (strcmp(name_at(names, *i), text) == 0)
            return true;
    }
    return false;
}

wf_status wfi_read_name(const wfi_place *place, const char *key, const char *text, size_t n_max,
                        const wfi_names *taken, char out[WF_NAME_BYTES])
{
    const size_t n = strlen(text);
    for (size_t i = 0; i < n; i++) {
        if (text[i] < 0x20 || text[i] > 0x7e || text[i] == '"' || text[i] == '\'')
            return wfi_place_fail(place, key,
                                  "expected a name of printable ASCII characters without quotes, "
                                  "found \"%.60s\"; byte %zu is not one",
                                  text, i + 1);
    }
    if (n == 0 || text[0] == ' ' || text[n - 1] == ' ')
        return wfi_place_fail(place, key,
                              "expected a name, found \"%.60s\"; take the blanks at "
                              "its ends away",
                              text);
    if (n > n_max || n >= WF_NAME_BYTES)
        return wfi_place_fail(place, key,
                              "expected a name of at most %zu characters, found "
                              "\"%.60s\" of %zu; shorten it",
                              n_max, text, n);
    size_t other = 0;
    if (taken != NULL && find_name(taken, text, &other))
        return wfi_place_fail(place, key,
                              "\"%s\" is the name of %s[%zu] already; names must "
                              "differ",
                              text, taken->list, other);
    memcpy(out, text, n + 1);
    return WF_OK;
}

static wf_status refuse_reference(const wfi_place *place, const char *key, const char *text,
                                  const wfi_names *names)
{
    const char **words = NULL;
    WFI_TRY(wfi_allocate(&words, names->n, sizeof *words, "a list of names", place->err));
    char list[256] = "";
    for (size_t i = 0; i < names->n; i++) {
        words[i] = name_at(names, i);
        append_word(list, sizeof list, words[i]);
    }
    const char *nearest = wfi_nearest_word(text, words, names->n);
    wf_status status = WF_OK;
    if (nearest != NULL)
        status = wfi_place_fail(place, key, "\"%.60s\" is not among the %s; did you mean %s?", text,
                                names->list, nearest);
    else
        status = wfi_place_fail(place, key, "\"%.60s\" is not among the %s, which are: %s", text,
                                names->list, list);
    wfi_free(words);
    return status;
}

wf_status wfi_read_reference(const wfi_place *place, const char *key, const char *text,
                             const wfi_names *names, size_t *out)
{
    if (find_name(names, text, out))
        return WF_OK;
    return refuse_reference(place, key, text, names);
}
