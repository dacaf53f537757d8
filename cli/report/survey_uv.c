/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The u,v plane of a file. */
#include "report/survey_uv.h"

#include <math.h>

#include "base/memory.h"
#include "base/status.h"

enum { POINTS_MAX = 4000 };

static void extend(survey_uv_extent *extent, const wf_fits_idi_row *row)
{
    const double u = row->uvw_s[0];
    const double v = row->uvw_s[1];
    extent->uu_s2 += u * u;
    extent->vv_s2 += v * v;
    extent->uv_s2 += u * v;
    extent->longest_s = fmax(extent->longest_s, hypot(u, v));
    extent->n_rows++;
}

static wf_status keep(survey *s, const wf_fits_idi_row *row, wf_error *err)
{
    WFI_TRY(wfi_array_reserve(&s->uv, &s->uv_capacity, s->n_uv + 1, sizeof *s->uv,
                              "points of the u,v plane", err));
    s->uv[s->n_uv++] =
        (survey_uv){row->i_source, row->i_station, row->j_station, row->uvw_s[0], row->uvw_s[1]};
    return WF_OK;
}

/* All baselines of an integration stand one after the other: whole integrations are left out. */
wf_status survey_uv_read(survey *s, wf_error *err)
{
    const size_t step = 1 + s->info->n_rows / POINTS_MAX;
    wf_instant time = {0};
    size_t n_times = 0;
    WFI_TRY(wfi_allocate(&s->extents, s->info->n_sources, sizeof *s->extents, "u,v extents", err));
    for (size_t i = 0; i < s->info->n_rows; i++) {
        wf_fits_idi_row row = {0};
        WFI_TRY(wf_fits_idi_read(s->reader, i, &row, err));
        if (i == 0 || row.middle.second != time.second || row.middle.fraction != time.fraction)
            n_times++;
        time = row.middle;
        if (row.i_station == row.j_station)
            continue;
        extend(&s->extents[row.i_source], &row);
        if (n_times % step == 1 % step)
            WFI_TRY(keep(s, &row, err));
    }
    for (size_t k = 0; k < s->info->n_sources; k++) {
        const double n = fmax((double)s->extents[k].n_rows, 1);
        s->extents[k].uu_s2 /= n;
        s->extents[k].vv_s2 /= n;
        s->extents[k].uv_s2 /= n;
    }
    return WF_OK;
}
