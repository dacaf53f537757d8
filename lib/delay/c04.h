/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The IERS series EOP C04, of 2014 (and 2008) and of 2020. */
#ifndef WFI_DELAY_C04_H
#define WFI_DELAY_C04_H

#include "delay/eop.h"

/** Read the whole file; which of the two layouts it has shows in its first line of data.
 *
 *  status  OK | MISSING | FORMAT: the message names file, line and columns | IO | MEMORY
 *  source  headers of the files EOP 14 C04 (IAU2000) and EOP 20 C04 of the IERS Earth Orientation
 *          Product Centre, Paris Observatory
 */
wf_status wfi_c04_read(wfi_eop *eop, const char *path, wf_error *err);

#endif
