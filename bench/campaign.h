/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Recordings to measure on: random two-bit samples of two polarizations, with a job beside them. */
#ifndef BENCH_CAMPAIGN_H
#define BENCH_CAMPAIGN_H

#include <stddef.h>
#include <stdint.h>

typedef struct bench_campaign {
    size_t n_stations;
    size_t n_channels;
    double duration_s;
    double integration_s;
    double edge_hz;
    const char *rotation; /* as the job's fringe_rotation */
} bench_campaign;

enum { BENCH_SAMPLE_RATE_HZ = 32000000, BENCH_N_POLARIZATIONS = 2, BENCH_PATH_BYTES = 512 };

/** Write recordings and job.yaml into a folder that exists; 0, or -1 with a message on stderr. */
int bench_campaign_write(const bench_campaign *campaign, const char *folder);

/** Samples of all streams that the job's scan asks for. */
double bench_campaign_samples(const bench_campaign *campaign);

/** Remove what was written, and the folder. */
void bench_campaign_remove(const bench_campaign *campaign, const char *folder);

#endif
