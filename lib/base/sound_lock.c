/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The one lock around libsndfile's open. */
#include "base/sound_lock.h"

#include <pthread.h>

static pthread_mutex_t opening = PTHREAD_MUTEX_INITIALIZER;

void wfi_sound_lock(void)
{
    pthread_mutex_lock(&opening);
}

void wfi_sound_unlock(void)
{
    pthread_mutex_unlock(&opening);
}
