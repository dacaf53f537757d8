/* SPDX-License-Identifier: GPL-3.0-or-later */
/* From the packed samples of a block to its tiles: bundle by bundle, in batches where the plan has
 * them and all samples are valid, else segment by segment. */
#ifndef WFI_ENGINE_SEGMENTS_H
#define WFI_ENGINE_SEGMENTS_H

#include "engine/worker.h"

/** The samples of a feed that the worker has read. */
const wf_packed *wfi_segments_packed(const wf_worker *worker, const wfi_feed *feed);

/** Fill the tiles of one bundle's streams, and count their power and valid samples.
 *
 *  given  worker  aligned, its samples read and their validity counted
 */
void wfi_segments_channelize(wf_worker *worker, size_t i_bundle, size_t n_segments,
                             wf_partial *partial);

#endif
