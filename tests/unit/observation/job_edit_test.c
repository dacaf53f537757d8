/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/folder.h"

#include <whitefringe/job_edit.h>

#include "base/memory.h"
#include "job_text.h"
#include "observation/job_edit_state.h"
#include "observation/yaml_write.h"

static wf_job_edit *open_text(const char *text)
{
    wf_error err = WF_ERROR_INIT;
    wf_job_edit *edit = NULL;
    put_file("job.yaml", text);
    wf_check_ok(wf_job_edit_open(&edit, "job.yaml", &err), &err);
    return edit;
}

enum edit_kind { TEXT, NUMBER, YAML, REMOVE, WRITE_OUT };

static wf_status do_edit(wf_job_edit *edit, enum edit_kind kind, const char *path,
                         const char *value, wf_error *err)
{
    switch (kind) {
    case TEXT:
        return wf_job_edit_set_text(edit, path, value, err);
    case NUMBER:
        return wf_job_edit_set_number(edit, path, strtod(value, NULL), err);
    case YAML:
        return wf_job_edit_set_yaml(edit, path, value, err);
    case REMOVE:
        return wf_job_edit_remove(edit, path, err);
    default:
        return wf_job_edit_write_out(edit, path, err);
    }
}

typedef struct edit_case {
    const char *before;
    enum edit_kind kind;
    const char *path;
    const char *value;
    const char *after;
} edit_case;

static void check_cases(const edit_case *cases, size_t n)
{
    for (size_t i = 0; i < n; i++) {
        wf_error err = WF_ERROR_INIT;
        wf_job_edit *edit = open_text(cases[i].before);
        wf_check_ok(do_edit(edit, cases[i].kind, cases[i].path, cases[i].value, &err), &err);
        assert_string_equal(wf_job_edit_text(edit, NULL), cases[i].after);
        wf_job_edit_destroy(edit);
    }
}

/* Expected texts of these tests are written by hand. */
static void values_change_in_place(void **state)
{
    (void)state;
    static const edit_case cases[] = {
        {"a: 1\n", NUMBER, "a", "2", "a: 2\n"},
        {"a: 1", NUMBER, "a", "2", "a: 2"},
        {"a: 1\r\nb: 2\r\n", NUMBER, "a", "3", "a: 3\r\nb: 2\r\n"},
        {"a: 1 # one\t\tor two\n", NUMBER, "a", "2", "a: 2 # one\t\tor two\n"},
        {"a  :   1\n", NUMBER, "a", "2", "a  :   2\n"},
        {"\"a\": 1\n", NUMBER, "a", "2", "\"a\": 2\n"},
        {"# \xc3\xa4\xe2\x82\xac\na: 1 # \xc3\xa4\nb: 2\n", NUMBER, "b", "3",
         "# \xc3\xa4\xe2\x82\xac\na: 1 # \xc3\xa4\nb: 3\n"},
        {"\xef\xbb\xbf"
         "a: 1\n",
         NUMBER, "a", "2",
         "\xef\xbb\xbf"
         "a: 2\n"},
        {"--- # begin\na: 1\n...\n", NUMBER, "a", "2", "--- # begin\na: 2\n...\n"},
        {"a: \"1\"\n", NUMBER, "a", "2", "a: \"2\"\n"},
        {"a: '1'   # c\n", TEXT, "a", "it's", "a: 'it''s'   # c\n"},
        {"a: b\n", TEXT, "a", "+12:34:56.5", "a: \"+12:34:56.5\"\n"},
        {"a: b\n", TEXT, "a", "2026-03-01T12:00:00", "a: 2026-03-01T12:00:00\n"},
        {"a: b\n", TEXT, "a", "x #y\\\"", "a: \"x #y\\\\\\\"\"\n"},
        {"a: b\n", TEXT, "a", "- x", "a: \"- x\"\n"},
        {"a: b\n", TEXT, "a", "-3e-6", "a: -3e-6\n"},
        {"a: b\n  c\n  d\ne: 1\n", TEXT, "a", "x", "a: x\ne: 1\n"},
        {"a:\n  b # c\ne: 1\n", TEXT, "a", "x", "a:\n  x # c\ne: 1\n"},
        {"a: |\n  b\n  c\n\n# d\ne: 1\n", TEXT, "a", "x", "a: \"x\"\n\n# d\ne: 1\n"},
        {"a:\nb: 1\n", TEXT, "a", "x", "a: x\nb: 1\n"},
        {"a:   # to come\nb: 1\n", TEXT, "a", "x", "a: x   # to come\nb: 1\n"},
        {"a: {b: , c: 1}\n", TEXT, "a.b", "x", "a: {b: x, c: 1}\n"},
        {"a: [1, 2 , 3]\n", NUMBER, "a[1]", "5", "a: [1, 5 , 3]\n"},
        {"a:\n- 1 # one\n- 2\n", NUMBER, "a[1]", "5", "a:\n- 1 # one\n- 5\n"},
        {"a: {b: {c: [1, {d: e}]}}\n", TEXT, "a.b.c[1].d", "f", "a: {b: {c: [1, {d: f}]}}\n"},
        {"a:\n  # x\n  b:\n    c: 1\n    d: 2 # e\n# f\ng: 1\n", YAML, "a.b", "{c: 5}",
         "a:\n  # x\n  b:\n    {c: 5} # e\n# f\ng: 1\n"},
        {"a: [1,  # one\n    2]\n", YAML, "a", "[3, 4]", "a: [3, 4]\n"},
        {"stations:\n  - name: Alder\n    x: 1\n  - {name: Birch, x: 2}\n", NUMBER,
         "stations[Birch].x", "3",
         "stations:\n  - name: Alder\n    x: 1\n  - {name: Birch, x: 3}\n"},
        {"recordings:\n  - {station: \"12\", x: 1}\n  - {station: B, x: 1}\n", NUMBER,
         "recordings[\"12\"].x", "3",
         "recordings:\n  - {station: \"12\", x: 3}\n  - {station: B, x: 1}\n"},
        {"r:\n- station: 'A]b'\n", TEXT, "r[\"A]b\"].x", "y", "r:\n- station: 'A]b'\n  x: y\n"},
        {"a: # x\n- 1\n- 2 # y\nb: 1\n", YAML, "a", "[3]", "a: # x\n  [3] # y\nb: 1\n"},
    };
    check_cases(cases, sizeof cases / sizeof cases[0]);
}

