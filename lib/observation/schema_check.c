/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Holding a YAML document against a schema.
 *
 *  libcyaml refuses the same faults, but its log knows neither lines nor near misses.
 */
#include "observation/schema_check.h"

#include <stdarg.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>

#include "base/status.h"
#include "base/text.h"
#include "observation/key_path.h"
#include "observation/place.h"

/* Aliases of lists within lists multiply: the values that they stand for are counted. */
enum { VALUES_MAX = 2000000, KEYS_MAX = 32, PATH_BYTES = 128 };

typedef struct checker {
    yaml_document_t *yaml;
    const char *file_path;
    wf_error *err;
    size_t n_values;
    char path[PATH_BYTES]; /* of the value that is being checked */
} checker;

__attribute__((format(printf, 3, 4))) static wf_status refuse(const checker *c, size_t line,
                                                              const char *format, ...)
{
    char message[640];
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(message, sizeof message, format, arguments);
    va_end(arguments);
    wfi_make_printable(message);
    return wfi_fail(c->err, WF_FORMAT, "%s:%zu: %s%s%s", c->file_path, line, c->path,
                    c->path[0] != '\0' ? ": " : "", message);
}

/* The line of the key, which may stand above its value. */
static size_t here(const checker *c)
{
    return wfi_key_path_line(c->yaml, c->path);
}

static size_t line_of(const yaml_node_t *node)
{
    return node->start_mark.line + 1;
}

static const char *text_of(const yaml_node_t *node)
{
    return (const char *)node->data.scalar.value;
}

static const char *kind_found(const yaml_node_t *node)
{
    if (node->type == YAML_MAPPING_NODE)
        return "a group of keys";
    if (node->type == YAML_SEQUENCE_NODE)
        return "a list";
    return node->data.scalar.length == 0 ? "nothing" : "a single value";
}

static const char *kind_expected(yaml_node_type_t type)
{
    if (type == YAML_MAPPING_NODE)
        return "a group of keys, each as \"key: value\"";
    return type == YAML_SEQUENCE_NODE ? "a list such as [a, b]" : "a single value";
}

static wf_status expect_kind(const checker *c, const yaml_node_t *node, yaml_node_type_t type)
{
    if (node->type == type)
        return WF_OK;
    return refuse(c, here(c), "expected %s, found %s", kind_expected(type), kind_found(node));
}

static wf_status check_value(checker *c, const cyaml_schema_value_t *schema,
                             const yaml_node_t *node);

static wf_status check_string(const checker *c, const yaml_node_t *node)
{
    WFI_TRY(expect_kind(c, node, YAML_SCALAR_NODE));
    if (node->data.scalar.length == 0)
        return refuse(c, here(c), "no value; write one, or remove the key");
    if (memchr(text_of(node), '\0', node->data.scalar.length) != NULL)
        return refuse(c, here(c), "the value holds a zero byte");
    return WF_OK;
}

static wf_status check_count(const checker *c, const cyaml_schema_value_t *schema, size_t n)
{
    const size_t least = schema->sequence.min;
    const size_t most = schema->sequence.max;
    if (least == most && n != least)
        return refuse(c, here(c), "expected %zu values, found %zu", least, n);
    if (n < least)
        return refuse(c, here(c), "expected at least %zu %s, found %zu", least,
                      least == 1 ? "entry" : "entries", n);
    if (n > most)
        return refuse(c, here(c), "expected at most %zu entries, found %zu", most, n);
    return WF_OK;
}

static wf_status check_sequence(checker *c, const cyaml_schema_value_t *schema,
                                const yaml_node_t *node)
{
    WFI_TRY(expect_kind(c, node, YAML_SEQUENCE_NODE));
    const yaml_node_item_t *items = node->data.sequence.items.start;
    const size_t n = (size_t)(node->data.sequence.items.top - items);
    WFI_TRY(check_count(c, schema, n));
    const size_t n_path = strlen(c->path);
    for (size_t i = 0; i < n; i++) {
        snprintf(c->path + n_path, PATH_BYTES - n_path, "[%zu]", i);
        WFI_TRY(check_value(c, schema->sequence.entry, yaml_document_get_node(c->yaml, items[i])));
    }
    c->path[n_path] = '\0';
    return WF_OK;
}

/* The keys whose flags hold all of `flags_without` not: with OPTIONAL, those that are needed. */
static size_t list_keys(const char *keys[KEYS_MAX], const cyaml_schema_field_t *fields,
                        unsigned flags_without)
{
    size_t n = 0;
    for (size_t i = 0; i < KEYS_MAX && fields[i].key != NULL; i++) {
        if (((unsigned)fields[i].value.flags & flags_without) == 0)
            keys[n++] = fields[i].key;
    }
    return n;
}

