/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Sums over a stretch or a slice. */
#include <string.h>

#include "base/memory.h"
#include "base/status.h"
#include "engine/plan.h"

static size_t n_products(const wf_shape *shape)
{
    return shape->n_baselines * shape->n_products;
}

static size_t n_cross(const wf_shape *shape)
{
    return n_products(shape) * shape->n_bands * shape->n_channels;
}

wf_status wf_partial_create(wf_partial **out, const wf_plan *plan, wf_error *err)
{
    *out = NULL;
    wf_partial *partial = NULL;
    const wf_shape *shape = &plan->shape;
    WFI_TRY(wfi_allocate(&partial, 1, sizeof *partial, "sums", err));
    wf_status status =
        wfi_allocate(&partial->cross, n_cross(shape), sizeof *partial->cross, "visibilities", err);
    if (status == WF_OK)
        status = wfi_allocate(&partial->common_valid, n_products(shape) * shape->n_spans,
                              sizeof(double), "weights", err);
    if (status == WF_OK)
        status = wfi_allocate(&partial->power, shape->n_streams, sizeof(double), "powers", err);
    if (status == WF_OK)
        status = wfi_allocate(&partial->valid_samples, shape->n_streams, sizeof(double),
                              "sample counts", err);
    if (status == WF_OK)
        *out = partial;
    else
        wf_partial_destroy(partial);
    return status;
}

void wf_partial_destroy(wf_partial *partial)
{
    if (partial == NULL)
        return;
    wfi_free(partial->cross);
    wfi_free(partial->common_valid);
    wfi_free(partial->power);
    wfi_free(partial->valid_samples);
    wfi_free(partial);
}

void wf_partial_clear(wf_partial *partial, const wf_plan *plan)
{
    const wf_shape *shape = &plan->shape;
    memset(partial->cross, 0, n_cross(shape) * sizeof *partial->cross);
    memset(partial->common_valid, 0, n_products(shape) * shape->n_spans * sizeof(double));
    memset(partial->power, 0, shape->n_streams * sizeof(double));
    memset(partial->valid_samples, 0, shape->n_streams * sizeof(double));
}

static void add(double *total, const double *part, size_t n)
{
    for (size_t i = 0; i < n; i++)
        total[i] += part[i];
}

void wf_partial_add(wf_partial *total, const wf_plan *plan, const wf_partial *part)
{
    const wf_shape *shape = &plan->shape;
    add((double *)total->cross, (const double *)part->cross, 2 * n_cross(shape));
    add(total->common_valid, part->common_valid, n_products(shape) * shape->n_spans);
    add(total->power, part->power, shape->n_streams);
    add(total->valid_samples, part->valid_samples, shape->n_streams);
}
