/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The schema of the job file. */
#include "observation/job_schema.h"

const cyaml_schema_value_t wfi_text_schema = {
    CYAML_VALUE_STRING(CYAML_FLAG_POINTER, char, 0, CYAML_UNLIMITED),
};

#define NEEDED(structure, key)                                                                     \
    CYAML_FIELD_STRING_PTR(#key, CYAML_FLAG_POINTER, structure, key, 0, CYAML_UNLIMITED)
#define OPTIONAL(structure, key)                                                                   \
    CYAML_FIELD_STRING_PTR(#key, CYAML_FLAG_OPTIONAL, structure, key, 0, CYAML_UNLIMITED)
#define LIST(structure, key, flag)                                                                 \
    CYAML_FIELD_SEQUENCE(#key, CYAML_FLAG_POINTER | (flag), structure, key, &wfi_text_schema, 1,   \
                         WFI_LIST_MAX)
#define VECTOR(structure, key, flag)                                                               \
    CYAML_FIELD_SEQUENCE_FIXED(#key, CYAML_FLAG_POINTER | (flag), structure, key,                  \
                               &wfi_text_schema, 3)

static const cyaml_schema_field_t clock_fields[] = {
    NEEDED(wfi_raw_clock, reference),
    NEEDED(wfi_raw_clock, ahead_s),
    OPTIONAL(wfi_raw_clock, rate_s_per_s),
    CYAML_FIELD_END,
};

static const cyaml_schema_field_t post_seismic_fields[] = {
    NEEDED(wfi_raw_post_seismic, epoch),
    NEEDED(wfi_raw_post_seismic, component),
    NEEDED(wfi_raw_post_seismic, law),
    NEEDED(wfi_raw_post_seismic, amplitude_m),
    NEEDED(wfi_raw_post_seismic, relaxation_years),
    CYAML_FIELD_END,
};

static const cyaml_schema_value_t post_seismic_schema = {
    CYAML_VALUE_MAPPING(CYAML_FLAG_DEFAULT, wfi_raw_post_seismic, post_seismic_fields),
};

static const cyaml_schema_field_t ocean_pole_tide_fields[] = {
    VECTOR(wfi_raw_ocean_pole_tide, u_real, CYAML_FLAG_DEFAULT),
    VECTOR(wfi_raw_ocean_pole_tide, u_imaginary, CYAML_FLAG_DEFAULT),
    CYAML_FIELD_END,
};

static const cyaml_schema_field_t antenna_fields[] = {
    NEEDED(wfi_raw_antenna, focus),
    NEEDED(wfi_raw_antenna, reference_temperature_c),
    NEEDED(wfi_raw_antenna, foundation_m),
    NEEDED(wfi_raw_antenna, foundation_per_k),
    NEEDED(wfi_raw_antenna, axis_m),
    NEEDED(wfi_raw_antenna, structure_per_k),
    NEEDED(wfi_raw_antenna, vertex_m),
    NEEDED(wfi_raw_antenna, focus_m),
    CYAML_FIELD_END,
};

static const cyaml_schema_field_t state_table_fields[] = {
    NEEDED(wfi_raw_state_table, file),
    NEEDED(wfi_raw_state_table, frame),
    OPTIONAL(wfi_raw_state_table, time_scale),
    CYAML_FIELD_END,
};

static const cyaml_schema_field_t weather_fields[] = {
    OPTIONAL(wfi_raw_weather, time),
    OPTIONAL(wfi_raw_weather, pressure_hpa),
    OPTIONAL(wfi_raw_weather, temperature_c),
    OPTIONAL(wfi_raw_weather, relative_humidity),
    CYAML_FIELD_END,
};

static const cyaml_schema_value_t weather_schema = {
    CYAML_VALUE_MAPPING(CYAML_FLAG_DEFAULT, wfi_raw_weather, weather_fields),
};

static const cyaml_schema_field_t mapping_fields[] = {
    OPTIONAL(wfi_raw_mapping, time),
    NEEDED(wfi_raw_mapping, hydrostatic_a),
    NEEDED(wfi_raw_mapping, wet_a),
    CYAML_FIELD_END,
};

static const cyaml_schema_value_t mapping_schema = {
    CYAML_VALUE_MAPPING(CYAML_FLAG_DEFAULT, wfi_raw_mapping, mapping_fields),
};

static const cyaml_schema_field_t station_fields[] = {
    NEEDED(wfi_raw_station, name),
    VECTOR(wfi_raw_station, position_itrf_m, CYAML_FLAG_OPTIONAL),
    OPTIONAL(wfi_raw_station, position_epoch_year),
    VECTOR(wfi_raw_station, velocity_itrf_m_per_year, CYAML_FLAG_OPTIONAL),
    VECTOR(wfi_raw_station, eccentricity_enu_m, CYAML_FLAG_OPTIONAL),
    VECTOR(wfi_raw_station, eccentricity_itrf_m, CYAML_FLAG_OPTIONAL),
    CYAML_FIELD_SEQUENCE("post_seismic", CYAML_FLAG_POINTER | CYAML_FLAG_OPTIONAL, wfi_raw_station,
                         post_seismic, &post_seismic_schema, 0, WFI_LIST_MAX),
    CYAML_FIELD_MAPPING_PTR("ocean_pole_tide", CYAML_FLAG_OPTIONAL, wfi_raw_station,
                            ocean_pole_tide, ocean_pole_tide_fields),
    OPTIONAL(wfi_raw_station, mount),
    OPTIONAL(wfi_raw_station, axis_offset_m),
    OPTIONAL(wfi_raw_station, diameter_m),
    CYAML_FIELD_SEQUENCE("weather", CYAML_FLAG_POINTER | CYAML_FLAG_OPTIONAL, wfi_raw_station,
                         weather, &weather_schema, 1, WFI_LIST_MAX),
    CYAML_FIELD_SEQUENCE("vmf1", CYAML_FLAG_POINTER | CYAML_FLAG_OPTIONAL, wfi_raw_station, vmf1,
                         &mapping_schema, 1, WFI_LIST_MAX),
    OPTIONAL(wfi_raw_station, zenith_wet_delay_m),
    OPTIONAL(wfi_raw_station, wet_from_weather),
    OPTIONAL(wfi_raw_station, gradient_north_m),
    OPTIONAL(wfi_raw_station, gradient_east_m),
    OPTIONAL(wfi_raw_station, elevation_limit_deg),
    CYAML_FIELD_MAPPING_PTR("antenna", CYAML_FLAG_OPTIONAL, wfi_raw_station, antenna,
                            antenna_fields),
    CYAML_FIELD_MAPPING_PTR("clock", CYAML_FLAG_OPTIONAL, wfi_raw_station, clock, clock_fields),
    CYAML_FIELD_MAPPING_PTR("phase_calibration", CYAML_FLAG_OPTIONAL, wfi_raw_station,
                            phase_calibration, wfi_phase_calibration_fields),
    OPTIONAL(wfi_raw_station, delay_table),
    CYAML_FIELD_MAPPING_PTR("state_table", CYAML_FLAG_OPTIONAL, wfi_raw_station, state_table,
                            state_table_fields),
    CYAML_FIELD_END,
};

const cyaml_schema_value_t wfi_station_schema = {
    CYAML_VALUE_MAPPING(CYAML_FLAG_DEFAULT, wfi_raw_station, station_fields),
};

static const cyaml_schema_field_t source_fields[] = {
    NEEDED(wfi_raw_source, name),
    OPTIONAL(wfi_raw_source, right_ascension_hms),
    OPTIONAL(wfi_raw_source, right_ascension_deg),
    OPTIONAL(wfi_raw_source, declination_dms),
    OPTIONAL(wfi_raw_source, declination_deg),
    CYAML_FIELD_MAPPING_PTR("state_table", CYAML_FLAG_OPTIONAL, wfi_raw_source, state_table,
                            state_table_fields),
    CYAML_FIELD_END,
};

const cyaml_schema_value_t wfi_source_schema = {
    CYAML_VALUE_MAPPING(CYAML_FLAG_DEFAULT, wfi_raw_source, source_fields),
};

static const cyaml_schema_field_t scan_fields[] = {
    NEEDED(wfi_raw_scan, name),
    NEEDED(wfi_raw_scan, source),
    NEEDED(wfi_raw_scan, start),
    NEEDED(wfi_raw_scan, duration_s),
    LIST(wfi_raw_scan, stations, CYAML_FLAG_OPTIONAL),
    CYAML_FIELD_END,
};

const cyaml_schema_value_t wfi_scan_schema = {
    CYAML_VALUE_MAPPING(CYAML_FLAG_DEFAULT, wfi_raw_scan, scan_fields),
};

static const cyaml_schema_field_t band_fields[] = {
    NEEDED(wfi_raw_band, name),
    NEEDED(wfi_raw_band, edge_hz),
    NEEDED(wfi_raw_band, bandwidth_hz),
    NEEDED(wfi_raw_band, sideband),
    CYAML_FIELD_END,
};

const cyaml_schema_value_t wfi_band_schema = {
    CYAML_VALUE_MAPPING(CYAML_FLAG_DEFAULT, wfi_raw_band, band_fields),
};

static const cyaml_schema_field_t stream_fields[] = {
    OPTIONAL(wfi_raw_stream, band),       OPTIONAL(wfi_raw_stream, edge_hz),
    OPTIONAL(wfi_raw_stream, centre_hz),  OPTIONAL(wfi_raw_stream, sideband),
    NEEDED(wfi_raw_stream, polarization), OPTIONAL(wfi_raw_stream, thread),
    OPTIONAL(wfi_raw_stream, channel),    CYAML_FIELD_END,
};

const cyaml_schema_value_t wfi_stream_schema = {
    CYAML_VALUE_MAPPING(CYAML_FLAG_DEFAULT, wfi_raw_stream, stream_fields),
};

/* libcyaml counts the offset of every key from the start of a struct. */
typedef struct recording_entry {
    wfi_raw_recording recording;
} recording_entry;

#define OF_JOBS(key)                                                                               \
    CYAML_FIELD_STRING_PTR(#key, CYAML_FLAG_OPTIONAL, recording_entry, recording.key, 0,           \
                           CYAML_UNLIMITED)

static const cyaml_schema_field_t recording_fields[] = {
    WFI_RECORDING_FIELDS(recording_entry, recording),
    OF_JOBS(encoding),
    OF_JOBS(byte_order),
    OF_JOBS(bit_order),
    OF_JOBS(sign_bit),
    OF_JOBS(time_offset_s),
    OF_JOBS(reference_epoch),
    OF_JOBS(header_bytes),
    OF_JOBS(frame_index),
    CYAML_FIELD_END,
};

static const cyaml_schema_value_t recording_schema = {
    CYAML_VALUE_MAPPING(CYAML_FLAG_DEFAULT, recording_entry, recording_fields),
};

const cyaml_schema_field_t wfi_correlation_fields[] = {
    OPTIONAL(wfi_raw_correlation, channels),
    OPTIONAL(wfi_raw_correlation, channel_width_hz),
    NEEDED(wfi_raw_correlation, integration_s),
    LIST(wfi_raw_correlation, polarization_products, CYAML_FLAG_OPTIONAL),
    OPTIONAL(wfi_raw_correlation, fringe_rotation),
    OPTIONAL(wfi_raw_correlation, rotation_loss_limit),
    OPTIONAL(wfi_raw_correlation, quantisation_correction),
    CYAML_FIELD_END,
};

const cyaml_schema_field_t wfi_phase_calibration_fields[] = {
    NEEDED(wfi_raw_phase_calibration, spacing_hz),
    OPTIONAL(wfi_raw_phase_calibration, apply),
    CYAML_FIELD_END,
};

const cyaml_schema_field_t wfi_kurtosis_fields[] = {
    NEEDED(wfi_raw_kurtosis, flag_beyond_sigma),
    CYAML_FIELD_END,
};

const cyaml_schema_field_t wfi_delay_terms_fields[] = {
#define SWITCH(name, on, heading, text) OPTIONAL(wfi_raw_delay_terms, name),
    WF_DELAY_SWITCHES(SWITCH)
#undef SWITCH
        CYAML_FIELD_END,
};

static const cyaml_schema_field_t day_fields[] = {
    OPTIONAL(wfi_raw_earth_orientation_day, date),
    OPTIONAL(wfi_raw_earth_orientation_day, mjd),
    NEEDED(wfi_raw_earth_orientation_day, pole_x_arcsec),
    NEEDED(wfi_raw_earth_orientation_day, pole_y_arcsec),
    NEEDED(wfi_raw_earth_orientation_day, ut1_minus_utc_s),
    OPTIONAL(wfi_raw_earth_orientation_day, celestial_dx_mas),
    OPTIONAL(wfi_raw_earth_orientation_day, celestial_dy_mas),
    CYAML_FIELD_END,
};

static const cyaml_schema_value_t day_schema = {
    CYAML_VALUE_MAPPING(CYAML_FLAG_DEFAULT, wfi_raw_earth_orientation_day, day_fields),
};

const cyaml_schema_field_t wfi_earth_orientation_fields[] = {
    OPTIONAL(wfi_raw_earth_orientation, finals2000a),
    OPTIONAL(wfi_raw_earth_orientation, c04),
    OPTIONAL(wfi_raw_earth_orientation, extrapolate_days),
    OPTIONAL(wfi_raw_earth_orientation, subdaily_model),
    CYAML_FIELD_SEQUENCE("days", CYAML_FLAG_POINTER | CYAML_FLAG_OPTIONAL,
                         wfi_raw_earth_orientation, days, &day_schema, 0, WFI_LIST_MAX),
    CYAML_FIELD_END,
};

static const cyaml_schema_field_t exclusion_fields[] = {
    LIST(wfi_raw_exclusion, stations, CYAML_FLAG_OPTIONAL),
    LIST(wfi_raw_exclusion, bands, CYAML_FLAG_OPTIONAL),
    NEEDED(wfi_raw_exclusion, start),
    NEEDED(wfi_raw_exclusion, stop),
    NEEDED(wfi_raw_exclusion, reason),
    CYAML_FIELD_END,
};

static const cyaml_schema_value_t exclusion_schema = {
    CYAML_VALUE_MAPPING(CYAML_FLAG_DEFAULT, wfi_raw_exclusion, exclusion_fields),
};

/* The job file is the shared keys and the recordings. */
typedef struct job_file {
    wfi_raw_job job;
} job_file;

static const cyaml_schema_field_t job_fields[] = {
    WFI_SHARED_FIELDS(job_file, job),
    CYAML_FIELD_SEQUENCE("recordings", CYAML_FLAG_POINTER, job_file, job.recordings,
                         &recording_schema, 1, WFI_LIST_MAX),
    CYAML_FIELD_SEQUENCE("exclude", CYAML_FLAG_POINTER | CYAML_FLAG_OPTIONAL, job_file, job.exclude,
                         &exclusion_schema, 0, WFI_LIST_MAX),
    CYAML_FIELD_END,
};

const cyaml_schema_value_t wfi_job_schema = {
    CYAML_VALUE_MAPPING(CYAML_FLAG_POINTER, job_file, job_fields),
};