static void equal_values_keep_their_text(void **state)
{
    (void)state;
    static const edit_case cases[] = {
        {"a: 8400.0e6\n", NUMBER, "a", "8.4e9", "a: 8400.0e6\n"},
        {"a: 'b'\n", TEXT, "a", "b", "a: 'b'\n"},
    };
    check_cases(cases, sizeof cases / sizeof cases[0]);
}

static void missing_keys_come_in_the_style_of_their_mapping(void **state)
{
    (void)state;
    static const edit_case cases[] = {
        {"a: 1\n", NUMBER, "b", "2", "a: 1\nb: 2\n"},
        {"a: 1", NUMBER, "b", "2", "a: 1\nb: 2"},
        {"a: 1\r\n", NUMBER, "b", "2", "a: 1\r\nb: 2\r\n"},
        {"# x\r\na: 1", NUMBER, "b", "2", "# x\r\na: 1\r\nb: 2"},
        {"a: 1   # one\n# end\n", NUMBER, "b", "2", "a: 1   # one\nb: 2\n# end\n"},
        {"a: {b: 1}\n", NUMBER, "a.c", "2", "a: {b: 1, c: 2}\n"},
        {"a: { b: 1 } # x\n", NUMBER, "a.c", "2", "a: { b: 1, c: 2 } # x\n"},
        {"a: {b: 1, }\n", NUMBER, "a.c", "2", "a: {b: 1, c: 2, }\n"},
        {"a: {}\n", NUMBER, "a.c", "2", "a: {c: 2}\n"},
        {"a: {\n  b: 1, # b\n  c: 2 # c\n}\n", NUMBER, "a.d", "3",
         "a: {\n  b: 1, # b\n  c: 2, # c\n  d: 3\n}\n"},
        {"a: {\n  b: 1, # b\n}\n", NUMBER, "a.d", "3", "a: {\n  b: 1, # b\n  d: 3,\n}\n"},
        {"a: {b: 1,\n    c: 2}\n", NUMBER, "a.d", "3", "a: {b: 1,\n    c: 2, d: 3}\n"},
        {"s:\n  - name: A   # the first\n    x: 1\n  - name: B\n", NUMBER, "s[A].y", "3",
         "s:\n  - name: A   # the first\n    x: 1\n    y: 3\n  - name: B\n"},
        {"s:\n- name: A\n  l:\n  - 1\n  - 2\n- name: B\n", NUMBER, "s[A].y", "3",
         "s:\n- name: A\n  y: 3\n  l:\n  - 1\n  - 2\n- name: B\n"},
        {"s:\n  l:\n    - 1 # one\n\n# end\n", NUMBER, "s.y", "3",
         "s:\n  l:\n    - 1 # one\n  y: 3\n\n# end\n"},
        {"s:\n  - name: A\n", NUMBER, "s[A].clock.ahead_s", "1e-6",
         "s:\n  - name: A\n    clock: {ahead_s: 1e-6}\n"},
        {"s: {name: A}\n", NUMBER, "s.a.b.c", "1", "s: {name: A, a: {b: {c: 1}}}\n"},
    };
    check_cases(cases, sizeof cases / sizeof cases[0]);
}

