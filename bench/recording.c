/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Reading a clean VDIF recording, every header held against the index and fill looked for, against
 * reading it trusting its headers and against trusting its mere order. All copy the payloads to
 * where their thread's samples belong; the file is in the page cache. */
#include <whitefringe/recording.h>

#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>

#include "interleave.h"
#include "trusting_reader.h"

enum {
    HEADER = 32,
    FIRST_SECOND = 10000,
    PER_SECOND = 2000, /* frames of a thread */
    FILE_BYTES = 256 << 20,
    LOAD_BYTES = 1 << 20,
    LONGEST_FRAME = 8032,
    REPEATS = 60,
};

/* How a recording is cut. */
typedef struct cut {
    const char *path;
    size_t frame;
    size_t n_threads;
    size_t n_cycles; /* frames of each thread */
    size_t per_load; /* of them */
    wf_recording *recording;
    wf_window *window;
    bench_trusting_reader trusting;
} cut;

static void fail(const char *what)
{
    fprintf(stderr, "recording: %s\n", what);
    exit(EXIT_FAILURE);
}

static void put_word(uint8_t *p, uint32_t word)
{
    for (int i = 0; i < 4; i++)
        p[i] = (uint8_t)(word >> 8 * i & 0xff);
}

static void write_recording(const cut *c)
{
    static uint8_t frame[LONGEST_FRAME];
    FILE *file = fopen(c->path, "wb");
    uint32_t random = 1;
    for (size_t i = HEADER; i < c->frame; i++) {
        random = random * 1664525u + 1013904223u;
        frame[i] = (uint8_t)(random >> 24);
    }
    for (size_t i = 0; file != NULL && i < c->n_cycles * c->n_threads; i++) {
        const uint32_t k = (uint32_t)(i / c->n_threads);
        put_word(frame, FIRST_SECOND + k / PER_SECOND);
        put_word(frame + 4, UINT32_C(52) << 24 | k % PER_SECOND);
        put_word(frame + 8, (uint32_t)(c->frame / 8));
        put_word(frame + 12, UINT32_C(1) << 26 | (uint32_t)(i % c->n_threads) << 16);
        if (fwrite(frame, 1, c->frame, file) != c->frame)
            fail("the recording cannot be written");
    }
    if (file == NULL || fclose(file) != 0)
        fail("the recording cannot be written");
}

static int64_t samples_per_frame(const cut *c)
{
    return 4 * (int64_t)(c->frame - HEADER); /* of 2 bits */
}

static bool read_robustly(void *context)
{
    const cut *c = context;
    wf_error err = WF_ERROR_INIT;
    const int64_t n = (int64_t)c->per_load * samples_per_frame(c);
    for (size_t i = 0; i < c->n_cycles / c->per_load; i++) {
        if (wf_window_load(c->window, (int64_t)i * n, n, &err) != WF_OK)
            fail(err.message);
        for (size_t t = 0; t < c->n_threads; t++)
            if (wf_window_thread(c->window, t)->n_invalid != 0)
                fail("a clean recording lacks samples");
    }
    return true;
}

static bool read_trusting(cut *c, bool (*load)(bench_trusting_reader *, size_t))
{
    for (size_t i = 0; i < c->n_cycles / c->per_load; i++)
        if (!load(&c->trusting, i))
            fail("a clean recording lacks frames");
    return true;
}

static bool read_by_headers(void *context)
{
    return read_trusting(context, bench_trusting_load_by_headers);
}

static bool read_by_order(void *context)
{
    return read_trusting(context, bench_trusting_load_by_order);
}

static void open_cut(cut *c)
{
    wf_error err = WF_ERROR_INIT;
    const int64_t n = (int64_t)c->per_load * samples_per_frame(c);
    const wf_recording_entry entry = {.paths = &c->path,
                                      .n_paths = 1,
                                      .format = WF_FILE_FORMAT_VDIF,
                                      .sample_rate_hz = PER_SECOND * samples_per_frame(c)};
    if (wf_recording_open(&c->recording, &entry, &err) != WF_OK ||
        wf_window_create(&c->window, c->recording, n, &err) != WF_OK)
        fail(err.message);
    c->trusting = (bench_trusting_reader){.frame = c->frame,
                                          .n_threads = c->n_threads,
                                          .per_load = c->per_load,
                                          .first_second = FIRST_SECOND,
                                          .per_second = PER_SECOND};
    if (!bench_trusting_open(&c->trusting, c->path))
        fail("no memory, or no file");
}

static void close_cut(cut *c)
{
    wf_window_destroy(c->window);
    wf_recording_close(c->recording);
    bench_trusting_close(&c->trusting);
    unlink(c->path);
}

static void print_ratios(const char *what, const bench_subject *robust, const bench_subject *other)
{
    printf(", %s %.3f (%.3f; %.3f)", what,
           bench_subject_median(robust) / bench_subject_median(other),
           bench_subject_least(robust) / bench_subject_least(other),
           bench_subject_paired(robust, other));
}

static void measure(const char *path, size_t frame, size_t n_threads)
{
    cut c = {.path = path, .frame = frame, .n_threads = n_threads};
    c.per_load = LOAD_BYTES / (frame * n_threads);
    c.n_cycles = FILE_BYTES / (frame * n_threads) / c.per_load * c.per_load;
    write_recording(&c);
    open_cut(&c);
    bench_subject robust = {.run = read_robustly, .context = &c};
    bench_subject headers = {.run = read_by_headers, .context = &c};
    bench_subject order = {.run = read_by_order, .context = &c};
    bench_subject *const subjects[] = {&robust, &headers, &order};
    bench_interleave(subjects, 3, REPEATS, bench_thread_s);
    const double bytes = (double)(c.n_cycles * n_threads * frame);
    printf("%2zu threads, frames of %4zu bytes: %.2f GB/s", n_threads, frame,
           1e-9 * bytes / bench_subject_median(&robust));
    print_ratios("over trusting the headers", &robust, &headers);
    print_ratios("the order", &robust, &order);
    printf("\n");
    fflush(stdout);
    close_cut(&c);
}

int main(int argc, char **argv)
{
    static const size_t cuts[][2] = {{8032, 1}, {8032, 8}, {5032, 8}, {1032, 1}, {1032, 16}};
    const char *path = argc > 1 ? argv[1] : "bench_recording.vdif";
    printf("time of reading with every header checked, by that of reading trustingly: of medians "
           "(of the least times; median of those of neighbouring reads)\n");
    for (size_t i = 0; i < sizeof cuts / sizeof cuts[0]; i++)
        measure(path, cuts[i][0], cuts[i][1]);
    return EXIT_SUCCESS;
}
