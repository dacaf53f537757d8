/* SPDX-License-Identifier: GPL-3.0-or-later */
/* An instant with all that its stations share. */
#include "delay/moment.h"

#include "base/status.h"

/* Without Earth orientation, possible where all delays come from tables, the Earth turns by UTC
 * about its mean pole: u,v,w and elevations then hold to 1e-4. */
wf_status wfi_moment_set(wfi_moment *out, const wf_delay_model *model, wf_instant t, wf_error *err)
{
    out->t = t;
    out->eop = (wfi_eop_values){.ut1_minus_tai_s = -wf_tai_minus_utc_s(t)};
    if (model->eop.n_days > 0)
        WFI_TRY(wfi_eop_evaluate(&model->eop, t, &out->eop, err));
    wfi_earth_orient(&out->earth, t, &out->eop);
    wfi_ephemeris_at(&out->ephemeris, out->earth.tt_jd);
    return WF_OK;
}
