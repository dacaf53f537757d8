/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Reading a clean VDIF recording, every header held against the index, against
 * reading the same bytes and trusting their order. Both copy the payloads; the
 * file is in the page cache. */
#include <whitefringe/recording.h>

#include <fcntl.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "stopwatch.h"

enum {
  HEADER = 32,
  PAYLOAD = 8000,
  FRAME = HEADER + PAYLOAD,
  SAMPLES = 4 * PAYLOAD, /* of 2 bits */
  PER_SECOND = 2000,
  N_FRAMES = 32000,
  N_LOAD = 128, /* frames */
  REPEATS = 9,
};

static void fail(const char *what) {
  fprintf(stderr, "bench_recording: %s\n", what);
  exit(EXIT_FAILURE);
}

static void put_word(uint8_t *p, uint32_t word) {
  for (int i = 0; i < 4; i++)
    p[i] = (uint8_t)(word >> 8 * i & 0xff);
}

static void write_recording(const char *path) {
  static uint8_t frame[FRAME];
  FILE *file = fopen(path, "wb");
  uint32_t random = 1;
  for (size_t i = HEADER; i < FRAME; i++) {
    random = random * 1664525u + 1013904223u;
    frame[i] = (uint8_t)(random >> 24);
  }
  for (uint32_t i = 0; file != NULL && i < N_FRAMES; i++) {
    put_word(frame, 10000 + i / PER_SECOND);
    put_word(frame + 4, UINT32_C(52) << 24 | i % PER_SECOND);
    put_word(frame + 8, FRAME / 8);
    put_word(frame + 12, UINT32_C(1) << 26);
    if (fwrite(frame, 1, FRAME, file) != FRAME)
      fail("the recording cannot be written");
  }
  if (file == NULL || fclose(file) != 0)
    fail("the recording cannot be written");
}

static double read_robustly(const char *path, double *open_s) {
  wf_error err = WF_ERROR_INIT;
  wf_recording *recording = NULL;
  wf_window *window = NULL;
  const wf_recording_entry entry = {.paths = &path,
                                    .n_paths = 1,
                                    .format = WF_FILE_FORMAT_VDIF,
                                    .sample_rate_hz =
                                        (int64_t)PER_SECOND * SAMPLES};
  const int64_t n = (int64_t)N_LOAD * SAMPLES;
  const double before_s = bench_now_s();
  if (wf_recording_open(&recording, &entry, &err) != WF_OK ||
      wf_window_create(&window, recording, n, &err) != WF_OK)
    fail(err.message);
  const double begin_s = bench_now_s();
  *open_s = begin_s - before_s;
  for (int64_t i = 0; i < N_FRAMES / N_LOAD; i++)
    if (wf_window_load(window, i * n, n, &err) != WF_OK ||
        wf_window_thread(window, 0)->n_invalid != 0)
      fail(err.message);
  const double end_s = bench_now_s();
  wf_window_destroy(window);
  wf_recording_close(recording);
  return end_s - begin_s;
}

static double read_trusting(const char *path) {
  const size_t n_bytes = (size_t)N_LOAD * FRAME;
  uint8_t *chunk = malloc(n_bytes);
  uint8_t *samples = malloc((size_t)N_LOAD * PAYLOAD);
  const int fd = open(path, O_RDONLY);
  if (chunk == NULL || samples == NULL || fd < 0)
    fail("no memory, or no file");
  const double begin_s = bench_now_s();
  for (size_t i = 0; i < N_FRAMES / N_LOAD; i++) {
    if (pread(fd, chunk, n_bytes, (off_t)(i * n_bytes)) != (ssize_t)n_bytes)
      fail("the recording cannot be read");
    for (size_t k = 0; k < N_LOAD; k++)
      memcpy(samples + k * PAYLOAD, chunk + k * FRAME + HEADER, PAYLOAD);
  }
  const double end_s = bench_now_s();
  close(fd);
  free(chunk);
  free(samples);
  return end_s - begin_s;
}

int main(int argc, char **argv) {
  const char *path = argc > 1 ? argv[1] : "bench_recording.vdif";
  double robust_s[REPEATS], trusting_s[REPEATS], open_s[REPEATS];
  write_recording(path);
  for (size_t i = 0; i < REPEATS; i++) {
    robust_s[i] = read_robustly(path, &open_s[i]);
    trusting_s[i] = read_trusting(path);
  }
  unlink(path);
  const double bytes = (double)N_FRAMES * FRAME;
  const double robust = bench_median(robust_s, REPEATS);
  const double trusting = bench_median(trusting_s, REPEATS);
  printf("open %.1f ms; read %.2f GB/s, trusting %.2f GB/s: ratio of medians "
         "%.3f, of the least "
         "times %.3f\n",
         1e3 * bench_median(open_s, REPEATS), 1e-9 * bytes / robust,
         1e-9 * bytes / trusting, robust / trusting,
         robust_s[0] / trusting_s[0]);
  return EXIT_SUCCESS;
}
