/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Ocean-loading coefficients of stations: files in the BLQ format. */
#ifndef WFI_DELAY_BLQ_H
#define WFI_DELAY_BLQ_H

#include <stddef.h>
#include <whitefringe/status.h>

#include "delay/line_reader.h"

enum { WFI_N_BLQ_WAVES = 11, WFI_BLQ_NAME_BYTES = 64 };

/** The format's order of waves. */
typedef enum wfi_blq_wave {
    WFI_BLQ_M2,
    WFI_BLQ_S2,
    WFI_BLQ_N2,
    WFI_BLQ_K2,
    WFI_BLQ_K1,
    WFI_BLQ_O1,
    WFI_BLQ_P1,
    WFI_BLQ_Q1,
    WFI_BLQ_MF,
    WFI_BLQ_MM,
    WFI_BLQ_SSA
} wfi_blq_wave;

typedef struct wfi_blq_station {
    char name[WFI_BLQ_NAME_BYTES];
    long line;                              /* of its name */
    double amplitude_m[3][WFI_N_BLQ_WAVES]; /* up, west, south */
    double lag_rad[3][WFI_N_BLQ_WAVES];     /* behind the tide at Greenwich */
} wfi_blq_station;

/** Start from {0}; release it. */
typedef struct wfi_blq {
    char *path;
    wfi_blq_station *stations;
    size_t n_stations;
    size_t capacity;
} wfi_blq;

/** Read a file: per station a line with its name, three rows of amplitudes (m: up, west, south) and
 *  three of phase lags (deg), each of eleven waves; lines that start with $$ are comments.
 *
 *  status  OK | MISSING: no such file | FORMAT: file and line named; a row or a number short or too
 *          many, no number, a station twice | IO | MEMORY
 *  source  the format of the ocean tide loading provider (M.S. Bos and H.-G. Scherneck, Onsala
 * Space Observatory), as IERS Conventions (2010), section 7.1.2, take it
 */
wf_status wfi_blq_read(wfi_blq *blq, const char *path, wf_error *err);

/** The same from an open reader, of a file or of memory. */
wf_status wfi_blq_parse(wfi_blq *blq, wfi_line_reader *reader, wf_error *err);

void wfi_blq_release(wfi_blq *blq);

/** The entry of a station, by its exact name.
 *
 *  status  OK | MISSING: the nearest name is suggested
 */
wf_status wfi_blq_find(const wfi_blq *blq, const char *name, const wfi_blq_station **out,
                       wf_error *err);

#endif
