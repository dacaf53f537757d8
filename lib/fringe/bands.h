/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The bands of one fit: weights, reference, spreads, and the window. */
#ifndef WFI_FRINGE_BANDS_H
#define WFI_FRINGE_BANDS_H

#include <stdbool.h>
#include <whitefringe/fringe_fit.h>

typedef struct wfi_band {
    const wf_fringe_input *input;
    size_t i_input;
    double middle_hz;
    double offset_hz; /* of the middle from the reference */
    double scale;     /* channel width over the widest one: makes inverse variances of weights */
    double total;     /* of the scaled weights over integrations and channels */
} wfi_band;

/** A symmetric matrix over (phase, delay, rate) or its part over delay and rate. */
typedef struct wfi_spreads {
    double phase_delay, phase_rate;            /* means of -2 pi (nu - reference) and -2 pi nu t */
    double delay_delay, delay_rate, rate_rate; /* mean products */
} wfi_spreads;

typedef struct wfi_bands {
    wfi_band *band; /* those with something valid */
    size_t n;
    double reference_hz;
    double total;
    double span_hz; /* from the lowest to the highest channel */
    /* the window, closed; on an axis that nothing resolves both ends are the centre */
    double delay_low_s, delay_high_s;
    double rate_low, rate_high;
    bool delay_is_whole, rate_is_whole; /* all that the channels or integrations resolve */
} wfi_bands;

/** status  as wf_fringe_fit_bands */
wf_status wfi_bands_create(wfi_bands *out, const wf_fringe_input *inputs, size_t n_inputs,
                           const wf_fringe_window *window, wf_error *err);
void wfi_bands_release(wfi_bands *bands);

/** Weighted means over all bands, offsets from the reference. */
wfi_spreads wfi_bands_spreads(const wfi_bands *bands);

/** Of one band, offsets from its middle. */
wfi_spreads wfi_band_spreads(const wfi_band *band);

/** Covariance of the slopes: what is left of the means' products once the phase is free. */
wfi_spreads wfi_spreads_central(wfi_spreads s);

#endif
