/* SPDX-License-Identifier: GPL-3.0-or-later */
/* From the texts of a job to an observation: read, check, refuse with the place.
 *
 *  The parts are built in the order of their declarations; each may use those before it. What a
 *  part has allocated hangs on the observation at once, so that its destroy frees all.
 */
#ifndef WFI_OBSERVATION_BUILD_H
#define WFI_OBSERVATION_BUILD_H

#include <whitefringe/observation.h>
#include <whitefringe/status.h>

#include "observation/document.h"
#include "observation/fields.h"
#include "observation/job_schema.h"

typedef struct wfi_build {
    const wfi_raw_job *raw;
    const wfi_document *document;
    wf_error *err;
    wf_observation *observation;
} wfi_build;

/** FITS-IDI's widths of the names that go into its tables. */
enum { WFI_STATION_NAME_MAX = 8, WFI_SOURCE_NAME_MAX = 16, WFI_OTHER_NAME_MAX = 32 };

wf_status wfi_build_stations(const wfi_build *build);
/** Of one station whose position is read, each called by wfi_build_stations: what its ground does,
 *  the dimensions of its antenna, and the air above it. */
wf_status wfi_build_ground(const wfi_build *build, size_t i_station, wf_station *station);
wf_status wfi_build_antenna(const wfi_build *build, size_t i_station, wf_station *station);
wf_status wfi_build_phase_calibration(const wfi_build *build, size_t i_station,
                                      wf_station *station);
wf_status wfi_build_atmosphere(const wfi_build *build, size_t i_station, wf_station *station);
wf_status wfi_build_sources(const wfi_build *build);
wf_status wfi_build_bands(const wfi_build *build);
wf_status wfi_build_scans(const wfi_build *build);
wf_status wfi_build_recordings(const wfi_build *build);

/** After recordings and delay terms: streams learn what is excluded of them. */
wf_status wfi_build_exclusions(const wfi_build *build);
wf_status wfi_build_correlation(const wfi_build *build);
/** Called by wfi_build_correlation, with its place. */
wf_status wfi_build_products(const wfi_build *build, const wfi_place *place);
wf_status wfi_build_kurtosis(const wfi_build *build);
wf_status wfi_build_delay_terms(const wfi_build *build);
/** What the displacements and the air of all stations need. */
wf_status wfi_build_tides(const wfi_build *build);
wf_status wfi_build_earth_orientation(const wfi_build *build);

/** Every scan's stations have recordings, and every scan holds a segment. */
wf_status wfi_check_scans(const wfi_build *build);

/** The names of a part that has been built. */
wfi_names wfi_station_names(const wf_observation *observation);
wfi_names wfi_source_names(const wf_observation *observation);
wfi_names wfi_band_names(const wf_observation *observation);

/** A file of states; nothing where raw is NULL. The path is to be freed. */
wf_status wfi_read_state_table(const wfi_build *build, const wfi_place *place,
                               const wfi_raw_state_table *raw, wf_state_table *out);

/** "upper" and "lower". */
wf_status wfi_read_sideband(const wfi_place *place, const char *text, wf_sideband *out);

/** The whole observation.
 *
 *  given     raw       filled by wfi_document_load with a schema that has WFI_SHARED_FIELDS;
 *                      without recordings (n = 0) what depends on them is not checked, and the
 *                      products have no default
 *            document  the file that raw comes from; only used during the call
 *  returned  out       to be freed with wf_observation_destroy; NULL on failure
 *  status    OK | FORMAT | MEMORY
 */
wf_status wfi_observation_from_raw(wf_observation **out, const wfi_raw_job *raw,
                                   const wfi_document *document, wf_error *err);

/** The same of a document that holds a job, after the check of its keys. */
wf_status wfi_observation_from_document(wf_observation **out, const wfi_document *document,
                                        wf_error *err);

#endif
