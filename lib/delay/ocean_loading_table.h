/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Lines of the tide-generating potential that ocean loading is summed over. */
#ifndef WFI_DELAY_OCEAN_LOADING_TABLE_H
#define WFI_DELAY_OCEAN_LOADING_TABLE_H

enum { WFI_N_OCEAN_LOADING_LINES = 342 };

typedef struct wfi_ocean_loading_line {
    signed char multiplier[6]; /* of tau, s, h, p, N', ps: the first is the species */
    double amplitude;          /* of the equilibrium tide, signed */
} wfi_ocean_loading_line;

extern const wfi_ocean_loading_line WFI_OCEAN_LOADING_LINES[WFI_N_OCEAN_LOADING_LINES];

#endif
