/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The one lock around FFTW's planner. */
#include "base/fftw_lock.h"

#include <pthread.h>

static pthread_mutex_t planner = PTHREAD_MUTEX_INITIALIZER;

void wfi_fftw_lock(void)
{
    pthread_mutex_lock(&planner);
}

void wfi_fftw_unlock(void)
{
    pthread_mutex_unlock(&planner);
}
