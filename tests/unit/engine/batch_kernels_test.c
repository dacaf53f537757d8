/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The kernels of batches against their definition in double. */
#include "support/check.h"

#include "engine/kernels.h"
#include "definitions.h"
#include "families.h"

enum { BATCH = WFI_BATCH_SEGMENTS, POINTS_MAX = WFI_BATCH_POINTS_MAX };
static const float LEVEL[4] = {-3.3359f, -1.0f, 1.0f, 3.3359f};

/* Batches of one or two streams; every segment begins at a place of its own and has phases of its
 * own. */
typedef struct batch {
    const wfi_batch_kernels *kernels;
    size_t n;
    wfi_batch_plan plan;
    wfi_batch_scratch scratch;
    wfi_batch_samples samples;
    size_t first[BATCH]; /* sample */
    double first_turns[BATCH];
    double step_turns[BATCH];
    size_t row_stride;
} batch;

static uint8_t packed[WFI_BATCH_STREAMS][BATCH * POINTS_MAX];
static _Alignas(64) float channels[WFI_BATCH_STREAMS][POINTS_MAX * (WFI_TILE_FLOATS + 16)];

static void create_batch(batch *b, const wfi_batch_kernels *kernels, size_t n)
{
    wf_error err = WF_ERROR_INIT;
    uint32_t random = (uint32_t)n;
    *b = (batch){.kernels = kernels, .n = n, .row_stride = WFI_TILE_FLOATS + 16};
    wf_check_ok(wfi_batch_plan_create(&b->plan, n, &err), &err);
    wf_check_ok(wfi_batch_scratch_create(&b->scratch, &b->plan, &err), &err);
    for (size_t s = 0; s < BATCH; s++) {
        b->first[s] = s * (2 * n) + s * s % 7;
        b->samples.byte[s] = (uint32_t)(b->first[s] / 4);
        b->samples.shift[s] = 2 * (uint32_t)(b->first[s] % 4);
        b->first_turns[s] = 0.3 * (double)s - 2;
        b->step_turns[s] = 1e-4 * (double)s - 1e-3;
    }
    for (size_t i = 0; i < WFI_BATCH_STREAMS; i++) {
        for (size_t k = 0; k < sizeof packed[i]; k++) {
            random = random * 1664525u + 1013904223u;
            packed[i][k] = (uint8_t)(random >> 24);
        }
    }
}

static void destroy_batch(batch *b)
{
    wfi_batch_scratch_destroy(&b->scratch);
    wfi_batch_plan_destroy(&b->plan);
}

/* How samples are turned: segment s faster by (s - 7.5) `faster`, followed up to `wrong` turns. */
typedef struct rotation {
    double turns;
    double faster;
    double wrong;
} rotation;

static double sample_of(const batch *b, size_t i_stream, size_t segment, size_t m)
{
    const size_t at = b->first[segment] + m;
    return (double)LEVEL[packed[i_stream][at / 4] >> (2 * (at % 4)) & 3];
}

static void check_squares(const batch *b, size_t i_stream, double got)
{
    double want = 0;
    for (size_t s = 0; s < BATCH; s++) {
        for (size_t m = 0; m < 2 * b->n; m++)
            want += sample_of(b, i_stream, s, m) * sample_of(b, i_stream, s, m);
    }
    wf_check_near("squares", got, want, 1e-6 * want, "");
}

/* Bin `bin` of 2 n samples, sample m turned by m `turns` and by as many of `faster` as it lies from
 * the middle; in phase of channel c, as the tile has it. The limit: sums of 2 n terms below 3.4
 * that grow as their root, rounded to float a score of times over, and turned wrongly by `wrong`.
 */
static void check_channel(const batch *b, size_t i_stream, size_t segment, size_t c, double bin,
                          rotation turned, bool conjugate, const float *tile)
{
    const double n_samples = 2.0 * (double)b->n;
    const double faster = turned.faster * ((double)segment - 7.5);
    double complex want = 0;
    for (size_t m = 0; m < 2 * b->n; m++)
        want += sample_of(b, i_stream, segment, m) *
                phasor((double)m * turned.turns + ((double)m - (n_samples - 1) / 2) * faster -
                       fmod(bin * (double)m / n_samples, 1.0));
    want = (conjugate ? conj(want) : want) *
           phasor(b->first_turns[segment] + b->step_turns[segment] * (double)c);
    const double limit = (6e-6 + 10 * TWO_PI * turned.wrong) * sqrt(n_samples);
    wf_check_near("real part", (double)tile[segment], creal(want), limit, "");
    wf_check_near("imaginary part", (double)tile[BATCH + segment], cimag(want), limit, "");
}

