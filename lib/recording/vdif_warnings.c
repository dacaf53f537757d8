/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "recording/vdif_warnings.h"

#include <inttypes.h>
#include <stdlib.h>

#include "base/status.h"

/* Versions 1, 3 and 4 have a word by which they are known; of version 0 all words are zero. */
static wf_status warn_of_extended_header(const wfi_vdif_stream *stream, const wfi_vdif_thread *t,
                                         wf_error *err)
{
    const wfi_vdif_header *h = &t->pattern;
    const uint32_t *word = h->extended;
    const uint32_t version = word[0] >> 24;
    const char *path = stream->files[0].input.path;
    if (wfi_vdif_as_stated(stream, h).legacy)
        return WF_OK;
    if (version == 0 && (word[0] | word[1] | word[2] | word[3]) != 0)
        return wfi_fault_log_warn(stream->log, err,
                                  "%s: thread %" PRIu32 ": the extended header is of version 0, "
                                  "which says nothing, but is not zero; it is ignored",
                                  path, t->id);
    if ((version != 1 && version != 3 && version != 4) || word[1] == WFI_VDIF_SYNC)
        return WF_OK;
    return wfi_fault_log_warn(stream->log, err,
                              "%s: thread %" PRIu32 ": the extended header is of version %" PRIu32
                              " but lacks its sync word ACABFEED (found %08" PRIX32
                              "); extended headers are ignored",
                              path, t->id, version, word[1]);
}

/* Some recorders write 32 bytes of header and call them 16. */
static wf_status warn_of_legacy_bit(const wfi_vdif_stream *stream, const wfi_vdif_thread *t,
                                    wf_error *err)
{
    if (stream->header_bytes != 0 || !t->pattern.legacy || t->pattern.extended[1] != WFI_VDIF_SYNC)
        return WF_OK;
    return wfi_fault_log_warn(stream->log, err,
                              "%s: thread %" PRIu32
                              ": the headers say that they have 16 bytes, but "
                              "the sync word of an extended header follows them: if they have 32, "
                              "add header_bytes: 32 to the recording in the job",
                              stream->files[0].input.path, t->id);
}

/* Many recorders put the bandwidth, half the rate of real samples, where the rate belongs. */
static wf_status warn_of_rate(const wfi_vdif_stream *stream, const wfi_vdif_thread *t,
                              wf_error *err)
{
    const wfi_vdif_header *h = &t->pattern;
    const uint32_t version = h->extended[0] >> 24;
    if (wfi_vdif_as_stated(stream, h).legacy || (version != 1 && version != 3) ||
        h->extended[1] != WFI_VDIF_SYNC || stream->sample_rate_hz == 0)
        return WF_OK;
    const int64_t field_hz =
        (int64_t)(h->extended[0] & 0x7fffff) * (h->extended[0] >> 23 & 1 ? 1000000 : 1000);
    if (field_hz == 0 || field_hz == stream->sample_rate_hz ||
        2 * field_hz == stream->sample_rate_hz)
        return WF_OK;
    return wfi_fault_log_warn(stream->log, err,
                              "%s: thread %" PRIu32 ": its headers state a rate or bandwidth of "
                              "%" PRId64 " Hz, the job a sample_rate_hz of %" PRId64,
                              stream->files[0].input.path, t->id, field_hz, stream->sample_rate_hz);
}

static wf_status warn_of_epoch(const wfi_vdif_stream *stream, const wfi_vdif_thread *t,
                               wf_error *err)
{
    const wfi_vdif_thread *first = &stream->threads[0];
    const int64_t apart = stream->epoch_second[t->pattern.epoch] + t->pattern.second -
                          stream->epoch_second[first->pattern.epoch] - first->pattern.second;
    if (t->pattern.epoch == first->pattern.epoch || llabs(apart) < 86400)
        return WF_OK;
    return wfi_fault_log_warn(stream->log, err,
                              "%s: thread %" PRIu32 " counts from reference epoch %" PRIu32
                              ", thread %" PRIu32 " from %" PRIu32
                              ", which puts them %+.1f days apart; if one is wrong, add "
                              "reference_epoch to the recording in the job",
                              stream->files[0].input.path, t->id, t->pattern.epoch, first->id,
                              first->pattern.epoch, (double)apart / 86400.0);
}

static wf_status warn_of_sampling(const wfi_vdif_stream *stream, const wfi_vdif_thread *t,
                                  wf_error *err)
{
    if (wfi_vdif_as_stated(stream, &t->pattern).is_complex == t->pattern.is_complex)
        return WF_OK;
    return wfi_fault_log_warn(
        stream->log, err,
        "%s: thread %" PRIu32 ": its headers say that the samples are %s, the job that they are "
        "not; the job's word counts",
        stream->files[0].input.path, t->id, t->pattern.is_complex ? "complex" : "real");
}

static wf_status warn_of_gap(const wfi_vdif_stream *stream, const wfi_vdif_file *file,
                             wf_error *err)
{
    if (file->gap_bytes == 0)
        return WF_OK;
    return wfi_fault_log_warn(stream->log, err,
                              "%s: %" PRIu32 " bytes that are no VDIF stand between all frames, as "
                              "headers of the network do that were recorded along: stepped over",
                              file->input.path, file->gap_bytes);
}

wf_status wfi_vdif_warn(const wfi_vdif_stream *stream, wf_error *err)
{
    for (size_t i = 0; i < stream->n_files; i++)
        WFI_TRY(warn_of_gap(stream, &stream->files[i], err));
    for (size_t i = 0; i < stream->n_threads; i++) {
        WFI_TRY(warn_of_extended_header(stream, &stream->threads[i], err));
        WFI_TRY(warn_of_legacy_bit(stream, &stream->threads[i], err));
        WFI_TRY(warn_of_rate(stream, &stream->threads[i], err));
        WFI_TRY(warn_of_epoch(stream, &stream->threads[i], err));
        WFI_TRY(warn_of_sampling(stream, &stream->threads[i], err));
    }
    return WF_OK;
}
