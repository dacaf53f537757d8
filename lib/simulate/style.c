/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The keys that say how a recording is written, and what follows from them. */
#include "simulate/style.h"

#include <inttypes.h>
#include <string.h>

#include "base/memory.h"
#include "base/status.h"
#include "observation/fields.h"
#include "recording/vdif_header.h"
#include "simulate/quantise.h"

/* Sample numbers since the year 2000 are counted in 63 bits. */
static const int64_t MOST_HZ = 4000000000;

/* The longest payload that is chosen where the file states none: common network frames. */
enum { USUAL_PAYLOAD_BYTES = 8192, PAYLOAD_UNIT_BYTES = 8 };

/* Frame length has 24 bits, in units of 8 bytes (VDIF 1.1.1, word 2), the frame number 24. */
static const wfi_quantity PAYLOAD = {
    .expected = "a payload of 8 to 134217680 bytes", .least = 8.0, .most = 134217680.0};
static const int64_t MOST_FRAMES = 1 << 24;

static const wfi_quantity BITS = {.expected = "1, 2, 4, 8 or 16 bits", .least = 1.0, .most = 16.0};
static const wfi_quantity HEADER = {
    .expected = "a header of 32 or 16 bytes", .least = 16.0, .most = 32.0};

static wf_status read_file_name(const wfi_place *place, const wfi_raw_sky_recording *raw)
{
    if (raw->job.files_count != 1)
        return wfi_place_fail(place, "files",
                              "a simulated recording is one file, found %u: name one",
                              raw->job.files_count);
    const char *const name = raw->job.files[0];
    if (name[0] == '\0' || name[0] == '.' || strchr(name, '/') != NULL)
        return wfi_place_fail(place, "files",
                              "expected a file name without a folder and not starting with a "
                              "point, found \"%.60s\": the folder is chosen when the sky is made",
                              name);
    if (strcmp(name, "job.yaml") == 0)
        return wfi_place_fail(place, "files",
                              "job.yaml is the name of the job that is written beside the "
                              "recordings; choose another");
    return WF_OK;
}

static wf_status read_format(wfi_style *out, const wfi_place *place,
                             const wf_recording_entry *entry)
{
    out->is_sound = entry->format == WF_FILE_FORMAT_SOUND;
    out->is_complex = entry->sampling == WF_SAMPLING_COMPLEX;
    if (entry->sample_rate_hz == 0)
        return wfi_place_fail(place, NULL, "the key sample_rate_hz is missing; add it, in Hz");
    if (entry->sample_rate_hz > MOST_HZ)
        return wfi_place_fail(place, "sample_rate_hz", "at most %" PRId64 " Hz can be simulated",
                              MOST_HZ);
    if (entry->sampling == WF_SAMPLING_PROBE)
        return wfi_place_fail(place, NULL, "the key sampling is missing; add real or complex");
    if (entry->has_start)
        return wfi_place_fail(place, "start",
                              "the start follows from the scans here; remove the key");
    return WF_OK;
}

static wf_status read_bits(wfi_style *out, const wfi_place *place, const wfi_raw_sky_recording *raw)
{
    int64_t bits = out->is_sound ? 16 : 2;
    if (raw->bits != NULL)
        WFI_TRY(wfi_read_count(place, "bits", raw->bits, &BITS, &bits));
    if (!wfi_quantiser_knows((unsigned)bits))
        return wfi_place_fail(place, "bits", "expected %s, found %" PRId64, BITS.expected, bits);
    if (out->is_sound && bits != 16)
        return wfi_place_fail(
            place, "bits",
            "sound files are written with 16 bits, found %" PRId64 "; remove the key", bits);
    out->bits = (unsigned)bits;
    return WF_OK;
}

static void insert_thread(wfi_style *out, uint32_t thread)
{
    size_t i = 0;
    while (i < out->n_threads && out->threads[i] < thread)
        i++;
    if (i < out->n_threads && out->threads[i] == thread)
        return;
    for (size_t k = out->n_threads; k > i; k--)
        out->threads[k] = out->threads[k - 1];
    out->threads[i] = thread;
    out->n_threads++;
}

/* The job's checks have made sure that no two streams share a thread's channel: so a thread is
 * complete if it has as many streams as channels and none beyond. */
