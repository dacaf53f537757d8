/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Fourier sums on any even lattice of turns. */
#include "fringe/chirp.h"

#include <fftw3.h>
#include <math.h>
#include <stdbool.h>
#include <string.h>

#include "base/fftw_lock.h"
#include "base/memory.h"
#include "base/status.h"
#include "fringe/grid.h"
#include "fringe/product.h"

struct wfi_chirp {
    size_t n_in;
    size_t n_out;
    size_t length;         /* of the transforms */
    bool is_plain;         /* the lattice is the transform's own */
    bool is_single;        /* one value in or out: the sum itself, no transform */
    float complex *before; /* [n_in] */
    float complex *after;  /* [n_out] */
    float complex *kernel; /* [length]; not where plain */
    float complex *buffer; /* [length] */
    fftwf_plan forward;    /* not where plain */
    fftwf_plan backward;
};

static float complex phasorf(double turns)
{
    return (float complex)wfi_phasor(turns);
}

/* step * n^2 / 2, reduced: the product is exact before it is rounded. */
static double chirp_turns(double step, size_t n)
{
    return wfi_turns_product(0.5 * step, (double)n * (double)n);
}

static bool fits_transform(size_t n_in, size_t n_out, double step, size_t *length)
{
    const double whole = rint(1 / step);
    if (!(fabs(whole * step - 1) * (double)(n_in + n_out) < 1e-9) || whole < (double)n_in ||
        whole + 1 < (double)n_out || whole > 1e9)
        return false;
    *length = (size_t)whole;
    return wfi_grid_length(*length, 1) == *length;
}

static void fill_phases(wfi_chirp *c, double first, double step)
{
    const double middle = 0.5 * (double)(c->n_in - 1);
    for (size_t n = 0; n < c->n_in; n++)
        c->before[n] =
            phasorf(wfi_turns_product(first, (double)n) + (c->is_plain ? 0 : chirp_turns(step, n)));
    for (size_t m = 0; m < c->n_out; m++)
        c->after[m] = phasorf((c->is_plain ? 0 : chirp_turns(step, m)) -
                              wfi_turns_product(middle, first + (double)m * step));
}

/* The convolution's kernel, transformed; the transforms' 1 / length goes into it. */
static void fill_kernel(wfi_chirp *c, double step)
{
    const float scale = 1.0f / (float)c->length;
    for (size_t m = 0; m < c->n_out; m++)
        c->buffer[m] = scale * phasorf(-chirp_turns(step, m));
    for (size_t n = 1; n < c->n_in; n++)
        c->buffer[c->length - n] = scale * phasorf(-chirp_turns(step, n));
    fftwf_execute(c->forward);
    memcpy(c->kernel, c->buffer, c->length * sizeof *c->kernel);
}

/* Estimated plans: the same input gives the same bits in every run. */
static wf_status make_plans(wfi_chirp *c, wf_error *err)
{
    const int n = (int)c->length;
    wfi_fftw_lock();
    c->backward = fftwf_plan_dft_1d(n, c->buffer, c->buffer, FFTW_BACKWARD, FFTW_ESTIMATE);
    if (!c->is_plain)
        c->forward = fftwf_plan_dft_1d(n, c->buffer, c->buffer, FFTW_FORWARD, FFTW_ESTIMATE);
    wfi_fftw_unlock();
    if (c->backward == NULL || (!c->is_plain && c->forward == NULL))
        return wfi_fail(err, WF_MEMORY, "a transform of %zu points could not be planned",
                        c->length);
    return WF_OK;
}

static void fill_single(wfi_chirp *c, double first)
{
    const double middle = 0.5 * (double)(c->n_in - 1);
    for (size_t n = 0; n < c->n_in; n++)
        c->before[n] = phasorf(wfi_turns_product(first, (double)n - middle));
}

static wf_status set_up(wfi_chirp *c, double first, double step, wf_error *err)
{
    static const char what[] = "a fringe's lattice";
    WFI_TRY(wfi_allocate(&c->before, c->n_in, sizeof *c->before, what, err));
    if (c->is_single) {
        fill_single(c, first);
        return WF_OK;
    }
    WFI_TRY(wfi_allocate(&c->after, c->n_out, sizeof *c->after, what, err));
    WFI_TRY(wfi_allocate(&c->buffer, c->length, sizeof *c->buffer, what, err));
    if (!c->is_plain)
        WFI_TRY(wfi_allocate(&c->kernel, c->length, sizeof *c->kernel, what, err));
    WFI_TRY(make_plans(c, err));
    fill_phases(c, first, step);
    if (!c->is_plain)
        fill_kernel(c, step);
    return WF_OK;
}

wf_status wfi_chirp_create(wfi_chirp **out, size_t n_in, size_t n_out, double first, double step,
                           wf_error *err)
{
    *out = NULL;
    wfi_chirp *c = NULL;
    WFI_TRY(wfi_allocate(&c, 1, sizeof *c, "a fringe's lattice", err));
    c->n_in = n_in;
    c->n_out = n_out;
    c->is_single = n_in == 1 || n_out == 1;
    c->is_plain = !c->is_single && fits_transform(n_in, n_out, step, &c->length);
    if (!c->is_plain && !c->is_single)
        c->length = wfi_grid_length(n_in + n_out, 1);
    const wf_status status = set_up(c, first, step, err);
    if (status != WF_OK) {
        wfi_chirp_destroy(c);
        return status;
    }
    *out = c;
    return WF_OK;
}

void wfi_chirp_destroy(wfi_chirp *chirp)
{
    if (chirp == NULL)
        return;
    wfi_fftw_lock();
    if (chirp->forward != NULL)
        fftwf_destroy_plan(chirp->forward);
    if (chirp->backward != NULL)
        fftwf_destroy_plan(chirp->backward);
    wfi_fftw_unlock();
    wfi_free(chirp->before);
    wfi_free(chirp->after);
    wfi_free(chirp->kernel);
    wfi_free(chirp->buffer);
    wfi_free(chirp);
}

static void execute_single(const wfi_chirp *c, const float complex *in, float complex *out)
{
    double complex sum = 0;
    for (size_t n = 0; n < c->n_in; n++)
        sum += wfi_productf(in[n], c->before[n]);
    for (size_t m = 0; m < c->n_out; m++)
        out[m] = (float complex)sum;
}

void wfi_chirp_execute(wfi_chirp *chirp, const float complex *in, float complex *out)
{
    if (chirp->is_single) {
        execute_single(chirp, in, out);
        return;
    }
    float complex *buffer = chirp->buffer;
    for (size_t n = 0; n < chirp->n_in; n++)
        buffer[n] = wfi_productf(in[n], chirp->before[n]);
    memset(buffer + chirp->n_in, 0, (chirp->length - chirp->n_in) * sizeof *buffer);
    if (!chirp->is_plain) {
        fftwf_execute(chirp->forward);
        for (size_t i = 0; i < chirp->length; i++)
            buffer[i] = wfi_productf(buffer[i], chirp->kernel[i]);
    }
    fftwf_execute(chirp->backward);
    for (size_t m = 0; m < chirp->n_out; m++)
        out[m] = wfi_productf(buffer[m < chirp->length ? m : m - chirp->length], chirp->after[m]);
}
