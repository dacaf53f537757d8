/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How the program ends: the one table from status to exit code. */
#include "exit.h"

#include <stddef.h>

int exit_code(wf_status status)
{
    static const int codes[] = {
        [WF_OK] = EXIT_DONE,
        [WF_FORMAT] = EXIT_DATA,
        [WF_UNSUPPORTED] = EXIT_DATA,
        [WF_RANGE] = EXIT_DATA,
        [WF_MISSING] = EXIT_DATA,
        [WF_IO] = EXIT_MACHINE,
        [WF_MEMORY] = EXIT_MACHINE,
        /* our own mistakes, had they come this far */
        [WF_ARGUMENT] = EXIT_MACHINE,
        [WF_END] = EXIT_MACHINE,
        /* without a signal that asked for it */
        [WF_CANCELLED] = EXIT_MACHINE,
    };
    const size_t i = (size_t)status;
    return i < sizeof codes / sizeof codes[0] ? codes[i] : EXIT_MACHINE;
}
