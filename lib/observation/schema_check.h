/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Holding a YAML document against a schema before libcyaml loads it. */
#ifndef WFI_OBSERVATION_SCHEMA_CHECK_H
#define WFI_OBSERVATION_SCHEMA_CHECK_H

#include <cyaml/cyaml.h>
#include <whitefringe/status.h>
#include <yaml.h>

/** Refuse unknown keys (the nearest known one is suggested), missing and repeated keys, and values
 *  of another kind than the schema's; the message names file, line and key.
 *
 *  given   schema  of mappings, sequences and strings
 *  status  OK | FORMAT
 */
wf_status wfi_schema_check(const cyaml_schema_value_t *schema, yaml_document_t *yaml,
                           const char *file_path, wf_error *err);

#endif
