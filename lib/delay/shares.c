/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The shares of the delay, for those who print or sum them. */
#include <whitefringe/delay.h>

static const wf_delay_share shares[] = {
#define SHARE(name, on, heading, text)                                                             \
    {#name, heading, text, offsetof(wf_delay_terms, name), offsetof(wf_delay, name##_s)},
    WF_DELAY_SHARES(SHARE)
#undef SHARE
};

const wf_delay_share *wf_delay_shares(size_t *n)
{
    *n = sizeof shares / sizeof shares[0];
    return shares;
}
