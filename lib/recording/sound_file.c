/* SPDX-License-Identifier: GPL-3.0-or-later */
/* libsndfile on top of wfi_input_file_read, so that a failing disk is told from the end of the
 * file, and threads share one descriptor but no handle. */
#include "recording/sound_file.h"

#include <stdio.h>
#include <string.h>

#include "base/sound_lock.h"
#include "base/status.h"

static sf_count_t read_short(SNDFILE *file, void *out, sf_count_t n_samples)
{
    return sf_readf_short(file, out, n_samples);
}

static sf_count_t read_int(SNDFILE *file, void *out, sf_count_t n_samples)
{
    return sf_readf_int(file, out, n_samples);
}

static sf_count_t read_float(SNDFILE *file, void *out, sf_count_t n_samples)
{
    return sf_readf_float(file, out, n_samples);
}

/* Lossy codecs are not in it: they do not keep the phase. */
static const wfi_sound_kind kinds[] = {
    {SF_FORMAT_PCM_S8, WF_ENCODING_SIGNED, 16, read_short},
    {SF_FORMAT_PCM_U8, WF_ENCODING_SIGNED, 16, read_short},
    {SF_FORMAT_PCM_16, WF_ENCODING_SIGNED, 16, read_short},
    {SF_FORMAT_ULAW, WF_ENCODING_SIGNED, 16, read_short},
    {SF_FORMAT_ALAW, WF_ENCODING_SIGNED, 16, read_short},
    {SF_FORMAT_PCM_24, WF_ENCODING_SIGNED, 32, read_int},
    {SF_FORMAT_PCM_32, WF_ENCODING_SIGNED, 32, read_int},
    {SF_FORMAT_FLOAT, WF_ENCODING_FLOAT, 32, read_float},
    {SF_FORMAT_DOUBLE, WF_ENCODING_FLOAT, 32, read_float},
};

static const struct {
    int type;
    const char *name;
} format_names[] = {
    {SF_FORMAT_WAV, "WAV"}, {SF_FORMAT_WAVEX, "WAV"}, {SF_FORMAT_RF64, "RF64"},
    {SF_FORMAT_W64, "W64"}, {SF_FORMAT_FLAC, "FLAC"}, {SF_FORMAT_AIFF, "AIFF"},
    {SF_FORMAT_AU, "AU"},   {SF_FORMAT_CAF, "CAF"},
};

static sf_count_t stream_length(void *context)
{
    const wfi_sound_file *file = context;
    return file->input->n_bytes - file->begin;
}

static sf_count_t stream_seek(sf_count_t offset, int whence, void *context)
{
    wfi_sound_file *file = context;
    const int64_t base = whence == SEEK_CUR   ? file->offset
                         : whence == SEEK_END ? file->input->n_bytes - file->begin
                                              : 0;
    if (base + offset < 0)
        return -1;
    file->offset = base + offset;
    return file->offset;
}

static sf_count_t stream_read(void *out, sf_count_t n, void *context)
{
    wfi_sound_file *file = context;
    size_t n_read = 0;
    const int64_t at = file->begin + file->offset;
    (void)!wfi_input_file_read(file->input, at, out, n > 0 ? (size_t)n : 0, &n_read, &file->fault);
    wfi_sound_chunks_mend(file->chunks, at, out, (int64_t)n_read);
    wfi_read_ahead_follow(&file->ahead, file->input, at, n_read);
    file->offset += (int64_t)n_read;
    return (sf_count_t)n_read;
}

static sf_count_t stream_tell(void *context)
{
    const wfi_sound_file *file = context;
    return file->offset;
}

static wf_status forward_fault(const wfi_sound_file *file, wf_error *err)
{
    return file->fault.status == WF_OK
               ? WF_OK
               : wfi_fail(err, file->fault.status, "%s", file->fault.message);
}

