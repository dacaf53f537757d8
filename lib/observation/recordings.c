/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The recordings of a job: files, and which band and polarization each of their streams holds. */
#include <string.h>

#include "base/memory.h"
#include "base/status.h"
#include "base/text.h"
#include "observation/build.h"

/* VDIF's thread ID has 10 bits (VDIF 1.1.1, word 3). */
static const wfi_quantity THREAD = {
    .expected = "a thread ID from 0 to 1023", .least = 0.0, .most = 1023.0};
static const wfi_quantity CHANNEL = {
    .expected = "a channel number from 0", .least = 0.0, .most = 2147483647.0};
static const wfi_quantity FREQUENCY = {
    .expected = "a sky frequency in Hz from 0 to 1e13", .least = 0.0, .most = 1e13};
static const wfi_quantity SAMPLE_RATE = {.expected = "a sample rate in Hz of at least 1000",
                                         .least = 1000.0,
                                         .most = 1e12,
                                         .remedy =
                                             "the unit is Hz: multiply by 1e6 what is in MHz"};

static const wfi_choice FORMATS[] = {{"vdif", WF_FILE_FORMAT_VDIF},
                                     {"sound", WF_FILE_FORMAT_SOUND}};
static const wfi_choice SAMPLINGS[] = {{"real", WF_SAMPLING_REAL},
                                       {"complex", WF_SAMPLING_COMPLEX}};
static const wfi_choice POLARIZATIONS[] = {{"R", WF_POLARIZATION_R},
                                           {"L", WF_POLARIZATION_L},
                                           {"X", WF_POLARIZATION_X},
                                           {"Y", WF_POLARIZATION_Y}};

static wf_status read_files(const wfi_build *build, const wfi_place *place,
                            const wfi_raw_recording *raw, wf_recording_entry *entry)
{
    const char **paths = NULL;
    WFI_TRY(wfi_allocate(&paths, raw->files_count, sizeof *paths, "file names", build->err));
    entry->paths = paths;
    entry->n_paths = raw->files_count;
    for (size_t k = 0; k < raw->files_count; k++) {
        for (size_t j = 0; j < k; j++) {
            if (strcmp(raw->files[j], raw->files[k]) == 0)
                return wfi_place_fail(place, "files", "\"%.200s\" is listed twice; keep one",
                                      raw->files[k]);
        }
        char *path = NULL;
        WFI_TRY(wfi_document_resolve(&path, build->document, raw->files[k], build->err));
        paths[k] = path;
    }
    return WF_OK;
}

static wf_status read_format(const wfi_place *place, const wfi_raw_recording *raw,
                             wf_recording_entry *entry)
{
    int format = WF_FILE_FORMAT_PROBE;
    int sampling = WF_SAMPLING_PROBE;
    if (raw->format != NULL)
        WFI_TRY(wfi_read_choice(place, "format", raw->format, FORMATS, 2, &format));
    if (raw->sampling != NULL)
        WFI_TRY(wfi_read_choice(place, "sampling", raw->sampling, SAMPLINGS, 2, &sampling));
    entry->format = (wf_file_format)format;
    entry->sampling = (wf_sampling)sampling;
    if (raw->sample_rate_hz != NULL)
        WFI_TRY(wfi_read_count(place, "sample_rate_hz", raw->sample_rate_hz, &SAMPLE_RATE,
                               &entry->sample_rate_hz));
    else if (entry->format == WF_FILE_FORMAT_VDIF)
        return wfi_place_fail(place, NULL,
                              "a VDIF recording needs sample_rate_hz: VDIF frames do "
                              "not hold it; add it, in Hz, of each channel");
    entry->has_start = raw->start != NULL;
    if (entry->has_start && entry->format == WF_FILE_FORMAT_VDIF)
        return wfi_place_fail(place, "start", "VDIF frames hold their own times; remove the key");
    if (entry->has_start)
        WFI_TRY(wfi_read_instant(place, "start", raw->start, &entry->start));
    return WF_OK;
}

