/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What was measured of a machine, for people and for programs. */
#include "throughput_text.h"

#include <stdio.h>

#include "json.h"

static wf_throughput_stage longest_stage(const wf_throughput *t)
{
    int longest = 0;
    for (int i = 1; i < WF_N_STAGES; i++) {
        if (t->stage_share[i] > t->stage_share[longest])
            longest = i;
    }
    return (wf_throughput_stage)longest;
}

void throughput_bottleneck(const wf_throughput *t, char text[BOTTLENECK_BYTES])
{
    static const char *const words[] = {
        [WF_STAGE_READ] = "reading: taking frames apart takes longest",
        [WF_STAGE_UNPACK] = "the cores: unpacking samples takes longest",
        [WF_STAGE_TRANSFORM] = "the cores: the transforms take longest",
        [WF_STAGE_PHASE] = "the cores: delay and fringe phase take longest",
        [WF_STAGE_EARLY] = "the cores: unpacking and the early part of the transforms take longest",
        [WF_STAGE_LATE] = "the cores: the late part of the transforms, with delay and fringe "
                          "phase, takes longest",
        [WF_STAGE_CROSS] = "the cores: the cross-multiplication takes longest",
        [WF_STAGE_INTEGRATE] = "the integrations are short: normalising them takes longest",
        [WF_STAGE_OTHER] = "the memory: data on their way between the stages take longest",
    };
    if (t->disk.measured && t->disk.real_time < t->own.real_time) {
        snprintf(text, BOTTLENECK_BYTES,
                 "the disks: they give %.3g times real time, the cores could take %.3g",
                 t->disk.real_time, t->own.real_time);
        return;
    }
    snprintf(text, BOTTLENECK_BYTES, "%s (%.0f %% of a thread's time)", words[longest_stage(t)],
             100 * t->stage_share[longest_stage(t)]);
}

static void print_setup(const wf_throughput *t, const char *job)
{
    const wf_throughput_setup *s = &t->setup;
    printf("set-up      %zu stations x %zu polarization%s x %zu band%s: %zu streams of %.6g "
           "Msample/s,\n            %u-bit %s samples; %zu channels a band, %zu product%s%s%s\n",
           s->n_stations, s->n_polarizations, s->n_polarizations == 1 ? "" : "s", s->n_bands,
           s->n_bands == 1 ? "" : "s", t->own.n_streams, 1e-6 * (double)s->sample_rate_hz, s->bits,
           s->is_complex ? "complex" : "real", s->n_channels, s->n_products,
           s->n_products == 1 ? "" : "s", job != NULL ? "; from " : "; samples in memory",
           job != NULL ? job : "");
    printf("machine     %d thread%s, %s kernels; of one core: %.4g GFLOP/s of multiply-additions "
           "(%s),\n            %.4g Msample/s of bare transforms\n\n",
           t->n_threads, t->n_threads == 1 ? "" : "s", t->kernels, 1e-9 * t->fma_flops_per_s,
           t->fma_vectors, 1e-6 * t->fft_samples_per_s);
}

static void print_own(const wf_throughput *t)
{
    printf("correlates  %.4g Msample/s of every stream at once: %zu streams x %.4g Msample/s,\n"
           "            %.3g x real time, %.0f %% of what these cores could do at the limit\n",
           1e-6 * t->own.stream_rate_hz, t->own.n_streams, 1e-6 * t->own.stream_rate_hz,
           t->own.real_time, 100 * t->own.fraction_of_limit);
    if (t->disk.measured)
        printf("disks       %.4g MB/s (%.4g MB read), %.4g MB/s are needed in real time: %.3g x\n",
               1e-6 * t->disk.bytes_per_s, 1e-6 * t->disk.bytes, 1e-6 * t->disk.needed_bytes_per_s,
               t->disk.real_time);
    char text[BOTTLENECK_BYTES];
    throughput_bottleneck(t, text);
    printf("bottleneck  %s\n\nwhere a thread's time goes\n", text);
    for (int i = 0; i < WF_N_STAGES; i++) {
        if (t->stage_share[i] > 0)
            printf("  %-16s %5.1f %%\n", wf_throughput_stage_name((wf_throughput_stage)i),
                   100 * t->stage_share[i]);
    }
}

static void print_row(const wf_throughput_row *row)
{
    if (row->measured)
        printf("  %8zu  %7zu  %18.4g  %11.3g  %10.0f %%\n", row->n_stations, row->n_streams,
               1e-6 * row->stream_rate_hz, row->real_time, 100 * row->fraction_of_limit);
    else
        printf("  %8zu  %7zu  the sums of so many do not fit this machine's memory\n",
               row->n_stations, row->n_streams);
}

