/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The single values of a YAML file: texts into numbers, names and times, refused with their place,
 * what was expected, what was found, and what to do. */
#ifndef WFI_OBSERVATION_FIELDS_H
#define WFI_OBSERVATION_FIELDS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <whitefringe/observation.h>
#include <whitefringe/status.h>
#include <whitefringe/time.h>

#include "observation/place.h"

/** Which numbers a key takes. */
typedef struct wfi_quantity {
    const char *expected; /* "a width in Hz above 0" */
    double least;
    double most;
    bool above_least;   /* least itself is refused */
    const char *remedy; /* for a number out of range; NULL: none beyond what is expected */
} wfi_quantity;

/** status  OK | FORMAT: no number, or not in [least, most] */
wf_status wfi_read_number(const wfi_place *place, const char *key, const char *text,
                          const wfi_quantity *quantity, double *out);

/** Three numbers; faults name the entry. */
wf_status wfi_read_vector(const wfi_place *place, const char *key, char *const text[3],
                          const wfi_quantity *quantity, double out[3]);

/** A whole number, also written as 32e6. */
wf_status wfi_read_count(const wfi_place *place, const char *key, const char *text,
                         const wfi_quantity *quantity, int64_t *out);

/** A word that stands for a value. */
typedef struct wfi_choice {
    const char *word;
    int value;
} wfi_choice;

wf_status wfi_read_choice(const wfi_place *place, const char *key, const char *text,
                          const wfi_choice *choices, size_t n_choices, int *out);

/** true or false, yes or no, on or off. */
wf_status wfi_read_flag(const wfi_place *place, const char *key, const char *text, bool *out);

wf_status wfi_read_instant(const wfi_place *place, const char *key, const char *text,
                           wf_instant *out);

/** The names given so far: `name` fields of n structs of `stride` bytes; first is NULL for none. */
typedef struct wfi_names {
    const char *list; /* "stations": how the list is called in the file */
    const char *first;
    size_t n;
    size_t stride;
} wfi_names;

/** A new name: printable ASCII without quotes, of at most n_max (< WF_NAME_BYTES) characters, not
 *  among `taken` (NULL: any). */
wf_status wfi_read_name(const wfi_place *place, const char *key, const char *text, size_t n_max,
                        const wfi_names *taken, char out[WF_NAME_BYTES]);

/** The index of a name that must be there; the nearest one is suggested. */
wf_status wfi_read_reference(const wfi_place *place, const char *key, const char *text,
                             const wfi_names *names, size_t *out);

#endif
