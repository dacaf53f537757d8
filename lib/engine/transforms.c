/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The transforms of the streams' segments, by FFTW. */
#include "engine/transforms.h"

#include <math.h>
#include <stdio.h>

#include "base/fftw_lock.h"
#include "base/memory.h"
#include "base/status.h"
#include "base/turns.h"
#include "engine/wisdom.h"

static wfi_route route_of(const wfi_grid_stream *stream, bool rotated)
{
    if (stream->format.is_complex || rotated)
        return WFI_ROUTE_COMPLEX;
    return stream->n_fft % 2 == 0 ? WFI_ROUTE_HALF : WFI_ROUTE_REAL;
}

/* Hands FFTW the wisdom character by character. */
typedef struct wisdom_reader {
    const char *const *line;
    size_t at;
} wisdom_reader;

static int read_wisdom(void *p)
{
    wisdom_reader *reader = p;
    while (*reader->line != NULL && (*reader->line)[reader->at] == '\0') {
        reader->line++;
        reader->at = 0;
    }
    return *reader->line == NULL ? EOF : (unsigned char)(*reader->line)[reader->at++];
}

static fftwf_plan ask_planner(wfi_route route, int n, float *in, fftwf_complex *out,
                              unsigned effort)
{
    return route == WFI_ROUTE_REAL
               ? fftwf_plan_dft_r2c_1d(n, in, out, effort)
               : fftwf_plan_dft_1d(n, (fftwf_complex *)in, out, FFTW_FORWARD, effort);
}

/* A plan that is known, else one that is estimated: plans that are measured differ from run to run
 * in their last bits, and results must not. */
static fftwf_plan plan_transform(wfi_route route, size_t n_fft, float *in, fftwf_complex *out)
{
    const int n = (int)(route == WFI_ROUTE_HALF ? n_fft / 2 : n_fft);
    wfi_fftw_lock();
    wisdom_reader reader = {.line = wfi_wisdom};
    (void)fftwf_import_wisdom(read_wisdom, &reader);
    fftwf_plan plan = ask_planner(route, n, in, out, FFTW_MEASURE | FFTW_WISDOM_ONLY);
    if (plan == NULL)
        plan = ask_planner(route, n, in, out, FFTW_ESTIMATE);
    wfi_fftw_unlock();
    return plan;
}

static wf_status fill_twiddle(wfi_transform *transform, wf_error *err)
{
    const size_t n = transform->n_fft / 2;
    const size_t row = n / 2 + 1;
    WFI_TRY(wfi_allocate(&transform->twiddle, 2 * row, sizeof(float), "transforms", err));
    for (size_t k = 0; k < row; k++) {
        const double angle = -WFI_RAD_PER_TURN / 2 * (double)k / (double)n;
        transform->twiddle[k] = (float)cos(angle);
        transform->twiddle[row + k] = (float)sin(angle);
    }
    return WF_OK;
}

static wf_status add_transform(wfi_transforms *transforms, wfi_route route, size_t n_fft,
                               wf_error *err)
{
    wfi_transform *transform = &transforms->distinct[transforms->n_distinct++];
    *transform = (wfi_transform){.route = route, .n_fft = n_fft};
    float *in = NULL;
    fftwf_complex *out = NULL;
    wf_status status = wfi_allocate(&in, 2 * n_fft, sizeof(float), "transforms", err);
    if (status == WF_OK)
        status = wfi_allocate(&out, n_fft + 1, sizeof(fftwf_complex), "transforms", err);
    if (status == WF_OK)
        transform->plan = plan_transform(route, n_fft, in, out);
    wfi_free(in);
    wfi_free(out);
    if (status == WF_OK && transform->plan == NULL)
        return wfi_fail(err, WF_MEMORY, "FFTW found no plan for %zu samples", n_fft);
    if (status == WF_OK && route == WFI_ROUTE_HALF)
        status = fill_twiddle(transform, err);
    if (status == WF_OK && n_fft % 2 == 0 && wfi_batch_serves(n_fft / 2))
        status = wfi_batch_plan_create(&transform->batch, n_fft / 2, err);
    return status;
}

static wf_status add_stream(wfi_transforms *transforms, size_t i_stream,
                            const wfi_grid_stream *stream, bool rotated, wf_error *err)
{
    const wfi_route route = route_of(stream, rotated);
    for (size_t i = 0; i < transforms->n_distinct; i++) {
        transforms->of_stream[i_stream] = i;
        if (transforms->distinct[i].n_fft == stream->n_fft &&
            transforms->distinct[i].route == route)
            return WF_OK;
    }
    transforms->of_stream[i_stream] = transforms->n_distinct;
    return add_transform(transforms, route, stream->n_fft, err);
}

wf_status wfi_transforms_create(wfi_transforms *transforms, const wfi_grid *grid,
                                const bool *rotated, wf_error *err)
{
    const size_t n = grid->n_streams;
    WFI_TRY(wfi_allocate(&transforms->distinct, n, sizeof(wfi_transform), "transforms", err));
    WFI_TRY(wfi_allocate(&transforms->of_stream, n, sizeof(size_t), "transforms", err));
    for (size_t k = 0; k < n; k++)
        WFI_TRY(add_stream(transforms, k, &grid->streams[k], rotated[k], err));
    return WF_OK;
}

void wfi_transforms_destroy(wfi_transforms *transforms)
{
    wfi_fftw_lock();
    for (size_t i = 0; i < transforms->n_distinct; i++) {
        if (transforms->distinct[i].plan != NULL)
            fftwf_destroy_plan(transforms->distinct[i].plan);
        wfi_free(transforms->distinct[i].twiddle);
        wfi_batch_plan_destroy(&transforms->distinct[i].batch);
    }
    wfi_fftw_unlock();
    wfi_free(transforms->distinct);
    wfi_free(transforms->of_stream);
    *transforms = (wfi_transforms){0};
}

void wfi_transform_execute(const wfi_transform *transform, float *in, fftwf_complex *out)
{
    if (transform->route == WFI_ROUTE_REAL) {
        fftwf_execute_dft_r2c(transform->plan, in, out);
        return;
    }
    fftwf_execute_dft(transform->plan, (fftwf_complex *)in, out);
    if (transform->route == WFI_ROUTE_HALF) {
        out[transform->n_fft / 2][0] = out[0][0];
        out[transform->n_fft / 2][1] = out[0][1];
    }
}

void wfi_transform_unfold(const wfi_transform *transform, const fftwf_complex *half,
                          fftwf_complex *bins)
{
    const size_t n = transform->n_fft / 2;
    const float *cosine = transform->twiddle;
    const float *sine = transform->twiddle + n / 2 + 1;
    for (size_t k = 0; k <= n / 2; k++) {
        const float *z = half[k];
        const float *mirror = half[n - k];
        const float even_re = 0.5f * (z[0] + mirror[0]);
        const float even_im = 0.5f * (z[1] - mirror[1]);
        const float odd_re = 0.5f * (z[1] + mirror[1]);
        const float odd_im = 0.5f * (mirror[0] - z[0]);
        const float turned_re = odd_re * cosine[k] - odd_im * sine[k];
        const float turned_im = odd_re * sine[k] + odd_im * cosine[k];
        bins[k][0] = even_re + turned_re;
        bins[k][1] = even_im + turned_im;
        bins[n - k][0] = even_re - turned_re;
        bins[n - k][1] = turned_im - even_im;
    }
}