static const wfi_choice ENCODINGS[] = {{"offset_binary", WF_CODES_OFFSET_BINARY},
                                       {"twos_complement", WF_CODES_TWOS_COMPLEMENT}};
static const wfi_choice BYTE_ORDERS[] = {{"standard", WF_BYTES_IN_ORDER},
                                         {"swapped_in_16", WF_BYTES_SWAPPED_IN_16},
                                         {"swapped_in_32", WF_BYTES_SWAPPED_IN_32},
                                         {"swapped_in_64", WF_BYTES_SWAPPED_IN_64}};
static const wfi_choice BIT_ORDERS[] = {{"standard", 0}, {"reversed", 1}};
static const wfi_choice SIGN_BITS[] = {{"highest", 0}, {"lowest", 1}};
/* VDIF 1.1.1, section 8: with and without the extended words 4 to 7. */
static const wfi_choice HEADER_BYTES[] = {{"16", 16}, {"32", 32}};
static const wfi_choice FRAME_INDEXES[] = {{"sampled", 0}, {"exact", 1}};
static const wfi_quantity TIME_OFFSET = {
    .expected = "whole seconds from -1e9 to 1e9", .least = -1e9, .most = 1e9};
/* VDIF's reference epoch has 6 bits (VDIF 1.1.1, word 1). */
static const wfi_quantity EPOCH = {
    .expected = "a number of half years since 2000, from 0 to 63", .least = 0.0, .most = 63.0};

/* What makes up for a recorder that does not keep to the standard. */
static wf_status read_remedies(const wfi_place *place, const wfi_raw_recording *raw,
                               wf_recording_entry *entry)
{
    int bytes = 0, bits = 0, sign = 0, codes = 0, index = 0, header = 0;
    int64_t epoch = 0;
    if (raw->encoding != NULL)
        WFI_TRY(wfi_read_choice(place, "encoding", raw->encoding, ENCODINGS, 2, &codes));
    if (raw->byte_order != NULL)
        WFI_TRY(wfi_read_choice(place, "byte_order", raw->byte_order, BYTE_ORDERS, 4, &bytes));
    if (raw->bit_order != NULL)
        WFI_TRY(wfi_read_choice(place, "bit_order", raw->bit_order, BIT_ORDERS, 2, &bits));
    if (raw->sign_bit != NULL)
        WFI_TRY(wfi_read_choice(place, "sign_bit", raw->sign_bit, SIGN_BITS, 2, &sign));
    if (raw->frame_index != NULL)
        WFI_TRY(wfi_read_choice(place, "frame_index", raw->frame_index, FRAME_INDEXES, 2, &index));
    if (raw->time_offset_s != NULL)
        WFI_TRY(wfi_read_count(place, "time_offset_s", raw->time_offset_s, &TIME_OFFSET,
                               &entry->time_offset_s));
    if (raw->reference_epoch != NULL)
        WFI_TRY(wfi_read_count(place, "reference_epoch", raw->reference_epoch, &EPOCH, &epoch));
    if (raw->header_bytes != NULL)
        WFI_TRY(
            wfi_read_choice(place, "header_bytes", raw->header_bytes, HEADER_BYTES, 2, &header));
    entry->payload =
        (wf_payload_order){(wf_byte_order)bytes, bits != 0, sign != 0, (wf_code_order)codes};
    entry->has_reference_epoch = raw->reference_epoch != NULL;
    entry->reference_epoch = (uint32_t)epoch;
    entry->header_bytes = (uint32_t)header;
    entry->frame_index_exact = index != 0;
    return WF_OK;
}

