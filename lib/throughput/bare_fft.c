/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The bare transforms of so many samples. */
#include "throughput/bare_fft.h"

#include <fftw3.h>

#include "base/fftw_lock.h"
#include "base/memory.h"
#include "base/status.h"
#include "base/text.h"

/* A quarter of the second-level cache of a core of this decade: inputs of a batch. */
static const size_t BATCH_BYTES = (size_t)256 << 10;
/* A plan measured beside other work may be a bad one (1.7 times slower was seen). */
enum { PLANNINGS = 3, TRIALS = 5 };
static const size_t TRIAL_SAMPLES = (size_t)1 << 19;

struct wfi_bare_fft {
    wfi_bare_kind kind;
    size_t n_fft;
    size_t n_floats; /* of a transform's input */
    size_t n_batch;
    float *in;          /* [n_batch][n_floats] */
    fftwf_complex *out; /* [n_fft + 1] */
    fftwf_plan plan;
};

static fftwf_plan make_plan(const wfi_bare_fft *bare, unsigned flags)
{
    const int n = (int)(bare->kind == WFI_BARE_PACKED ? bare->n_fft / 2 : bare->n_fft);
    wfi_fftw_lock();
    fftwf_plan plan =
        bare->kind == WFI_BARE_REAL
            ? fftwf_plan_dft_r2c_1d(n, bare->in, bare->out, flags)
            : fftwf_plan_dft_1d(n, (fftwf_complex *)bare->in, bare->out, FFTW_FORWARD, flags);
    wfi_fftw_unlock();
    return plan;
}

static void destroy_plan(fftwf_plan plan)
{
    wfi_fftw_lock();
    fftwf_destroy_plan(plan);
    wfi_fftw_unlock();
}

static void fill(wfi_bare_fft *bare)
{
    for (size_t i = 0; i < bare->n_batch * bare->n_floats; i++)
        bare->in[i] = (float)((i * 2654435761u >> 7) % 1000) - 500.0f;
}

static double trial_s(wfi_bare_fft *bare, wfi_clock now_s)
{
    double best = 0;
    fill(bare);
    for (int i = 0; i < TRIALS; i++) {
        const double begin = now_s();
        wfi_bare_fft_run(bare, TRIAL_SAMPLES / bare->n_fft + 1);
        const double t = now_s() - begin;
        best = i == 0 || t < best ? t : best;
    }
    return best;
}

/* Each planning from nothing: with the wisdom of the first, the second would be the same plan. */
static void plan_best_of_several(wfi_bare_fft *bare, wfi_clock now_s)
{
    double best_s = 0;
    for (int i = 0; i < PLANNINGS; i++) {
        fftwf_forget_wisdom();
        const fftwf_plan before = bare->plan;
        bare->plan = make_plan(bare, i + 1 < PLANNINGS ? FFTW_PATIENT : FFTW_MEASURE);
        if (bare->plan == NULL) {
            bare->plan = before;
            return;
        }
        const double t = trial_s(bare, now_s);
        const bool better = before == NULL || t < best_s;
        const fftwf_plan worse = better ? before : bare->plan;
        bare->plan = better ? bare->plan : before;
        best_s = better ? t : best_s;
        if (worse != NULL)
            destroy_plan(worse);
    }
}

static void append_character(char c, void *text)
{
    wfi_text_append(text, "%c", c);
}

static void plan_keeping_wisdom(wfi_bare_fft *bare, wfi_clock now_s)
{
    wfi_text wisdom = {0};
    fftwf_export_wisdom(append_character, &wisdom);
    plan_best_of_several(bare, now_s);
    fftwf_forget_wisdom();
    if (wisdom.bytes != NULL && !wisdom.failed)
        fftwf_import_wisdom_from_string(wisdom.bytes);
    wfi_text_release(&wisdom);
}

wf_status wfi_bare_fft_create(wfi_bare_fft **out, wfi_bare_kind kind, size_t n_fft,
                              wfi_bare_effort effort, wfi_clock now_s, wf_error *err)
{
    static const char what[] = "bare transforms";
    *out = NULL;
    wfi_bare_fft *bare = NULL;
    WFI_TRY(wfi_allocate(&bare, 1, sizeof *bare, what, err));
    bare->kind = kind;
    bare->n_fft = n_fft;
    bare->n_floats = kind == WFI_BARE_COMPLEX ? 2 * n_fft : n_fft;
    bare->n_batch = BATCH_BYTES / (bare->n_floats * sizeof(float));
    bare->n_batch += bare->n_batch == 0;
    wf_status status =
        wfi_allocate(&bare->in, bare->n_batch * bare->n_floats, sizeof(float), what, err);
    if (status == WF_OK)
        status = wfi_allocate(&bare->out, n_fft + 1, sizeof(fftwf_complex), what, err);
    if (status == WF_OK && effort == WFI_BARE_PATIENT)
        plan_keeping_wisdom(bare, now_s);
    if (status == WF_OK && bare->plan == NULL)
        bare->plan = make_plan(bare, FFTW_MEASURE);
    if (status == WF_OK && bare->plan == NULL)
        status = wfi_fail(err, WF_MEMORY, "FFTW found no plan for %zu samples", n_fft);
    if (status != WF_OK) {
        wfi_bare_fft_destroy(bare);
        return status;
    }
    fill(bare);
    *out = bare;
    return WF_OK;
}

void wfi_bare_fft_destroy(wfi_bare_fft *bare)
{
    if (bare == NULL)
        return;
    if (bare->plan != NULL)
        destroy_plan(bare->plan);
    wfi_free(bare->in);
    wfi_free(bare->out);
    wfi_free(bare);
}

void wfi_bare_fft_run(const wfi_bare_fft *bare, size_t n)
{
    for (size_t i = 0; i < n; i++) {
        float *in = bare->in + i % bare->n_batch * bare->n_floats;
        if (bare->kind == WFI_BARE_REAL)
            fftwf_execute_dft_r2c(bare->plan, in, bare->out);
        else
            fftwf_execute_dft(bare->plan, (fftwf_complex *)in, bare->out);
    }
}
