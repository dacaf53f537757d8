/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The highest points of a window, to be climbed from. */
#ifndef WFI_FRINGE_SCAN_H
#define WFI_FRINGE_SCAN_H

#include "fringe/lattice.h"

enum { WFI_SCAN_SUMMITS_MAX = 128 };

/** A local maximum of the lattice, of the delays of the whole span where bands are in phase. */
typedef struct wfi_summit {
    wfi_place place;
    double height; /* square root of the power, as a parabola through its neighbours has it */
} wfi_summit;

typedef struct wfi_summits {
    wfi_summit summit[WFI_SCAN_SUMMITS_MAX]; /* highest first */
    size_t n;
    wfi_place step; /* of the lattice: a summit is within one of the true maximum */
} wfi_summits;

/** All of the window is looked at; summits lower than 3/4 of the highest may be missing. */
wf_status wfi_scan(wfi_summits *summits, const wfi_bands *bands, wfi_phases phases, wf_error *err);

#endif
