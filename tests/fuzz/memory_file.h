/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A file in memory with a path, for readers that open paths. */
#ifndef TESTS_FUZZ_MEMORY_FILE_H
#define TESTS_FUZZ_MEMORY_FILE_H

#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/mman.h>
#include <unistd.h>

enum { MEMORY_PATH_BYTES = 64 };

typedef struct memory_file {
    int fd;
    char path[MEMORY_PATH_BYTES];
} memory_file;

/* The process is the fuzzer's own: what cannot go on ends it. */
static inline void memory_file_open(memory_file *file)
{
    file->fd = memfd_create("fuzz", 0);
    if (file->fd < 0)
        abort();
    snprintf(file->path, sizeof file->path, "/proc/self/fd/%d", file->fd);
}

static inline void memory_file_set(const memory_file *file, const uint8_t *bytes, size_t n)
{
    if (ftruncate(file->fd, 0) != 0 || pwrite(file->fd, bytes, n, 0) != (ssize_t)n)
        abort();
}

#endif
