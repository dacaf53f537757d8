/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a kernel runs on; each uses a part of it. */
#ifndef WFI_THROUGHPUT_KERNEL_CASE_STATE_H
#define WFI_THROUGHPUT_KERNEL_CASE_STATE_H

#include <stdint.h>

#include "engine/channelize.h"
#include "throughput/kernel_cases.h"

#define WFI_KERNEL_CASE_WHAT "a kernel's data"

struct wfi_kernel_case {
    wfi_kernel_kind kind;
    wfi_scene_setup setup;
    const wfi_kernels *kernels;
    wf_sample_format format;
    size_t n_fft;
    size_t n_rounds;
    double amount_of_a_round;
    wfi_unpacker unpacker;
    uint8_t *bytes;
    float *samples; /* [2 * n_fft] */
    wfi_grid_stream stream;
    wfi_grid_piece piece;
    wfi_alignment alignments[WFI_BATCH_SEGMENTS]; /* the first, where it goes segment by segment */
    wfi_transforms transforms;
    wfi_channelizer channelizer;
    wfi_spectra spectra;
    float *tiles; /* of a segment of a station's streams; or [n_inputs][n_crossed] of 16 channels */
    float *sums;
    wfi_pair_block *blocks;
};

/** Numbers of both signs, none small. */
void wfi_kernel_case_fill(float *x, size_t n);
/** Codes of all kinds. */
void wfi_kernel_case_fill_packed(uint8_t *bytes, size_t n);

#endif
