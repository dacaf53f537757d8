/* SPDX-License-Identifier: GPL-3.0-or-later */
/* An example sky loads, and what it makes is small. The path is the only argument. */
#include <stdio.h>

#include "recording/vdif_header.h"
#include "simulate/sky.h"

static double megabytes(const wf_sky *sky, size_t i)
{
    const wfi_style *const style = &sky->styles[i];
    const double n_samples = (double)sky->schedules[i].n_samples;
    if (style->is_sound)
        return n_samples * style->n_channels * (style->is_complex ? 4.0 : 2.0) * 1e-6;
    const double frame_bytes =
        style->payload_bytes +
        (double)(style->legacy_header ? WFI_VDIF_LEGACY_HEADER_BYTES : WFI_VDIF_HEADER_BYTES);
    return n_samples / (double)style->samples_per_frame * (double)style->n_threads * frame_bytes *
           1e-6;
}

int main(int n_arguments, char **arguments)
{
    wf_error err = WF_ERROR_INIT;
    wf_sky *sky = NULL;
    if (n_arguments != 2 || wf_sky_load(&sky, arguments[1], &err) != WF_OK) {
        fprintf(stderr, "%s\n", err.message);
        return 1;
    }
    double sum = 0.0;
    for (size_t i = 0; i < wf_sky_n_recordings(sky); i++)
        sum += megabytes(sky, i);
    printf("%.1f MB of recordings, limit 200 MB\n", sum);
    wf_sky_destroy(sky);
    return sum < 200.0 ? 0 : 1;
}
