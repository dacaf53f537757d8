/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Loaded before the C library: reads of one file fail, or come short, as those of a broken disk do.
 *
 *  WF_FAIL_FILE   the end of the file's path
 *  WF_FAIL_HOW    eio: bytes from WF_FAIL_FROM to before WF_FAIL_TO cannot be read
 *                 short: no read gives more than 1000 bytes
 *                 pulled: after WF_FAIL_FROM reads none succeeds any more
 */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/types.h>
#include <sys/uio.h>
#include <unistd.h>

typedef ssize_t (*pread_function)(int, void *, size_t, off64_t);
typedef ssize_t (*preadv_function)(int, const struct iovec *, int, off64_t);

enum { SHORT_READ = 1000 };

static int is_file(int fd)
{
    const char *name = getenv("WF_FAIL_FILE");
    char link[64];
    char path[4096];
    snprintf(link, sizeof link, "/proc/self/fd/%d", fd);
    const ssize_t n = readlink(link, path, sizeof path - 1);
    if (name == NULL || n < (ssize_t)strlen(name))
        return 0;
    path[n] = '\0';
    return strcmp(path + n - strlen(name), name) == 0;
}

static long long number(const char *name)
{
    const char *text = getenv(name);
    return text != NULL ? atoll(text) : 0;
}

static int fails(size_t n, off64_t offset)
{
    static long long n_reads;
    const char *how = getenv("WF_FAIL_HOW");
    if (how != NULL && strcmp(how, "eio") == 0)
        return offset < number("WF_FAIL_TO") && offset + (off64_t)n > number("WF_FAIL_FROM");
    return how != NULL && strcmp(how, "pulled") == 0 &&
           __atomic_add_fetch(&n_reads, 1, __ATOMIC_RELAXED) > number("WF_FAIL_FROM");
}

ssize_t pread64(int fd, void *out, size_t n, off64_t offset)
{
    static pread_function real;
    if (real == NULL)
        real = (pread_function)dlsym(RTLD_NEXT, "pread64");
    if (is_file(fd)) {
        const char *how = getenv("WF_FAIL_HOW");
        if (fails(n, offset)) {
            errno = EIO;
            return -1;
        }
        if (how != NULL && strcmp(how, "short") == 0 && n > SHORT_READ)
            n = SHORT_READ;
    }
    return real(fd, out, n, offset);
}

ssize_t pread(int fd, void *out, size_t n, off_t offset)
{
    return pread64(fd, out, n, offset);
}

/* A short one fills its first part, or some of it. */
ssize_t preadv64(int fd, const struct iovec *parts, int n_parts, off64_t offset)
{
    static preadv_function real;
    size_t n = 0;
    if (real == NULL)
        real = (preadv_function)dlsym(RTLD_NEXT, "preadv64");
    for (int i = 0; i < n_parts; i++)
        n += parts[i].iov_len;
    if (is_file(fd)) {
        const char *how = getenv("WF_FAIL_HOW");
        if (fails(n, offset)) {
            errno = EIO;
            return -1;
        }
        if (how != NULL && strcmp(how, "short") == 0 && n > SHORT_READ) {
            n = parts->iov_len < SHORT_READ ? parts->iov_len : SHORT_READ;
            return pread64(fd, parts->iov_base, n, offset);
        }
    }
    return real(fd, parts, n_parts, offset);
}

ssize_t preadv(int fd, const struct iovec *parts, int n_parts, off_t offset)
{
    return preadv64(fd, parts, n_parts, offset);
}
