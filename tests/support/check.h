/* SPDX-License-Identifier: GPL-3.0-or-later */
/* cmocka, and checks that print name, got, want, difference, limit and unit. */
#ifndef TESTS_SUPPORT_CHECK_H
#define TESTS_SUPPORT_CHECK_H

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <math.h>
#include <string.h>
#include <whitefringe/status.h>

static inline void wf_check_near(const char *name, double got, double want, double limit,
                                 const char *unit)
{
    const double difference = got - want;
    if (!(fabs(difference) <= limit))
        fail_msg("%s: got %.17g, want %.17g, difference %.3g, limit %.3g %s", name, got, want,
                 difference, limit, unit);
}

/** The call was refused with this status, and the message holds this text. */
static inline void wf_check_refused(wf_status got, wf_status want, const wf_error *err,
                                    const char *text)
{
    if (got != want)
        fail_msg("status %d (%s), want %d: %s", got, wf_status_text(got), want, err->message);
    if (strstr(err->message, text) == NULL)
        fail_msg("the message \"%s\" does not say \"%s\"", err->message, text);
}

static inline void wf_check_ok(wf_status got, const wf_error *err)
{
    if (got != WF_OK)
        fail_msg("status %d (%s): %s", got, wf_status_text(got), err->message);
}

#endif
