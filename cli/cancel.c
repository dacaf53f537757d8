/* SPDX-License-Identifier: GPL-3.0-or-later */
/* SIGINT, SIGTERM and SIGHUP: a request to stop and leave nothing half done. */
#include "cancel.h"

#include <signal.h>
#include <stddef.h>

static volatile sig_atomic_t requested;

static void note(int signal_number)
{
    requested = signal_number;
}

void cancel_watch(void)
{
    static const int signals[] = {SIGINT, SIGTERM, SIGHUP};
    for (size_t i = 0; i < sizeof signals / sizeof signals[0]; i++) {
        struct sigaction before;
        /* one that is ignored stays so: nohup, or a shell's background job */
        if (sigaction(signals[i], NULL, &before) != 0 || before.sa_handler == SIG_IGN)
            continue;
        struct sigaction action = {.sa_handler = note};
        sigemptyset(&action.sa_mask);
        action.sa_flags = (int)(SA_RESETHAND | SA_RESTART);
        sigaction(signals[i], &action, NULL);
    }
}

int cancel_requested(void)
{
    return requested;
}

void cancel_end(void)
{
    if (requested == 0)
        return;
    signal(requested, SIG_DFL);
    raise(requested);
}
