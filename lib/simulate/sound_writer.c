/* SPDX-License-Identifier: GPL-3.0-or-later */
/* WAV through libsndfile; beyond 4 GiB it turns into its 64-bit variant, RF64, by itself. */
#include "simulate/sound_writer.h"

#include <fcntl.h>
#include <inttypes.h>
#include <sndfile.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>
#include <whitefringe/time.h>

#include "base/memory.h"
#include "base/output.h"
#include "base/sound_lock.h"
#include "base/status.h"

struct wfi_sound_writer {
    wfi_output output;
    SNDFILE *file;
};

static const int64_t most_hz = 1000000000; /* libsndfile counts hertz in an int */
static const size_t most_channels = 1024;  /* its own limit */

/* The broadcast extension (EBU Tech 3285): date, second, and samples since midnight. */
static void stamp(SNDFILE *file, int64_t sample_rate_hz, int64_t start_second)
{
    const wf_instant start = {start_second, 0.0};
    char text[WF_INSTANT_TEXT_BYTES];
    wf_instant_format(text, start, 0); /* 2026-03-01T12:00:00 */
    SF_BROADCAST_INFO info;
    memset(&info, 0, sizeof info);
    memcpy(info.description, "simulated station voltages", 26);
    memcpy(info.origination_date, text, 10);
    memcpy(info.origination_time, text + 11, 8);
    int32_t mjd, second_of_day;
    wf_instant_utc(start, &mjd, &second_of_day);
    const uint64_t number = (uint64_t)second_of_day * (uint64_t)sample_rate_hz;
    info.time_reference_low = (uint32_t)number;
    info.time_reference_high = (uint32_t)(number >> 32);
    info.version = 1;
    sf_command(file, SFC_SET_BROADCAST_INFO, &info, sizeof info);
    sf_command(file, SFC_RF64_AUTO_DOWNGRADE, NULL, SF_TRUE);
}

static wf_status open_file(wfi_sound_writer *writer, int64_t sample_rate_hz, size_t n_channels,
                           wf_error *err)
{
    SF_INFO info;
    memset(&info, 0, sizeof info);
    info.samplerate = (int)sample_rate_hz;
    info.channels = (int)n_channels;
    info.format = SF_FORMAT_RF64 | SF_FORMAT_PCM_16;
    char reason[256] = "";
    wfi_sound_lock();
    writer->file = sf_open(writer->output.temporary, SFM_WRITE, &info);
    if (writer->file == NULL)
        snprintf(reason, sizeof reason, "%s", sf_strerror(NULL));
    wfi_sound_unlock();
    if (writer->file == NULL)
        return wfi_fail(err, WF_IO,
                        "%s: a sound file of %zu channels at %" PRId64
                        " Hz could not be opened for writing: %s",
                        writer->output.path, n_channels, sample_rate_hz, reason);
    return WF_OK;
}

wf_status wfi_sound_writer_create(wfi_sound_writer **out, const char *path, int64_t sample_rate_hz,
                                  size_t n_channels, int64_t start_second, wf_error *err)
{
    *out = NULL;
    if (sample_rate_hz > most_hz || n_channels > most_channels)
        return wfi_fail(err, WF_UNSUPPORTED,
                        "%s: a sound file of %zu channels at %" PRId64
                        " Hz: at most %zu channels and %" PRId64 " Hz can be written",
                        path, n_channels, sample_rate_hz, most_channels, most_hz);
    wfi_sound_writer *writer = NULL;
    WFI_TRY(wfi_allocate(&writer, 1, sizeof *writer, "a sound file", err));
    wf_status status = wfi_output_begin(&writer->output, path, err);
    if (status == WF_OK)
        status = open_file(writer, sample_rate_hz, n_channels, err);
    if (status != WF_OK) {
        wfi_sound_writer_destroy(writer);
        return status;
    }
    stamp(writer->file, sample_rate_hz, start_second);
    *out = writer;
    return WF_OK;
}

static wf_status refuse(const wfi_sound_writer *writer, const char *reason, wf_error *err)
{
    return wfi_fail(err, WF_IO, "%s: could not be written: %s", writer->output.path, reason);
}

wf_status wfi_sound_writer_append(wfi_sound_writer *writer, const int16_t *samples, size_t n,
                                  wf_error *err)
{
    if (sf_writef_short(writer->file, samples, (sf_count_t)n) != (sf_count_t)n)
        return refuse(writer, sf_strerror(writer->file), err);
    return WF_OK;
}

wf_status wfi_sound_writer_finish(wfi_sound_writer *writer, wf_error *err)
{
    const int closed = sf_close(writer->file);
    writer->file = NULL;
    if (closed != 0)
        return refuse(writer, sf_error_number(closed), err);
    return wfi_output_commit(&writer->output, err);
}

void wfi_sound_writer_destroy(wfi_sound_writer *writer)
{
    if (writer == NULL)
        return;
    if (writer->file != NULL)
        sf_close(writer->file);
    wfi_output_discard(&writer->output);
    wfi_free(writer);
}
