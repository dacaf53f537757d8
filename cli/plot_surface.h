/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The right half of a baseline's page: the fringe in delay and rate. */
#ifndef CLI_PLOT_SURFACE_H
#define CLI_PLOT_SURFACE_H

#include "base/text.h"
#include "report_row.h"

/** Append the surface close to the peak with cuts through it, the whole window, and the numbers.
 *
 *  given   row  measured
 *  status  OK | MEMORY
 */
wf_status plot_surface(wfi_text *script, const wf_stretch_data *data, const report_row *row,
                       wf_error *err);

#endif