static void removed_keys_take_their_lines_along(void **state)
{
    (void)state;
    static const edit_case cases[] = {
        {"a: 1\nb: 2 # two\nc: 3\n", REMOVE, "b", NULL, "a: 1\nc: 3\n"},
        {"a: 1\r\nb: 2\r\n", REMOVE, "b", NULL, "a: 1\r\n"},
        {"a: 1\r\nb: 2", REMOVE, "b", NULL, "a: 1"},
        {"# x\na: 1\n# y\nb: 2\n", REMOVE, "a", NULL, "# x\n# y\nb: 2\n"},
        {"a:\n  b: 1\n  c:\n    - 1\n    - 2 # two\n\nd: 1\n", REMOVE, "a", NULL, "\nd: 1\n"},
        {"a:\n  b: 1 # x\nc: 1\n", REMOVE, "a.b", NULL, "a:\n  {} # x\nc: 1\n"},
        {"a: {b: 1, c: 2}\n", REMOVE, "a.b", NULL, "a: {c: 2}\n"},
        {"a: {b: 1, c: 2}\n", REMOVE, "a.c", NULL, "a: {b: 1}\n"},
        {"a: { b: 1 }\n", REMOVE, "a.b", NULL, "a: {  }\n"},
        {"a: {\n  b: 1, # b\n  c: 2 # c\n}\n", REMOVE, "a.b", NULL, "a: {\n  c: 2 # c\n}\n"},
        {"a: {\n  b: 1, # b\n  c: 2 # c\n}\n", REMOVE, "a.c", NULL, "a: {\n  b: 1, # b\n}\n"},
        {"a: [1, 2, 3]\n", REMOVE, "a[1]", NULL, "a: [1, 3]\n"},
        {"a: [1]\n", REMOVE, "a[0]", NULL, "a: []\n"},
        {"a:\n  - 1\n  - x: 1\n    y: 2\n  - 3\n", REMOVE, "a[1]", NULL, "a:\n  - 1\n  - 3\n"},
        {"a:\n  - 1\n  -\n    x: 1\n    y: 2\n  - 3\n", REMOVE, "a[1]", NULL, "a:\n  - 1\n  - 3\n"},
        {"a:\n- 1\n- 2\n", REMOVE, "a[0]", NULL, "a:\n- 2\n"},
        {"a:\n- 1 # x\n", REMOVE, "a[0]", NULL, "a:\n  [] # x\n"},
        {"s:\n  - x: 1 # one\n    y: 2\n", REMOVE, "s[0].x", NULL, "s:\n  - y: 2\n"},
        {"s:\n  - x: 1 # one\n    # two\n    y: 2\n", REMOVE, "s[0].x", NULL,
         "s:\n  -\n    # two\n    y: 2\n"},
    };
    check_cases(cases, sizeof cases / sizeof cases[0]);
}

static const char ALIASES[] = "r:\n"                 /* 1 */
                              "  - station: A\n"     /* 2 */
                              "    s: &m\n"          /* 3 */
                              "      - {e: 1, # c\n" /* 4 */
                              "         f: 'x'}\n"   /* 5 */
                              "  - station: B\n"     /* 6 */
                              "    s: *m # as A\n"   /* 7 */
                              "    t: 1\n";          /* 8 */

static void check_refused(const char *text, enum edit_kind kind, const char *path,
                          const char *value, wf_status want, const char *message)
{
    wf_error err = WF_ERROR_INIT;
    wf_job_edit *edit = open_text(text);
    wf_check_refused(do_edit(edit, kind, path, value, &err), want, &err, message);
    assert_string_equal(wf_job_edit_text(edit, NULL), text);
    assert_int_equal(wf_job_edit_n_changes(edit), 0);
    wf_job_edit_destroy(edit);
}