/* They are about VDIF. */
static wf_status refuse_remedies(const wfi_place *place, const wfi_raw_recording *raw)
{
    const struct {
        const char *key;
        const char *text;
    } keys[] = {{"encoding", raw->encoding},           {"byte_order", raw->byte_order},
                {"bit_order", raw->bit_order},         {"sign_bit", raw->sign_bit},
                {"time_offset_s", raw->time_offset_s}, {"reference_epoch", raw->reference_epoch},
                {"header_bytes", raw->header_bytes},   {"frame_index", raw->frame_index}};
    for (size_t i = 0; i < sizeof keys / sizeof keys[0]; i++)
        if (keys[i].text != NULL)
            return wfi_place_fail(
                place, keys[i].key,
                "is for VDIF recordings; a sound file says itself how its samples "
                "stand, and start: when: remove the key");
    return WF_OK;
}

/* A stream is tied to a band, or it names what was recorded itself. */
static wf_status expect_one_anchor(const wfi_place *place, const wfi_raw_stream *raw)
{
    const int n = (raw->band != NULL) + (raw->edge_hz != NULL) + (raw->centre_hz != NULL);
    if (n == 0)
        return wfi_place_fail(place, NULL,
                              "a stream needs band, or edge_hz or centre_hz with "
                              "sideband; add one");
    if (n > 1)
        return wfi_place_fail(place, NULL,
                              "a stream takes one of band, edge_hz and centre_hz; "
                              "found %d of them",
                              n);
    if (raw->band != NULL && raw->sideband != NULL)
        return wfi_place_fail(place, "sideband",
                              "a stream tied to a band has the band's sideband; remove the key, or "
                              "give edge_hz instead of band");
    if (raw->band == NULL && raw->sideband == NULL)
        return wfi_place_fail(place, NULL, "the key sideband is missing; add upper or lower");
    return WF_OK;
}

static wf_status read_anchor(const wfi_build *build, const wfi_place *place,
                             const wfi_raw_stream *raw, wf_stream *stream)
{
    WFI_TRY(expect_one_anchor(place, raw));
    stream->anchor = raw->centre_hz != NULL ? WF_ANCHOR_CENTRE : WF_ANCHOR_EDGE;
    if (raw->band != NULL) {
        const wfi_names names = wfi_band_names(build->observation);
        size_t i = 0;
        WFI_TRY(wfi_read_reference(place, "band", raw->band, &names, &i));
        stream->anchor_hz = build->observation->bands[i].edge_hz;
        stream->sideband = build->observation->bands[i].sideband;
        return WF_OK;
    }
    const bool centre = stream->anchor == WF_ANCHOR_CENTRE;
    WFI_TRY(wfi_read_number(place, centre ? "centre_hz" : "edge_hz",
                            centre ? raw->centre_hz : raw->edge_hz, &FREQUENCY,
                            &stream->anchor_hz));
    return wfi_read_sideband(place, raw->sideband, &stream->sideband);
}

static bool is_linear(wf_polarization polarization)
{
    return polarization == WF_POLARIZATION_X || polarization == WF_POLARIZATION_Y;
}

/* The job's first stream decides between circular and linear. */
static wf_status check_kind(const wfi_build *build, const wfi_place *place, const wf_stream *stream)
{
    const wf_stream *first = &build->observation->recordings[0].streams[0];
    if (is_linear(first->polarization) == is_linear(stream->polarization))
        return WF_OK;
    return wfi_place_fail(place, "polarization",
                          "%c is of another kind than %c of recordings[0].streams[0]; a job holds "
                          "R and L or X and Y, never both",
                          wf_polarization_letter(stream->polarization),
                          wf_polarization_letter(first->polarization));
}

static wf_status check_slot(const wfi_place *place, const wf_recording_entry *entry, size_t k)
{
    const wf_stream *stream = &entry->streams[k];
    if (entry->format == WF_FILE_FORMAT_SOUND && stream->thread != 0)
        return wfi_place_fail(place, "thread", "sound files have no threads; use channel");
    for (size_t j = 0; j < k; j++) {
        if (entry->streams[j].thread == stream->thread &&
            entry->streams[j].channel == stream->channel)
            return wfi_place_fail(place, NULL,
                                  "thread %u channel %u is taken by streams[%zu] already; give "
                                  "each stream its own thread or channel",
                                  stream->thread, stream->channel, j);
    }
    return WF_OK;
}

