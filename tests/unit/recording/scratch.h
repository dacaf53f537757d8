/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A folder for the files of one test program, faults of the system, and random numbers. */
#ifndef TESTS_RECORDING_SCRATCH_H
#define TESTS_RECORDING_SCRATCH_H

#include <dirent.h>
#include <fcntl.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/stat.h>
#include <sys/types.h>
#include <unistd.h>

#include "support/check.h"

static inline int enter_scratch_folder(void **state)
{
    (void)state;
    char folder[] = "recording_test.XXXXXX";
    return mkdtemp(folder) != NULL && chdir(folder) == 0 ? 0 : -1;
}

static inline int leave_scratch_folder(void **state)
{
    (void)state;
    char folder[4096];
    if (getcwd(folder, sizeof folder) == NULL || chdir("..") != 0)
        return -1;
    char command[4200];
    snprintf(command, sizeof command, "rm -rf '%s'", folder);
    return system(command);
}

static inline bool names_file(const char *link, const char *name)
{
    char target[4096];
    const ssize_t n = readlink(link, target, sizeof target - 1);
    if (n <= 0)
        return false;
    target[n] = '\0';
    const char *slash = strrchr(target, '/');
    return slash != NULL && strcmp(slash + 1, name) == 0;
}

/** From now on the system refuses to read a file that this program has open (by its name, without
 *  folder): its descriptor becomes that of a folder, which read() refuses with EISDIR. */
static inline void replace_descriptor_by_folder(const char *name)
{
    DIR *folder = opendir("/proc/self/fd");
    if (folder == NULL)
        skip();
    int found = -1;
    for (struct dirent *e = readdir(folder); e != NULL; e = readdir(folder)) {
        char link[300];
        snprintf(link, sizeof link, "/proc/self/fd/%s", e->d_name);
        if (names_file(link, name))
            found = atoi(e->d_name);
    }
    closedir(folder);
    assert_true(found >= 0);
    const int replacement = open(".", O_RDONLY);
    assert_true(replacement >= 0);
    assert_int_equal(dup2(replacement, found), found);
    close(replacement);
}

/** A generator with a fixed start (xorshift, Marsaglia 2003). */
static inline uint32_t next_random(uint32_t *state)
{
    *state ^= *state << 13;
    *state ^= *state >> 17;
    *state ^= *state << 5;
    return *state;
}

#endif
