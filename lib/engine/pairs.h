/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Which inputs are multiplied with which.
 *
 *  An input is one polarization of one station. Inputs stand in slots, two slots make a pair, and
 *  the kernel multiplies pair by pair: four products at a time. Where cross-hands are asked for a
 *  pair is a station's two polarizations, else two stations' same polarization.
 */
#ifndef WFI_ENGINE_PAIRS_H
#define WFI_ENGINE_PAIRS_H

#include <stddef.h>
#include <whitefringe/engine.h>

enum { WFI_PAIR_PRODUCTS = 4 }; /* of two pairs of inputs */

/** Two pairs and what their four products are for. */
typedef struct wfi_pair_block {
    size_t first; /* pair */
    size_t second;
    int product[WFI_PAIR_PRODUCTS]; /* i_baseline * n_products + i_product, -1: not asked for */
} wfi_pair_block;

typedef struct wfi_pairs {
    size_t *slot_of_input; /* [n_inputs] */
    size_t n_slots;        /* even; a slot without input stays zero */
    wfi_pair_block *blocks;
    size_t n_blocks;
} wfi_pairs;

/** given  product_input  [n_products][2] index of the two stations' polarizations */
wf_status wfi_pairs_create(wfi_pairs *pairs, const wf_shape *shape, size_t n_polarizations,
                           int product_input[][2], wf_error *err);
void wfi_pairs_destroy(wfi_pairs *pairs);

static inline size_t wfi_baseline_index(size_t n_stations, size_t i, size_t j)
{
    return i * n_stations - i * (i + 1) / 2 + j;
}

#endif