static wf_status read_stream(const wfi_build *build, const wfi_place *place,
                             const wfi_raw_stream *raw, wf_stream *stream)
{
    int polarization = 0;
    int64_t thread = 0;
    int64_t channel = 0;
    WFI_TRY(read_anchor(build, place, raw, stream));
    WFI_TRY(
        wfi_read_choice(place, "polarization", raw->polarization, POLARIZATIONS, 4, &polarization));
    if (raw->thread != NULL)
        WFI_TRY(wfi_read_count(place, "thread", raw->thread, &THREAD, &thread));
    if (raw->channel != NULL)
        WFI_TRY(wfi_read_count(place, "channel", raw->channel, &CHANNEL, &channel));
    stream->polarization = (wf_polarization)polarization;
    stream->thread = (uint32_t)thread;
    stream->channel = (uint32_t)channel;
    return check_kind(build, place, stream);
}

/* A width that is the recorded one in another unit. A band may well be narrower than what was
 * recorded, but not by exactly a million, under 1 kHz. */
static wf_status check_band_unit(const wfi_build *build, const wf_recording_entry *entry,
                                 const wfi_raw_stream *raw)
{
    const double width_hz = build->observation->bands[0].bandwidth_hz;
    const double rate_hz = (double)entry->sample_rate_hz;
    if (raw->band == NULL || width_hz >= 1000.0 ||
        (width_hz * 1e6 != rate_hz && width_hz * 1e6 != rate_hz / 2.0))
        return WF_OK;
    const wfi_place place = wfi_place_at(build->document, build->err, "bands[0]");
    const char *found = build->raw->bands[0].bandwidth_hz;
    return wfi_place_fail(&place, "bandwidth_hz",
                          "found %s, a millionth of the width that is recorded; did you mean %se6? "
                          "the unit is Hz",
                          found, found);
}

static wf_status read_streams(const wfi_build *build, const wfi_place *place,
                              const wfi_raw_recording *raw, wf_recording_entry *entry)
{
    wf_stream *streams = NULL;
    WFI_TRY(wfi_allocate(&streams, raw->streams_count, sizeof *streams, "streams", build->err));
    entry->streams = streams;
    entry->n_streams = raw->streams_count;
    for (size_t k = 0; k < raw->streams_count; k++) {
        const wfi_place stream =
            wfi_place_at(build->document, build->err, "%s.streams[%zu]", place->path, k);
        WFI_TRY(read_stream(build, &stream, &raw->streams[k], &streams[k]));
        WFI_TRY(check_slot(&stream, entry, k));
        WFI_TRY(check_band_unit(build, entry, &raw->streams[k]));
    }
    return WF_OK;
}

wf_status wfi_build_recordings(const wfi_build *build)
{
    const size_t n = build->raw->recordings_count;
    wf_recording_entry *entries = NULL;
    WFI_TRY(wfi_allocate(&entries, n, sizeof *entries, "recordings", build->err));
    build->observation->recordings = entries;
    build->observation->n_recordings = n;
    const wfi_names stations = wfi_station_names(build->observation);
    for (size_t i = 0; i < n; i++) {
        const wfi_raw_recording *raw = &build->raw->recordings[i];
        const wfi_place place = wfi_place_at(build->document, build->err, "recordings[%zu]", i);
        WFI_TRY(
            wfi_read_reference(&place, "station", raw->station, &stations, &entries[i].i_station));
        WFI_TRY(read_files(build, &place, raw, &entries[i]));
        WFI_TRY(read_format(&place, raw, &entries[i]));
        WFI_TRY(entries[i].format == WF_FILE_FORMAT_SOUND
                    ? refuse_remedies(&place, raw)
                    : read_remedies(&place, raw, &entries[i]));
        WFI_TRY(read_streams(build, &place, raw, &entries[i]));
    }
    return WF_OK;
}
