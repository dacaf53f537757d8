/* SPDX-License-Identifier: GPL-3.0-or-later */
/* whitefringe throughput: how fast this machine correlates, against its own limits. */
#include <math.h>
#include <string.h>
#include <time.h>
#include <whitefringe/observation.h>
#include <whitefringe/throughput.h>

#include "cancel.h"
#include "progress.h"
#include "throughput_text.h"
#include "verbs.h"

static const double BUDGET_S = 4;

static double read_clock(clockid_t id)
{
    struct timespec t;
    clock_gettime(id, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

static double now_s(void)
{
    return read_clock(CLOCK_MONOTONIC);
}

static double thread_s(void)
{
    return read_clock(CLOCK_THREAD_CPUTIME_ID);
}

static size_t or_default(int asked, size_t value)
{
    return asked > 0 ? (size_t)asked : value;
}

static wf_throughput_setup setup_of(const option_setup *asked)
{
    wf_throughput_setup setup = wf_throughput_setup_default();
    setup.n_stations = or_default(asked->stations, setup.n_stations);
    setup.n_polarizations = or_default(asked->polarizations, setup.n_polarizations);
    setup.n_bands = or_default(asked->bands, setup.n_bands);
    setup.n_channels = or_default(asked->channels, setup.n_channels);
    setup.bits = (unsigned)or_default(asked->bits, setup.bits);
    setup.is_complex = asked->complex_samples;
    setup.n_products = setup.n_polarizations == 1 ? 1 : 4;
    if (asked->rate_hz > 0)
        setup.sample_rate_hz = (int64_t)asked->rate_hz;
    if (asked->edge_hz > 0)
        setup.edge_hz = asked->edge_hz;
    if (asked->integration_s > 0)
        setup.integration_s = asked->integration_s;
    return setup;
}

static const char *check(const settings *asked)
{
    static const double RATE_MAX_HZ = 1e12;
    const option_setup *s = &asked->setup;
    const bool any = s->stations > 0 || s->polarizations > 0 || s->bands > 0 || s->channels > 0 ||
                     s->bits > 0 || s->rate_hz > 0 || s->edge_hz > 0 || s->integration_s > 0 ||
                     s->complex_samples;
    if (asked->operand != NULL && any)
        return "a job has its own set-up: give either JOB.yaml or --stations and the like";
    if (asked->operand == NULL && asked->scan != NULL)
        return "--scan is for a job";
    if (s->polarizations > 2)
        return "--polarizations is 1 or 2";
    if (s->bits > 16 || (s->bits & (s->bits - 1)) != 0)
        return "--bits is 1, 2, 4, 8 or 16";
    if (floor(s->rate_hz) != s->rate_hz || s->rate_hz > RATE_MAX_HZ)
        return "--rate is a whole number of samples a second, at most 1e12";
    return NULL;
}

static wf_status run(const settings *asked, wf_error *err)
{
    wf_throughput measured = {0};
    wf_observation *job = NULL;
    wf_status status = WF_OK;
    const wf_throughput_setup setup = setup_of(&asked->setup);
    if (asked->operand != NULL)
        status = wf_observation_load(&job, asked->operand, err);
    if (status == WF_OK) {
        progress bar = progress_start("throughput");
        const wf_throughput_options options = {
            .n_threads = asked->threads,
            .budget_s = asked->seconds > 0 ? asked->seconds : BUDGET_S,
            .scan_name = asked->scan,
            .now_s = now_s,
            .thread_s = thread_s,
            .cancelled = cancel_requested,
            .warn = progress_warn,
            .context = &bar,
        };
        status = wf_throughput_measure(&measured, &setup, job, &options, err);
        progress_end(&bar);
    }
    if (status == WF_OK && asked->json)
        status = throughput_print_json(&measured, asked->operand, err);
    else if (status == WF_OK)
        throughput_print_text(&measured, asked->operand);
    wf_observation_destroy(job);
    return status;
}

#define SETUP_OPTION(field, option_name, word, text, option_kind)                                  \
    static const option option_##field = {.name = option_name,                                     \
                                          .value = word,                                           \
                                          .help = text,                                            \
                                          .offset = offsetof(settings, setup.field),               \
                                          .kind = option_kind}
SETUP_OPTION(stations, "stations", "N", "stations (default 2)", OPTION_COUNT);
SETUP_OPTION(polarizations, "polarizations", "N", "1 or 2 (default 2, all products)", OPTION_COUNT);
SETUP_OPTION(bands, "bands", "N", "recorded bands of a station (default 1)", OPTION_COUNT);
SETUP_OPTION(channels, "channels", "N", "channels of a band (default 1024)", OPTION_COUNT);
SETUP_OPTION(bits, "bits", "N", "bits of a sample: 1, 2, 4, 8, 16 (default 2)", OPTION_COUNT);
SETUP_OPTION(rate_hz, "rate", "HZ", "samples a second of a stream (default 32e6)", OPTION_HERTZ);
SETUP_OPTION(edge_hz, "edge", "HZ", "sky frequency of the first band (default 8.4e9)",
             OPTION_HERTZ);
SETUP_OPTION(integration_s, "integration", "SECONDS", "length of an integration (default 1)",
             OPTION_SECONDS);
SETUP_OPTION(complex_samples, "complex", NULL, "complex samples (default: real ones)", OPTION_FLAG);

static const option option_seconds = {.name = "seconds",
                                      .value = "SECONDS",
                                      .help = "about how long to measure (default 4)",
                                      .offset = offsetof(settings, seconds),
                                      .kind = OPTION_SECONDS};
static const option *const options[] = {&option_stations,
                                        &option_polarizations,
                                        &option_bands,
                                        &option_channels,
                                        &option_rate_hz,
                                        &option_bits,
                                        &option_edge_hz,
                                        &option_integration_s,
                                        &option_complex_samples,
                                        &option_scan,
                                        &option_threads,
                                        &option_seconds,
                                        &option_json,
                                        NULL};

const verb verb_throughput = {
    .name = "throughput",
    .summary = "how fast this machine correlates, against its own limits",
    .operand = "JOB.yaml",
    .operand_optional = true,
    .details =
        "Without a job: a set-up of invented stations, its samples in memory. With a job: its\n"
        "recordings are read from the disk and correlated for a moment; nothing is written.\n"
        "The limit is measured too: the time that bare transforms of the same samples and the\n"
        "multiply-additions at the core's peak would take.\n",
    .options = options,
    .check = check,
    .run = run,
};
