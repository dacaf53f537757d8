/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Channels of no Gaussian noise become flags; what goes on from one integration to the next is one
 * flag. */
#include <math.h>

#include "base/memory.h"
#include "base/status.h"
#include "engine/plan.h"
#include "run/calibration.h"

static const char REASON[] = "spectral kurtosis";
/* Ends and starts of integrations that follow one another differ by rounding alone. */
static const double TOUCH_S = 1e-6;

static bool grows(wf_flag *open, const wf_flag *with)
{
    if (open->i_station != with->i_station || open->i_scan != with->i_scan ||
        open->i_band != with->i_band || open->polarization != with->polarization ||
        open->first_channel != with->first_channel || open->n_channels != with->n_channels)
        return false;
    const double gap_s = wf_instant_difference_s(with->start, open->start) - open->length_s;
    if (fabs(gap_s) > TOUCH_S)
        return false;
    open->length_s += gap_s + with->length_s;
    return true;
}

static wf_status add_run(wfi_flags *flags, const wf_flag *flag, wf_error *err)
{
    flags->n_flagged += (int64_t)flag->n_channels;
    for (size_t i = 0; i < flags->n; i++) {
        if (grows(&flags->open[i], flag))
            return WF_OK;
    }
    WFI_TRY(wfi_array_reserve(&flags->open, &flags->capacity, flags->n + 1, sizeof *flags->open,
                              "flags", err));
    flags->open[flags->n++] = *flag;
    return WF_OK;
}

/* Append the flags that end before a time; all of them where it is NULL. */
static wf_status append_ended(wfi_flags *flags, const wf_instant *now, wf_fits_idi_writer *writer,
                              wf_error *err)
{
    size_t n_kept = 0;
    for (size_t i = 0; i < flags->n; i++) {
        const wf_flag flag = flags->open[i];
        const bool goes_on =
            now != NULL && wf_instant_difference_s(*now, flag.start) - flag.length_s < TOUCH_S;
        if (goes_on)
            flags->open[n_kept++] = flag;
        else
            WFI_TRY(wf_fits_idi_append_flag(writer, &flag, err));
    }
    flags->n = n_kept;
    return WF_OK;
}

static wf_status add_band(wfi_flags *flags, const uint8_t *odd, size_t n_channels, wf_flag like,
                          wf_error *err)
{
    for (size_t c = 0; c < n_channels;) {
        size_t end = c;
        while (end < n_channels && odd[end] != 0)
            end++;
        like.first_channel = c;
        like.n_channels = end - c;
        if (end > c)
            WFI_TRY(add_run(flags, &like, err));
        c = end > c ? end : c + 1;
    }
    return WF_OK;
}

wf_status wfi_flags_add(wfi_flags *flags, const wfi_monitor *monitor, const wf_slice *slice,
                        const wfi_monitor_result *result, wf_fits_idi_writer *writer, wf_error *err)
{
    const wf_shape *shape = wf_plan_shape(monitor->plan);
    if (!monitor->any_kurtosis)
        return WF_OK;
    WFI_TRY(append_ended(flags, &slice->start, writer, err));
    wf_flag flag = {
        .i_scan = slice->i_scan,
        .start = slice->start,
        .length_s = (double)slice->n_segments / monitor->plan->grid->channel_width_hz,
        .reason = REASON,
    };
    for (size_t i = 0; i < shape->n_stations * monitor->n_polarizations; i++) {
        flag.i_station = i / monitor->n_polarizations;
        flag.polarization = monitor->plan->grid->polarizations[i % monitor->n_polarizations];
        for (flag.i_band = 0; flag.i_band < shape->n_bands; flag.i_band++)
            WFI_TRY(add_band(flags,
                             result->odd + (i * shape->n_bands + flag.i_band) * shape->n_channels,
                             shape->n_channels, flag, err));
    }
    return WF_OK;
}

wf_status wfi_flags_finish(wfi_flags *flags, wf_fits_idi_writer *writer, wf_error *err)
{
    return append_ended(flags, NULL, writer, err);
}

void wfi_flags_release(wfi_flags *flags)
{
    wfi_free(flags->open);
    *flags = (wfi_flags){0};
}
