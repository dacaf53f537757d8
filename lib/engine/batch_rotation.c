/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Tables and twiddles of the first stage of a batch. */
#include "engine/batch_rotation.h"

#include <math.h>
#include <stdbool.h>

#include "base/turns.h"
#include "engine/batch.h"

typedef struct turn {
    double re;
    double im;
} turn;

static turn turn_by(double turns)
{
    const double angle = WFI_RAD_PER_TURN * (turns - rint(turns));
    return (turn){cos(angle), sin(angle)};
}

/* In place of double complex, whose product looks for infinities. */
static turn product(turn a, turn b)
{
    return (turn){a.re * b.re - a.im * b.im, a.re * b.im + a.im * b.re};
}

static void set_table(wfi_batch_table *table, const float level[4], turn p, turn q, bool turned)
{
    const float p_re = (float)p.re;
    const float p_im = (float)p.im;
    const float q_re = (float)q.re;
    const float q_im = (float)q.im;
    for (size_t i = 0; i < 16; i++) {
        const float a = level[i % 4];
        const float b = level[i / 4];
        const float re = a * p_re - b * q_re;
        const float im = a * p_im - b * q_im;
        table->sum_re[i] = a * p_re + b * q_re;
        table->sum_im[i] = a * p_im + b * q_im;
        table->difference_re[i] = turned ? im : re;
        table->difference_im[i] = turned ? -re : im;
    }
}

void wfi_batch_tables_set(wfi_batch_tables *tables, const float level[4])
{
    const turn both = {1, 1};
    set_table(&tables->quarters[0], level, both, both, false);
    set_table(&tables->quarters[1], level, both, both, true);
}

enum { EIGHTHS = 8 };

static void set_rotated_tables(wfi_batch_tables *tables, const float level[4],
                               const turn turns[EIGHTHS])
{
    for (size_t q = 0; q < EIGHTHS / 2; q++)
        set_table(&tables->quarters[q], level, turns[q], turns[q + EIGHTHS / 2], q >= EIGHTHS / 4);
}

/* The middle of eighth q lies (2 q - 7) sixteenths of the segment from its middle. */
static void set_eighths(wfi_batch_eighths eighths, const turn turns[EIGHTHS], const double *faster,
                        double sixteenth)
{
    for (size_t s = 0; s < WFI_BATCH_SEGMENTS; s++) {
        const turn step = turn_by(2 * faster[s] * sixteenth);
        turn besides = turn_by(-7 * faster[s] * sixteenth);
        for (size_t q = 0; q < EIGHTHS; q++) {
            const turn both = product(turns[q], besides);
            eighths[q][0][s] = (float)both.re;
            eighths[q][1][s] = (float)both.im;
            besides = product(besides, step);
        }
    }
}

static void set_twiddles(float *to, const wfi_batch_stage *stage, turn step)
{
    const float *from = stage->twiddle;
    turn z = {1, 0};
    for (size_t j = 0; j < stage->step; j++) {
        const float re = (float)z.re;
        const float im = (float)z.im;
        for (size_t p = 1; p < stage->radix; p++, from += 2, to += 2) {
            to[0] = from[0] * re - from[1] * im;
            to[1] = from[0] * im + from[1] * re;
        }
        *to++ = re;
        *to++ = im;
        z = product(z, step);
    }
}

/* Point m is samples 2 m and 2 m + 1; m = j + q n / 8 is turned with eighth q, and by the twiddles
 * of butterfly j. */
void wfi_batch_rotation_set(wfi_batch_rotation *rotation, const wfi_batch_plan *plan,
                            const float level[4], double turns, const double *faster)
{
    const wfi_batch_stage *stage = &plan->stages[0];
    const turn eighth = turn_by(2 * turns * (double)stage->step);
    const turn sample = turn_by(turns);
    turn even[EIGHTHS];
    turn odd[EIGHTHS];
    even[0] = (turn){1, 0};
    for (size_t q = 1; q < EIGHTHS; q++)
        even[q] = product(even[q - 1], eighth);
    for (size_t q = 0; q < EIGHTHS; q++)
        odd[q] = product(even[q], sample);
    set_twiddles(rotation->twiddles, stage, turn_by(2 * turns));
    rotation->alike = faster == NULL;
    if (rotation->alike) {
        set_rotated_tables(&rotation->even, level, even);
        set_rotated_tables(&rotation->odd, level, odd);
    } else {
        set_eighths(rotation->even_turns, even, faster, (double)stage->step);
        set_eighths(rotation->odd_turns, odd, faster, (double)stage->step);
    }
}
