/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a search adds up to. */
#ifndef WFI_SEARCH_DESCRIBE_H
#define WFI_SEARCH_DESCRIBE_H

#include "search/hunt.h"

/** Fill in all of the result but its baselines. */
wf_status wfi_describe(wfi_hunt *hunt, wf_error *err);

#endif
