/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Earth orientation of any bytes, in the layouts of finals2000A and C04. */
#include "memory_file.h"

#include "delay/c04.h"
#include "delay/eop.h"
#include "delay/finals2000a.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void read_as(wf_status (*read)(wfi_eop *, const char *, wf_error *), const char *path)
{
    wfi_eop eop = {0};
    wf_error err = WF_ERROR_INIT;
    if (read(&eop, path, &err) != WF_OK && err.message[0] == '\0')
        abort();
    wfi_eop_release(&eop);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static memory_file file;
    if (file.path[0] == '\0')
        memory_file_open(&file);
    memory_file_set(&file, data, size);
    read_as(wfi_finals2000a_read, file.path);
    read_as(wfi_c04_read, file.path);
    return 0;
}
