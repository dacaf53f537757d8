/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Closures: what no station's clock explains. */
#include <whitefringe/fringe_fit.h>

#include <math.h>

#include "base/memory.h"
#include "base/status.h"
#include "fringe/measures.h"

wf_status wfi_measures_check(const wf_fringe_measure *measures, size_t n_measures,
                             size_t n_stations, size_t i_reference, wf_error *err)
{
    if (i_reference >= n_stations)
        return wfi_fail(err, WF_ARGUMENT, "station %zu is to be the reference of %zu stations",
                        i_reference, n_stations);
    for (size_t k = 0; k < n_measures; k++) {
        const wf_fringe_measure *m = &measures[k];
        if (m->i_station >= n_stations || m->j_station >= n_stations ||
            m->i_station == m->j_station)
            return wfi_fail(err, WF_ARGUMENT,
                            "measure %zu (from 0) is of stations %zu and %zu: expected two "
                            "different ones of %zu",
                            k, m->i_station, m->j_station, n_stations);
        if (!(m->error > 0) || (!isfinite(m->value) && isfinite(m->error)))
            return wfi_fail(err, WF_ARGUMENT,
                            "measure %zu (from 0), %g with an error of %g: expected a number and "
                            "an error above 0; infinite for what was not measured",
                            k, m->value, m->error);
    }
    return WF_OK;
}

bool wfi_measure_counts(const wf_fringe_measure *measure)
{
    return !measure->excluded && isfinite(measure->error);
}

/* [n][n] numbers of measures + 1; the lower triangle is that of measures the other way round. */
static wf_status index_measures(size_t *index, const wf_fringe_measure *measures, size_t n_measures,
                                size_t n_stations, wf_error *err)
{
    for (size_t k = 0; k < n_measures; k++) {
        const size_t i = measures[k].i_station;
        const size_t j = measures[k].j_station;
        if (!wfi_measure_counts(&measures[k]))
            continue;
        if (index[i * n_stations + j] != 0 || index[j * n_stations + i] != 0)
            return wfi_fail(err, WF_ARGUMENT,
                            "measure %zu (from 0) is a second one of baseline %zu-%zu: give one, "
                            "or closures of each set by itself",
                            k, i, j);
        index[i * n_stations + j] = k + 1;
    }
    return WF_OK;
}

/* The measure of i-j, turned round where it is that of j-i; error 0 where there is none. */
static wf_fringe_measure find(const size_t *index, const wf_fringe_measure *measures,
                              size_t n_stations, size_t i, size_t j)
{
    wf_fringe_measure found = {i, j, 0, 0, false};
    if (index[i * n_stations + j] != 0)
        return measures[index[i * n_stations + j] - 1];
    if (index[j * n_stations + i] != 0) {
        found = measures[index[j * n_stations + i] - 1];
        found.value = -found.value;
    }
    return found;
}

wf_status wf_fringe_closures(wf_closure *closures, size_t *n_closures,
                             const wf_fringe_measure *measures, size_t n_measures,
                             size_t n_stations, double period, wf_error *err)
{
    *n_closures = 0;
    if (!(period >= 0) || isinf(period))
        return wfi_fail(err, WF_ARGUMENT, "closures of period %g: expected 0 or more", period);
    if (n_stations == 0)
        return WF_OK;
    WFI_TRY(wfi_measures_check(measures, n_measures, n_stations, 0, err));
    size_t *index = NULL;
    WFI_TRY(wfi_allocate(&index, n_stations * n_stations, sizeof *index, "closures", err));
    const wf_status status = index_measures(index, measures, n_measures, n_stations, err);
    for (size_t i = 0; status == WF_OK && i < n_stations; i++) {
        for (size_t j = i + 1; j < n_stations; j++) {
            const wf_fringe_measure ij = find(index, measures, n_stations, i, j);
            for (size_t k = j + 1; ij.error > 0 && k < n_stations; k++) {
                const wf_fringe_measure jk = find(index, measures, n_stations, j, k);
                const wf_fringe_measure ik = find(index, measures, n_stations, i, k);
                if (!(jk.error > 0) || !(ik.error > 0))
                    continue;
                const double sum = ij.value + jk.value - ik.value;
                closures[(*n_closures)++] = (wf_closure){
                    i, j, k, period > 0 ? sum - period * rint(sum / period) : sum,
                    sqrt(ij.error * ij.error + jk.error * jk.error + ik.error * ik.error)};
            }
        }
    }
    wfi_free(index);
    return status;
}
