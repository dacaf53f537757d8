/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The way from samples to tiles as cases: segment by segment through FFTW, or in batches. */
#ifndef WFI_THROUGHPUT_CHANNELIZER_CASES_H
#define WFI_THROUGHPUT_CHANNELIZER_CASES_H

#include "throughput/kernel_cases.h"

/** Each: prepare what `run` runs on, a segment or a batch a round; see wfi_kernel_kind. */
wf_status wfi_transform_case_prepare(wfi_kernel_case *made, wf_error *err);
void wfi_transform_case_run(wfi_kernel_case *made, size_t round);

wf_status wfi_phase_case_prepare(wfi_kernel_case *made, wf_error *err);
void wfi_phase_case_run(wfi_kernel_case *made, size_t round);

wf_status wfi_early_case_prepare(wfi_kernel_case *made, wf_error *err);
void wfi_early_case_run(wfi_kernel_case *made, size_t round);

wf_status wfi_late_case_prepare(wfi_kernel_case *made, wf_error *err);
void wfi_late_case_run(wfi_kernel_case *made, size_t round);

#endif
