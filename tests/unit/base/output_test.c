/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/folder.h"

#include "base/memory.h"
#include "base/output.h"

static wfi_output begin(const char *path)
{
    wf_error err = WF_ERROR_INIT;
    wfi_output output;
    wf_check_ok(wfi_output_begin(&output, path, &err), &err);
    return output;
}

static void output_appears_when_committed(void **state)
{
    (void)state;
    put_file("a", "old");
    wfi_output output = begin("a");
    put_file(output.temporary, "new");
    check_file("a", "old");
    wf_error err = WF_ERROR_INIT;
    wf_check_ok(wfi_output_commit(&output, &err), &err);
    check_file("a", "new");
    assert_int_equal(n_entries("."), 1);
    wfi_output_discard(&output);
    check_file("a", "new");
}

static void discarded_output_leaves_nothing(void **state)
{
    (void)state;
    put_file("a", "old");
    wfi_output output = begin("a");
    put_file(output.temporary, "new");
    wfi_output_discard(&output);
    check_file("a", "old");
    assert_int_equal(n_entries("."), 1);
}

static void two_outputs_do_not_meet(void **state)
{
    (void)state;
    wfi_output one = begin("a");
    put_file(one.temporary, "one");
    wfi_output two = begin("a");
    assert_string_not_equal(one.temporary, two.temporary);
    wfi_output_discard(&one);
    wfi_output_discard(&two);
}

static void output_follows_a_link(void **state)
{
    (void)state;
    assert_int_equal(mkdir("disk", 0777), 0);
    put_file("disk/a", "old");
    assert_int_equal(symlink("disk/a", "a"), 0);
    wfi_output output = begin("a");
    put_file(output.temporary, "new");
    wf_error err = WF_ERROR_INIT;
    wf_check_ok(wfi_output_commit(&output, &err), &err);
    check_file("disk/a", "new");
    struct stat entry;
    assert_int_equal(lstat("a", &entry), 0);
    assert_true(S_ISLNK(entry.st_mode));
}

static void output_never_starts_with_a_blank(void **state)
{
    (void)state;
    assert_int_equal(mkdir(" b", 0777), 0);
    wfi_output output = begin(" b/ a");
    assert_memory_equal(output.temporary, "./ b/. a.partial-", 17);
    wfi_output_discard(&output);
}

static void refuse(const char *path, wf_status want, const char *words)
{
    wf_error err = WF_ERROR_INIT;
    wfi_output output;
    wf_check_refused(wfi_output_begin(&output, path, &err), want, &err, words);
    assert_null(output.temporary);
}

static void output_refuses_what_is_no_file(void **state)
{
    (void)state;
    assert_int_equal(mkdir("b", 0777), 0);
    assert_int_equal(symlink("nowhere", "c"), 0);
    assert_int_equal(mkfifo("d", 0666), 0);
    refuse("b", WF_IO, "is a folder");
    refuse("b/", WF_IO, "names no file");
    refuse("", WF_IO, "names no file");
    refuse("c", WF_IO, "leads nowhere");
    refuse("d", WF_IO, "no regular file");
    refuse("/dev/null", WF_IO, "no regular file");
    refuse("e/a", WF_MISSING, "there is no folder e/");
    refuse("/proc/a", WF_MISSING, "there is no folder /proc/");
    assert_int_equal(n_entries("."), 3);
}

static void output_refuses_a_folder_that_is_not_writable(void **state)
{
    (void)state;
    enum { NOBODY = 65534 };
    assert_int_equal(mkdir("b", 0555), 0);
    const uid_t user = geteuid();
    if (user == 0) /* root writes anywhere */
        assert_int_equal(seteuid(NOBODY), 0);
    refuse("b/a", WF_IO, "no file can be made in its folder: Permission denied");
    assert_int_equal(seteuid(user), 0);
}

static void commit_says_what_failed(void **state)
{
    (void)state;
    wfi_output output = begin("a");
    put_file(output.temporary, "new");
    assert_int_equal(mkdir("a", 0777), 0); /* takes the name meanwhile */
    wf_error err = WF_ERROR_INIT;
    wf_check_refused(wfi_output_commit(&output, &err), WF_IO, &err, "a: could not be completed");
    assert_int_equal(n_entries("."), 1);
}

static void output_survives_short_memory(void **state)
{
    (void)state;
#ifdef WFI_CHECKS
    for (long n = 1; n <= 2; n++) {
        wfi_memory_fail_after(n);
        refuse("a", WF_MEMORY, "out of memory");
    }
    wfi_memory_fail_after(0);
    assert_int_equal(n_entries("."), 0);
#else
    skip();
#endif
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST_IN_FOLDER(output_appears_when_committed),
        TEST_IN_FOLDER(discarded_output_leaves_nothing),
        TEST_IN_FOLDER(two_outputs_do_not_meet),
        TEST_IN_FOLDER(output_follows_a_link),
        TEST_IN_FOLDER(output_never_starts_with_a_blank),
        TEST_IN_FOLDER(output_refuses_what_is_no_file),
        TEST_IN_FOLDER(output_refuses_a_folder_that_is_not_writable),
        TEST_IN_FOLDER(commit_says_what_failed),
        TEST_IN_FOLDER(output_survives_short_memory),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
