/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Pictures are drawn by gnuplot, a process of its own.
 *
 *  Why here and not in the library: a library that starts processes meets the threads, signal
 *  handlers and children of whoever calls it. The library yields numbers; the program shows them.
 */
#ifndef CLI_GNUPLOT_H
#define CLI_GNUPLOT_H

#include <whitefringe/status.h>

/** status  OK | IO: gnuplot cannot be started, or cannot draw PNG; the message says what to
 *          install
 */
wf_status gnuplot_check(const char *folder, wf_error *err);

/** Run a script in a folder, which becomes gnuplot's working folder.
 *
 *  given   script   name of the script file in that folder
 *          picture  name of the file that it must make there
 *  status  OK | IO: it was not made; the message holds gnuplot's own first line
 *          | CANCELLED: a signal asked to stop
 */
wf_status gnuplot_run(const char *folder, const char *script, const char *picture, wf_error *err);

#endif
