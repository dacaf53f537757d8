/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/check.h"

#include <stdio.h>
#include <stdlib.h>
#include <sys/stat.h>
#include <unistd.h>

#include "base/memory.h"
#include "observation/job_schema.h"
#include "observation/place.h"

static wfi_document *parse(const char *text)
{
    wf_error err = WF_ERROR_INIT;
    wfi_document *document = NULL;
    wf_check_ok(wfi_document_parse(&document, "a/b.yaml", text, strlen(text), &err), &err);
    return document;
}

static void document_knows_the_line_of_every_key(void **state)
{
    (void)state;
    wfi_document *document = parse("# a comment\n"
                                   "a: 1\n"
                                   "list:\n"
                                   "  - x: 1\n"
                                   "    y:\n"
                                   "      2\n"
                                   "  - {x: 3, y: [4,\n"
                                   "     5]}\n");
    assert_int_equal(wfi_document_line(document, ""), 2);
    assert_int_equal(wfi_document_line(document, "a"), 2);
    assert_int_equal(wfi_document_line(document, "list"), 3);
    assert_int_equal(wfi_document_line(document, "list[0]"), 4);
    assert_int_equal(wfi_document_line(document, "list[0].y"), 5);
    assert_int_equal(wfi_document_line(document, "list[1].y"), 7);
    assert_int_equal(wfi_document_line(document, "list[1].y[1]"), 8);
    wfi_document_close(document);
}

static void document_gives_the_deepest_line_of_a_path_that_ends_early(void **state)
{
    (void)state;
    wfi_document *document = parse("a: 1\nlist:\n  - x: 1\n  - y: 2\n");
    assert_int_equal(wfi_document_line(document, "b"), 1);
    assert_int_equal(wfi_document_line(document, "list[1].x"), 4);
    assert_int_equal(wfi_document_line(document, "list[2]"), 2);
    assert_int_equal(wfi_document_line(document, "list[-1]"), 2);
    assert_int_equal(wfi_document_line(document, "list["), 2);
    assert_int_equal(wfi_document_line(document, "a.b.c"), 1);
    wfi_document_close(document);
}

static void document_takes_paths_from_its_folder(void **state)
{
    (void)state;
    wfi_document *document = parse("a: 1\n");
    wf_error err = WF_ERROR_INIT;
    char *path = NULL;
    wf_check_ok(wfi_document_resolve(&path, document, "c.vdif", &err), &err);
    assert_string_equal(path, "a/c.vdif");
    wfi_free(path);
    wf_check_ok(wfi_document_resolve(&path, document, "/d/c.vdif", &err), &err);
    assert_string_equal(path, "/d/c.vdif");
    wfi_free(path);
    wfi_document_close(document);
}

static void document_tells_where_the_syntax_breaks(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        const char *message;
    } cases[] = {
        {"", "a.yaml: the file holds nothing, or comments alone"},
        {"# nothing\n", "a.yaml: the file holds nothing, or comments alone"},
        {"a: [1,\nb: 2\n", "a.yaml:3:1: not YAML: "},
        {"a: 1\n  b: 2\n", "a.yaml:2:4: not YAML: mapping values are not allowed"},
        {"a:\n\t- 1\n", "a.yaml:2:1: not YAML: found character that cannot start any token while "
                        "scanning for the next token; YAML indents with blanks: replace the tab"},
        {"a: *nowhere\n", "a.yaml:1:4: not YAML: found undefined alias"},
        {"a: \"1\n", "a.yaml:2:1: not YAML: found unexpected end of stream"},
        {"a: 1\nb: \xff\n", "a.yaml:2: byte 8: not text: "},
        {"a: 1\nb: \x01\n", "a.yaml:2: byte 8: not text: "},
        {"a: 1\n---\nb: 2\n", "a.yaml:3: a second YAML document begins here"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        wf_error err = WF_ERROR_INIT;
        wfi_document *document = NULL;
        wf_check_refused(
            wfi_document_parse(&document, "a.yaml", cases[i].text, strlen(cases[i].text), &err),
            WF_FORMAT, &err, cases[i].message);
        assert_null(document);
    }
}

