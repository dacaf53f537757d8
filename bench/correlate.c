/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The whole of `correlate`, recordings in the page cache to a FITS-IDI file written, as a ratio to
 * FFTW's bare real transforms of the same samples. */
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <whitefringe/run.h>

#include "campaign.h"
#include "stopwatch.h"
#include "transforms.h"

enum { REPEATS = 5 };

static bool correlate_once(const char *folder, int n_threads, double *seconds)
{
    char job[BENCH_PATH_BYTES];
    char output[BENCH_PATH_BYTES];
    snprintf(job, sizeof job, "%s/job.yaml", folder);
    snprintf(output, sizeof output, "%s/out.fits", folder);
    wf_error err = WF_ERROR_INIT;
    wf_observation *observation = NULL;
    wf_correlate_summary summary = {0};
    const wf_correlate_options options = {.n_threads = n_threads};
    wf_status status = wf_observation_load(&observation, job, &err);
    const double begin = bench_now_s();
    if (status == WF_OK)
        status = wf_correlate(observation, output, &options, &summary, &err);
    *seconds = bench_now_s() - begin;
    wf_correlate_summary_release(&summary);
    wf_observation_destroy(observation);
    if (status != WF_OK)
        fprintf(stderr, "%s\n", err.message);
    return status == WF_OK;
}

static void print_case(const bench_campaign *campaign, int n_threads, double correlate_s,
                       double r2c_s, bool json)
{
    static const char human[] = "%3zu stations %6zu channels %2d threads  rotation %-10s "
                                "correlate %7.3f s  r2c %7.3f s  ratio %.2f\n";
    static const char machine[] =
        "{\"stations\": %zu, \"channels\": %zu, \"threads\": %d, \"rotation\": \"%s\", "
        "\"t_correlate_s\": %.6g, \"t_r2c_s\": %.6g, \"ratio_r2c\": %.4g}\n";
    printf(json ? machine : human, campaign->n_stations, campaign->n_channels, n_threads,
           campaign->rotation, correlate_s, r2c_s, correlate_s / r2c_s);
    fflush(stdout);
}

static bool measure(const bench_campaign *campaign, int n_threads, bool json)
{
    char folder[] = "/tmp/whitefringe-bench-XXXXXX";
    double correlate_s[REPEATS];
    double r2c_s[REPEATS];
    double unused = 0;
    if (mkdtemp(folder) == NULL)
        return false;
    bench_transforms *transforms = bench_transforms_create(campaign->n_channels);
    bool done = transforms != NULL && bench_campaign_write(campaign, folder) == 0 &&
                correlate_once(folder, n_threads, &unused);
    for (size_t i = 0; i < REPEATS && done; i++) {
        r2c_s[i] = bench_transforms_time_s(transforms, bench_campaign_samples(campaign));
        done = correlate_once(folder, n_threads, &correlate_s[i]);
    }
    if (done)
        print_case(campaign, n_threads, bench_median(correlate_s, REPEATS),
                   bench_median(r2c_s, REPEATS), json);
    bench_campaign_remove(campaign, folder);
    bench_transforms_destroy(transforms);
    return done;
}

int main(int argc, char **argv)
{
    static const size_t stations[] = {2, 4, 8};
    static const size_t channels[] = {256, 1024, 4096};
    const bool json = argc == 2 && strcmp(argv[1], "--json") == 0;
    if (argc > 1 && !json) {
        fprintf(stderr, "usage: %s [--json]\n", argv[0]);
        return 2;
    }
    for (size_t s = 0; s < sizeof stations / sizeof stations[0]; s++) {
        for (size_t c = 0; c < sizeof channels / sizeof channels[0]; c++) {
            bench_campaign campaign = {.n_stations = stations[s],
                                       .n_channels = channels[c],
                                       .duration_s = 2.048,
                                       .integration_s = 0.256,
                                       .edge_hz = 8400e6,
                                       .rotation = "after_fft"};
            if (!measure(&campaign, 1, json))
                return 3;
            campaign.rotation = "before_fft";
            if (channels[c] == 1024 && !measure(&campaign, 1, json))
                return 3;
            campaign.rotation = "after_fft";
            if (channels[c] == 1024 && !measure(&campaign, 2, json))
                return 3;
        }
    }
    return 0;
}
