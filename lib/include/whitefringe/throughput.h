/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How fast a machine correlates, against its own limits. */
#ifndef WHITEFRINGE_THROUGHPUT_H
#define WHITEFRINGE_THROUGHPUT_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <whitefringe/observation.h>
#include <whitefringe/status.h>

#ifdef __cplusplus
extern "C" {
#endif

/** A set-up, the same at every station. A stream is one station x one band x one polarization. */
typedef struct wf_throughput_setup {
    size_t n_stations;
    size_t n_polarizations; /* 1 or 2 */
    size_t n_bands;
    size_t n_channels; /* of a band */
    size_t n_products; /* 1 with one polarization; 2 (parallel hands) or 4 with two */
    int64_t sample_rate_hz;
    unsigned bits; /* of a sample, or of each of its parts: 1, 2, 4, 8, 16 */
    bool is_complex;
    double edge_hz; /* of the first band */
    double integration_s;
    wf_rotation rotation;
} wf_throughput_setup;

/** Two stations, two polarizations, one band of 16 MHz at 8.4 GHz in 1024 channels, two bits, all
 *  four products, integrations of about a second. */
WF_API wf_throughput_setup wf_throughput_setup_default(void);

typedef struct wf_throughput_options {
    int n_threads;         /* 0: as many as the machine has cores */
    double budget_s;       /* about how long to measure; planning comes on top */
    const char *scan_name; /* with a job: which scan is tried; NULL: its first */
    /* Seconds from any origin, ever growing: the library reads no clock. */
    double (*now_s)(void);
    /* Seconds that the calling thread has had a core, for what runs on it alone in memory: limits
     * and stages, which other programs then disturb least. NULL: now_s. */
    double (*thread_s)(void);
    /* Called between measurements; non-zero stops. NULL allowed. */
    int (*cancelled)(void);
    wf_warn warn; /* with a job; NULL allowed */
    void *context;
} wf_throughput_options;

/** How one number of stations keeps up. */
typedef struct wf_throughput_row {
    size_t n_stations;
    size_t n_streams;
    bool measured;            /* false: the sums of so many stations do not fit this machine */
    double stream_rate_hz;    /* samples a second of every stream at once */
    double real_time;         /* stream_rate_hz over the set-up's rate: 1 keeps up */
    double fraction_of_limit; /* time that the limits ask for over the time taken; all threads */
} wf_throughput_row;

/** Where one thread's time goes. Segments either go one by one, which takes UNPACK, TRANSFORM and
 *  PHASE, or in batches, EARLY and LATE. */
typedef enum wf_throughput_stage {
    WF_STAGE_READ,      /* samples out of their files (in the page cache) */
    WF_STAGE_UNPACK,    /* codes to numbers */
    WF_STAGE_TRANSFORM, /* FFT, with the rotation before it where there is one */
    WF_STAGE_PHASE,     /* delay and fringe phase, with the order of channels */
    WF_STAGE_EARLY,     /* codes to numbers, rotation and the early part of the FFT, at once */
    WF_STAGE_LATE,      /* the late part of the FFT, delay and fringe phase, at once */
    WF_STAGE_CROSS,     /* cross-multiplication */
    WF_STAGE_INTEGRATE, /* normalising the sums */
    WF_STAGE_OTHER,     /* what is left: delays, validity, waiting for memory */
    WF_N_STAGES
} wf_throughput_stage;

enum { WF_THROUGHPUT_ROWS = 6, WF_THROUGHPUT_NAME_BYTES = 16 };

/** Reading a job's files from the disk, the page cache told to forget them before. */
typedef struct wf_throughput_disk {
    bool measured;
    double bytes; /* read */
    double bytes_per_s;
    double needed_bytes_per_s; /* that the job's files hold for a second of observation */
    double real_time;          /* the former over the latter */
} wf_throughput_disk;

typedef struct wf_throughput {
    wf_throughput_setup setup; /* measured */
    int n_threads;
    char kernels[WF_THROUGHPUT_NAME_BYTES];
    char fma_vectors[WF_THROUGHPUT_NAME_BYTES]; /* how the peak was reached */
    double fma_flops_per_s;                     /* peak of one core */
    double fft_samples_per_s;                   /* bare transforms of one core, data in cache */
    wf_throughput_row own;                      /* the set-up; with a job: its own files */
    double stage_share[WF_N_STAGES];            /* of one thread's time; their sum is 1 */
    wf_throughput_row rows[WF_THROUGHPUT_ROWS]; /* 2 to 64 stations of the set-up, in memory */
    double stations_in_real_time; /* that just keep up, between the rows; 0: not even two */
    bool more_stations;           /* the largest row measured keeps up: it may be more */
    wf_throughput_disk disk;
} wf_throughput;

/** Words for a stage: "cross-multiply". */
WF_API const char *wf_throughput_stage_name(wf_throughput_stage stage);

/** Measure a set-up, or a job.
 *
 *  given     setup  read where job is NULL
 *            job    NULL, or: its recordings are read and correlated in part, nothing is written;
 *                   the rows are of the set-up of its first stream
 *  status    OK | ARGUMENT: a set-up that cannot be | as wf_correlate | CANCELLED | MEMORY
 */
WF_API WF_MUST_CHECK wf_status wf_throughput_measure(wf_throughput *out,
                                                     const wf_throughput_setup *setup,
                                                     const wf_observation *job,
                                                     const wf_throughput_options *options,
                                                     wf_error *err);

#ifdef __cplusplus
}
#endif

#endif
