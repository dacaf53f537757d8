/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Ocean loading of any bytes, in the BLQ layout. */
#include "memory_file.h"

#include "delay/blq.h"
#include "delay/line_reader.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    wfi_blq blq = {0};
    wfi_line_reader reader;
    wf_error err = WF_ERROR_INIT;
    wfi_line_reader_open_memory(&reader, "fuzz", (const char *)data, size);
    if (wfi_blq_parse(&blq, &reader, &err) != WF_OK) {
        if (err.message[0] == '\0')
            abort();
    } else {
        const wfi_blq_station *station = NULL;
        if (wfi_blq_find(&blq, "ALDER", &station, NULL) == WF_OK && station == NULL)
            abort();
    }
    wfi_line_reader_close(&reader);
    wfi_blq_release(&blq);
    return 0;
}
