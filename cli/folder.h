/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The folder that a verb writes into. */
#ifndef CLI_FOLDER_H
#define CLI_FOLDER_H

#include <stdbool.h>
#include <whitefringe/status.h>

/** Make a folder where there is none.
 *
 *  returned  created  whether it had to be made
 *  status    OK | MISSING: its own folder is not there | IO: the system refuses, or what stands
 *            there is no folder
 */
wf_status folder_ensure(const char *path, bool *created, wf_error *err);

#endif
