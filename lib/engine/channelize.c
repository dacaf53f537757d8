/* SPDX-License-Identifier: GPL-3.0-or-later */
/* From the samples of a segment to the channels of the grid. */
#include "engine/channelize.h"

#include <string.h>

#include "base/fftw_lock.h"
#include "base/memory.h"
#include "base/status.h"
#include "engine/phasor.h"

typedef struct fft {
    size_t n_fft;
    bool is_complex;
    fftwf_plan plan;
} fft;

struct wfi_transforms {
    fft *distinct; /* [n_distinct] */
    size_t n_distinct;
    bool *rotated;     /* [n_streams] */
    size_t *of_stream; /* [n_streams] index into distinct */
};

static size_t longest_segment(const wfi_grid *grid)
{
    size_t longest = 0;
    for (size_t k = 0; k < grid->n_streams; k++) {
        if (grid->streams[k].n_fft > longest)
            longest = grid->streams[k].n_fft;
    }
    return longest;
}

/* FFTW_ESTIMATE: measured plans differ from run to run in their last bits, and results must not. */
static fftwf_plan plan_transform(size_t n_fft, bool is_complex, float *in, fftwf_complex *out)
{
    const int n = (int)n_fft;
    wfi_fftw_lock();
    fftwf_plan plan =
        is_complex ? fftwf_plan_dft_1d(n, (fftwf_complex *)in, out, FFTW_FORWARD, FFTW_ESTIMATE)
                   : fftwf_plan_dft_r2c_1d(n, in, out, FFTW_ESTIMATE);
    wfi_fftw_unlock();
    return plan;
}

static wf_status add_stream(wfi_transforms *transforms, size_t i_stream,
                            const wfi_grid_stream *stream, float *in, fftwf_complex *out,
                            wf_error *err)
{
    const bool is_complex = stream->format.is_complex || transforms->rotated[i_stream];
    for (size_t i = 0; i < transforms->n_distinct; i++) {
        transforms->of_stream[i_stream] = i;
        if (transforms->distinct[i].n_fft == stream->n_fft &&
            transforms->distinct[i].is_complex == is_complex)
            return WF_OK;
    }
    const fftwf_plan plan = plan_transform(stream->n_fft, is_complex, in, out);
    if (plan == NULL)
        return wfi_fail(err, WF_MEMORY, "FFTW found no plan for %zu samples", stream->n_fft);
    transforms->of_stream[i_stream] = transforms->n_distinct;
    transforms->distinct[transforms->n_distinct++] = (fft){stream->n_fft, is_complex, plan};
    return WF_OK;
}

wf_status wfi_transforms_create(wfi_transforms **out, const wfi_grid *grid, const bool *rotated,
                                wf_error *err)
{
    *out = NULL;
    wfi_transforms *transforms = NULL;
    wfi_spectrum buffers = {0};
    const size_t n = grid->n_streams;
    WFI_TRY(wfi_allocate(&transforms, 1, sizeof *transforms, "transforms", err));
    wf_status status = wfi_allocate(&transforms->distinct, n, sizeof(fft), "transforms", err);
    if (status == WF_OK)
        status = wfi_allocate(&transforms->rotated, n, sizeof(bool), "transforms", err);
    if (status == WF_OK)
        status = wfi_allocate(&transforms->of_stream, n, sizeof(size_t), "transforms", err);
    if (status == WF_OK)
        status = wfi_spectrum_create(&buffers, grid, err);
    if (status == WF_OK)
        memcpy(transforms->rotated, rotated, n * sizeof *rotated);
    for (size_t k = 0; k < n && status == WF_OK; k++)
        status = add_stream(transforms, k, &grid->streams[k], (float *)buffers.rotated,
                            buffers.bins, err);
    wfi_spectrum_destroy(&buffers);
    if (status == WF_OK)
        *out = transforms;
    else
        wfi_transforms_destroy(transforms);
    return status;
}

void wfi_transforms_destroy(wfi_transforms *transforms)
{
    if (transforms == NULL)
        return;
    wfi_fftw_lock();
    for (size_t i = 0; i < transforms->n_distinct; i++)
        fftwf_destroy_plan(transforms->distinct[i].plan);
    wfi_fftw_unlock();
    wfi_free(transforms->distinct);
    wfi_free(transforms->rotated);
    wfi_free(transforms->of_stream);
    wfi_free(transforms);
}

wf_status wfi_spectrum_create(wfi_spectrum *spectrum, const wfi_grid *grid, wf_error *err)
{
    const size_t n = longest_segment(grid);
    WFI_TRY(wfi_allocate(&spectrum->rotated, n + 1, sizeof(fftwf_complex), "a spectrum", err));
    return wfi_allocate(&spectrum->bins, n + 1, sizeof(fftwf_complex), "a spectrum", err);
}

void wfi_spectrum_destroy(wfi_spectrum *spectrum)
{
    wfi_free(spectrum->rotated);
    wfi_free(spectrum->bins);
    *spectrum = (wfi_spectrum){0};
}

/* out[m] = z[m] exp(2 pi i (start + m step)), z being the samples in the sense of the sky: a
 * complex stream of lower sideband is conjugated. */
