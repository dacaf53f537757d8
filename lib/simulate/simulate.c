/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Making one recording: passage by passage, unit by unit, thread by thread. */
#include <whitefringe/simulate.h>

#include <stdio.h>
#include <string.h>

#include "base/memory.h"
#include "base/status.h"
#include "simulate/hearing.h"
#include "simulate/quantise.h"
#include "simulate/sky.h"
#include "simulate/sound_writer.h"
#include "simulate/vdif_writer.h"

/* Points of a block of common noise: the edges of a band are sharp to 1/16384 of its width, and a
 * block stays in the second-level cache. */
enum { NOISE_BLOCK = 32768 };

/* Samples of one stream that are worked on at a time. */
enum { PIECE_SAMPLES = 8192 };

/* One recording in the making. */
typedef struct session {
    const wf_sky *sky;
    size_t i_recording;
    const wf_recording_entry *entry;
    const wfi_style *style;
    const wfi_schedule *schedule;
    wfi_noise_bench *bench;
    wfi_interpolator *interpolator;
    wfi_hearing hearing;
    float *volts;     /* [PIECE_SAMPLES][2] */
    uint16_t *codes;  /* [PIECE_SAMPLES][2] */
    uint8_t *payload; /* [payload_bytes] of a VDIF frame */
    int16_t *samples; /* [PIECE_SAMPLES][sound channels] */
    wfi_vdif_writer *vdif;
    wfi_sound_writer *sound;
} session;

/* Codes of n <= PIECE_SAMPLES samples of a stream, [n][parts]. */
static void sample_stream(session *s, size_t i_stream, int64_t first, size_t n)
{
    const int64_t rate_hz = s->entry->sample_rate_hz;
    wfi_voltage(s->volts, &s->hearing.receivers[i_stream], s->interpolator,
                &s->hearing.receptions[i_stream],
                &(wfi_samples){first / rate_hz, first % rate_hz, n});
    const bool is_complex = s->style->is_complex;
    wfi_quantise(s->codes, s->volts, is_complex ? 2 * n : n, s->style->bits,
                 is_complex ? 0.70710678f : 1.0f);
}

static wf_status record_vdif_thread(session *s, uint32_t thread, int64_t first, wf_error *err)
{
    const int64_t samples_per_frame = s->style->samples_per_frame;
    memset(s->payload, 0, s->style->payload_bytes);
    for (size_t k = 0; k < s->entry->n_streams; k++) {
        if (s->entry->streams[k].thread != thread)
            continue;
        for (int64_t at = 0; at < samples_per_frame; at += PIECE_SAMPLES) {
            const int64_t left = samples_per_frame - at;
            const size_t n = left < PIECE_SAMPLES ? (size_t)left : PIECE_SAMPLES;
            sample_stream(s, k, first + at, n);
            wfi_pack(s->payload, s->codes, n, s->style->bits, s->style->is_complex ? 2 : 1,
                     (size_t)at * s->style->n_channels + s->entry->streams[k].channel,
                     s->style->n_channels);
        }
    }
    const int64_t rate_hz = s->entry->sample_rate_hz;
    return wfi_vdif_writer_append(s->vdif, first / rate_hz, first % rate_hz / samples_per_frame,
                                  thread, s->payload, err);
}

static wf_status begin_vdif(session *s, const char *path, wf_error *err)
{
    const wfi_style *const style = s->style;
    const char *const name = s->sky->observation->stations[s->entry->i_station].name;
    const wfi_vdif_layout layout = {
        .legacy_header = style->legacy_header,
        .is_complex = style->is_complex,
        .bits = style->bits,
        .n_channels = style->n_channels,
        .payload_bytes = style->payload_bytes,
        .station = (uint32_t)(uint8_t)name[0] << 8 |
                   (name[1] != '\0' ? (uint32_t)(uint8_t)name[1] : (uint32_t)' '),
    };
    WFI_TRY(wfi_allocate(&s->payload, style->payload_bytes, 1, "a VDIF frame", err));
    return wfi_vdif_writer_create(&s->vdif, path, &layout,
                                  s->schedule->list[0].first / s->entry->sample_rate_hz, err);
}

static wf_status record_vdif(session *s, int64_t first, size_t n, wf_error *err)
{
    (void)n;
    for (size_t i = 0; i < s->style->n_threads; i++)
        WFI_TRY(record_vdif_thread(s, s->style->threads[i], first, err));
    return WF_OK;
}

static wf_status finish_vdif(session *s, wf_error *err)
{
    return wfi_vdif_writer_finish(s->vdif, err);
}

static wf_status begin_sound(session *s, const char *path, wf_error *err)
{
    const size_t n_channels = (size_t)s->style->n_channels * (s->style->is_complex ? 2 : 1);
    WFI_TRY(wfi_allocate(&s->samples, PIECE_SAMPLES * n_channels, sizeof *s->samples,
                         "sound samples", err));
    return wfi_sound_writer_create(&s->sound, path, s->entry->sample_rate_hz, n_channels,
                                   s->schedule->list[0].first / s->entry->sample_rate_hz, err);
}

