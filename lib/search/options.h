/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a search takes where nothing is asked for. */
#ifndef WFI_SEARCH_OPTIONS_H
#define WFI_SEARCH_OPTIONS_H

#include <whitefringe/search.h>

wf_search_options wfi_search_options_complete(const wf_search_options *options);

#endif
