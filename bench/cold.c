/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The whole of `correlate` from a disk, the recordings' pages dropped before each run: against the
 * same from memory, and against reading the files and nothing else. Time on the wall.
 *
 * build/bench/cold [FOLDER]   a folder on the disk that is meant; else one of /tmp
 */
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>

#include "campaign.h"
#include "correlate_run.h"
#include "interleave.h"
#include "stopwatch.h"

enum { N_STATIONS = 2, N_CHANNELS = 1024, REPEATS = 7, READ_BYTES = 1 << 20 };

static const double DURATION_S = 32.768;

typedef struct disk {
    char folder[BENCH_PATH_BYTES];
    bench_campaign campaign;
} disk;

static void fail(const char *what)
{
    fprintf(stderr, "cold: %s\n", what);
    exit(EXIT_FAILURE);
}

static int open_station(const disk *d, size_t i)
{
    char path[BENCH_PATH_BYTES + 32];
    snprintf(path, sizeof path, "%s/station%zu.vdif", d->folder, i);
    const int fd = open(path, O_RDONLY);
    if (fd < 0)
        fail("a recording cannot be opened");
    return fd;
}

/* Pages that were written are only dropped once they are on the disk. */
static void drop_pages(const disk *d)
{
    for (size_t i = 0; i < d->campaign.n_stations; i++) {
        const int fd = open_station(d, i);
        if (fsync(fd) != 0 || posix_fadvise(fd, 0, 0, POSIX_FADV_DONTNEED) != 0)
            fail("the system keeps the pages of a recording");
        close(fd);
    }
}

/* One file after the other, in large reads. */
static bool read_bare(void *context)
{
    static uint8_t buffer[READ_BYTES];
    const disk *d = context;
    for (size_t i = 0; i < d->campaign.n_stations; i++) {
        const int fd = open_station(d, i);
        ssize_t n = 1;
        while (n > 0)
            n = read(fd, buffer, sizeof buffer);
        close(fd);
        if (n < 0)
            return false;
    }
    return true;
}

static void measure(const disk *d, bench_subject *subject, bool cold)
{
    if (cold)
        drop_pages(d);
    const double begin = bench_now_s();
    if (!subject->run(subject->context))
        fail("a run failed");
    subject->seconds[subject->n++] = bench_now_s() - begin;
}

static void print(const char *what, bench_subject *subject)
{
    const double median = bench_median(subject->seconds, subject->n);
    printf("%-28s %6.3f s (%.3f)\n", what, median, bench_subject_least(subject));
}

static void measure_all(disk *d)
{
    bench_correlate_run one = {.n_threads = 1, .err = WF_ERROR_INIT};
    bench_correlate_run two = {.n_threads = 2, .err = WF_ERROR_INIT};
    snprintf(one.folder, sizeof one.folder, "%s", d->folder);
    snprintf(two.folder, sizeof two.folder, "%s", d->folder);
    bench_subject bare = {.run = read_bare, .context = d};
    bench_subject cold_one = {.run = bench_correlate, .context = &one};
    bench_subject warm_one = {.run = bench_correlate, .context = &one};
    bench_subject cold_two = {.run = bench_correlate, .context = &two};
    bench_subject warm_two = {.run = bench_correlate, .context = &two};
    for (int i = 0; i < REPEATS; i++) {
        measure(d, &bare, true);
        measure(d, &cold_one, true);
        measure(d, &warm_one, false);
        measure(d, &cold_two, true);
        measure(d, &warm_two, false);
    }
    printf("medians of %d (least)\n", REPEATS);
    print("files read, cold", &bare);
    print("one thread, cold", &cold_one);
    print("one thread, from memory", &warm_one);
    print("two threads, cold", &cold_two);
    print("two threads, from memory", &warm_two);
}

int main(int argc, char **argv)
{
    disk d = {.campaign = {.n_stations = N_STATIONS,
                           .n_channels = N_CHANNELS,
                           .duration_s = DURATION_S,
                           .integration_s = DURATION_S,
                           .edge_hz = 8400e6,
                           .rotation = "after_fft"}};
    snprintf(d.folder, sizeof d.folder, "%s/whitefringe-cold-XXXXXX", argc > 1 ? argv[1] : "/tmp");
    if (mkdtemp(d.folder) == NULL)
        fail("no folder can be made there");
    const bool written = bench_campaign_write(&d.campaign, d.folder) == 0;
    if (written)
        measure_all(&d);
    bench_campaign_remove(&d.campaign, d.folder);
    return written ? EXIT_SUCCESS : EXIT_FAILURE;
}