static wf_status read_threads(wfi_style *out, const wfi_place *place,
                              const wf_recording_entry *entry)
{
    WFI_TRY(
        wfi_allocate(&out->threads, entry->n_streams, sizeof *out->threads, "threads", place->err));
    for (size_t k = 0; k < entry->n_streams; k++)
        insert_thread(out, entry->streams[k].thread);
    out->n_channels = (uint32_t)(entry->n_streams / out->n_threads);
    for (size_t k = 0; k < entry->n_streams; k++)
        if (entry->streams[k].channel >= out->n_channels || entry->n_streams % out->n_threads != 0)
            return wfi_place_fail(place, "streams",
                                  "%zu streams in %zu threads: every thread must hold the same "
                                  "channels, numbered from 0 without gap",
                                  entry->n_streams, out->n_threads);
    if (!out->is_sound && (out->n_channels & (out->n_channels - 1)) != 0)
        return wfi_place_fail(place, "streams",
                              "a VDIF thread holds 1, 2, 4, 8 ... channels, found %u: give each "
                              "stream a thread of its own, or split them otherwise",
                              out->n_channels);
    return WF_OK;
}

/* Samples of a frame with such a payload; 0 where frames would not fill a second. */
static int64_t samples_of(const wfi_style *style, int64_t payload_bytes, int64_t sample_rate_hz)
{
    const int64_t sample_bits =
        (int64_t)style->bits * (style->is_complex ? 2 : 1) * (int64_t)style->n_channels;
    if (payload_bytes % PAYLOAD_UNIT_BYTES != 0 || 8 * payload_bytes % sample_bits != 0)
        return 0;
    const int64_t samples = 8 * payload_bytes / sample_bits;
    if (sample_rate_hz % samples != 0 || sample_rate_hz / samples > MOST_FRAMES)
        return 0;
    return samples;
}

static wf_status read_payload(wfi_style *out, const wfi_place *place,
                              const wfi_raw_sky_recording *raw, int64_t sample_rate_hz)
{
    int64_t bytes = USUAL_PAYLOAD_BYTES;
    if (raw->payload_bytes != NULL)
        WFI_TRY(wfi_read_count(place, "payload_bytes", raw->payload_bytes, &PAYLOAD, &bytes));
    else
        while (bytes > 0 && samples_of(out, bytes, sample_rate_hz) == 0)
            bytes -= PAYLOAD_UNIT_BYTES;
    out->payload_bytes = (uint32_t)bytes;
    out->samples_per_frame = bytes > 0 ? samples_of(out, bytes, sample_rate_hz) : 0;
    if (out->samples_per_frame == 0)
        return wfi_place_fail(
            place, raw->payload_bytes != NULL ? "payload_bytes" : "sample_rate_hz",
            "no whole number of frames fills a second at %" PRId64
            " Hz: take a payload of a multiple of 8 bytes whose samples divide the rate",
            sample_rate_hz);
    return WF_OK;
}

static wf_status read_frames(wfi_style *out, const wfi_place *place,
                             const wfi_raw_sky_recording *raw, int64_t sample_rate_hz)
{
    int64_t header_bytes = WFI_VDIF_HEADER_BYTES;
    if (raw->header_bytes != NULL)
        WFI_TRY(wfi_read_count(place, "header_bytes", raw->header_bytes, &HEADER, &header_bytes));
    if (header_bytes != WFI_VDIF_HEADER_BYTES && header_bytes != WFI_VDIF_LEGACY_HEADER_BYTES)
        return wfi_place_fail(place, "header_bytes", "expected %s, found %" PRId64, HEADER.expected,
                              header_bytes);
    out->legacy_header = header_bytes == WFI_VDIF_LEGACY_HEADER_BYTES;
    return read_payload(out, place, raw, sample_rate_hz);
}

static wf_status refuse_frames(const wfi_place *place, const wfi_raw_sky_recording *raw)
{
    if (raw->header_bytes != NULL || raw->payload_bytes != NULL)
        return wfi_place_fail(place, raw->header_bytes != NULL ? "header_bytes" : "payload_bytes",
                              "sound files have no frames; remove the key");
    return WF_OK;
}

wf_status wfi_style_read(wfi_style *out, const wfi_place *place, const wfi_raw_sky_recording *raw,
                         const wf_recording_entry *entry)
{
    WFI_TRY(read_file_name(place, raw));
    WFI_TRY(read_format(out, place, entry));
    WFI_TRY(read_bits(out, place, raw));
    WFI_TRY(read_threads(out, place, entry));
    return out->is_sound ? refuse_frames(place, raw)
                         : read_frames(out, place, raw, entry->sample_rate_hz);
}

void wfi_style_release(wfi_style *style)
{
    wfi_free(style->threads);
    *style = (wfi_style){0};
}
