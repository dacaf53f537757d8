/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The schema of the job file, and the structs that libcyaml fills from it.
 *
 *  Every value stays a text here and is read in build.h's functions, so that numbers do not depend
 *  on the locale and refusals name their line. A file of another kind with keys of its own takes
 *  the shared keys in this way:
 *
 *      struct raw { wfi_raw_job job; char *seed; };
 *      static const cyaml_schema_field_t fields[] = {
 *          WFI_SHARED_FIELDS(struct raw, job),
 *          CYAML_FIELD_STRING_PTR("seed", CYAML_FLAG_POINTER, struct raw, seed, 0,
 * CYAML_UNLIMITED), CYAML_FIELD_END};
 */
#ifndef WFI_OBSERVATION_JOB_SCHEMA_H
#define WFI_OBSERVATION_JOB_SCHEMA_H

#include <cyaml/cyaml.h>
#include <whitefringe/delay_terms.h>
#include <stddef.h>

typedef struct wfi_raw_clock {
    char *reference;
    char *ahead_s;
    char *rate_s_per_s; /* NULL here and below: the key is optional and not there */
} wfi_raw_clock;

typedef struct wfi_raw_post_seismic {
    char *epoch;
    char *component;
    char *law;
    char *amplitude_m;
    char *relaxation_years;
} wfi_raw_post_seismic;

typedef struct wfi_raw_ocean_pole_tide {
    char **u_real; /* [3] */
    char **u_imaginary;
} wfi_raw_ocean_pole_tide;

typedef struct wfi_raw_antenna {
    char *focus;
    char *reference_temperature_c;
    char *foundation_m;
    char *foundation_per_k;
    char *axis_m;
    char *structure_per_k;
    char *vertex_m;
    char *focus_m;
} wfi_raw_antenna;

typedef struct wfi_raw_state_table {
    char *file;
    char *frame;
    char *time_scale;
} wfi_raw_state_table;

typedef struct wfi_raw_phase_calibration {
    char *spacing_hz;
    char *apply;
} wfi_raw_phase_calibration;

typedef struct wfi_raw_kurtosis {
    char *flag_beyond_sigma;
} wfi_raw_kurtosis;

typedef struct wfi_raw_weather {
    char *time;
    char *pressure_hpa;
    char *temperature_c;
    char *relative_humidity;
} wfi_raw_weather;

typedef struct wfi_raw_mapping {
    char *time;
    char *hydrostatic_a;
    char *wet_a;
} wfi_raw_mapping;

typedef struct wfi_raw_station {
    char *name;
    char **position_itrf_m; /* [3] */
    char *position_epoch_year;
    char **velocity_itrf_m_per_year; /* [3] */
    char **eccentricity_enu_m;       /* [3] */
    char **eccentricity_itrf_m;      /* [3] */
    wfi_raw_post_seismic *post_seismic;
    unsigned post_seismic_count;
    wfi_raw_ocean_pole_tide *ocean_pole_tide;
    char *mount;
    char *axis_offset_m;
    char *diameter_m;
    wfi_raw_weather *weather;
    unsigned weather_count;
    wfi_raw_mapping *vmf1;
    unsigned vmf1_count;
    char *zenith_wet_delay_m;
    char *wet_from_weather;
    char *gradient_north_m;
    char *gradient_east_m;
    char *elevation_limit_deg;
    wfi_raw_antenna *antenna;
    wfi_raw_clock *clock;
    wfi_raw_phase_calibration *phase_calibration;
    char *delay_table;
    wfi_raw_state_table *state_table;
} wfi_raw_station;

typedef struct wfi_raw_source {
    char *name;
    char *right_ascension_hms;
    char *right_ascension_deg;
    char *declination_dms;
    char *declination_deg;
    wfi_raw_state_table *state_table;
} wfi_raw_source;

typedef struct wfi_raw_scan {
    char *name;
    char *source;
    char *start;
    char *duration_s;
    char **stations; /* NULL: all */
    unsigned stations_count;
} wfi_raw_scan;

typedef struct wfi_raw_band {
    char *name;
    char *edge_hz;
    char *bandwidth_hz;
    char *sideband;
} wfi_raw_band;

typedef struct wfi_raw_stream {
    char *band;
    char *edge_hz;
    char *centre_hz;
    char *sideband;
    char *polarization;
    char *thread;
    char *channel;
} wfi_raw_stream;

