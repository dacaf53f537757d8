/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/check.h"

#include <dirent.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/stat.h>
#include <unistd.h>

#include "base/memory.h"
#include "base/output.h"

/* Every test has a folder of its own, removed with all in it. */
static int enter_folder(void **state)
{
    char *folder = strdup("/tmp/wf-output-XXXXXX");
    *state = folder;
    return mkdtemp(folder) != NULL && chdir(folder) == 0 ? 0 : -1;
}

static int leave_folder(void **state)
{
    char command[128];
    snprintf(command, sizeof command, "rm -rf '%s'", (char *)*state);
    const int result = chdir("/") != 0 || system(command) != 0 ? -1 : 0;
    free(*state);
    return result;
}

static void put(const char *path, const char *text)
{
    FILE *file = fopen(path, "w");
    assert_non_null(file);
    fputs(text, file);
    assert_int_equal(fclose(file), 0);
}

static void check_content(const char *path, const char *want)
{
    char text[64] = "";
    FILE *file = fopen(path, "r");
    assert_non_null(file);
    assert_non_null(fgets(text, sizeof text, file));
    fclose(file);
    assert_string_equal(text, want);
}

static int n_entries(const char *folder)
{
    int n = 0;
    DIR *open_folder = opendir(folder);
    assert_non_null(open_folder);
    for (struct dirent *entry; (entry = readdir(open_folder)) != NULL;)
        n += strcmp(entry->d_name, ".") != 0 && strcmp(entry->d_name, "..") != 0;
    closedir(open_folder);
    return n;
}

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
    put("a", "old");
    wfi_output output = begin("a");
    put(output.temporary, "new");
    check_content("a", "old");
    wf_error err = WF_ERROR_INIT;
    wf_check_ok(wfi_output_commit(&output, &err), &err);
    check_content("a", "new");
    assert_int_equal(n_entries("."), 1);
    wfi_output_discard(&output);
    check_content("a", "new");
}

static void discarded_output_leaves_nothing(void **state)
{
    (void)state;
    put("a", "old");
    wfi_output output = begin("a");
    put(output.temporary, "new");
    wfi_output_discard(&output);
    check_content("a", "old");
    assert_int_equal(n_entries("."), 1);
}

static void two_outputs_do_not_meet(void **state)
{
    (void)state;
    wfi_output one = begin("a");
    put(one.temporary, "one");
    wfi_output two = begin("a");
    assert_string_not_equal(one.temporary, two.temporary);
    wfi_output_discard(&one);
    wfi_output_discard(&two);
}

static void output_follows_a_link(void **state)
{
    (void)state;
    assert_int_equal(mkdir("disk", 0777), 0);
    put("disk/a", "old");
    assert_int_equal(symlink("disk/a", "a"), 0);
    wfi_output output = begin("a");
    put(output.temporary, "new");
    wf_error err = WF_ERROR_INIT;
    wf_check_ok(wfi_output_commit(&output, &err), &err);
    check_content("disk/a", "new");
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
    put(output.temporary, "new");
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

#define TEST(name) cmocka_unit_test_setup_teardown(name, enter_folder, leave_folder)

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(output_appears_when_committed),
        TEST(discarded_output_leaves_nothing),
        TEST(two_outputs_do_not_meet),
        TEST(output_follows_a_link),
        TEST(output_never_starts_with_a_blank),
        TEST(output_refuses_what_is_no_file),
        TEST(output_refuses_a_folder_that_is_not_writable),
        TEST(commit_says_what_failed),
        TEST(output_survives_short_memory),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
