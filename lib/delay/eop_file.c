/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Files of Earth orientation, one day a line: what all layouts share. */
#include "delay/eop_file.h"

#include "base/memory.h"
#include "base/status.h"
#include "delay/columns.h"

static wf_status read_lines(wfi_eop *eop, wfi_line_reader *reader, wfi_eop_line *read_line,
                            void *layout, wf_error *err)
{
    wf_status status = WF_OK;
    while ((status = wfi_line_reader_next(reader, err)) == WF_OK) {
        if (wfi_is_blank(reader->line, reader->n))
            continue;
        char place[WFI_LINE_BYTES];
        snprintf(place, sizeof place, "%s: line %ld", reader->path, reader->number);
        WFI_TRY(read_line(eop, reader, place, layout, err));
    }
    return status == WF_END ? WF_OK : status;
}

wf_status wfi_eop_file_read(wfi_eop *eop, const char *path, wfi_eop_line *read_line, void *layout,
                            wf_error *err)
{
    wfi_line_reader reader = {0};
    eop->step_days = 1.0;
    wf_status status = wfi_string_copy(&eop->origin, path, err);
    if (status == WF_OK)
        status = wfi_line_reader_open(&reader, path, err);
    if (status == WF_OK)
        status = read_lines(eop, &reader, read_line, layout, err);
    wfi_line_reader_close(&reader);
    return status;
}