static void what_stands_for_others_is_not_changed(void **state)
{
    (void)state;
    check_refused(ALIASES, NUMBER, "r[1].s[0].e", "2", WF_UNSUPPORTED,
                  "job.yaml:7: r[1].s is an alias, *m, of what line 3 says");
    check_refused(ALIASES, NUMBER, "r[0].s[0].e", "2", WF_UNSUPPORTED,
                  "job.yaml:4: r[0].s[0].e: line 7 repeats, as *m");
    check_refused(ALIASES, NUMBER, "r[0].s[0].g", "2", WF_UNSUPPORTED, "line 7 repeats");
    check_refused(ALIASES, REMOVE, "r[0]", NULL, WF_UNSUPPORTED, "line 7 repeats");
    check_refused(ALIASES, YAML, "r[0].s", "[]", WF_UNSUPPORTED, "line 7 repeats");
    static const edit_case cases[] = {
        {ALIASES, NUMBER, "r[1].t", "2",
         "r:\n  - station: A\n    s: &m\n      - {e: 1, # c\n         f: 'x'}\n  - station: B\n"
         "    s: *m # as A\n    t: 2\n"},
        {ALIASES, YAML, "r[1].s", "[2]",
         "r:\n  - station: A\n    s: &m\n      - {e: 1, # c\n         f: 'x'}\n  - station: B\n"
         "    s: [2] # as A\n    t: 1\n"},
        {ALIASES, NUMBER, "r[0].time_offset_s", "3",
         "r:\n  - station: A\n    time_offset_s: 3\n    s: &m\n      - {e: 1, # c\n"
         "         f: 'x'}\n  - station: B\n    s: *m # as A\n    t: 1\n"},
        {ALIASES, WRITE_OUT, "r[B].s[0].e", NULL,
         "r:\n  - station: A\n    s: &m\n      - {e: 1, # c\n         f: 'x'}\n  - station: B\n"
         "    s: [{e: 1, f: 'x'}] # as A\n    t: 1\n"},
        {ALIASES, WRITE_OUT, "r[A].s[0].e", NULL,
         "r:\n  - station: A\n    s: &m\n      - {e: 1, # c\n         f: 'x'}\n  - station: B\n"
         "    s: [{e: 1, f: 'x'}] # as A\n    t: 1\n"},
    };
    check_cases(cases, sizeof cases / sizeof cases[0]);
}

static void aliases_that_grow_are_refused(void **state)
{
    (void)state;
    check_refused("a: &a [*a]\nb: 1\n", WRITE_OUT, "a[0]", NULL, WF_UNSUPPORTED, "aliases");
}

static void what_cannot_be_done_leaves_the_text(void **state)
{
    (void)state;
    static const char text[] = "l: [{name: A, x: 1}, {name: A, x: 2}]\nm: {a: 1}\nd: 1\nd: 2\n";
    check_refused(text, NUMBER, "", "1", WF_ARGUMENT, "names no place");
    check_refused(text, NUMBER, "l[", "1", WF_ARGUMENT, "names no place");
    check_refused(text, NUMBER, "[0]", "1", WF_ARGUMENT, "names no place");
    check_refused(text, NUMBER, "m..a", "1", WF_ARGUMENT, "names no place");
    check_refused(text, NUMBER, "m.a", "nan", WF_ARGUMENT, "finite");
    check_refused(text, NUMBER, "l[A].x", "1", WF_FORMAT, "A is the name of l[0] and of l[1]");
    check_refused(text, NUMBER, "l[B].x", "1", WF_MISSING, "job.yaml:1: l has no entry B");
    check_refused(text, NUMBER, "l[2].x", "1", WF_MISSING, "l has no entry 2; it has 2");
    check_refused(text, NUMBER, "m[0]", "1", WF_FORMAT, "job.yaml:2: m: expected a list");
    check_refused(text, NUMBER, "l.a", "1", WF_FORMAT, "expected a group of keys");
    check_refused(text, NUMBER, "k[0].a", "1", WF_MISSING, "k is not there");
    check_refused(text, REMOVE, "m.b", NULL, WF_MISSING, "m.b is not there");
    check_refused(text, YAML, "m.a", "[1", WF_ARGUMENT, "not YAML");
    check_refused(text, YAML, "m.a", "1 # x", WF_ARGUMENT, "one value in one line");
    check_refused(text, YAML, "m.a", "b: c", WF_ARGUMENT, "one value in one line");
    check_refused(text, YAML, "m.a", "&x 1", WF_ARGUMENT, "one value in one line");
    check_refused(text, YAML, "m.a", "*x", WF_ARGUMENT, "undefined alias");
    check_refused(text, YAML, "m.a", "x, y", WF_UNSUPPORTED, "m.a cannot be changed");
}

