/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How far a run has come, on stderr where that is a terminal. */
#ifndef CLI_PROGRESS_H
#define CLI_PROGRESS_H

#include <stdbool.h>
#include <whitefringe/run.h>

/** Context of progress_show and progress_warn. */
typedef struct progress {
    const char *title;
    bool on_terminal;
    bool drawn; /* a bar stands on the line */
    double start_s;
    double drawn_s;
} progress;

progress progress_start(const char *title);

/** A wf_progress_sink: draws the bar; non-zero once a signal asked to stop. */
int progress_show(void *context, const wf_progress *now);

/** A wf_warn: writes the warning above the bar. */
void progress_warn(void *context, const char *message);

/** Take the bar off the line; returns the seconds since it started. */
double progress_end(progress *bar);

#endif
