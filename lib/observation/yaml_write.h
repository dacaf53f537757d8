/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Values as YAML writes them in one line. */
#ifndef WFI_OBSERVATION_YAML_WRITE_H
#define WFI_OBSERVATION_YAML_WRITE_H

#include <whitefringe/time.h>

#include "base/text.h"
#include "observation/yaml_tree.h"

/** With the fewest digits that read back as the same, in the style of the job files. */
void wfi_write_number(char text[WFI_NUMBER_BYTES], double value);

/** With as many decimals as it has. */
void wfi_write_instant(char text[WF_INSTANT_TEXT_BYTES], wf_instant t);

/** A single value in a style; plain ones get double quotes where they need them. */
void wfi_write_scalar(wfi_text *out, const char *value, size_t n, wfi_yaml_style style);

/** A value with all that is in it, aliases written out, comments left out.
 *
 *  status  OK | UNSUPPORTED: aliases make too much of it
 */
wf_status wfi_write_value(wfi_text *out, const wfi_yaml_tree *tree, size_t node, wf_error *err);

#endif
