/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A user's delay table of any bytes, and its interpolation. */
#include "memory_file.h"

#include "delay/delay_table.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static memory_file file;
    if (file.path[0] == '\0')
        memory_file_open(&file);
    memory_file_set(&file, data, size);
    wfi_delay_table table = {0};
    wf_error err = WF_ERROR_INIT;
    if (wfi_delay_table_read(&table, file.path, &err) == WF_OK) {
        double tau_s = 0;
        for (size_t i = 0; i < table.n_rows && i < 16; i++)
            if (wfi_delay_table_evaluate(&table, table.rows[i].t, &tau_s, NULL) != WF_OK)
                abort(); /* at its own rows a table has values */
    } else if (err.message[0] == '\0') {
        abort();
    }
    wfi_delay_table_release(&table);
    return 0;
}