static void check_not_opened(const char *path, wf_status want, const char *message)
{
    wf_error err = WF_ERROR_INIT;
    wfi_document *document = NULL;
    wf_check_refused(wfi_document_open(&document, path, &err), want, &err, message);
    assert_null(document);
}

static void document_opens_files_alone(void **state)
{
    (void)state;
    char folder[] = "document_test_XXXXXX";
    assert_non_null(mkdtemp(folder));
    char path[64];
    snprintf(path, sizeof path, "%s/a.yaml", folder);
    check_not_opened(path, WF_MISSING, "a.yaml: no such file");
    check_not_opened(folder, WF_FORMAT, ": expected a YAML file, found a folder");
    check_not_opened("/dev/null", WF_FORMAT, ": expected a YAML file, found a device or pipe");

    FILE *file = fopen(path, "w");
    assert_non_null(file);
    assert_int_equal(fclose(file), 0);
    check_not_opened(path, WF_FORMAT, "a.yaml: the file holds nothing");
    /* A recording given by mistake; only its length is looked at. */
    assert_int_equal(truncate(path, (off_t)1 << 30), 0);
    check_not_opened(path, WF_FORMAT, "found 1073741824; is it a recording?");

    file = fopen(path, "w");
    assert_non_null(file);
    fputs("a: 1\n", file);
    assert_int_equal(fclose(file), 0);
    wf_error err = WF_ERROR_INIT;
    wfi_document *document = NULL;
    wf_check_ok(wfi_document_open(&document, path, &err), &err);
    assert_string_equal(wfi_document_path(document), path);
    wfi_document_close(document);
    unlink(path);
    rmdir(folder);
}

typedef struct raw_pair {
    char *first;
    char *second;
} raw_pair;

typedef struct raw_list {
    raw_pair *pairs;
    unsigned pairs_count;
    raw_pair *more;
    unsigned more_count;
} raw_list;

static const cyaml_schema_field_t pair_fields[] = {
    CYAML_FIELD_STRING_PTR("first", CYAML_FLAG_POINTER, raw_pair, first, 0, CYAML_UNLIMITED),
    CYAML_FIELD_STRING_PTR("second", CYAML_FLAG_OPTIONAL, raw_pair, second, 0, CYAML_UNLIMITED),
    CYAML_FIELD_END};
static const cyaml_schema_value_t pair_schema = {
    CYAML_VALUE_MAPPING(CYAML_FLAG_DEFAULT, raw_pair, pair_fields)};
static const cyaml_schema_field_t list_fields[] = {
    CYAML_FIELD_SEQUENCE("pairs", CYAML_FLAG_POINTER, raw_list, pairs, &pair_schema, 1, 3000),
    CYAML_FIELD_SEQUENCE("more", CYAML_FLAG_POINTER | CYAML_FLAG_OPTIONAL, raw_list, more,
                         &pair_schema, 0, 3000),
    CYAML_FIELD_END};
static const cyaml_schema_value_t list_schema = {
    CYAML_VALUE_MAPPING(CYAML_FLAG_POINTER, raw_list, list_fields)};

static void document_loads_what_aliases_stand_for(void **state)
{
    (void)state;
    wfi_document *document = parse("pairs: &all\n"
                                   "  - &one {first: a, second: &b 'b'}\n"
                                   "  - {first: *b}\n"
                                   "  - *one\n"
                                   "more: *all\n");
    wf_error err = WF_ERROR_INIT;
    raw_list *raw = NULL;
    wf_check_ok(wfi_document_load(&raw, document, &list_schema, &err), &err);
    wfi_document_close(document);
    assert_int_equal(raw->pairs_count, 3);
    assert_int_equal(raw->more_count, 3);
    assert_string_equal(raw->pairs[1].first, "b");
    assert_null(raw->pairs[1].second);
    assert_string_equal(raw->more[2].first, "a");
    assert_string_equal(raw->more[2].second, "b");
    wfi_document_release(raw, &list_schema);
}

