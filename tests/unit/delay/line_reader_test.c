/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "scene.h"

#include "delay/line_reader.h"

static void expect_lines(const char *content, const char *const *want, size_t n)
{
    char path[64];
    scene_write_file(path, content);
    wfi_line_reader reader;
    wf_error err = WF_ERROR_INIT;
    wf_check_ok(wfi_line_reader_open(&reader, path, &err), &err);
    for (size_t i = 0; i < n; i++) {
        wf_check_ok(wfi_line_reader_next(&reader, &err), &err);
        assert_string_equal(reader.line, want[i]);
        assert_int_equal(reader.n, strlen(want[i]));
        assert_int_equal(reader.number, i + 1);
    }
    assert_int_equal(wfi_line_reader_next(&reader, &err), WF_END);
    wfi_line_reader_close(&reader);
    wfi_line_reader_close(&reader);
    unlink(path);
}

static void lines_end_in_every_way(void **state)
{
    (void)state;
    static const char *const want[] = {"one", "", "  three ", "four"};
    expect_lines("one\n\n  three \nfour", want, 4);
    expect_lines("one\r\n\r\n  three \r\nfour\r\n", want, 4);
    expect_lines("", want, 0);
}

static void what_is_no_text_is_refused(void **state)
{
    (void)state;
    char content[1200];
    memset(content, 'x', sizeof content);
    content[2] = '\n';
    content[sizeof content - 1] = '\0';
    char path[64];
    scene_write_file(path, content);
    wfi_line_reader reader;
    wf_error err = WF_ERROR_INIT;
    wf_check_ok(wfi_line_reader_open(&reader, path, &err), &err);
    wf_check_ok(wfi_line_reader_next(&reader, &err), &err);
    wf_check_refused(wfi_line_reader_next(&reader, &err), WF_FORMAT, &err, "line 2");
    wfi_line_reader_close(&reader);
    FILE *file = fopen(path, "w");
    assert_int_equal(fwrite("a\0b\n", 1, 4, file), 4);
    assert_int_equal(fclose(file), 0);
    err = (wf_error)WF_ERROR_INIT;
    wf_check_ok(wfi_line_reader_open(&reader, path, &err), &err);
    wf_check_refused(wfi_line_reader_next(&reader, &err), WF_FORMAT, &err, "line 1");
    wfi_line_reader_close(&reader);
    unlink(path);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(lines_end_in_every_way),
        cmocka_unit_test(what_is_no_text_is_refused),
    };
    return cmocka_run_group_tests(tests, enter_folder, leave_folder);
}