typedef struct wfi_raw_recording {
    char *station;
    char **files;
    unsigned files_count;
    char *format;
    char *sample_rate_hz;
    char *sampling;
    char *start;
    wfi_raw_stream *streams;
    unsigned streams_count;
    char *encoding; /* from here on of jobs only */
    char *byte_order;
    char *bit_order;
    char *sign_bit;
    char *time_offset_s;
    char *reference_epoch;
    char *header_bytes;
    char *frame_index;
} wfi_raw_recording;

typedef struct wfi_raw_exclusion {
    char **stations; /* NULL: all */
    unsigned stations_count;
    char **bands; /* NULL: all */
    unsigned bands_count;
    char *start;
    char *stop;
    char *reason;
} wfi_raw_exclusion;

typedef struct wfi_raw_correlation {
    char *channels;
    char *channel_width_hz;
    char *integration_s;
    char **polarization_products;
    unsigned polarization_products_count;
    char *fringe_rotation;
    char *rotation_loss_limit;
    char *quantisation_correction;
} wfi_raw_correlation;

typedef struct wfi_raw_delay_terms {
#define WFI_RAW_DELAY_TERM(name, on, heading, text) char *name;
    WF_DELAY_SWITCHES(WFI_RAW_DELAY_TERM)
#undef WFI_RAW_DELAY_TERM
} wfi_raw_delay_terms;

typedef struct wfi_raw_earth_orientation_day {
    char *date;
    char *mjd;
    char *pole_x_arcsec;
    char *pole_y_arcsec;
    char *ut1_minus_utc_s;
    char *celestial_dx_mas;
    char *celestial_dy_mas;
} wfi_raw_earth_orientation_day;

typedef struct wfi_raw_earth_orientation {
    char *finals2000a;
    char *c04;
    char *extrapolate_days;
    char *subdaily_model;
    wfi_raw_earth_orientation_day *days;
    unsigned days_count;
} wfi_raw_earth_orientation;

typedef struct wfi_raw_job {
    char *campaign;
    char *elevation_limit_deg;
    wfi_raw_station *stations;
    unsigned stations_count;
    wfi_raw_source *sources;
    unsigned sources_count;
    wfi_raw_scan *scans;
    unsigned scans_count;
    wfi_raw_band *bands;
    unsigned bands_count;
    wfi_raw_recording *recordings;
    unsigned recordings_count; /* 0 only where a schema has no recordings */
    wfi_raw_exclusion *exclude;
    unsigned exclude_count;
    wfi_raw_correlation *correlation;
    wfi_raw_phase_calibration *phase_calibration; /* of all stations */
    wfi_raw_kurtosis *kurtosis;
    wfi_raw_delay_terms *delay_terms;
    char *pole_tide_reference;
    char *ocean_loading_blq;
    char *gpt2_grid;
    wfi_raw_earth_orientation *earth_orientation;
} wfi_raw_job;

/** Most entries of a list. FITS-IDI numbers a baseline 256 i + j, so stations end at 255. */
enum { WFI_STATIONS_MAX = 255, WFI_BANDS_MAX = 1024, WFI_STREAMS_MAX = 4096, WFI_LIST_MAX = 20000 };

extern const cyaml_schema_value_t wfi_text_schema;
extern const cyaml_schema_value_t wfi_station_schema;
extern const cyaml_schema_value_t wfi_source_schema;
extern const cyaml_schema_value_t wfi_scan_schema;
extern const cyaml_schema_value_t wfi_band_schema;
extern const cyaml_schema_value_t wfi_stream_schema;
extern const cyaml_schema_field_t wfi_correlation_fields[];
extern const cyaml_schema_field_t wfi_phase_calibration_fields[];
extern const cyaml_schema_field_t wfi_kurtosis_fields[];
extern const cyaml_schema_field_t wfi_delay_terms_fields[];
extern const cyaml_schema_field_t wfi_earth_orientation_fields[];