static void document_loads_long_lists(void **state)
{
    (void)state;
    enum { N = 3000 };
    char *text = malloc(N * 16 + 16);
    assert_non_null(text);
    strcpy(text, "pairs:\n");
    size_t n = strlen(text);
    for (int i = 0; i < N; i++)
        n += (size_t)snprintf(text + n, 17, "- first: %04d\n", i);
    wfi_document *document = parse(text);
    wf_error err = WF_ERROR_INIT;
    raw_list *raw = NULL;
    wf_check_ok(wfi_document_load(&raw, document, &list_schema, &err), &err);
    assert_int_equal(raw->pairs_count, N);
    assert_string_equal(raw->pairs[N - 1].first, "2999");
    wfi_document_release(raw, &list_schema);
    wfi_document_close(document);
    strcpy(text + n, "- first: x\n");
    document = parse(text);
    wf_check_refused(wfi_document_load(&raw, document, &list_schema, &err), WF_FORMAT, &err,
                     "a/b.yaml:1: pairs: expected at most 3000 entries, found 3001");
    assert_null(raw);
    wfi_document_close(document);
    free(text);
}

static void check_not_loaded(const char *text, const char *message)
{
    wfi_document *document = parse(text);
    wf_error err = WF_ERROR_INIT;
    raw_list *raw = NULL;
    wf_check_refused(wfi_document_load(&raw, document, &list_schema, &err), WF_FORMAT, &err,
                     message);
    assert_null(raw);
    wfi_document_close(document);
}

static void document_refuses_what_its_schema_does_not_hold(void **state)
{
    (void)state;
    check_not_loaded("pairs: &a [*a]\n", "b.yaml:1: pairs[0]: expected a group of keys");
    check_not_loaded("pairs: [{first: \"a\\0b\"}]\n", "b.yaml:1: pairs[0].first: the value holds a "
                                                      "zero byte");
    check_not_loaded("pairs:\n- first: a\n- ? [first]\n  : a\n",
                     "b.yaml:3: pairs[1]: expected a key, found a list");
    check_not_loaded("pairs:\n- first: a\n- fisrt: \"b\"\n",
                     "b.yaml:3: pairs[1]: unknown key \"fisrt\"; did you mean first?");
    check_not_loaded("pairs:\n- first: a\n  <<: {second: b}\n",
                     "b.yaml:3: pairs[0]: unknown key \"<<\"; known here: first, second");
    check_not_loaded("- 1\n", "b.yaml:1: expected a group of keys, each as \"key: value\", found a "
                              "list");
}

static void place_names_file_line_and_key(void **state)
{
    (void)state;
    wfi_document *document = parse("a: 1\nlist:\n  - x: 1\n");
    wf_error err = WF_ERROR_INIT;
    wfi_place place = wfi_place_at(document, &err, "list[%d]", 0);
    assert_int_equal(wfi_place_fail(&place, "x", "found \x1b[31m%d", 7), WF_FORMAT);
    assert_string_equal(err.message, "a/b.yaml:3: list[0].x: found ?[31m7");
    err = (wf_error)WF_ERROR_INIT;
    place = wfi_place_at(document, &err, "%s", "");
    assert_int_equal(wfi_place_fail(&place, NULL, "nothing fits"), WF_FORMAT);
    assert_string_equal(err.message, "a/b.yaml:1: nothing fits");
    wfi_document_close(document);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(document_knows_the_line_of_every_key),
        cmocka_unit_test(document_gives_the_deepest_line_of_a_path_that_ends_early),
        cmocka_unit_test(document_takes_paths_from_its_folder),
        cmocka_unit_test(document_tells_where_the_syntax_breaks),
        cmocka_unit_test(document_opens_files_alone),
        cmocka_unit_test(document_loads_what_aliases_stand_for),
        cmocka_unit_test(document_loads_long_lists),
        cmocka_unit_test(document_refuses_what_its_schema_does_not_hold),
        cmocka_unit_test(place_names_file_line_and_key),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