void throughput_print_text(const wf_throughput *t, const char *job)
{
    print_setup(t, job);
    print_own(t);
    printf("\nthe set-up for other numbers of stations, samples in memory\n  %8s  %7s  %18s  %11s  "
           "%12s\n",
           "stations", "streams", "Msample/s a stream", "x real time", "of the limit");
    for (size_t i = 0; i < WF_THROUGHPUT_ROWS; i++)
        print_row(&t->rows[i]);
    if (t->stations_in_real_time > 0)
        printf("keeps up in real time with %s%.0f stations at %.6g Msample/s a stream\n",
               t->more_stations ? "at least " : "", t->stations_in_real_time,
               1e-6 * (double)t->setup.sample_rate_hz);
    else
        printf("keeps up in real time with no two stations at %.6g Msample/s a stream\n",
               1e-6 * (double)t->setup.sample_rate_hz);
}

static void add_setup(json *out, const wf_throughput_setup *s, size_t n_streams)
{
    json_open(out, "set_up", '{');
    json_count(out, "stations", (int64_t)s->n_stations);
    json_count(out, "polarizations", (int64_t)s->n_polarizations);
    json_count(out, "bands", (int64_t)s->n_bands);
    json_count(out, "streams", (int64_t)n_streams);
    json_count(out, "channels", (int64_t)s->n_channels);
    json_count(out, "products", (int64_t)s->n_products);
    json_count(out, "sample_rate_hz", s->sample_rate_hz);
    json_count(out, "bits", s->bits);
    json_bool(out, "complex", s->is_complex);
    json_number(out, "edge_hz", s->edge_hz);
    json_number(out, "integration_s", s->integration_s);
    json_close(out);
}

/* Without figures where it was not measured: null, not 0. */
static void add_row(json *out, const char *key, const wf_throughput_row *row)
{
    json_open(out, key, '{');
    json_count(out, "stations", (int64_t)row->n_stations);
    json_count(out, "streams", (int64_t)row->n_streams);
    json_bool(out, "measured", row->measured);
    if (row->measured) {
        json_number(out, "samples_per_s_per_stream", row->stream_rate_hz);
        json_number(out, "samples_per_s", row->stream_rate_hz * (double)row->n_streams);
        json_number(out, "real_time_factor", row->real_time);
        json_number(out, "fraction_of_limit", row->fraction_of_limit);
    }
    json_close(out);
}

static void add_machine(json *out, const wf_throughput *t)
{
    json_open(out, "machine", '{');
    json_count(out, "threads", t->n_threads);
    json_text(out, "kernels", t->kernels);
    json_text(out, "fma_vectors", t->fma_vectors);
    json_number(out, "fma_peak_flops_per_s_per_core", t->fma_flops_per_s);
    json_number(out, "bare_fft_samples_per_s_per_core", t->fft_samples_per_s);
    json_close(out);
}

static void add_disk(json *out, const wf_throughput_disk *disk)
{
    if (!disk->measured) {
        json_text(out, "disk", NULL);
        return;
    }
    json_open(out, "disk", '{');
    json_number(out, "bytes_read", disk->bytes);
    json_number(out, "bytes_per_s", disk->bytes_per_s);
    json_number(out, "needed_bytes_per_s", disk->needed_bytes_per_s);
    json_number(out, "real_time_factor", disk->real_time);
    json_close(out);
}

static void add_stages(json *out, const wf_throughput *t)
{
    static const char *const keys[] = {
        [WF_STAGE_READ] = "read",
        [WF_STAGE_UNPACK] = "unpack",
        [WF_STAGE_TRANSFORM] = "transform",
        [WF_STAGE_PHASE] = "phase",
        [WF_STAGE_EARLY] = "unpack_early_fft",
        [WF_STAGE_LATE] = "late_fft_phase",
        [WF_STAGE_CROSS] = "cross_multiply",
        [WF_STAGE_INTEGRATE] = "normalise",
        [WF_STAGE_OTHER] = "other",
    };
    json_open(out, "time_shares", '{');
    for (int i = 0; i < WF_N_STAGES; i++)
        json_number(out, keys[i], t->stage_share[i]);
    json_close(out);
}

wf_status throughput_print_json(const wf_throughput *t, const char *job, wf_error *err)
{
    char text[BOTTLENECK_BYTES];
    throughput_bottleneck(t, text);
    json out = {0};
    json_open(&out, NULL, '{');
    json_text(&out, "job", job);
    add_setup(&out, &t->setup, t->own.n_streams);
    add_machine(&out, t);
    add_row(&out, "this_set_up", &t->own);
    add_stages(&out, t);
    add_disk(&out, &t->disk);
    json_text(&out, "bottleneck", text);
    json_open(&out, "table", '[');
    for (size_t i = 0; i < WF_THROUGHPUT_ROWS; i++)
        add_row(&out, NULL, &t->rows[i]);
    json_close(&out);
    json_number(&out, "stations_in_real_time", t->stations_in_real_time);
    json_bool(&out, "more_stations_in_real_time", t->more_stations);
    json_close(&out);
    const wf_status status = json_write(&out, stdout, err);
    json_release(&out);
    return status;
}