enum { KEY_LIST_BYTES = 400 };

static void join(char list[KEY_LIST_BYTES], const char *const *keys, size_t n)
{
    list[0] = '\0';
    for (size_t i = 0; i < n; i++) {
        const size_t used = strlen(list);
        snprintf(list + used, KEY_LIST_BYTES - used, "%s%s", i > 0 ? ", " : "", keys[i]);
    }
}

static wf_status refuse_unknown(const checker *c, const yaml_node_t *key,
                                const cyaml_schema_field_t *fields)
{
    const char *keys[KEYS_MAX];
    const size_t n = list_keys(keys, fields, 0);
    const char *nearest = wfi_nearest_word(text_of(key), keys, n);
    if (nearest != NULL)
        return refuse(c, line_of(key), "unknown key \"%.60s\"; did you mean %s?", text_of(key),
                      nearest);
    char known[KEY_LIST_BYTES];
    join(known, keys, n);
    return refuse(c, line_of(key), "unknown key \"%.60s\"; known here: %s", text_of(key), known);
}

static wf_status refuse_missing(const checker *c, const char *key,
                                const cyaml_schema_field_t *fields)
{
    const char *keys[KEYS_MAX];
    char needed[KEY_LIST_BYTES];
    join(needed, keys, list_keys(keys, fields, CYAML_FLAG_OPTIONAL));
    return refuse(c, here(c), "the key %s is missing; needed here: %s", key, needed);
}

static const cyaml_schema_field_t *find_field(const cyaml_schema_field_t *fields,
                                              const yaml_node_t *key)
{
    for (size_t i = 0; i < KEYS_MAX && fields[i].key != NULL; i++) {
        if (strlen(fields[i].key) == key->data.scalar.length &&
            strcmp(fields[i].key, text_of(key)) == 0)
            return &fields[i];
    }
    return NULL;
}

static wf_status check_pair(checker *c, const cyaml_schema_field_t *fields,
                            const yaml_node_pair_t *pair, size_t line_seen[KEYS_MAX])
{
    const yaml_node_t *key = yaml_document_get_node(c->yaml, pair->key);
    if (key->type != YAML_SCALAR_NODE)
        return refuse(c, line_of(key), "expected a key, found %s", kind_found(key));
    const cyaml_schema_field_t *field = find_field(fields, key);
    if (field == NULL)
        return refuse_unknown(c, key, fields);
    size_t *seen = &line_seen[field - fields];
    if (*seen != 0)
        return refuse(c, line_of(key), "the key %s was given in line %zu already; keep one of them",
                      field->key, *seen);
    *seen = line_of(key);
    const size_t n_path = strlen(c->path);
    snprintf(c->path + n_path, PATH_BYTES - n_path, "%s%s", n_path > 0 ? "." : "", field->key);
    WFI_TRY(check_value(c, &field->value, yaml_document_get_node(c->yaml, pair->value)));
    c->path[n_path] = '\0';
    return WF_OK;
}

static wf_status check_mapping(checker *c, const cyaml_schema_value_t *schema,
                               const yaml_node_t *node)
{
    WFI_TRY(expect_kind(c, node, YAML_MAPPING_NODE));
    const cyaml_schema_field_t *fields = schema->mapping.fields;
    size_t line_seen[KEYS_MAX] = {0};
    const yaml_node_pair_t *pair = node->data.mapping.pairs.start;
    for (; pair < node->data.mapping.pairs.top; pair++)
        WFI_TRY(check_pair(c, fields, pair, line_seen));
    for (size_t i = 0; i < KEYS_MAX && fields[i].key != NULL; i++) {
        if (line_seen[i] == 0 && (fields[i].value.flags & CYAML_FLAG_OPTIONAL) == 0)
            return refuse_missing(c, fields[i].key, fields);
    }
    return WF_OK;
}

static wf_status check_value(checker *c, const cyaml_schema_value_t *schema,
                             const yaml_node_t *node)
{
    if (++c->n_values > VALUES_MAX)
        return refuse(c, here(c), "the file and its aliases stand for more than %d values",
                      VALUES_MAX);
    switch (schema->type) {
    case CYAML_MAPPING:
        return check_mapping(c, schema, node);
    case CYAML_SEQUENCE:
    case CYAML_SEQUENCE_FIXED:
        return check_sequence(c, schema, node);
    default:
        return check_string(c, node);
    }
}

wf_status wfi_schema_check(const cyaml_schema_value_t *schema, yaml_document_t *yaml,
                           const char *file_path, wf_error *err)
{
    checker c = {.yaml = yaml, .file_path = file_path, .err = err};
    return check_value(&c, schema, yaml_document_get_root_node(yaml));
}
