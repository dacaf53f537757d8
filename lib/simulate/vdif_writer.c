/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Frames with extended-data version 0: times, layout and samples, nothing else. */
#include "simulate/vdif_writer.h"

#include <errno.h>
#include <stdio.h>
#include <whitefringe/time.h>

#include "base/memory.h"
#include "base/output.h"
#include "base/status.h"
#include "recording/vdif_header.h"

struct wfi_vdif_writer {
    wfi_output output;
    FILE *file;
    wfi_vdif_header header; /* of the next frame */
    uint32_t payload_bytes;
    int64_t epoch_second;
};

static wf_status refuse(const wfi_vdif_writer *writer, int reason, wf_error *err)
{
    char words[WFI_ERRNO_TEXT_BYTES];
    return wfi_fail(err, WF_IO, "%s: could not be written: %s", writer->output.path,
                    wfi_errno_text(words, reason));
}

static uint32_t log2_of(uint32_t n)
{
    uint32_t exponent = 0;
    while (n > 1) {
        n /= 2;
        exponent++;
    }
    return exponent;
}

static void fill_header(wfi_vdif_writer *writer, const wfi_vdif_layout *layout,
                        int64_t first_second)
{
    writer->header = (wfi_vdif_header){
        .legacy = layout->legacy_header,
        .epoch = wfi_vdif_epoch_of((wf_instant){first_second, 0.0}),
        .log2_channels = log2_of(layout->n_channels),
        .is_complex = layout->is_complex,
        .bits = layout->bits,
        .station = layout->station,
    };
    writer->header.frame_bytes = wfi_vdif_header_bytes(&writer->header) + layout->payload_bytes;
    writer->payload_bytes = layout->payload_bytes;
    writer->epoch_second = wfi_vdif_epoch_second(writer->header.epoch);
}

wf_status wfi_vdif_writer_create(wfi_vdif_writer **out, const char *path,
                                 const wfi_vdif_layout *layout, int64_t first_second, wf_error *err)
{
    *out = NULL;
    wfi_vdif_writer *writer = NULL;
    WFI_TRY(wfi_allocate(&writer, 1, sizeof *writer, "a VDIF file", err));
    fill_header(writer, layout, first_second);
    wf_status status = wfi_output_begin(&writer->output, path, err);
    if (status == WF_OK) {
        writer->file = fopen(writer->output.temporary, "wbx");
        if (writer->file == NULL)
            status = refuse(writer, errno, err);
    }
    if (status != WF_OK) {
        wfi_vdif_writer_destroy(writer);
        return status;
    }
    *out = writer;
    return WF_OK;
}

wf_status wfi_vdif_writer_append(wfi_vdif_writer *writer, int64_t second, int64_t frame,
                                 uint32_t thread, const uint8_t *payload, wf_error *err)
{
    writer->header.second = (uint32_t)(second - writer->epoch_second);
    writer->header.frame = (uint32_t)frame;
    writer->header.thread = thread;
    uint8_t bytes[WFI_VDIF_HEADER_BYTES];
    const size_t n = wfi_vdif_header_encode(bytes, &writer->header);
    if (fwrite(bytes, 1, n, writer->file) != n ||
        fwrite(payload, 1, writer->payload_bytes, writer->file) != writer->payload_bytes)
        return refuse(writer, errno, err);
    return WF_OK;
}

wf_status wfi_vdif_writer_finish(wfi_vdif_writer *writer, wf_error *err)
{
    const int closed = fclose(writer->file);
    writer->file = NULL;
    if (closed != 0)
        return refuse(writer, errno, err);
    return wfi_output_commit(&writer->output, err);
}

void wfi_vdif_writer_destroy(wfi_vdif_writer *writer)
{
    if (writer == NULL)
        return;
    if (writer->file != NULL)
        fclose(writer->file);
    wfi_output_discard(&writer->output);
    wfi_free(writer);
}