static void documents_that_cannot_be_edited_are_refused(void **state)
{
    (void)state;
    wf_error err = WF_ERROR_INIT;
    wf_job_edit *edit = NULL;
    put_file("two.yaml", "a: 1\n---\nb: 1\n");
    wf_check_refused(wf_job_edit_open(&edit, "two.yaml", &err), WF_FORMAT, &err, "two.yaml:3");
    FILE *file = fopen("wide.yaml", "wb");
    assert_non_null(file);
    assert_int_equal(fwrite("\xff\xfe"
                            "a\0:\0 \0"
                            "1\0\n\0",
                            1, 12, file),
                     12);
    assert_int_equal(fclose(file), 0);
    err = (wf_error)WF_ERROR_INIT;
    wf_check_refused(wf_job_edit_open(&edit, "wide.yaml", &err), WF_UNSUPPORTED, &err, "UTF-8");
    assert_null(edit);
}

static void numbers_have_the_fewest_digits(void **state)
{
    (void)state;
    static const struct {
        double value;
        const char *text;
    } cases[] = {{3, "3"},
                 {10, "10"},
                 {250000, "250000"},
                 {8.4e9, "8.4e9"},
                 {-3.4e-6, "-3.4e-6"},
                 {1e-12, "1e-12"},
                 {0, "0"},
                 {0.25, "0.25"},
                 {4215810.035, "4215810.035"},
                 {8400016000, "8400016000"},
                 {0.1 + 0.2, "0.30000000000000004"},
                 {1e300, "1e300"}};
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        char text[WFI_NUMBER_BYTES];
        wfi_write_number(text, cases[i].value);
        assert_string_equal(text, cases[i].text);
        assert_true(strtod(text, NULL) == cases[i].value);
    }
}

static void instants_read_back_as_they_were(void **state)
{
    (void)state;
    static const struct {
        double fraction;
        const char *text;
    } cases[] = {{0, "2026-03-01T12:00:00"},
                 {0.5, "2026-03-01T12:00:00.5"},
                 {0.000025, "2026-03-01T12:00:00.000025"},
                 {1.0 / 3, "2026-03-01T12:00:00.3333333333333333"}};
    wf_error err = WF_ERROR_INIT;
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        wf_instant t = {0};
        wf_instant back = {0};
        char text[WF_INSTANT_TEXT_BYTES];
        wf_check_ok(wf_instant_parse(&t, "2026-03-01T12:00:00", &err), &err);
        t.fraction = cases[i].fraction;
        wfi_write_instant(text, t);
        assert_string_equal(text, cases[i].text);
        wf_check_ok(wf_instant_parse(&back, text, &err), &err);
        assert_true(back.second == t.second && back.fraction == t.fraction);
    }
}

static void clocks_keep_their_comments(void **state)
{
    (void)state;
    wf_error err = WF_ERROR_INIT;
    wf_job_edit *edit = open_text("stations:\n"
                                  "  - name: Alder\n"
                                  "    clock:          # from GNSS\n"
                                  "      reference: 2026-03-01T12:00:00\n"
                                  "      ahead_s: 1e-6 # rough\n"
                                  "  - name: Birch\n"
                                  "    diameter_m: 5\n");
    wf_clock clock = {.ahead_s = -2.5e-6, .rate_s_per_s = 3e-12};
    wf_check_ok(wf_instant_parse(&clock.reference, "2026-03-01T12:00:00.5", &err), &err);
    wf_check_ok(wf_job_edit_set_clock(edit, "Alder", &clock, &err), &err);
    clock.rate_s_per_s = 0;
    wf_check_ok(wf_job_edit_set_clock(edit, "Birch", &clock, &err), &err);
    assert_string_equal(wf_job_edit_text(edit, NULL),
                        "stations:\n"
                        "  - name: Alder\n"
                        "    clock:          # from GNSS\n"
                        "      reference: 2026-03-01T12:00:00.5\n"
                        "      ahead_s: -2.5e-6 # rough\n"
                        "      rate_s_per_s: 3e-12\n"
                        "  - name: Birch\n"
                        "    diameter_m: 5\n"
                        "    clock: {reference: 2026-03-01T12:00:00.5, ahead_s: -2.5e-6}\n");
    wf_check_refused(wf_job_edit_set_clock(edit, "Cedar", &clock, &err), WF_MISSING, &err, "Cedar");
    wf_job_edit_destroy(edit);
}

