/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Checks what FITS-IDI can hold, and works out what all of its tables share. */
#include "visibility/fits_idi.h"

#include <math.h>
#include <string.h>

#include "base/status.h"
#include "delay/eop.h"
#include "delay/model.h"

enum { STATION_NAME_LENGTH = 8, SOURCE_NAME_LENGTH = 16 }; /* ANNAME 8A, SOURCE 16A */

static const double DAY_S = 86400.0;

static wf_status check_name(const char *what, const char *name, size_t length_max, wf_error *err)
{
    const size_t n = strnlen(name, WF_NAME_BYTES);
    if (n == 0 || n > length_max)
        return wfi_fail(err, WF_ARGUMENT, "%s \"%.32s\": a name of 1 to %zu characters is needed",
                        what, name, length_max);
    for (size_t i = 0; i < n; i++) {
        if (name[i] < ' ' || name[i] > '~')
            return wfi_fail(err, WF_ARGUMENT,
                            "%s \"%.32s\": FITS holds ASCII characters only: rename it", what,
                            name);
    }
    return WF_OK;
}

static wf_status check_names(const wf_observation *observation, wf_error *err)
{
    WFI_TRY(check_name("campaign", observation->campaign, WF_NAME_BYTES - 1, err));
    for (size_t i = 0; i < observation->n_stations; i++)
        WFI_TRY(check_name("station", observation->stations[i].name, STATION_NAME_LENGTH, err));
    for (size_t i = 0; i < observation->n_sources; i++)
        WFI_TRY(check_name("source", observation->sources[i].name, SOURCE_NAME_LENGTH, err));
    return WF_OK;
}

static wf_status check_counts(const wf_observation *observation, wf_error *err)
{
    if (observation->n_stations > WFI_FITS_IDI_STATIONS_MAX)
        return wfi_fail(err, WF_ARGUMENT,
                        "%zu stations: FITS-IDI numbers baselines of at most %d: split the job",
                        observation->n_stations, WFI_FITS_IDI_STATIONS_MAX);
    if (observation->n_stations == 0 || observation->n_sources == 0 || observation->n_scans == 0 ||
        observation->n_bands == 0 || observation->correlation.n_channels == 0)
        return wfi_fail(err, WF_ARGUMENT,
                        "an output file needs at least one station, source, "
                        "scan, band and channel");
    return WF_OK;
}

/* AIPS Memo 114: the codes of the polarization products. 0: there is none. */
static int product_code(wf_product product)
{
    static const wf_product products[] = {
        {WF_POLARIZATION_R, WF_POLARIZATION_R}, {WF_POLARIZATION_L, WF_POLARIZATION_L},
        {WF_POLARIZATION_R, WF_POLARIZATION_L}, {WF_POLARIZATION_L, WF_POLARIZATION_R},
        {WF_POLARIZATION_X, WF_POLARIZATION_X}, {WF_POLARIZATION_Y, WF_POLARIZATION_Y},
        {WF_POLARIZATION_X, WF_POLARIZATION_Y}, {WF_POLARIZATION_Y, WF_POLARIZATION_X}};
    for (int i = 0; i < 8; i++) {
        if (products[i].first == product.first && products[i].second == product.second)
            return -(i + 1);
    }
    return 0;
}

static wf_status set_products(wfi_fits_idi_setup *setup, wf_error *err)
{
    const wf_correlation *correlation = &setup->observation->correlation;
    bool in_order = correlation->n_products >= 1 && correlation->n_products <= 4;
    for (size_t i = 0; in_order && i < correlation->n_products; i++) {
        const int code = product_code(correlation->products[i]);
        if (i == 0)
            setup->first_product_code = code;
        in_order = code == setup->first_product_code - (int)i && code != 0;
    }
    setup->linear = setup->first_product_code < -4;
    const int last = setup->first_product_code - (int)correlation->n_products + 1;
    if (!in_order || (!setup->linear && last < -4))
        return wfi_fail(err, WF_ARGUMENT,
                        "polarization products: FITS-IDI holds a stretch of RR LL RL LR or of "
                        "XX YY XY YX, in this order");
    return WF_OK;
}

static wf_status set_orientation(wfi_fits_idi_setup *setup, const wf_delay_model *model,
                                 wf_error *err)
{
    if (model->eop.n_days == 0) /* all delays come from tables */
        return WF_OK;
    wfi_eop_values values;
    WFI_TRY(wfi_eop_evaluate(&model->eop, setup->reference_0h, &values, err));
    setup->orientation.ut1_minus_utc_s =
        values.ut1_minus_tai_s + wf_tai_minus_utc_s(setup->reference_0h);
    setup->orientation.pole_x_rad = values.pole_x_rad;
    setup->orientation.pole_y_rad = values.pole_y_rad;
    return WF_OK;
}

wf_status wfi_fits_idi_prepare(wfi_fits_idi_setup *setup, const wf_observation *observation,
                               const wf_delay_model *model, const wf_fits_idi_options *options,
                               wf_error *err)
{
    *setup = (wfi_fits_idi_setup){.observation = observation, .options = options};
    WFI_TRY(check_counts(observation, err));
    WFI_TRY(check_names(observation, err));
    WFI_TRY(set_products(setup, err));
    int32_t second_of_day = 0;
    wf_instant_utc(observation->scans[0].start, &setup->reference_mjd, &second_of_day);
    setup->reference_0h = wf_instant_of_mjd(setup->reference_mjd);
    char text[WF_INSTANT_TEXT_BYTES];
    wf_instant_format(text, setup->reference_0h, 0);
    memcpy(setup->reference_date, text, sizeof "YYYY-MM-DD" - 1);
    setup->reference_hz = wf_band_first_channel_hz(observation, 0);
    setup->channel_width_hz = wf_channel_width_hz(observation);
    return set_orientation(setup, model, err);
}

double wfi_fits_idi_days(const wfi_fits_idi_setup *setup, wf_instant t)
{
    return wf_instant_difference_s(t, setup->reference_0h) / DAY_S;
}
