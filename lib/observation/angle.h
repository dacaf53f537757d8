/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Angles as people write them. */
#ifndef WFI_OBSERVATION_ANGLE_H
#define WFI_OBSERVATION_ANGLE_H

#include <stdbool.h>

/** Read hours as `12:34:56.789`, `12h34m56.789s` or `12 34 56.789`: 0 <= angle < 24 h, minutes and
 *  seconds below 60. False where the text is none. */
bool wfi_parse_hms(double *angle_rad, const char *text);

/** Read degrees as `-12:34:56.78`, `-12d34m56.78s` or `-12 34 56.78`, within +-90 degrees; the sign
 *  holds for the whole angle, that of -00:30:15 too. */
bool wfi_parse_dms(double *angle_rad, const char *text);

#endif
