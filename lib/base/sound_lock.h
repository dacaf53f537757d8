/* SPDX-License-Identifier: GPL-3.0-or-later */
/* libsndfile keeps the error of a failed open once for the whole process: opening a file, and
 * reading the words of a failed open, stand between these two. An open file needs no lock. */
#ifndef WFI_BASE_SOUND_LOCK_H
#define WFI_BASE_SOUND_LOCK_H

void wfi_sound_lock(void);
void wfi_sound_unlock(void);

#endif
