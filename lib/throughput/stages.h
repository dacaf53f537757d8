/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Where one thread's time goes. */
#ifndef WFI_THROUGHPUT_STAGES_H
#define WFI_THROUGHPUT_STAGES_H

#include <whitefringe/throughput.h>

#include "throughput/bare_fft.h"
#include "throughput/scene.h"

/** Shares of the time of a segment.
 *
 *  Each stage is timed alone, its data in cache; what the whole takes beside their sum is OTHER.
 *  given     session, slice  one whole integration
 *            setup           that stands for it: volumes of its kernels
 *            segment_s       seconds a segment on one thread
 *  returned  share           [WF_N_STAGES], of sum 1
 *  status    OK | as wf_plan_execute | MEMORY
 */
wf_status wfi_stages_measure(double share[WF_N_STAGES], const wfi_session *session,
                             const wf_slice *slice, const wfi_scene_setup *setup, double segment_s,
                             wfi_clock now_s, wf_error *err);

#endif
