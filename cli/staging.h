/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Several files that appear in a folder together, when all are whole. */
#ifndef CLI_STAGING_H
#define CLI_STAGING_H

#include <stdbool.h>

#include "base/text.h"

/** Start from {0}; every begun one is ended. */
typedef struct staging {
    const char *target; /* the folder they are to stand in */
    char *folder;       /* a hidden one in it, where they are made */
    bool target_created;
    char **kept; /* [n_kept] names of what is to be published */
    size_t n_kept;
    size_t capacity;
} staging;

/** status  as folder_ensure | IO: no folder can be made in it */
wf_status staging_begin(staging *s, const char *target, wf_error *err);

/** Write a text into a file of the hidden folder. */
wf_status staging_write(const staging *s, const char *name, const wfi_text *text, wf_error *err);

/** Append a file of the hidden folder to a text. */
wf_status staging_read(const staging *s, const char *name, wfi_text *text, wf_error *err);

/** Remember a file of the hidden folder as one to publish. */
wf_status staging_keep(staging *s, const char *name, wf_error *err);

/** Bring all kept files to the disk and into the target. */
wf_status staging_publish(staging *s, wf_error *err);

/** Remove the hidden folder with what is left in it. Accepts {0}. */
void staging_end(staging *s);

#endif
