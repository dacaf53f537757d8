/* SPDX-License-Identifier: GPL-3.0-or-later */
/* An instant with all that its stations share. */
#include "delay/moment.h"

#include <erfa.h>
#include <string.h>

#include "base/status.h"

/* The Earth's orientation and what each part adds to the bare series. */
static wf_status split_orientation(const wf_delay_model *model, wf_instant t, wfi_eop_values *bare,
                                   wfi_eop_values part[WFI_N_ROTATION_PARTS], wf_error *err)
{
    wfi_eop_shifts shifts;
    memset(part, 0, WFI_N_ROTATION_PARTS * sizeof part[0]);
    WFI_TRY(wfi_eop_evaluate(&model->eop, t, bare, err));
    WFI_TRY(wfi_eop_shifts_at(&model->eop, t, bare, &shifts, err));
    if (model->terms.ut1_zonal_tides)
        wfi_eop_add(&part[WFI_UT1_ZONAL_TIDES], &shifts.zonal_tides);
    if (model->terms.libration)
        wfi_eop_add(&part[WFI_LIBRATION], &shifts.libration);
    if (model->terms.subdaily_rotation)
        wfi_eop_add(&part[WFI_SUBDAILY_ROTATION], &shifts.subdaily);
    if (model->terms.celestial_pole_offsets) {
        part[WFI_CELESTIAL_POLE_OFFSETS].celestial_pole_dx_rad = bare->celestial_pole_dx_rad;
        part[WFI_CELESTIAL_POLE_OFFSETS].celestial_pole_dy_rad = bare->celestial_pole_dy_rad;
    }
    bare->celestial_pole_dx_rad = 0.0;
    bare->celestial_pole_dy_rad = 0.0;
    return WF_OK;
}

static bool add(wfi_eop_values *sum, const wfi_eop_values *part)
{
    sum->pole_x_rad += part->pole_x_rad;
    sum->pole_y_rad += part->pole_y_rad;
    sum->ut1_minus_tai_s += part->ut1_minus_tai_s;
    sum->celestial_pole_dx_rad += part->celestial_pole_dx_rad;
    sum->celestial_pole_dy_rad += part->celestial_pole_dy_rad;
    return part->pole_x_rad != 0.0 || part->pole_y_rad != 0.0 || part->ut1_minus_tai_s != 0.0 ||
           part->celestial_pole_dx_rad != 0.0 || part->celestial_pole_dy_rad != 0.0;
}

/* Part by part: what the matrix gains with each is its share, so that they sum to the whole. */
static void turn(wfi_moment *out, const wfi_eop_values part[WFI_N_ROTATION_PARTS])
{
    double pole[2], before[3][3], after[3][3];
    wfi_earth_pole(out->t, pole);
    wfi_earth_orient(&out->earth, out->t, pole, &out->eop);
    eraTr(out->earth.celestial_to_terrestrial, out->bare);
    eraCr(out->bare, before);
    memset(out->part, 0, sizeof out->part);
    for (int i = 0; i < WFI_N_ROTATION_PARTS; i++) {
        if (!add(&out->eop, &part[i]))
            continue;
        wfi_earth_orient(&out->earth, out->t, pole, &out->eop);
        eraTr(out->earth.celestial_to_terrestrial, after);
        for (int j = 0; j < 9; j++)
            out->part[i][j / 3][j % 3] = after[j / 3][j % 3] - before[j / 3][j % 3];
        eraCr(after, before);
    }
}

static wf_status set_wave(wfi_moment *out, const wf_delay_model *model, size_t i_source,
                          wf_error *err)
{
    const wf_source *source = &model->sources[i_source];
    double direction[3];
    memset(out->galactic, 0, sizeof out->galactic);
    out->right_ascension_rad = source->right_ascension_icrf_rad;
    out->declination_rad = source->declination_icrf_rad;
    if (model->source_tracks[i_source].n_rows == 0) {
        wfi_source_direction(out->right_ascension_rad, out->declination_rad, direction);
        if (model->terms.galactic_aberration)
            wfi_galactic_drift(direction, out->t, out->galactic);
        eraPpp(direction, out->galactic, direction);
        wfi_wave_plane(&out->wave, direction, &out->ephemeris);
        return WF_OK;
    }
    const wf_status status =
        wfi_wave_from(&out->wave, &model->source_tracks[i_source], out->t, &out->ephemeris, err);
    if (status != WF_OK)
        wfi_prefix(err, "source %s: ", source->name);
    eraC2s(out->wave.direction, &out->right_ascension_rad, &out->declination_rad);
    return status;
}

static bool has_ocean_loading(const wf_delay_model *model)
{
    for (size_t i = 0; i < model->n_stations; i++)
        if (model->sites[i].ocean_loading != NULL)
            return true;
    return false;
}

/* Without Earth orientation, possible where all delays come from tables, the Earth turns by UTC
 * about its mean pole: u,v,w and elevations then hold to 1e-4. */
wf_status wfi_moment_set(wfi_moment *out, const wf_delay_model *model, size_t i_source,
                         wf_instant t, wf_error *err)
{
    wfi_eop_values part[WFI_N_ROTATION_PARTS] = {{0}};
    out->t = t;
    out->eop = (wfi_eop_values){.ut1_minus_tai_s = -wf_tai_minus_utc_s(t)};
    if (model->eop.n_days > 0)
        WFI_TRY(split_orientation(model, t, &out->eop, part, err));
    const wfi_eop_values bare = out->eop;
    turn(out, part);
    wfi_ephemeris_at(&out->ephemeris, out->earth.tt_jd);
    wfi_tides_at(&out->tides, t, &bare, &out->earth, &out->ephemeris, model->pole_tide_reference);
    if (has_ocean_loading(model))
        wfi_ocean_phases_at(&out->tides.ocean, out->tides.time);
    return set_wave(out, model, i_source, err);
}