static void rotate_real(const float *samples, size_t n, float block_re, float block_im,
                        const wfi_phasor_steps *steps, fftwf_complex *out)
{
    for (size_t k = 0; k < n; k++) {
        out[k][0] = samples[k] * (block_re * steps->re[k] - block_im * steps->im[k]);
        out[k][1] = samples[k] * (block_re * steps->im[k] + block_im * steps->re[k]);
    }
}

static void rotate_complex(const float *samples, size_t n, float sense, float block_re,
                           float block_im, const wfi_phasor_steps *steps, fftwf_complex *out)
{
    for (size_t k = 0; k < n; k++) {
        const float re = block_re * steps->re[k] - block_im * steps->im[k];
        const float im = block_re * steps->im[k] + block_im * steps->re[k];
        const float x = samples[2 * k];
        const float y = sense * samples[2 * k + 1];
        out[k][0] = x * re - y * im;
        out[k][1] = x * im + y * re;
    }
}

static void rotate(const wfi_grid_stream *stream, const wfi_alignment *alignment,
                   const float *samples, fftwf_complex *out)
{
    double start_turns = 0;
    double step_turns = 0;
    wfi_align_rotation(stream, alignment, &start_turns, &step_turns);
    wfi_phasor_steps steps;
    wfi_phasor_steps_init(&steps, step_turns);
    for (size_t m = 0; m < stream->n_fft; m += WFI_PHASOR_BLOCK) {
        const size_t left = stream->n_fft - m;
        const size_t n = left < WFI_PHASOR_BLOCK ? left : WFI_PHASOR_BLOCK;
        float re = 0;
        float im = 0;
        wfi_phasor(start_turns + (double)m * step_turns, &re, &im);
        if (stream->format.is_complex)
            rotate_complex(samples + 2 * m, n, (float)stream->sideband, re, im, &steps, out + m);
        else
            rotate_real(samples + m, n, re, im, &steps, out + m);
    }
}

void wfi_transform(const wfi_transforms *transforms, size_t i_stream, const wfi_grid_stream *stream,
                   const wfi_alignment *alignment, float *samples, wfi_spectrum *spectrum)
{
    const fft *planned = &transforms->distinct[transforms->of_stream[i_stream]];
    if (transforms->rotated[i_stream]) {
        rotate(stream, alignment, samples, spectrum->rotated);
        fftwf_execute_dft(planned->plan, spectrum->rotated, spectrum->bins);
    } else if (planned->is_complex) {
        fftwf_execute_dft(planned->plan, (fftwf_complex *)samples, spectrum->bins);
    } else {
        fftwf_execute_dft_r2c(planned->plan, samples, spectrum->bins);
    }
}

/* Where channel 0 of a piece stands among the bins, and which way the channels run: a stream of
 * lower sideband that was not rotated was not conjugated either, so its bins run against the sky
 * and hold conjugates. */
typedef struct bin_walk {
    size_t first;
    size_t n_fft;
    bool backwards;
} bin_walk;

static bin_walk walk_of(const wfi_grid_stream *stream, int64_t first_bin, bool rotated)
{
    const int64_t n = (int64_t)stream->n_fft;
    const bool backwards = stream->sideband < 0 && !rotated;
    const int64_t bin = (backwards ? -first_bin : first_bin) % n;
    return (bin_walk){(size_t)(bin < 0 ? bin + n : bin), stream->n_fft, backwards};
}

static size_t bin_at(const bin_walk *walk, size_t k)
{
    if (walk->backwards)
        return k <= walk->first ? walk->first - k : walk->first + walk->n_fft - k;
    const size_t bin = walk->first + k;
    return bin < walk->n_fft ? bin : bin - walk->n_fft;
}

void wfi_place_channels(const wfi_grid_stream *stream, const wfi_grid_piece *piece, bool rotated,
                        const wfi_spectrum *spectrum, double first_turns, double step_turns,
                        float *tiles, size_t tile_stride)
{
    const bin_walk walk = walk_of(stream, piece->first_bin, rotated);
    const float sense = walk.backwards ? -1.0f : 1.0f;
    const size_t end = piece->first_channel + piece->n_channels;
    wfi_phasor_steps steps;
    wfi_phasor_steps_init(&steps, step_turns);
    size_t c = piece->first_channel;
    while (c < end) {
        const size_t tile_begin = c / WFI_TILE_CHANNELS * WFI_TILE_CHANNELS;
        const size_t tile_end =
            tile_begin + WFI_TILE_CHANNELS < end ? tile_begin + WFI_TILE_CHANNELS : end;
        const double offset = (double)tile_begin - (double)piece->first_channel;
        float *re = tiles + tile_begin / WFI_TILE_CHANNELS * tile_stride;
        float *im = re + WFI_TILE_CHANNELS;
        float block_re = 0;
        float block_im = 0;
        wfi_phasor(first_turns + offset * step_turns, &block_re, &block_im);
        for (; c < tile_end; c++) {
            const size_t k = c - tile_begin;
            const float *bin = spectrum->bins[bin_at(&walk, c - piece->first_channel)];
            const float x = bin[0];
            const float y = sense * bin[1];
            const float p = block_re * steps.re[k] - block_im * steps.im[k];
            const float q = block_re * steps.im[k] + block_im * steps.re[k];
            re[k] = x * p - y * q;
            im[k] = x * q + y * p;
        }
    }
}
