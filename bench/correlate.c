/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The whole of `correlate`, recordings in the page cache to a FITS-IDI file written: against the
 * engine alone on as many samples in memory, and two threads against one. Time on the wall. */
#include <stdio.h>
#include <stdlib.h>

#include "campaign.h"
#include "correlate_run.h"
#include "engine_run.h"
#include "interleave.h"
#include "stopwatch.h"
#include "subjects.h"

/* Of all stations together: seconds of each, so that what a run begins with counts little. */
static const double STATION_SECONDS = 65.536;
static const double STATION_SECONDS_QUICK = 4.096;

/* Of a run over another, by medians and by the least times, which other programs disturb least. */
typedef struct ratio {
    double median;
    double least;
} ratio;

static ratio ratio_of(const bench_subject *a, const bench_subject *b, double scale)
{
    return (ratio){bench_subject_median(a) / bench_subject_median(b) * scale,
                   bench_subject_least(a) / bench_subject_least(b) * scale};
}

/* engine_scale: samples of a run of correlate over those of one of the engine. */
static void print_case(const bench_arguments *asked, const bench_campaign *campaign,
                       const char *shape, const bench_subject *one, const bench_subject *two,
                       const bench_subject *engine, double engine_scale)
{
    const double one_s = bench_subject_median(one);
    const double two_s = bench_subject_median(two);
    const double engine_s = engine_scale * bench_subject_median(engine);
    const double per_s = bench_campaign_samples(campaign) / two_s;
    const ratio over = ratio_of(one, engine, 1 / engine_scale);
    const ratio speed_up = ratio_of(one, two, 1);
    if (asked->json)
        printf("{\"stations\": %zu, \"channels\": %zu, \"integrations\": \"%s\", "
               "\"t_one_thread_s\": %.5g, \"t_two_threads_s\": %.5g, \"t_engine_s\": %.5g, "
               "\"ratio_engine\": %.4g, \"ratio_engine_least\": %.4g, "
               "\"speed_up_two_threads\": %.4g, \"speed_up_two_threads_least\": %.4g, "
               "\"samples_per_s_two_threads\": %.5g}\n",
               campaign->n_stations, campaign->n_channels, shape, one_s, two_s, engine_s,
               over.median, over.least, speed_up.median, speed_up.least, per_s);
    else
        printf("%3zu stations %6zu channels  %-4s integrations  one thread %7.3f s (engine alone "
               "%7.3f s: %.3f, least %.3f)  two %7.3f s: %.3f times as fast (least %.3f), %.4g "
               "Msample/s\n",
               campaign->n_stations, campaign->n_channels, shape, one_s, engine_s, over.median,
               over.least, two_s, speed_up.median, speed_up.least, 1e-6 * per_s);
    fflush(stdout);
}

static bool time_case(const bench_arguments *asked, const bench_campaign *campaign,
                      const char *shape, const char *folder, bench_engine *engine)
{
    bench_correlate_run one = {.n_threads = 1, .err = WF_ERROR_INIT};
    bench_correlate_run two = {.n_threads = 2, .err = WF_ERROR_INIT};
    snprintf(one.folder, sizeof one.folder, "%s", folder);
    snprintf(two.folder, sizeof two.folder, "%s", folder);
    bench_subject one_subject = {.run = bench_correlate, .context = &one};
    bench_subject two_subject = {.run = bench_correlate, .context = &two};
    bench_subject engine_subject = {.run = bench_engine_run, .context = engine};
    bench_subject *const subjects[] = {&one_subject, &two_subject, &engine_subject};
    if (!bench_interleave(subjects, 3, bench_repeats(asked), bench_now_s)) {
        fprintf(stderr, "%s%s%s\n", one.err.message, two.err.message, engine->err.message);
        return false;
    }
    print_case(asked, campaign, shape, &one_subject, &two_subject, &engine_subject,
               bench_campaign_samples(campaign) / wfi_scene_samples(&engine->setup));
    return true;
}

static bool measure(const bench_arguments *asked, const bench_campaign *campaign, const char *shape)
{
    char folder[] = "/tmp/whitefringe-bench-XXXXXX";
    const wfi_scene_setup setup =
        bench_engine_setup(asked, campaign->n_stations, campaign->n_channels);
    bench_engine engine;
    if (mkdtemp(folder) == NULL)
        return false;
    const bool opened = bench_engine_open(&engine, &setup);
    if (!opened)
        fprintf(stderr, "%s\n", engine.err.message);
    const bool done = opened && bench_campaign_write(campaign, folder) == 0 &&
                      time_case(asked, campaign, shape, folder, &engine);
    bench_engine_close(&engine);
    bench_campaign_remove(campaign, folder);
    return done;
}

int main(int argc, char **argv)
{
    bench_arguments asked = {.stations = {{2, 4, 8}, 3}, .channels = {{256, 1024, 4096}, 3}};
    if (!bench_arguments_parse(&asked, argc, argv))
        return 2;
    const double station_seconds = asked.quick ? STATION_SECONDS_QUICK : STATION_SECONDS;
    for (size_t s = 0; s < asked.stations.n; s++) {
        const double duration_s = station_seconds / (double)asked.stations.values[s];
        for (size_t c = 0; c < asked.channels.n; c++) {
            bench_campaign campaign = {.n_stations = asked.stations.values[s],
                                       .n_channels = asked.channels.values[c],
                                       .duration_s = duration_s,
                                       .integration_s = duration_s,
                                       .edge_hz = 8400e6,
                                       .rotation = "after_fft"};
            if (!measure(&asked, &campaign, "one"))
                return 3;
            campaign.integration_s = 0.256;
            if (!measure(&asked, &campaign, "many"))
                return 3;
        }
    }
    return 0;
}
