/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What may be wrong with a station's times. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/text.h"
#include "observation/guess.h"
#include "observation/yaml_write.h"

/* Clock offset and rate, where they are not 0, change their signs. */
static void guess_sign(wfi_guess *guess, const char *detail, double ahead_s, double rate_s_per_s)
{
    wfi_guess_begin(guess, "clock_sign", WFI_SHOWN_BY_WINDOW, "%s", detail);
    if (ahead_s != 0)
        wfi_guess_number(guess, -ahead_s, "stations[%zu].clock.ahead_s", guess->i_station);
    if (rate_s_per_s != 0)
        wfi_guess_number(guess, -rate_s_per_s, "stations[%zu].clock.rate_s_per_s",
                         guess->i_station);
    wfi_guess_end(guess, "the sign of its clock's %s is the opposite one", detail);
}

static double frame_of_station(const wfi_guess *guess)
{
    for (size_t r = 0; r < guess->n_recordings; r++) {
        if (wfi_guess_is_of_station(guess, r) && guess->recorded[r].frame_s > 0)
            return guess->recorded[r].frame_s;
    }
    return 0;
}

static void set_clock_ahead(wfi_guess *guess, double ahead_s)
{
    if (wfi_guess_value(guess, "stations[%zu].clock.ahead_s", guess->i_station) != NULL) {
        wfi_guess_number(guess, ahead_s, "stations[%zu].clock.ahead_s", guess->i_station);
        return;
    }
    char reference[WF_INSTANT_TEXT_BYTES];
    char number[WFI_NUMBER_BYTES];
    char clock[WFI_STEP_TEXT_BYTES];
    const wf_scan *scan = &guess->observation->scans[guess->i_scan];
    wf_instant_format(reference, (wf_instant){scan->start.second, 0.0}, 0);
    wfi_write_number(number, ahead_s);
    snprintf(clock, sizeof clock, "{reference: %s, ahead_s: %s}", reference, number);
    wfi_guess_yaml(guess, clock, "stations[%zu].clock", guess->i_station);
}

void wfi_guess_clock(wfi_guess *guess)
{
    const wf_clock *clock = &guess->observation->stations[guess->i_station].clock;
    const double frame_s = frame_of_station(guess);
    guess_sign(guess, "offset and rate", clock->ahead_s, clock->rate_s_per_s);
    guess_sign(guess, "offset", clock->ahead_s, 0);
    guess_sign(guess, "rate", 0, clock->rate_s_per_s);
    for (int late = 1; late >= -1 && frame_s > 0; late -= 2) {
        wfi_guess_begin(guess, "one_frame", WFI_SHOWN_BY_WINDOW, "%s", late > 0 ? "late" : "early");
        set_clock_ahead(guess, clock->ahead_s + late * frame_s);
        wfi_guess_end(guess, "the times of its frames are one frame, %g s, too %s", frame_s,
                      late > 0 ? "late" : "early");
    }
}

/* Put all times of the station later; whole seconds alone where frames hold them. */
static void put_later(wfi_guess *guess, wf_instant by, bool is_whole)
{
    for (size_t r = 0; r < guess->n_recordings; r++) {
        const char *start = wfi_guess_value(guess, "recordings[%zu].start", r);
        const char *offset = wfi_guess_value(guess, "recordings[%zu].time_offset_s", r);
        wf_instant at = {0};
        double before_s = 0;
        if (!wfi_guess_is_of_station(guess, r))
            continue;
        if (offset != NULL && !wfi_parse_double(&before_s, offset, strlen(offset)))
            continue;
        if (guess->recorded[r].is_vdif && is_whole)
            wfi_guess_number(guess, before_s + (double)by.second, "recordings[%zu].time_offset_s",
                             r);
        else if (!guess->recorded[r].is_vdif && start != NULL &&
                 wf_instant_parse(&at, start, NULL) == WF_OK)
            wfi_guess_instant(
                guess,
                wf_instant_add((wf_instant){at.second + by.second, at.fraction}, by.fraction),
                "recordings[%zu].start", r);
    }
}

void wfi_guess_seconds(wfi_guess *guess)
{
    enum { SECONDS_MAX = 10 };
    for (int n = 1; n <= SECONDS_MAX; n++) {
        for (int sign = 1; sign >= -1; sign -= 2) {
            wfi_guess_begin(guess, "whole_seconds", WFI_SHOWN_BY_CORRELATION, "%+d s", sign * n);
            put_later(guess, (wf_instant){sign * n, 0.0}, true);
            wfi_guess_end(guess, "its times are %d s too %s", n, sign > 0 ? "early" : "late");
        }
    }
}

/* Half years since 2000 (VDIF 1.1.1, word 1). */
static int epoch_of(wf_instant t)
{
    char text[WF_INSTANT_TEXT_BYTES]; /* 2026-03-01T... */
    wf_instant_format(text, t, 0);
    return 2 * ((int)strtol(text, NULL, 10) - 2000) + (strtol(text + 5, NULL, 10) >= 7);
}

static void guess_epoch(wfi_guess *guess, int epoch)
{
    enum { EPOCH_MAX = 63 };
    if (epoch < 0 || epoch > EPOCH_MAX)
        return;
    wfi_guess_begin(guess, "reference_epoch", WFI_SHOWN_BY_CORRELATION, "%d", epoch);
    for (size_t r = 0; r < guess->n_recordings; r++) {
        const char *stated = wfi_guess_value(guess, "recordings[%zu].reference_epoch", r);
        const int now =
            stated != NULL ? (int)strtol(stated, NULL, 10) : guess->recorded[r].reference_epoch;
        if (wfi_guess_is_of_station(guess, r) && guess->recorded[r].is_vdif && now != epoch)
            wfi_guess_number(guess, epoch, "recordings[%zu].reference_epoch", r);
    }
    wfi_guess_end(guess, "its seconds count from %s %d, not from where its headers say",
                  epoch % 2 == 0 ? "January" : "July", 2000 + epoch / 2);
}

void wfi_guess_epoch(wfi_guess *guess)
{
    const int epoch = epoch_of(guess->observation->scans[guess->i_scan].start);
    guess_epoch(guess, epoch);
    guess_epoch(guess, epoch - 1);
    guess_epoch(guess, epoch + 1);
}

/* The times of another scan stand for those of this one. */
static void guess_scan(wfi_guess *guess, size_t i_other)
{
    const wf_scan *scan = &guess->observation->scans[guess->i_scan];
    const wf_scan *other = &guess->observation->scans[i_other];
    const int64_t seconds = scan->start.second - other->start.second;
    const wf_instant by = {seconds, scan->start.fraction - other->start.fraction};
    wfi_guess_begin(guess, "recording_of_other_scan", WFI_SHOWN_BY_CORRELATION, "%s", other->name);
    put_later(guess, by, by.fraction == 0.0);
    wfi_guess_end(guess, "what bears the times of scan %s was recorded in scan %s", other->name,
                  scan->name);
}

void wfi_guess_other_scan(wfi_guess *guess)
{
    enum { NEIGHBOURS = 2 };
    for (size_t d = 1; d <= NEIGHBOURS; d++) {
        if (guess->i_scan >= d)
            guess_scan(guess, guess->i_scan - d);
        if (guess->i_scan + d < guess->observation->n_scans)
            guess_scan(guess, guess->i_scan + d);
    }
}
