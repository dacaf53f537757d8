/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The IERS series finals2000A (.all, .data, .daily). */
#ifndef WFI_DELAY_FINALS2000A_H
#define WFI_DELAY_FINALS2000A_H

#include "delay/eop.h"

/** Read the whole file: values of Bulletin B where it gives them, of Bulletin A elsewhere.
 *
 *  A blank field is no value (NaN).
 *  status  OK | MISSING | FORMAT: the message names file, line and columns | IO | MEMORY
 *  source  readme.finals2000A of the IERS Rapid Service/Prediction Centre (column format)
 */
wf_status wfi_finals2000a_read(wfi_eop *eop, const char *path, wf_error *err);

#endif
