/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Where a key stands in a YAML document. */
#ifndef WFI_OBSERVATION_KEY_PATH_H
#define WFI_OBSERVATION_KEY_PATH_H

#include <stddef.h>
#include <yaml.h>

/** Line, from 1, of a key such as "bands[1].edge_hz" or a list's entry; where the path leads
 *  nowhere, of the deepest part of it that is there. */
size_t wfi_key_path_line(yaml_document_t *yaml, const char *key_path);

#endif
