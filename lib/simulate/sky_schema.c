/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The schema of the sky file. */
#include "simulate/sky_schema.h"

#define NEEDED(structure, key)                                                                     \
    CYAML_FIELD_STRING_PTR(#key, CYAML_FLAG_POINTER, structure, key, 0, CYAML_UNLIMITED)
#define OPTIONAL(structure, key)                                                                   \
    CYAML_FIELD_STRING_PTR(#key, CYAML_FLAG_OPTIONAL, structure, key, 0, CYAML_UNLIMITED)

static const cyaml_schema_field_t line_fields[] = {
    NEEDED(wfi_raw_line, centre_hz),
    NEEDED(wfi_raw_line, width_hz),
    CYAML_FIELD_END,
};

static const cyaml_schema_field_t component_fields[] = {
    NEEDED(wfi_raw_component, source),
    OPTIONAL(wfi_raw_component, east_arcsec),
    OPTIONAL(wfi_raw_component, north_arcsec),
    NEEDED(wfi_raw_component, correlation),
    CYAML_FIELD_SEQUENCE_FIXED("cross_hand", CYAML_FLAG_POINTER | CYAML_FLAG_OPTIONAL,
                               wfi_raw_component, cross_hand, &wfi_text_schema, 2),
    CYAML_FIELD_MAPPING_PTR("line", CYAML_FLAG_OPTIONAL, wfi_raw_component, line, line_fields),
    CYAML_FIELD_END,
};

static const cyaml_schema_value_t component_schema = {
    CYAML_VALUE_MAPPING(CYAML_FLAG_DEFAULT, wfi_raw_component, component_fields),
};

static const cyaml_schema_field_t clock_error_fields[] = {
    NEEDED(wfi_raw_clock_error, station),
    NEEDED(wfi_raw_clock_error, ahead_s),
    OPTIONAL(wfi_raw_clock_error, rate_s_per_s),
    CYAML_FIELD_END,
};

static const cyaml_schema_value_t clock_error_schema = {
    CYAML_VALUE_MAPPING(CYAML_FLAG_DEFAULT, wfi_raw_clock_error, clock_error_fields),
};

static const cyaml_schema_field_t sky_fields[] = {
    NEEDED(wfi_raw_sky, seed),
    CYAML_FIELD_SEQUENCE("components", CYAML_FLAG_POINTER, wfi_raw_sky, components,
                         &component_schema, 0, WFI_COMPONENTS_MAX),
    CYAML_FIELD_SEQUENCE("clock_errors", CYAML_FLAG_POINTER | CYAML_FLAG_OPTIONAL, wfi_raw_sky,
                         clock_errors, &clock_error_schema, 0, WFI_STATIONS_MAX),
    CYAML_FIELD_END,
};

static const cyaml_schema_field_t recording_fields[] = {
    WFI_RECORDING_FIELDS(wfi_raw_sky_recording, job),
    OPTIONAL(wfi_raw_sky_recording, bits),
    OPTIONAL(wfi_raw_sky_recording, header_bytes),
    OPTIONAL(wfi_raw_sky_recording, payload_bytes),
    CYAML_FIELD_END,
};

static const cyaml_schema_value_t recording_schema = {
    CYAML_VALUE_MAPPING(CYAML_FLAG_DEFAULT, wfi_raw_sky_recording, recording_fields),
};

static const cyaml_schema_field_t file_fields[] = {
    WFI_SHARED_FIELDS(wfi_raw_sky_file, job),
    CYAML_FIELD_SEQUENCE("recordings", CYAML_FLAG_POINTER, wfi_raw_sky_file, recordings,
                         &recording_schema, 1, WFI_LIST_MAX),
    CYAML_FIELD_MAPPING_PTR("sky", CYAML_FLAG_POINTER, wfi_raw_sky_file, sky, sky_fields),
    CYAML_FIELD_END,
};

const cyaml_schema_value_t wfi_sky_schema = {
    CYAML_VALUE_MAPPING(CYAML_FLAG_POINTER, wfi_raw_sky_file, file_fields),
};
