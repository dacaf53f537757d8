/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The switches of the delay's terms. */
#include <whitefringe/delay_terms.h>

#include "base/status.h"
#include "observation/build.h"

wf_delay_terms wf_delay_terms_default(void)
{
    return (wf_delay_terms){
#define DEFAULT(name, on, heading, text) .name = (on),
        WF_DELAY_SWITCHES(DEFAULT)
#undef DEFAULT
    };
}

wf_status wfi_build_delay_terms(const wfi_build *build)
{
    const wfi_raw_delay_terms *raw = build->raw->delay_terms;
    wf_delay_terms *terms = &build->observation->delay_terms;
    *terms = wf_delay_terms_default();
    if (raw == NULL)
        return WF_OK;
    const struct {
        const char *key;
        const char *text;
        bool *out;
    } flags[] = {
#define FLAG(name, on, heading, description) {#name, raw->name, &terms->name},
        WF_DELAY_SWITCHES(FLAG)
#undef FLAG
    };
    const wfi_place place = wfi_place_at(build->document, build->err, "delay_terms");
    for (size_t i = 0; i < sizeof flags / sizeof flags[0]; i++) {
        if (flags[i].text != NULL)
            WFI_TRY(wfi_read_flag(&place, flags[i].key, flags[i].text, flags[i].out));
    }
    return WF_OK;
}