/* Channel 0 and some that no power of two divides. */
static size_t next_channel(size_t c, size_t n)
{
    return c + 1 + n / 11;
}

static void check_split_batch(const wfi_batch_kernels *kernels, size_t n, size_t n_streams,
                              bool conjugate)
{
    batch b;
    create_batch(&b, kernels, n);
    wfi_batch_tables_set(&b.scratch.tables, LEVEL);
    for (size_t i = 0; i < n_streams; i++) {
        b.samples.bytes = packed[i];
        check_squares(&b, i,
                      kernels->transform(&b.plan, &b.samples, LEVEL, &b.scratch.tables,
                                         b.scratch.words, b.scratch.works[i]));
    }
    double turns[BATCH]; /* of bin 0 */
    for (size_t s = 0; s < BATCH; s++)
        turns[s] =
            conjugate ? -(b.first_turns[s] + (double)(n - 1) * b.step_turns[s]) : b.first_turns[s];
    kernels->phases(&b.scratch.phases, turns, b.step_turns, 0.5, n);
    const ptrdiff_t stride = (ptrdiff_t)b.row_stride;
    const wfi_batch_destination to = {conjugate ? -stride : stride, conjugate, n_streams == 2};
    const size_t of_bin_0 = conjugate ? (n - 1) * b.row_stride : 0;
    float *tiles[] = {channels[0] + of_bin_0, channels[1] + of_bin_0};
    kernels->split(&b.plan, &to, &b.scratch.phases, n_streams, b.scratch.works, tiles);
    for (size_t c = 0; c < n; c = next_channel(c, n)) {
        const size_t bin = conjugate ? n - 1 - c : c;
        for (size_t i = 0; i < n_streams; i++)
            check_channel(&b, i, c % BATCH, c, (double)bin, (rotation){0}, conjugate,
                          channels[i] + c * b.row_stride);
    }
    destroy_batch(&b);
}

static void batches_give_the_channels_of_two_bit_samples(void **state)
{
    (void)state;
    const wfi_kernels *kernels = NULL;
    for (size_t f = 0; (kernels = family(f)) != NULL; f++) {
        for (size_t n = WFI_BATCH_POINTS_MIN; kernels->batch != NULL && n <= POINTS_MAX; n *= 2) {
            check_split_batch(kernels->batch, n, 1, true);
            check_split_batch(kernels->batch, n, 2, false);
        }
    }
}

/* Two runs of bins, the second across the last of the 2 n. */
static void check_join_batch(const wfi_batch_kernels *kernels, size_t n, rotation turned)
{
    const size_t first_bins[] = {n / 2 + 3, 2 * n - n / 4};
    const size_t n_bins[] = {n, n / 2};
    double faster[BATCH];
    batch b;
    create_batch(&b, kernels, n);
    for (size_t s = 0; s < BATCH; s++)
        faster[s] = ((double)s - 7.5) * turned.faster;
    wfi_batch_rotation_set(&b.scratch.rotation, &b.plan, LEVEL, turned.turns,
                           turned.faster > 0 ? faster : NULL);
    b.samples.bytes = packed[0];
    check_squares(&b, 0,
                  kernels->transform_rotated(&b.plan, &b.samples, LEVEL, &b.scratch.rotation,
                                             b.scratch.words, b.scratch.works[0],
                                             b.scratch.works[1]));
    kernels->phases(&b.scratch.phases, b.first_turns, b.step_turns, 1.0, n);
    const wfi_batch_destination to = {(ptrdiff_t)b.row_stride, false, false};
    for (size_t run = 0; run < 2; run++) {
        kernels->join(&b.plan, &to, &b.scratch.phases, first_bins[run], n_bins[run], run > 0,
                      b.scratch.works[0], b.scratch.works[1], channels[0]);
        for (size_t c = 0; c < n_bins[run]; c = next_channel(c, n))
            check_channel(&b, 0, c % BATCH, c, (double)(first_bins[run] + c), turned, false,
                          channels[0] + c * b.row_stride);
    }
    destroy_batch(&b);
}

/* Segments that go faster than one another are followed but within an eighth. */
static void batches_give_the_channels_of_rotated_samples(void **state)
{
    (void)state;
    const wfi_kernels *kernels = NULL;
    for (size_t f = 0; (kernels = family(f)) != NULL; f++) {
        for (size_t n = WFI_BATCH_POINTS_MIN; kernels->batch != NULL && n <= POINTS_MAX; n *= 2) {
            const double faster = 1e-4 / (2.0 * (double)n);
            check_join_batch(kernels->batch, n, (rotation){0.0123, 0, 0});
            check_join_batch(kernels->batch, n, (rotation){-0.345, faster, 7.5 * 1e-4 / 32});
        }
    }
}

