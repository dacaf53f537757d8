/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How the program ends: the one table from status to exit code. */
#ifndef CLI_EXIT_H
#define CLI_EXIT_H

#include <whitefringe/status.h>

enum { EXIT_DONE = 0, EXIT_DATA = 1, EXIT_USAGE = 2, EXIT_MACHINE = 3 };

int exit_code(wf_status status);

#endif