static void lists_of_numbers_change_where_they_differ(void **state)
{
    (void)state;
    wf_error err = WF_ERROR_INIT;
    wf_job_edit *edit = open_text("p: [1.50, 2.0e0,  # x, y\n    3]  # z\n");
    wf_check_ok(wf_job_edit_set_numbers(edit, "p", (const double[]){1.5, -2, 3}, 3, &err), &err);
    assert_string_equal(wf_job_edit_text(edit, NULL), "p: [1.50, -2,  # x, y\n    3]  # z\n");
    wf_check_ok(wf_job_edit_set_numbers(edit, "q", (const double[]){0.5, 4e6}, 2, &err), &err);
    wf_check_refused(wf_job_edit_set_numbers(edit, "p", (const double[]){7, NAN, 3}, 3, &err),
                     WF_ARGUMENT, &err, "finite");
    assert_string_equal(wf_job_edit_text(edit, NULL),
                        "p: [1.50, -2,  # x, y\n    3]  # z\nq: [0.5, 4e6]\n");
    wf_job_edit_destroy(edit);
}

static void check_changes(const wf_job_edit *edit, const char *const *want, size_t n)
{
    assert_int_equal(wf_job_edit_n_changes(edit), n);
    for (size_t i = 0; i < n; i++)
        assert_string_equal(wf_job_edit_change(edit, i), want[i]);
    assert_null(wf_job_edit_change(edit, n));
}

static void changes_are_told_with_the_lines_of_the_file(void **state)
{
    (void)state;
    wf_error err = WF_ERROR_INIT;
    wf_job_edit *edit = open_text(JOB);
    wf_check_ok(wf_job_edit_set_number(edit, "stations[0].diameter_m", 20, &err), &err);
    wf_check_ok(wf_job_edit_set_number(edit, "recordings[Birch].time_offset_s", 2, &err), &err);
    wf_check_ok(wf_job_edit_remove(edit, "stations[Birch].clock", &err), &err);
    wf_check_ok(wf_job_edit_set_text(edit, "recordings[0].streams[2].sideband", "upper", &err),
                &err);
    wf_check_ok(wf_job_edit_set_number(edit, "correlation.channels", 64, &err), &err);
    wf_check_ok(wf_job_edit_set_number(edit, "stations[Alder].diameter_m", 30, &err), &err);
    wf_check_ok(wf_job_edit_set_text(edit, "campaign", "Moor", &err), &err);
    static const char *const want[] = {
        "line 9: diameter_m: 12.5 -> 30 (station Alder)",
        "after line 41: time_offset_s: 2 added (recording of Birch)",
        "line 13: clock: {reference: 2026-03-01T11:00:00, ahead_s: -3e-6} removed (station Birch)",
        "line 45: sideband: lower -> upper (recording of Birch, streams[2])",
        "line 54: channels: 256 -> 64 (correlation)",
        "line 1: campaign: Forest-7 -> Moor",
    };
    check_changes(edit, want, 6);
    wf_job_edit *copy = NULL;
    wf_check_ok(wf_job_edit_copy(&copy, edit, &err), &err);
    check_changes(copy, want, 6);
    wf_check_ok(wf_job_edit_set_number(copy, "stations[Alder].diameter_m", 12.5, &err), &err);
    wf_check_ok(wf_job_edit_remove(copy, "recordings[Birch].time_offset_s", &err), &err);
    check_changes(copy, want + 2, 4);
    check_changes(edit, want, 6);
    wf_job_edit_destroy(copy);
    wf_job_edit_destroy(edit);
}

