/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What was measured of a machine, for people and for programs. */
#ifndef CLI_THROUGHPUT_TEXT_H
#define CLI_THROUGHPUT_TEXT_H

#include <whitefringe/throughput.h>

/** One sentence: what a faster run of this set-up would need. */
enum { BOTTLENECK_BYTES = 256 };
void throughput_bottleneck(const wf_throughput *t, char text[BOTTLENECK_BYTES]);

/** job: its file, or NULL. */
void throughput_print_text(const wf_throughput *t, const char *job);
wf_status throughput_print_json(const wf_throughput *t, const char *job, wf_error *err);

#endif
