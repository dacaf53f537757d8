/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A test in a folder of its own: cmocka's setup and teardown. */
#ifndef TESTS_SUPPORT_FOLDER_H
#define TESTS_SUPPORT_FOLDER_H

#include "support/check.h"

#include <dirent.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/stat.h>
#include <unistd.h>

static inline int enter_folder(void **state)
{
    char *folder = strdup("/tmp/wf-test-XXXXXX");
    *state = folder;
    return mkdtemp(folder) != NULL && chdir(folder) == 0 ? 0 : -1;
}

static inline int leave_folder(void **state)
{
    char command[128];
    snprintf(command, sizeof command, "rm -rf '%s'", (char *)*state);
    const int result = chdir("/") != 0 || system(command) != 0 ? -1 : 0;
    free(*state);
    return result;
}

static inline void put_file(const char *path, const char *text)
{
    FILE *file = fopen(path, "w");
    assert_non_null(file);
    fputs(text, file);
    assert_int_equal(fclose(file), 0);
}

static inline void check_file(const char *path, const char *want)
{
    char text[64] = "";
    FILE *file = fopen(path, "r");
    assert_non_null(file);
    assert_non_null(fgets(text, sizeof text, file));
    fclose(file);
    assert_string_equal(text, want);
}

static inline int n_entries(const char *folder)
{
    int n = 0;
    DIR *open_folder = opendir(folder);
    assert_non_null(open_folder);
    for (struct dirent *entry; (entry = readdir(open_folder)) != NULL;)
        n += strcmp(entry->d_name, ".") != 0 && strcmp(entry->d_name, "..") != 0;
    closedir(open_folder);
    return n;
}

/** A whole file; to be freed. */
static inline unsigned char *whole_file(const char *path, size_t *n)
{
    struct stat entry;
    FILE *file = fopen(path, "rb");
    assert_non_null(file);
    assert_int_equal(fstat(fileno(file), &entry), 0);
    *n = (size_t)entry.st_size;
    unsigned char *bytes = malloc(*n + 1);
    assert_non_null(bytes);
    assert_int_equal(fread(bytes, 1, *n, file), *n);
    fclose(file);
    return bytes;
}

#define TEST_IN_FOLDER(name) cmocka_unit_test_setup_teardown(name, enter_folder, leave_folder)

#endif
