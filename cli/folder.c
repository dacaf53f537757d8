/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The folder that a verb writes into. */
#include "folder.h"

#include <errno.h>
#include <sys/stat.h>

#include "base/output.h"
#include "base/status.h"

wf_status folder_ensure(const char *path, bool *created, wf_error *err)
{
    char words[WFI_ERRNO_TEXT_BYTES];
    *created = mkdir(path, 0777) == 0;
    if (*created)
        return WF_OK;
    const int reason = errno;
    struct stat entry;
    if (reason == EEXIST && stat(path, &entry) == 0) {
        if (S_ISDIR(entry.st_mode))
            return WF_OK;
        return wfi_fail(err, WF_IO, "%s: is no folder; name another", path);
    }
    if (reason == ENOENT)
        return wfi_fail(err, WF_MISSING, "%s: the folder it would stand in is not there: create it",
                        path);
    return wfi_fail(err, WF_IO, "%s: the folder could not be made: %s", path,
                    wfi_errno_text(words, reason));
}
