/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a plan decided, in words: for people and for the output's history. */
#include <inttypes.h>
#include <stdio.h>
#include <string.h>

#include "base/text.h"
#include "engine/plan.h"

static size_t count_rotated(const wf_plan *plan)
{
    size_t n = 0;
    for (size_t k = 0; k < plan->grid->n_streams; k++)
        n += wfi_bundles_use(&plan->bundles, k) && plan->rotated[k];
    return n;
}

static size_t count_used(const wf_plan *plan)
{
    size_t n = 0;
    for (size_t k = 0; k < plan->grid->n_streams; k++)
        n += wfi_bundles_use(&plan->bundles, k);
    return n;
}

static void describe_lengths(const wf_plan *plan, wfi_text *text)
{
    for (size_t k = 0; k < plan->grid->n_streams; k++) {
        const wfi_grid_stream *stream = &plan->grid->streams[k];
        bool seen = false;
        for (size_t j = 0; j < k && !seen; j++)
            seen = plan->grid->streams[j].n_fft == stream->n_fft;
        if (!seen)
            wfi_text_append(text, "%s%zu", k == 0 ? "" : ", ", stream->n_fft);
    }
}

size_t wf_plan_describe(const wf_plan *plan, char *text, size_t capacity)
{
    wfi_text lines = {0};
    wfi_text_append(&lines, "%zu channels of %.10g Hz in %zu band(s), samples a segment: ",
                    plan->shape.n_channels, plan->grid->channel_width_hz, plan->shape.n_bands);
    describe_lengths(plan, &lines);
    const size_t n_used = count_used(plan);
    const size_t n_rotated = count_rotated(plan);
    wfi_text_append(
        &lines,
        "\n%zu streams, fringe rotation before the FFT in %zu, after it in %zu\n"
        "amplitude lost to rotation: %.2g at most\n"
        "kernels %s; sums over %zu segments in registers, %zu in float, then in double\n",
        n_used, n_rotated, n_used - n_rotated, plan->rotation_loss, plan->kernels->name,
        plan->block_segments, plan->group_segments);
    const size_t n = lines.n;
    if (capacity > 0)
        snprintf(text, capacity, "%s", lines.bytes != NULL ? lines.bytes : "");
    wfi_text_release(&lines);
    return n;
}
