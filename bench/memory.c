/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Memory that `correlate` takes: many stations and channels on two threads, and recordings of
 * growing length, which it must not grow with. Each job in a process of its own. */
#include <stdio.h>
#include <stdlib.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>
#include <whitefringe/run.h>

#include "arguments.h"
#include "campaign.h"

enum { THREADS = 2 };

/* Peak resident memory of this process, bytes (Linux counts in KiB); negative where it failed. */
static double correlate_here(const char *folder)
{
    char job[BENCH_PATH_BYTES];
    char output[BENCH_PATH_BYTES];
    snprintf(job, sizeof job, "%s/job.yaml", folder);
    snprintf(output, sizeof output, "%s/out.fits", folder);
    wf_error err = WF_ERROR_INIT;
    wf_observation *observation = NULL;
    wf_correlate_summary summary = {0};
    struct rusage usage = {0};
    const wf_correlate_options options = {.n_threads = THREADS};
    wf_status status = wf_observation_load(&observation, job, &err);
    if (status == WF_OK)
        status = wf_correlate(observation, output, &options, &summary, &err);
    if (status != WF_OK) {
        fprintf(stderr, "%s\n", err.message);
        return -1;
    }
    getrusage(RUSAGE_SELF, &usage);
    return 1024.0 * (double)usage.ru_maxrss;
}

static double correlate_in_child(const char *folder)
{
    int ends[2];
    double bytes = -1;
    if (pipe(ends) != 0)
        return -1;
    const pid_t child = fork();
    if (child == 0) {
        bytes = correlate_here(folder);
        _exit(write(ends[1], &bytes, sizeof bytes) == (ssize_t)sizeof bytes ? 0 : 1);
    }
    close(ends[1]);
    if (child < 0 || read(ends[0], &bytes, sizeof bytes) != (ssize_t)sizeof bytes)
        bytes = -1;
    close(ends[0]);
    if (child > 0)
        waitpid(child, NULL, 0);
    return bytes;
}

static bool measure(const bench_arguments *asked, const bench_campaign *campaign)
{
    static const char machine[] = "{\"stations\": %zu, \"channels\": %zu, \"threads\": %d, "
                                  "\"duration_s\": %.4g, \"peak_memory_bytes\": %.0f}\n";
    char folder[] = "/tmp/whitefringe-bench-XXXXXX";
    if (mkdtemp(folder) == NULL)
        return false;
    const double bytes =
        bench_campaign_write(campaign, folder) == 0 ? correlate_in_child(folder) : -1;
    bench_campaign_remove(campaign, folder);
    if (bytes < 0)
        return false;
    if (asked->json)
        printf(machine, campaign->n_stations, campaign->n_channels, THREADS, campaign->duration_s,
               bytes);
    else
        printf("%3zu stations %6zu channels  %d threads  %8.3f s of data  %8.1f MiB\n",
               campaign->n_stations, campaign->n_channels, THREADS, campaign->duration_s,
               bytes / (1 << 20));
    fflush(stdout);
    return true;
}

int main(int argc, char **argv)
{
    static const double durations_s[] = {0.512, 2.048, 8.192};
    bench_arguments asked = {.stations = {{64}, 1}, .channels = {{4096}, 1}};
    if (!bench_arguments_parse(&asked, argc, argv))
        return 2;
    bench_campaign campaign = {.n_stations = 2,
                               .n_channels = 1024,
                               .integration_s = 0.256,
                               .edge_hz = 8400e6,
                               .rotation = "after_fft"};
    for (size_t i = 0; i < sizeof durations_s / sizeof durations_s[0]; i++) {
        campaign.duration_s = durations_s[i];
        if (!measure(&asked, &campaign))
            return 3;
    }
    for (size_t s = 0; s < asked.stations.n; s++) {
        for (size_t c = 0; c < asked.channels.n; c++) {
            campaign.n_stations = asked.stations.values[s];
            campaign.n_channels = asked.channels.values[c];
            campaign.duration_s = 0.256;
            campaign.integration_s = 0.128;
            if (!measure(&asked, &campaign))
                return 3;
        }
    }
    return 0;
}
