/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A VDIF recording of any bytes. The first eight choose what the job would say; what follows is one
 * file, or two that part at a place of its own choosing. */
#include <whitefringe/recording.h>

#include <string.h>

#include "memory_file.h"

enum { SETTINGS = 8, MOST_SAMPLES = 1 << 14 };

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static wf_recording_entry entry_of(const uint8_t *s)
{
    static const int64_t rates[] = {0, 100, 6400, 8000, 32000, 1000000, 32000000, 1024000000};
    return (wf_recording_entry){
        .format = WF_FILE_FORMAT_VDIF,
        .sample_rate_hz = rates[s[0] & 7],
        .payload = {.bytes = (wf_byte_order)(s[1] & 3),
                    .bits_reversed = (s[1] & 4) != 0,
                    .sign_lowest = (s[1] & 8) != 0,
                    .codes = s[1] & 16 ? WF_CODES_TWOS_COMPLEMENT : WF_CODES_OFFSET_BINARY},
        .time_offset_s = (int8_t)s[2],
        .has_reference_epoch = (s[3] & 128) != 0,
        .reference_epoch = s[3] & 63,
        .frame_index_exact = (s[4] & 1) != 0,
        .keep_going = (s[4] & 2) != 0,
        .header_bytes = s[4] & 4 ? (s[4] & 8 ? 32 : 16) : 0,
    };
}

/* Every byte handed out may be read; runs are in order and inside. */
static uint64_t check(const wf_packed *packed, const wf_sample_format *format)
{
    const uint64_t bits =
        (uint64_t)packed->n * format->bits * (format->is_complex ? 2 : 1) * format->n_channels;
    uint64_t sum = 0;
    for (uint64_t i = 0; i < bits / 8; i++)
        sum += packed->bytes[i];
    int64_t free_from = packed->first;
    for (size_t i = 0; i < packed->n_invalid; i++) {
        const wf_sample_range *run = &packed->invalid[i];
        if (run->n <= 0 || run->first < free_from ||
            run->first + run->n > packed->first + packed->n)
            abort();
        free_from = run->first + run->n + 1;
    }
    return sum;
}

static void read_through(wf_recording *recording, const uint8_t *settings)
{
    const wf_recording_info *info = wf_recording_describe(recording);
    wf_window *window = NULL;
    wf_fault faults[WF_FAULT_N_KINDS];
    int64_t lost[WF_FAULT_N_KINDS];
    volatile uint64_t sum = 0;
    const int64_t n = 1 + (int64_t)settings[5] * 64;
    const int64_t starts[] = {info->first - 3, info->first + (info->end - info->first) / 2,
                              info->end - n / 2, info->first + settings[6] * 256};
    for (size_t t = 0; t < info->n_threads; t++)
        if (info->threads[t].format.n_channels > 1024)
            return; /* windows as large as that only cost time */
    if (wf_window_create(&window, recording, n, NULL) != WF_OK)
        return;
    for (size_t i = 0; i < sizeof starts / sizeof starts[0]; i++) {
        if (wf_window_load(window, starts[i], n, NULL) != WF_OK)
            continue;
        for (size_t t = 0; t < info->n_threads; t++)
            sum += check(wf_window_thread(window, t), &info->threads[t].format);
    }
    if (wf_recording_faults(recording, faults, NULL) == WF_OK)
        for (size_t k = 0; k < WF_FAULT_N_KINDS; k++)
            if (faults[k].n_places < 0 || faults[k].n_frames < 0 || faults[k].n_bytes < 0 ||
                faults[k].lost_samples < 0)
                abort();
    if (wf_recording_losses(recording, 0, WF_NO_EXCLUSION, info->first, n, lost, NULL) == WF_OK)
        sum += (uint64_t)lost[0];
    wf_window_destroy(window);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static memory_file files[2];
    if (files[0].path[0] == '\0') {
        memory_file_open(&files[0]);
        memory_file_open(&files[1]);
    }
    if (size <= SETTINGS)
        return 0;
    const char *const paths[] = {files[0].path, files[1].path};
    wf_recording_entry entry = entry_of(data);
    const size_t n = size - SETTINGS;
    const size_t cut = data[7] & 1 ? n * data[7] / 256 : n;
    memory_file_set(&files[0], data + SETTINGS, cut);
    memory_file_set(&files[1], data + SETTINGS + cut, n - cut);
    entry.paths = paths;
    entry.n_paths = cut < n ? 2 : 1;
    wf_recording *recording = NULL;
    wf_error err = WF_ERROR_INIT;
    if (wf_recording_open(&recording, &entry, &err) == WF_OK)
        read_through(recording, data);
    else if (err.message[0] == '\0')
        abort();
    wf_recording_close(recording);
    return 0;
}
