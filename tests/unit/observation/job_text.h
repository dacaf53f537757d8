/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A small valid job with everything in it, and jobs that differ from it in one place. */
#ifndef TESTS_UNIT_OBSERVATION_JOB_TEXT_H
#define TESTS_UNIT_OBSERVATION_JOB_TEXT_H

#include "support/check.h"

#include <stdio.h>

#include <stdlib.h>
#include <string.h>

#include "observation/build.h"

/* Two invented stations, both 6.37e6 m from the geocentre to 0.1 %. */
static const char JOB[] =
    "campaign: Forest-7\n"                                      /* 1 */
    "stations:\n"                                               /* 2 */
    "  - name: Alder\n"                                         /* 3 */
    "    position_itrf_m: [4215810.25, 883800.5, 4688973.75]\n" /* 4 */
    "    position_epoch_year: 2020.5\n"                         /* 5 */
    "    velocity_itrf_m_per_year: [-0.0142, 0.0171, 0.0106]\n" /* 6 */
    "    mount: xy_east\n"                                      /* 7 */
    "    axis_offset_m: -0.25\n"                                /* 8 */
    "    diameter_m: 12.5\n"                                    /* 9 */
    "    clock: {reference: 2026-03-01T11:00:00, ahead_s: 1.25e-6, rate_s_per_s: -2e-12}\n"
    "  - name: Birch\n"                                                           /* 11 */
    "    position_itrf_m: [3244820, 867626, 5404087]\n"                           /* 12 */
    "    clock:\n"                                                                /* 13 */
    "      reference: 2026-03-01T11:00:00\n"                                      /* 14 */
    "      ahead_s: -3e-6\n"                                                      /* 15 */
    "sources:\n"                                                                  /* 16 */
    "  - name: Ousel\n"                                                           /* 17 */
    "    right_ascension_hms: \"12:34:56.789012\"\n"                              /* 18 */
    "    declination_dms: \"-00:30:15.1\"\n"                                      /* 19 */
    "  - {name: Willowbrook, right_ascension_deg: 180.0, declination_deg: 45}\n"  /* 20 */
    "scans:\n"                                                                    /* 21 */
    "  - name: S02\n"                                                             /* 22 */
    "    source: Willowbrook\n"                                                   /* 23 */
    "    start: 2026-03-01T12:00:10\n"                                            /* 24 */
    "    duration_s: 4\n"                                                         /* 25 */
    "    stations: [Birch]\n"                                                     /* 26 */
    "  - name: S01\n"                                                             /* 27 */
    "    source: Ousel\n"                                                         /* 28 */
    "    start: 2026-03-01T12:00:00.5\n"                                          /* 29 */
    "    duration_s: 4.0\n"                                                       /* 30 */
    "bands:\n"                                                                    /* 31 */
    "  - {name: low, edge_hz: 8400.0e6, bandwidth_hz: 16.0e6, sideband: upper}\n" /* 32 */
    "  - name: high\n"                                                            /* 33 */
    "    edge_hz: 8448000000\n"                                                   /* 34 */
    "    bandwidth_hz: 16e6\n"                                                    /* 35 */
    "    sideband: lower\n"                                                       /* 36 */
    "recordings:\n"                                                               /* 37 */
    "  - station: Birch\n"                                                        /* 38 */
    "    files: [birch-1.vdif, /elsewhere/birch-2.vdif]\n"                        /* 39 */
    "    format: vdif\n"                                                          /* 40 */
    "    sample_rate_hz: 32000000\n"                                              /* 41 */
    "    streams:\n"                                                              /* 42 */
    "      - {band: low, polarization: R}\n"                                      /* 43 */
    "      - {band: high, polarization: L, thread: 3, channel: 1}\n"              /* 44 */
    "      - {edge_hz: 8416.0e6, sideband: lower, polarization: L, thread: 1}\n"  /* 45 */
    "  - station: Alder\n"                                                        /* 46 */
    "    files: [alder.wav]\n"                                                    /* 47 */
    "    format: sound\n"                                                         /* 48 */
    "    sampling: complex\n"                                                     /* 49 */
    "    start: 2026-03-01T11:59:59\n"                                            /* 50 */
    "    streams:\n"                                                              /* 51 */
    "      - {centre_hz: 8408e6, sideband: upper, polarization: R, channel: 0}\n" /* 52 */
    "correlation:\n"                                                              /* 53 */
    "  channels: 256\n"                                                           /* 54 */
    "  integration_s: 0.5\n"                                                      /* 55 */
    "  polarization_products: [RR, LL]\n"                                         /* 56 */
    "  fringe_rotation: before_fft\n"                                             /* 57 */
    "  rotation_loss_limit: 1.0e-3\n"                                             /* 58 */
    "  quantisation_correction: false\n"                                          /* 59 */
    "delay_terms: {gravity_planets: false, clock: no}\n"                          /* 60 */
    "earth_orientation:\n"                                                        /* 61 */
    "  days:\n"                                                                   /* 62 */
    "    - {date: 2026-02-28, pole_x_arcsec: 0.1, pole_y_arcsec: 0.3, ut1_minus_utc_s: 0.05,"
    " celestial_dx_mas: 0.2, celestial_dy_mas: -0.1}\n" /* 63 */
    "    - {date: 2026-03-01, pole_x_arcsec: 0.101, pole_y_arcsec: 0.301, ut1_minus_utc_s: 0.051}\n"
    "    - {date: 2026-03-02, pole_x_arcsec: 0.102, pole_y_arcsec: 0.302, ut1_minus_utc_s: 0.052}\n"
    "    - {date: 2026-03-03, pole_x_arcsec: 0.103, pole_y_arcsec: 0.303, ut1_minus_utc_s: "
    "0.053}\n";

/* Load a job that stands in memory, under the name folder/job.yaml. */
static inline wf_status load_text(wf_observation **out, const char *text, size_t n, wf_error *err)
{
    *out = NULL;
    wfi_document *document = NULL;
    wfi_raw_job *raw = NULL;
    wf_status status = wfi_document_parse(&document, "folder/job.yaml", text, n, err);
    if (status == WF_OK)
        status = wfi_document_load(&raw, document, &wfi_job_schema, err);
    if (status == WF_OK)
        status = wfi_observation_from_raw(out, raw, document, err);
    wfi_document_release(raw, &wfi_job_schema);
    wfi_document_close(document);
    return status;
}

/* The job with the first `find` replaced; to be freed. */
static inline char *edited_job(const char *find, const char *replacement)
{
    const char *at = strstr(JOB, find);
    if (at == NULL)
        fail_msg("the job does not hold \"%s\"", find);
    const size_t n_before = (size_t)(at - JOB);
    char *text = malloc(sizeof JOB + strlen(replacement));
    assert_non_null(text);
    memcpy(text, JOB, n_before);
    strcpy(text + n_before, replacement);
    strcat(text, at + strlen(find));
    return text;
}

#endif
