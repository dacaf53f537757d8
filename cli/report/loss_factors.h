/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What part of the amplitude is left of what the sky sent, loss by loss. */
#ifndef CLI_REPORT_LOSS_FACTORS_H
#define CLI_REPORT_LOSS_FACTORS_H

#include "report/survey.h"

/** Factors on the amplitude of one row, 1 where nothing is lost, NaN where the file does not say.
 *
 *  quantisation  of the two samplers at their best levels; source: Thompson, Emerson, Schwab 2007,
 *                Radio Science 42, RS3022
 *  rotation      by the file's history: at least
 *  alignment     segments that begin at whole samples overlap but for the fractions of a sample by
 *                which they miss each other: 1 - mean |d| / N, where d is the difference of two
 *                fractions, each anywhere within half a sample: 1/3 on average; N by the history
 *  channel       sinc(channel width * residual delay): averaging over a channel
 *  integration   sinc(frequency * residual rate * integration): averaging over an integration
 *  source of the last two: Thompson, Moran, Swenson 2017, 3rd ed., section 6.4 (from memory)
 */
typedef struct loss_factors {
    double quantisation;
    bool quantisation_is_corrected;
    double rotation;
    double alignment;
    double channel;
    double integration;
} loss_factors;

loss_factors loss_factors_of(const survey *s, const report_row *row);

/** Standard deviation of one component that noise should have in the row's amplitude: for
 *  correlation coefficients 1 / sqrt(2 B T valid), over the samplers' efficiency where that is
 *  corrected; NaN where the file does not say that its amplitudes are such. */
double loss_expected_noise(const survey *s, const report_row *row);

#endif
