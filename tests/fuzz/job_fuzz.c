/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A job file of any bytes. */
#include <whitefringe/observation.h>

#include "memory_file.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static memory_file file;
    if (file.path[0] == '\0')
        memory_file_open(&file);
    memory_file_set(&file, data, size);
    wf_observation *observation = NULL;
    wf_error err = WF_ERROR_INIT;
    if (wf_observation_load(&observation, file.path, &err) != WF_OK &&
        (observation != NULL || err.message[0] == '\0'))
        abort();
    wf_observation_destroy(observation);
    return 0;
}