static wf_status record_sound(session *s, int64_t first, size_t n, wf_error *err)
{
    const size_t parts = s->style->is_complex ? 2 : 1;
    const size_t stride = parts * s->style->n_channels;
    for (size_t k = 0; k < s->entry->n_streams; k++) {
        sample_stream(s, k, first, n);
        int16_t *const channel = s->samples + parts * s->entry->streams[k].channel;
        for (size_t i = 0; i < n; i++)
            for (size_t part = 0; part < parts; part++)
                channel[i * stride + part] = (int16_t)(s->codes[i * parts + part] - 32768);
    }
    return wfi_sound_writer_append(s->sound, s->samples, n, err);
}

static wf_status finish_sound(session *s, wf_error *err)
{
    return wfi_sound_writer_finish(s->sound, err);
}

/* How a format begins, takes the next n samples of all streams, and ends. */
typedef struct format {
    wf_status (*begin)(session *s, const char *path, wf_error *err);
    wf_status (*record)(session *s, int64_t first, size_t n, wf_error *err);
    wf_status (*finish)(session *s, wf_error *err);
} format;

static const format vdif_format = {begin_vdif, record_vdif, finish_vdif};
static const format sound_format = {begin_sound, record_sound, finish_sound};

/* Whom to tell, and how many samples are done. */
typedef struct report {
    wf_simulate_progress progress;
    void *context;
    int64_t n_done;
    int64_t n_reported;
    int64_t n_all;
} report;

/* Every percent; also at the very beginning, so that a cancelled run makes nothing. */
static wf_status tell(report *r, const session *s, wf_error *err)
{
    if (r->progress == NULL ||
        (r->n_done != 0 && r->n_done < r->n_all && r->n_done - r->n_reported < r->n_all / 100))
        return WF_OK;
    r->n_reported = r->n_done;
    if (r->progress(r->context, (double)r->n_done / (double)r->n_all) != 0)
        return wfi_fail(err, WF_CANCELLED, "%s: stopped on request",
                        wfi_sky_file_name(s->sky, s->i_recording));
    return WF_OK;
}

static wf_status record_passage(session *s, const wfi_passage *passage, const format *f, report *r,
                                wf_error *err)
{
    wfi_hearing_release(&s->hearing);
    WFI_TRY(wfi_hearing_create(&s->hearing, s->bench, s->sky, s->i_recording, passage, err));
    const int64_t unit = s->style->is_sound ? PIECE_SAMPLES : s->style->samples_per_frame;
    for (int64_t first = passage->first; first < passage->end; first += unit) {
        const int64_t left = passage->end - first;
        const int64_t n = left < unit ? left : unit;
        WFI_TRY(tell(r, s, err));
        WFI_TRY(f->record(s, first, (size_t)n, err));
        r->n_done += n;
    }
    return WF_OK;
}

static wf_status record_all(session *s, const char *folder, report *r, wf_error *err)
{
    const format *const f = s->style->is_sound ? &sound_format : &vdif_format;
    WFI_TRY(wfi_noise_bench_create(&s->bench, NOISE_BLOCK, err));
    WFI_TRY(wfi_interpolator_create(&s->interpolator, err));
    WFI_TRY(wfi_allocate(&s->volts, 2 * PIECE_SAMPLES, sizeof *s->volts, "voltages", err));
    WFI_TRY(wfi_allocate(&s->codes, 2 * PIECE_SAMPLES, sizeof *s->codes, "codes", err));
    char *path = NULL;
    WFI_TRY(wfi_path_in_folder(&path, folder, wfi_sky_file_name(s->sky, s->i_recording), err));
    const wf_status begun = f->begin(s, path, err);
    wfi_free(path);
    WFI_TRY(begun);
    for (size_t i = 0; i < s->schedule->n; i++)
        WFI_TRY(record_passage(s, &s->schedule->list[i], f, r, err));
    WFI_TRY(tell(r, s, err));
    return f->finish(s, err);
}

static void release(session *s)
{
    wfi_vdif_writer_destroy(s->vdif);
    wfi_sound_writer_destroy(s->sound);
    wfi_hearing_release(&s->hearing);
    wfi_interpolator_destroy(s->interpolator);
    wfi_noise_bench_destroy(s->bench);
    wfi_free(s->volts);
    wfi_free(s->codes);
    wfi_free(s->payload);
    wfi_free(s->samples);
}

wf_status wf_simulate_recording(const wf_sky *sky, size_t i_recording, const char *folder,
                                wf_simulate_progress progress, void *context, wf_error *err)
{
    if (i_recording >= wf_sky_n_recordings(sky))
        return wfi_fail(err, WF_ARGUMENT, "%s: there is no recording %zu; the sky has %zu",
                        sky->path, i_recording, wf_sky_n_recordings(sky));
    session s = {.sky = sky,
                 .i_recording = i_recording,
                 .entry = &sky->observation->recordings[i_recording],
                 .style = &sky->styles[i_recording],
                 .schedule = &sky->schedules[i_recording]};
    report r = {.progress = progress, .context = context, .n_all = s.schedule->n_samples};
    const wf_status status = record_all(&s, folder, &r, err);
    release(&s);
    return status;
}
