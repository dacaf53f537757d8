/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A YAML file as it was read: its schema, and the line of every key.
 *
 *  libcyaml fills structs and forgets where a value stood, so libyaml's own document is kept
 *  beside it: a fault found much later still names file, line and key.
 */
#ifndef WFI_OBSERVATION_DOCUMENT_H
#define WFI_OBSERVATION_DOCUMENT_H

#include <cyaml/cyaml.h>
#include <stddef.h>
#include <whitefringe/status.h>

typedef struct wfi_document wfi_document;

/** Read a file that holds one YAML document.
 *
 *  status  OK | MISSING: no such file | FORMAT: no file, empty, too large, or no YAML; the message
 *          names line and column | IO | MEMORY
 */
wf_status wfi_document_open(wfi_document **out, const char *path, wf_error *err);

/** The same from memory; `path` is the name that messages use. */
wf_status wfi_document_parse(wfi_document **out, const char *path, const char *bytes, size_t n,
                             wf_error *err);

/** Accepts NULL. */
void wfi_document_close(wfi_document *document);

/** Fill the struct of a schema, after a check that names the line of every unknown, missing or
 *  repeated key and of every value of the wrong kind.
 *
 *  given     schema  of mappings (pointer), sequences and strings (pointers) only: numbers are
 *                    read from strings later, whatever the locale
 *  returned  raw     to be released with the same schema; NULL on failure
 *  status    OK | FORMAT | MEMORY
 */
wf_status wfi_document_load(void *raw, const wfi_document *document,
                            const cyaml_schema_value_t *schema, wf_error *err);

/** Accepts NULL. */
void wfi_document_release(void *raw, const cyaml_schema_value_t *schema);

/** Its bytes, a zero behind them. */
const char *wfi_document_text(const wfi_document *document, size_t *n);

/** As it was given. */
const char *wfi_document_path(const wfi_document *document);

/** Line, from 1, of a key such as "bands[1].edge_hz"; where the path ends early, of the deepest
 *  part of it that is there. */
size_t wfi_document_line(const wfi_document *document, const char *key_path);

/** A path of the file, taken from the folder of the file; absolute ones stay. */
wf_status wfi_document_resolve(char **out, const wfi_document *document, const char *path,
                               wf_error *err);

#endif
