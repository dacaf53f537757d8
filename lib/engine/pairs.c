/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Which inputs are multiplied with which. */
#include "engine/pairs.h"

#include <stdbool.h>

#include "base/memory.h"
#include "base/status.h"

/* The input of a slot. */
typedef struct slot {
    bool used;
    size_t i_station;
    size_t i_polarization;
} slot;

typedef struct slots {
    const wf_shape *shape;
    size_t n_polarizations;
    int (*product_input)[2];
    bool by_station; /* slots: polarizations of a station side by side */
    size_t n_slots;
} slots;

static bool has_cross_hands(const wf_shape *shape, int product_input[][2])
{
    for (size_t p = 0; p < shape->n_products; p++) {
        if (product_input[p][0] != product_input[p][1])
            return true;
    }
    return false;
}

static size_t even(size_t n)
{
    return n + n % 2;
}

static size_t slot_of(const slots *layout, size_t i_station, size_t i_polarization)
{
    if (layout->by_station)
        return i_station * 2 + i_polarization;
    return i_polarization * even(layout->shape->n_stations) + i_station;
}

static slot slot_at(const slots *layout, size_t i_slot)
{
    const size_t row = layout->by_station ? 2 : even(layout->shape->n_stations);
    const size_t major = i_slot / row;
    const size_t minor = i_slot % row;
    if (layout->by_station)
        return (slot){minor < layout->n_polarizations, major, minor};
    return (slot){minor < layout->shape->n_stations, minor, major};
}

static int product_of(const slots *layout, slot a, slot b)
{
    const wf_shape *shape = layout->shape;
    if (!a.used || !b.used || a.i_station > b.i_station)
        return -1;
    const size_t i_baseline = wfi_baseline_index(shape->n_stations, a.i_station, b.i_station);
    for (size_t p = 0; p < shape->n_products; p++) {
        if (layout->product_input[p][0] == (int)a.i_polarization &&
            layout->product_input[p][1] == (int)b.i_polarization)
            return (int)(i_baseline * shape->n_products + p);
    }
    return -1;
}

static wfi_pair_block block_of(const slots *layout, size_t first, size_t second)
{
    wfi_pair_block block = {.first = first, .second = second};
    for (size_t k = 0; k < WFI_PAIR_PRODUCTS; k++)
        block.product[k] = product_of(layout, slot_at(layout, 2 * first + k / 2),
                                      slot_at(layout, 2 * second + k % 2));
    return block;
}

static bool is_asked_for(const wfi_pair_block *block)
{
    for (size_t k = 0; k < WFI_PAIR_PRODUCTS; k++) {
        if (block->product[k] >= 0)
            return true;
    }
    return false;
}

wf_status wfi_pairs_create(wfi_pairs *pairs, const wf_shape *shape, size_t n_polarizations,
                           int product_input[][2], wf_error *err)
{
    slots layout = {
        .shape = shape,
        .n_polarizations = n_polarizations,
        .product_input = product_input,
        .by_station = has_cross_hands(shape, product_input),
    };
    const size_t n = shape->n_stations;
    layout.n_slots = layout.by_station ? 2 * n : n_polarizations * even(n);
    const size_t n_pairs = layout.n_slots / 2;
    pairs->n_slots = layout.n_slots;
    WFI_TRY(
        wfi_allocate(&pairs->slot_of_input, n * n_polarizations, sizeof(size_t), "inputs", err));
    WFI_TRY(wfi_allocate(&pairs->blocks, n_pairs * (n_pairs + 1) / 2, sizeof *pairs->blocks,
                         "inputs", err));
    for (size_t i = 0; i < n * n_polarizations; i++)
        pairs->slot_of_input[i] = slot_of(&layout, i / n_polarizations, i % n_polarizations);
    for (size_t first = 0; first < n_pairs; first++) {
        for (size_t second = first; second < n_pairs; second++) {
            const wfi_pair_block block = block_of(&layout, first, second);
            if (is_asked_for(&block))
                pairs->blocks[pairs->n_blocks++] = block;
        }
    }
    return WF_OK;
}

void wfi_pairs_destroy(wfi_pairs *pairs)
{
    wfi_free(pairs->slot_of_input);
    wfi_free(pairs->blocks);
    *pairs = (wfi_pairs){0};
}
