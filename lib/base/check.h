/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Our own mistakes: checked in test builds, nothing in release builds. */
#ifndef WFI_BASE_CHECK_H
#define WFI_BASE_CHECK_H

#ifdef WFI_CHECKS
#include <assert.h>
#define WFI_CHECK(condition) assert(condition)
#else
#define WFI_CHECK(condition) ((void)sizeof(condition))
#endif

#endif
