/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a delay model knows less well than it seems. */
#include <stdio.h>

#include "delay/model.h"

/* The scans whose Earth orientation is of one doubtful kind. */
typedef struct doubt {
    size_t n_scans;
    size_t i_first;
    size_t n_rows; /* of the first scan: doubtful, and all */
    size_t n_all;
} doubt;

static void count_scan(doubt *d, const size_t n[WFI_EOP_N_KINDS], wfi_eop_kind kind, size_t i_scan)
{
    if (n[kind] == 0)
        return;
    if (d->n_scans++ > 0)
        return;
    d->i_first = i_scan;
    d->n_rows = n[kind];
    for (int k = 0; k < WFI_EOP_N_KINDS; k++)
        d->n_all += n[k];
}

static void tell(const wf_delay_model *model, const doubt *d, const char *what, const char *remedy,
                 wf_warn warn, void *context)
{
    if (d->n_scans == 0)
        return;
    char more[64] = "";
    char message[512];
    if (d->n_scans > 1)
        snprintf(more, sizeof more, " and %zu more scan%s", d->n_scans - 1,
                 d->n_scans > 2 ? "s" : "");
    snprintf(message, sizeof message,
             "%s: the Earth orientation of scan %s%s is %s (%zu of its %zu rows), not measured; %s",
             model->eop.origin, model->scans[d->i_first].name, more, what, d->n_rows, d->n_all,
             remedy);
    warn(context, message);
}

void wf_delay_warn_of_orientation(const wf_delay_model *model, const bool *scan_is_wanted,
                                  wf_warn warn, void *context)
{
    doubt predicted = {0}, extrapolated = {0};
    for (size_t i = 0; model->eop.n_days > 0 && i < model->n_scans; i++) {
        size_t n[WFI_EOP_N_KINDS];
        if (scan_is_wanted != NULL && !scan_is_wanted[i])
            continue;
        wfi_eop_count(&model->eop, wfi_scan_first(&model->scans[i]),
                      wfi_scan_last(&model->scans[i]), n);
        count_scan(&predicted, n, WFI_EOP_PREDICTED, i);
        count_scan(&extrapolated, n, WFI_EOP_EXTRAPOLATED, i);
    }
    if (warn == NULL)
        return;
    tell(model, &predicted, "predicted", "take a newer series once there is one", warn, context);
    tell(model, &extrapolated, "continued beyond the series",
         "each day of it costs 0.1 ns and more: take a newer series", warn, context);
}
