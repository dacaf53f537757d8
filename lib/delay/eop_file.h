/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Files of Earth orientation, one day a line: what all layouts share. */
#ifndef WFI_DELAY_EOP_FILE_H
#define WFI_DELAY_EOP_FILE_H

#include "delay/eop.h"
#include "delay/line_reader.h"

/** What a layout makes of a line that is not blank: a day appended to `eop`, or nothing.
 *
 *  given  place   file and line, for wfi_eop_append
 *         layout  what the layout keeps from line to line
 */
typedef wf_status wfi_eop_line(wfi_eop *eop, const wfi_line_reader *reader, const char *place,
                               void *layout, wf_error *err);

/** Read all lines of a file of daily rows into an empty series, which takes the file's name.
 *
 *  status  OK, with eop->n_days = 0 where no line held a day | MISSING | FORMAT | IO | MEMORY
 */
wf_status wfi_eop_file_read(wfi_eop *eop, const char *path, wfi_eop_line *read_line, void *layout,
                            wf_error *err);

#endif