/** The keys that a job shares with other files; `member` is the wfi_raw_job within `structure`. */
#define WFI_SHARED_FIELDS(structure, member)                                                       \
    CYAML_FIELD_STRING_PTR("campaign", CYAML_FLAG_POINTER, structure, member.campaign, 0,          \
                           CYAML_UNLIMITED),                                                       \
        CYAML_FIELD_STRING_PTR("elevation_limit_deg", CYAML_FLAG_OPTIONAL, structure,              \
                               member.elevation_limit_deg, 0, CYAML_UNLIMITED),                    \
        CYAML_FIELD_SEQUENCE("stations", CYAML_FLAG_POINTER, structure, member.stations,           \
                             &wfi_station_schema, 1, WFI_STATIONS_MAX),                            \
        CYAML_FIELD_SEQUENCE("sources", CYAML_FLAG_POINTER, structure, member.sources,             \
                             &wfi_source_schema, 1, WFI_LIST_MAX),                                 \
        CYAML_FIELD_SEQUENCE("scans", CYAML_FLAG_POINTER, structure, member.scans,                 \
                             &wfi_scan_schema, 1, WFI_LIST_MAX),                                   \
        CYAML_FIELD_SEQUENCE("bands", CYAML_FLAG_POINTER, structure, member.bands,                 \
                             &wfi_band_schema, 1, WFI_BANDS_MAX),                                  \
        CYAML_FIELD_MAPPING_PTR("correlation", CYAML_FLAG_POINTER, structure, member.correlation,  \
                                wfi_correlation_fields),                                           \
        CYAML_FIELD_MAPPING_PTR("phase_calibration", CYAML_FLAG_OPTIONAL, structure,               \
                                member.phase_calibration, wfi_phase_calibration_fields),           \
        CYAML_FIELD_MAPPING_PTR("kurtosis", CYAML_FLAG_OPTIONAL, structure, member.kurtosis,       \
                                wfi_kurtosis_fields),                                              \
        CYAML_FIELD_MAPPING_PTR("delay_terms", CYAML_FLAG_OPTIONAL, structure, member.delay_terms, \
                                wfi_delay_terms_fields),                                           \
        CYAML_FIELD_STRING_PTR("pole_tide_reference", CYAML_FLAG_OPTIONAL, structure,              \
                               member.pole_tide_reference, 0, CYAML_UNLIMITED),                    \
        CYAML_FIELD_STRING_PTR("ocean_loading_blq", CYAML_FLAG_OPTIONAL, structure,                \
                               member.ocean_loading_blq, 0, CYAML_UNLIMITED),                      \
        CYAML_FIELD_STRING_PTR("gpt2_grid", CYAML_FLAG_OPTIONAL, structure, member.gpt2_grid, 0,   \
                               CYAML_UNLIMITED),                                                   \
        CYAML_FIELD_MAPPING_PTR("earth_orientation", CYAML_FLAG_OPTIONAL, structure,               \
                                member.earth_orientation, wfi_earth_orientation_fields)

/** The keys of a recording; `member` is the wfi_raw_recording within `structure`. */
#define WFI_RECORDING_FIELDS(structure, member)                                                    \
    CYAML_FIELD_STRING_PTR("station", CYAML_FLAG_POINTER, structure, member.station, 0,            \
                           CYAML_UNLIMITED),                                                       \
        CYAML_FIELD_SEQUENCE("files", CYAML_FLAG_POINTER, structure, member.files,                 \
                             &wfi_text_schema, 1, WFI_LIST_MAX),                                   \
        CYAML_FIELD_STRING_PTR("format", CYAML_FLAG_OPTIONAL, structure, member.format, 0,         \
                               CYAML_UNLIMITED),                                                   \
        CYAML_FIELD_STRING_PTR("sample_rate_hz", CYAML_FLAG_OPTIONAL, structure,                   \
                               member.sample_rate_hz, 0, CYAML_UNLIMITED),                         \
        CYAML_FIELD_STRING_PTR("sampling", CYAML_FLAG_OPTIONAL, structure, member.sampling, 0,     \
                               CYAML_UNLIMITED),                                                   \
        CYAML_FIELD_STRING_PTR("start", CYAML_FLAG_OPTIONAL, structure, member.start, 0,           \
                               CYAML_UNLIMITED),                                                   \
        CYAML_FIELD_SEQUENCE("streams", CYAML_FLAG_POINTER, structure, member.streams,             \
                             &wfi_stream_schema, 1, WFI_STREAMS_MAX)

/** Fills a wfi_raw_job. */
extern const cyaml_schema_value_t wfi_job_schema;

#endif