static void differences_are_shown_line_by_line(void **state)
{
    (void)state;
    wf_error err = WF_ERROR_INIT;
    wf_job_edit *edit = open_text("a: 1\nb: 2\nc: 3\nd: 4\ne: 5\nf: 6\ng: 7\nh: 8\ni: 9\nj: 0");
    char text[512] = "x";
    assert_int_equal(wf_job_edit_diff(edit, text, sizeof text), 0);
    assert_string_equal(text, "");
    wf_check_ok(wf_job_edit_set_number(edit, "a", 5, &err), &err);
    wf_check_ok(wf_job_edit_remove(edit, "b", &err), &err);
    wf_check_ok(wf_job_edit_set_number(edit, "k", 5, &err), &err);
    static const char want[] = "--- job.yaml\n+++ job.yaml\n"
                               "@@ -1,5 +1,4 @@\n-a: 1\n-b: 2\n+a: 5\n c: 3\n d: 4\n e: 5\n"
                               "@@ -7,4 +6,5 @@\n g: 7\n h: 8\n i: 9\n-j: 0\n"
                               "\\ No newline at end of file\n+j: 0\n+k: 5\n"
                               "\\ No newline at end of file\n";
    assert_int_equal(wf_job_edit_diff(edit, text, sizeof text), sizeof want - 1);
    assert_string_equal(text, want);
    assert_int_equal(wf_job_edit_diff(edit, NULL, 0), sizeof want - 1);
    assert_int_equal(wf_job_edit_diff(edit, text, 5), sizeof want - 1);
    assert_string_equal(text, "--- ");
    wf_job_edit_destroy(edit);
}

static void edited_job_loads_from_its_folder(void **state)
{
    (void)state;
    wf_error err = WF_ERROR_INIT;
    wf_observation *job = NULL;
    assert_int_equal(mkdir("folder", 0700), 0);
    put_file("folder/job.yaml", JOB);
    wf_job_edit *edit = NULL;
    wf_check_ok(wf_job_edit_open(&edit, "folder/job.yaml", &err), &err);
    wf_check_ok(wf_job_edit_set_number(edit, "recordings[Birch].time_offset_s", -3, &err), &err);
    wf_check_ok(wf_job_edit_set_text(edit, "scans[S01].source", "Willowbrook", &err), &err);
    wf_check_ok(wf_job_edit_observation(edit, &job, &err), &err);
    assert_int_equal(job->recordings[0].time_offset_s, -3);
    assert_string_equal(job->recordings[0].paths[0], "folder/birch-1.vdif");
    assert_int_equal(job->scans[0].i_source, 1);
    wf_observation_destroy(job);
    wf_check_ok(wf_job_edit_set_text(edit, "scans[S01].source", "Nowhere", &err), &err);
    wf_check_refused(wf_job_edit_observation(edit, &job, &err), WF_FORMAT, &err,
                     "folder/job.yaml:28");
    assert_null(job);
    size_t n = 0;
    unsigned char *bytes = whole_file("folder/job.yaml", &n);
    assert_int_equal(n, sizeof JOB - 1);
    assert_memory_equal(bytes, JOB, n);
    free(bytes);
    wf_job_edit_destroy(edit);
}

static void saving_keeps_a_copy_and_permissions(void **state)
{
    (void)state;
    wf_error err = WF_ERROR_INIT;
    char backup[64];
    wf_job_edit *edit = open_text("a: 1\n");
    assert_int_equal(chmod("job.yaml", 0640), 0);
    put_file("job.yaml.1", "mine\n");
    wf_check_ok(wf_job_edit_save(edit, backup, sizeof backup, &err), &err);
    assert_string_equal(backup, "");
    assert_int_equal(n_entries("."), 2);
    wf_check_ok(wf_job_edit_set_number(edit, "a", 2, &err), &err);
    wf_check_ok(wf_job_edit_save(edit, backup, sizeof backup, &err), &err);
    assert_string_equal(backup, "job.yaml.2");
    check_file("job.yaml", "a: 2\n");
    check_file("job.yaml.1", "mine\n");
    check_file("job.yaml.2", "a: 1\n");
    struct stat entry;
    assert_int_equal(stat("job.yaml", &entry), 0);
    assert_int_equal(entry.st_mode & 0777, 0640);
    assert_int_equal(stat("job.yaml.2", &entry), 0);
    assert_int_equal(entry.st_mode & 0777, 0640);
    wf_check_ok(wf_job_edit_save(edit, NULL, 0, &err), &err);
    wf_check_ok(wf_job_edit_set_number(edit, "a", 3, &err), &err);
    wf_check_ok(wf_job_edit_save(edit, NULL, 0, &err), &err);
    check_file("job.yaml", "a: 3\n");
    check_file("job.yaml.3", "a: 2\n");
    assert_int_equal(n_entries("."), 4);
    wf_job_edit_destroy(edit);
}

