/* SPDX-License-Identifier: GPL-3.0-or-later */
/* SIGINT, SIGTERM and SIGHUP: a request to stop and leave nothing half done. */
#ifndef CLI_CANCEL_H
#define CLI_CANCEL_H

/** Take note of the first signal from now on; a second one of its kind kills at once. */
void cancel_watch(void);

/** The signal that asked, or 0. */
int cancel_requested(void);

/** End the process by the signal that asked, so that whoever waits for it sees why; returns where
 *  none did. */
void cancel_end(void);

#endif
