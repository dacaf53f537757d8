/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Writing hypotheses down. A failure sticks, and is checked once. */
#ifndef WFI_OBSERVATION_GUESS_H
#define WFI_OBSERVATION_GUESS_H

#include "observation/hypotheses.h"

/** A stream of the station, as the job has it. */
typedef struct wfi_guess_stream {
    size_t i_recording, i_stream; /* in the file */
    bool by_band;                 /* it has the edge and sideband of a band */
    bool has_centre;              /* `hz` is its centre, not its edge */
    double hz;
    wf_sideband sideband;
    wf_polarization polarization;
    int64_t thread, channel;
    double width_hz; /* of what is recorded; 0: not known */
} wfi_guess_stream;

typedef struct wfi_guess {
    const wf_observation *observation;
    const wf_job_edit *edit;
    size_t i_station;
    size_t i_scan;
    wfi_recorded *recorded; /* [entries of the list of recordings] filled up with the job's words */
    size_t n_recordings;
    wfi_guess_stream *streams; /* [n_streams] of the station */
    size_t n_streams;
    wfi_hypotheses *out;
    wf_status status;
    wf_error *err;
} wfi_guess;

/** Begin a hypothesis. */
void wfi_guess_begin(wfi_guess *guess, const char *name, wfi_shown_by shown_by, const char *detail,
                     ...) __attribute__((format(printf, 4, 5)));

void wfi_guess_number(wfi_guess *guess, double value, const char *path, ...)
    __attribute__((format(printf, 3, 4)));
void wfi_guess_text(wfi_guess *guess, const char *value, const char *path, ...)
    __attribute__((format(printf, 3, 4)));
void wfi_guess_yaml(wfi_guess *guess, const char *value, const char *path, ...)
    __attribute__((format(printf, 3, 4)));
void wfi_guess_instant(wfi_guess *guess, wf_instant value, const char *path, ...)
    __attribute__((format(printf, 3, 4)));
void wfi_guess_remove(wfi_guess *guess, const char *path, ...)
    __attribute__((format(printf, 2, 3)));

/** End it with a sentence, before which the station's name is put. It is dropped again where it has
 *  no edits, or those of one before. */
void wfi_guess_end(wfi_guess *guess, const char *sentence, ...)
    __attribute__((format(printf, 2, 3)));

/** End one that has no edits. */
void wfi_guess_end_without_edits(wfi_guess *guess, const char *sentence);

/** The value at a path of the job; NULL: there is none. */
const char *wfi_guess_value(const wfi_guess *guess, const char *path, ...)
    __attribute__((format(printf, 2, 3)));

/** Is a recording, by its number in the file, one of the station? */
bool wfi_guess_is_of_station(const wfi_guess *guess, size_t i_recording);

/** The parts of the list. */
void wfi_guess_streams(wfi_guess *guess);    /* polarizations, sidebands */
void wfi_guess_clock(wfi_guess *guess);      /* signs, a frame */
void wfi_guess_seconds(wfi_guess *guess);    /* whole seconds */
void wfi_guess_order(wfi_guess *guess);      /* of bands */
void wfi_guess_frequency(wfi_guess *guess);  /* on the sky */
void wfi_guess_codes(wfi_guess *guess);      /* real or complex, bits and bytes */
void wfi_guess_epoch(wfi_guess *guess);      /* half years */
void wfi_guess_other_scan(wfi_guess *guess); /* recordings of one */
void wfi_guess_source(wfi_guess *guess);
void wfi_guess_position(wfi_guess *guess);
void wfi_guess_mount(wfi_guess *guess);

#endif