static wf_status open_handle(wfi_sound_file *file, wf_error *err)
{
    SF_VIRTUAL_IO stream = {.get_filelen = stream_length,
                            .seek = stream_seek,
                            .read = stream_read,
                            .tell = stream_tell};
    char text[256] = "";
    wfi_sound_lock();
    file->handle = sf_open_virtual(&stream, SFM_READ, &file->info, file);
    if (file->handle == NULL)
        snprintf(text, sizeof text, "%s", sf_strerror(NULL));
    wfi_sound_unlock();
    if (file->handle != NULL)
        return WF_OK;
    WFI_TRY(forward_fault(file, err));
    return wfi_fail(
        err, WF_FORMAT,
        "%s: cannot be read as a sound file: %s; check the format stated in the job, or "
        "copy the file again",
        file->input->path, text);
}

static wf_status choose_kind(wfi_sound_file *file, wf_error *err)
{
    const int subtype = file->info.format & SF_FORMAT_SUBMASK;
    for (size_t i = 0; i < sizeof kinds / sizeof kinds[0]; i++) {
        if (kinds[i].subtype == subtype) {
            file->kind = &kinds[i];
            return WF_OK;
        }
    }
    SF_FORMAT_INFO info = {.format = subtype};
    const int known = sf_command(NULL, SFC_GET_FORMAT_INFO, &info, sizeof info);
    return wfi_fail(err, WF_UNSUPPORTED,
                    "%s: samples coded as %s; only uncompressed and losslessly compressed samples "
                    "can be correlated: record integers or floats as WAV, RF64, W64 or FLAC",
                    file->input->path, known == 0 && info.name != NULL ? info.name : "unknown");
}

wf_status wfi_sound_file_open(wfi_sound_file *out, const wfi_input_file *input,
                              const wfi_sound_chunks *chunks, wf_error *err)
{
    memset(out, 0, sizeof *out);
    out->input = input;
    out->chunks = chunks;
    WFI_TRY(open_handle(out, err));
    WFI_TRY(choose_kind(out, err));
    if (out->info.frames <= 0 || out->info.channels <= 0 || out->info.samplerate <= 0)
        return wfi_fail(err, WF_FORMAT,
                        "%s: %lld samples of %d channels at %d Hz by its header: nothing to "
                        "correlate; leave the file out, or copy it again",
                        input->path, (long long)out->info.frames, out->info.channels,
                        out->info.samplerate);
    return WF_OK;
}

wf_status wfi_sound_file_leave_header(wfi_sound_file *file, wf_error *err)
{
    const wfi_sound_chunks *c = file->chunks;
    if (!wfi_sound_chunks_exceed_header(c))
        return WF_OK;
    wfi_sound_file_close(file);
    file->info = (SF_INFO){.samplerate = file->info.samplerate,
                           .channels = file->info.channels,
                           .format = SF_FORMAT_RAW | SF_ENDIAN_LITTLE |
                                     (file->info.format & SF_FORMAT_SUBMASK)};
    file->begin = c->data_offset;
    file->offset = 0;
    file->position = 0;
    return open_handle(file, err);
}

void wfi_sound_file_close(wfi_sound_file *file)
{
    if (file->handle != NULL)
        sf_close(file->handle);
    file->handle = NULL;
}

wf_status wfi_sound_file_read(wfi_sound_file *file, int64_t first, int64_t n, void *out,
                              int64_t *n_read, wf_error *err)
{
    *n_read = 0;
    if (file->position != first && sf_seek(file->handle, first, SEEK_SET) != first) {
        file->position = -1;
        return forward_fault(file, err);
    }
    *n_read = file->kind->read(file->handle, out, n);
    file->position = *n_read == n ? first + n : -1;
    return forward_fault(file, err);
}

const char *wfi_sound_file_format_name(const wfi_sound_file *file)
{
    const int type = file->info.format & SF_FORMAT_TYPEMASK;
    for (size_t i = 0; i < sizeof format_names / sizeof format_names[0]; i++)
        if (format_names[i].type == type)
            return format_names[i].name;
    return "sound file";
}
