/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A sound file of any bytes. The first chooses what the job would say. */
#include <whitefringe/recording.h>

#include "memory_file.h"

enum { N = 1000 };

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static memory_file file;
    if (file.path[0] == '\0')
        memory_file_open(&file);
    if (size < 2)
        return 0;
    memory_file_set(&file, data + 1, size - 1);
    const char *const path = file.path;
    const wf_recording_entry entry = {
        .paths = &path,
        .n_paths = 1,
        .format = data[0] & 1 ? WF_FILE_FORMAT_SOUND : WF_FILE_FORMAT_PROBE,
        .sampling = data[0] & 2 ? WF_SAMPLING_COMPLEX : WF_SAMPLING_REAL,
        .sample_rate_hz = data[0] & 4 ? 48000 : 0,
        .has_start = (data[0] & 8) != 0,
        .start = {800000000, 0.0},
    };
    wf_recording *recording = NULL;
    wf_window *window = NULL;
    wf_error err = WF_ERROR_INIT;
    if (wf_recording_open(&recording, &entry, &err) == WF_OK) {
        const wf_recording_info *info = wf_recording_describe(recording);
        const int64_t starts[] = {info->first - 10, info->end / 2, info->end - 10};
        if (info->threads[0].format.n_channels <= 64 &&
            wf_window_create(&window, recording, N, NULL) == WF_OK)
            for (size_t i = 0; i < sizeof starts / sizeof starts[0]; i++)
                if (wf_window_load(window, starts[i], N, NULL) != WF_OK)
                    break;
    } else if (err.message[0] == '\0') {
        abort();
    }
    wf_window_destroy(window);
    wf_recording_close(recording);
    return 0;
}