static void turning_makes_tiles_of_a_channel_each(void **state)
{
    (void)state;
    enum { ROW = WFI_TILE_FLOATS + 16, N = WFI_TILE_CHANNELS };
    float tiles[N * ROW];
    float turned[N * ROW];
    fill(tiles, N * ROW, 9);
    const wfi_kernels *kernels = NULL;
    for (size_t f = 0; (kernels = family(f)) != NULL; f++) {
        if (kernels->batch == NULL)
            continue;
        memcpy(turned, tiles, sizeof tiles);
        kernels->batch->turn(turned, ROW);
        for (size_t c = 0; c < N; c++) {
            for (size_t s = 0; s < N; s++) {
                assert_true(turned[c * ROW + s] == tiles[s * ROW + c]);
                assert_true(turned[c * ROW + N + s] == tiles[s * ROW + N + c]);
            }
            assert_true(turned[c * ROW + 2 * N] == tiles[c * ROW + 2 * N]);
        }
    }
}

/* All lengths that are served: every bin has a place of its own. */
static void batches_place_every_bin(void **state)
{
    (void)state;
    for (size_t n = WFI_BATCH_POINTS_MIN; n <= WFI_BATCH_POINTS_MAX; n *= 2) {
        static bool taken[2 * WFI_BATCH_POINTS_MAX];
        wfi_batch_plan plan = {0};
        wf_error err = WF_ERROR_INIT;
        memset(taken, 0, sizeof taken);
        wf_check_ok(wfi_batch_plan_create(&plan, n, &err), &err);
        assert_true(plan.n_places <= sizeof taken);
        for (size_t k = 0; k < n; k++) {
            assert_true(plan.place[k] < plan.n_places && !taken[plan.place[k]]);
            taken[plan.place[k]] = true;
        }
        wfi_batch_plan_destroy(&plan);
    }
    assert_false(wfi_batch_serves(96));
    assert_false(wfi_batch_serves(32));
    assert_false(wfi_batch_serves(2 * WFI_BATCH_POINTS_MAX));
}

/* Three pairs of inputs, some with themselves. Limit: float sums of 80 terms of size under 2. */
static void batches_cross_multiply_pairs_of_inputs(void **state)
{
    (void)state;
    enum { TILES = 5, INPUT = TILES * WFI_TILE_FLOATS, SLOTS = 6, BLOCKS = 4 };
    static const wfi_pair_block blocks[BLOCKS] = {{.first = 0, .second = 0},
                                                  {.first = 0, .second = 1},
                                                  {.first = 2, .second = 2},
                                                  {.first = 1, .second = 2}};
    static float row[SLOTS * INPUT];
    fill(row, SLOTS * INPUT, 4);
    const wfi_kernels *kernels = NULL;
    for (size_t f = 0; (kernels = family(f)) != NULL; f++) {
        for (size_t n = 0; kernels->batch != NULL && n <= TILES; n++) {
            float sums[BLOCKS * WFI_CHANNEL_PAIR_FLOATS];
            for (size_t i = 0; i < BLOCKS * WFI_CHANNEL_PAIR_FLOATS; i++)
                sums[i] = 0.5f;
            kernels->batch->cross(row, INPUT, n, blocks, BLOCKS, row, SLOTS * INPUT, sums);
            for (size_t i = 0; i < BLOCKS * WFI_PAIR_PRODUCTS; i++) {
                const wfi_pair_block *block = &blocks[i / WFI_PAIR_PRODUCTS];
                const float *x = row + (2 * block->first + i % WFI_PAIR_PRODUCTS / 2) * INPUT;
                const float *y = row + (2 * block->second + i % 2) * INPUT;
                double complex want = CMPLX(0.5, 0.5);
                for (size_t t = 0; t < n * WFI_TILE_FLOATS; t++) {
                    if (t % WFI_TILE_FLOATS < BATCH)
                        want += CMPLX((double)x[t], (double)x[t + BATCH]) *
                                conj(CMPLX((double)y[t], (double)y[t + BATCH]));
                }
                wf_check_near(kernels->name, (double)sums[2 * i], creal(want), 2e-5, "");
                wf_check_near(kernels->name, (double)sums[2 * i + 1], cimag(want), 2e-5, "");
            }
        }
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(batches_give_the_channels_of_two_bit_samples),
        cmocka_unit_test(batches_give_the_channels_of_rotated_samples),
        cmocka_unit_test(batches_place_every_bin),
        cmocka_unit_test(turning_makes_tiles_of_a_channel_each),
        cmocka_unit_test(batches_cross_multiply_pairs_of_inputs),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
