/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How the bands' frequencies repeat. */
#ifndef WFI_FRINGE_SPACING_H
#define WFI_FRINGE_SPACING_H

#include "fringe/bands.h"

/** 1 / the greatest frequency of which all distances between the bands' middles are multiples; 0
 *  where the bands have one middle. */
double wfi_spacing_ambiguity(const wfi_bands *bands);

#endif