static void saving_follows_links(void **state)
{
    (void)state;
    wf_error err = WF_ERROR_INIT;
    char backup[256];
    assert_int_equal(mkdir("real", 0700), 0);
    put_file("real/job.yaml", "a: 1\n");
    assert_int_equal(symlink("real/job.yaml", "job.yaml"), 0);
    wf_job_edit *edit = NULL;
    wf_check_ok(wf_job_edit_open(&edit, "job.yaml", &err), &err);
    wf_check_ok(wf_job_edit_set_number(edit, "a", 2, &err), &err);
    wf_check_ok(wf_job_edit_save(edit, backup, sizeof backup, &err), &err);
    struct stat entry;
    assert_int_equal(lstat("job.yaml", &entry), 0);
    assert_true(S_ISLNK(entry.st_mode));
    check_file("real/job.yaml", "a: 2\n");
    check_file("real/job.yaml.1", "a: 1\n");
    wf_job_edit_destroy(edit);
}

static void saving_never_overwrites_what_others_wrote(void **state)
{
    (void)state;
    wf_error err = WF_ERROR_INIT;
    wf_job_edit *edit = open_text("a: 1\n");
    wf_check_ok(wf_job_edit_set_number(edit, "a", 2, &err), &err);
    put_file("job.yaml", "a: 5\n");
    wf_check_refused(wf_job_edit_save(edit, NULL, 0, &err), WF_FORMAT, &err,
                     "was changed since it was read");
    check_file("job.yaml", "a: 5\n");
    assert_int_equal(n_entries("."), 1);
    err = (wf_error)WF_ERROR_INIT;
    assert_int_equal(remove("job.yaml"), 0);
    wf_check_refused(wf_job_edit_save(edit, NULL, 0, &err), WF_MISSING, &err, "job.yaml");
    assert_int_equal(n_entries("."), 0);
    wf_job_edit_destroy(edit);
}

static void every_allocation_may_fail(void **state)
{
    (void)state;
    wf_job_edit *edit = open_text(JOB);
    const wf_clock clock = {.ahead_s = 1, .rate_s_per_s = 2};
    wf_status status = WF_MEMORY;
    for (long n = 1; status == WF_MEMORY; n++) {
        wf_error err = WF_ERROR_INIT;
        wfi_memory_fail_after(n);
        status = wf_job_edit_set_clock(edit, "Birch", &clock, &err);
        wfi_memory_fail_after(0);
        if (status == WF_MEMORY) {
            assert_string_equal(wf_job_edit_text(edit, NULL), JOB);
            assert_int_equal(wf_job_edit_n_changes(edit), 0);
        } else
            wf_check_ok(status, &err);
    }
    assert_int_equal(wf_job_edit_n_changes(edit), 3);
    wf_job_edit_destroy(edit);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST_IN_FOLDER(values_change_in_place),
        TEST_IN_FOLDER(equal_values_keep_their_text),
        TEST_IN_FOLDER(missing_keys_come_in_the_style_of_their_mapping),
        TEST_IN_FOLDER(removed_keys_take_their_lines_along),
        TEST_IN_FOLDER(what_stands_for_others_is_not_changed),
        TEST_IN_FOLDER(aliases_that_grow_are_refused),
        TEST_IN_FOLDER(what_cannot_be_done_leaves_the_text),
        TEST_IN_FOLDER(documents_that_cannot_be_edited_are_refused),
        TEST_IN_FOLDER(numbers_have_the_fewest_digits),
        TEST_IN_FOLDER(instants_read_back_as_they_were),
        TEST_IN_FOLDER(clocks_keep_their_comments),
        TEST_IN_FOLDER(lists_of_numbers_change_where_they_differ),
        TEST_IN_FOLDER(changes_are_told_with_the_lines_of_the_file),
        TEST_IN_FOLDER(differences_are_shown_line_by_line),
        TEST_IN_FOLDER(edited_job_loads_from_its_folder),
        TEST_IN_FOLDER(saving_keeps_a_copy_and_permissions),
        TEST_IN_FOLDER(saving_follows_links),
        TEST_IN_FOLDER(saving_never_overwrites_what_others_wrote),
        TEST_IN_FOLDER(every_allocation_may_fail),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
