/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Writes files of known contents for outsiders to read: fits_idi_values FOLDER.
 *
 *  circular.fits  the invented observation, two integrations of each scan, u, v, w of the delay
 *                 model, delay tracks
 *  linear.fits    one band, YY alone, no plate motion, no quantisation correction
 *
 *  Prints delays at the middle of the integrations: scan, station, seconds since 0h of the first
 *  day, delay with the clock in s.
 */
#include <stdlib.h>

#include "support/visibility_scene.h"

static void check(wf_status status, const wf_error *err)
{
    if (status != WF_OK) {
        fprintf(stderr, "fits_idi_values: %s\n", err->message);
        exit(1);
    }
}

/* u, v, w of r_i - r_j from the stations' own. */
static void place(scene *s, const wf_delay_model *model)
{
    wf_error err = WF_ERROR_INIT;
    const double light_m_per_s = 299792458.0;
    wf_delay delays[SCENE_STATIONS];
    const size_t n = s->observation.n_stations;
    for (size_t i = 0; i < n; i++)
        check(wf_delay_evaluate(model, i, s->scans[s->integration.i_scan].i_source,
                                s->integration.middle, &delays[i], &err),
              &err);
    for (size_t i = 0, b = 0; i < n; i++) {
        for (size_t j = i; j < n; j++, b++) {
            for (int k = 0; k < 3; k++)
                s->uvw_s[b][k] = (delays[i].uvw_m[k] - delays[j].uvw_m[k]) / light_m_per_s;
        }
    }
    for (size_t i = 0; i < n; i++)
        printf("%zu %zu %.17g %.17g %.17g %.17g\n", s->integration.i_scan, i,
               wf_instant_difference_s(s->integration.middle, wf_instant_of_mjd(SCENE_MJD)),
               delays[i].tau_s + delays[i].clock_ahead_s,
               delays[i].troposphere_hydrostatic_s + delays[i].troposphere_wet_s,
               delays[i].clock_ahead_s);
}

static void write_file(scene *s, const char *folder, const char *name)
{
    static const char *const history[] = {
        "A line that an outsider gave, long enough to need a second card since it has more than "
        "seventy-two characters.",
        "two\nlines"};
    wf_error err = WF_ERROR_INIT;
    wf_delay_model *model = NULL;
    wf_track *tracks[SCENE_SCANS * SCENE_STATIONS] = {NULL};
    const size_t n_stations = s->observation.n_stations;
    const size_t n_tracks = SCENE_SCANS * n_stations;
    check(wf_delay_model_create(&model, &s->observation, &err), &err);
    for (size_t i = 0; i < n_tracks; i++)
        check(wf_track_create(&tracks[i], model, i % n_stations, i / n_stations, &err), &err);
    const wf_fits_idi_options options = {.tracks = (const wf_track *const *)tracks,
                                         .bits = s->bits,
                                         .history = history,
                                         .n_history = 2};
    char path[1024];
    snprintf(path, sizeof path, "%s/%s", folder, name);
    wf_fits_idi_writer *writer = NULL;
    check(wf_fits_idi_create(&writer, path, &s->observation, model, &options, &err), &err);
    for (int n = 0; n < 4; n++) {
        scene_fill(s, (size_t)n / 2, n % 2);
        place(s, model);
        check(wf_fits_idi_append(writer, &s->integration, &err), &err);
    }
    check(wf_fits_idi_finish(writer, &err), &err);
    wf_fits_idi_destroy(writer);
    for (size_t i = 0; i < n_tracks; i++)
        wf_track_destroy(tracks[i]);
    wf_delay_model_destroy(model);
}

/* Ocean loading of a millimetre, of all stations. */
static void write_blq(const scene *s, const char *path)
{
    FILE *file = fopen(path, "w");
    if (file == NULL)
        exit(1);
    for (size_t i = 0; i < s->observation.n_stations; i++) {
        fprintf(file, "  %s\n", s->stations[i].name);
        for (int row = 0; row < 6; row++) {
            for (int wave = 0; wave < 11; wave++)
                fputs(row < 3 ? " .00100" : " 30.0", file);
            fputc('\n', file);
        }
    }
    if (fclose(file) != 0)
        exit(1);
}

int main(int argc, char **argv)
{
    static scene s;
    static char blq[1024];
    if (argc != 2)
        return 2;
    scene_set(&s);
    write_file(&s, argv[1], "circular.fits");
    s.observation.n_bands = 1;
    s.observation.correlation.n_products = 1;
    s.observation.correlation.products[0] = (wf_product){WF_POLARIZATION_Y, WF_POLARIZATION_Y};
    s.observation.correlation.quantisation_correction = false;
    s.observation.delay_terms.station_velocity = false;
    s.observation.pole_tide_reference = WF_POLE_TIDE_MEAN_2010;
    s.observation.earth_orientation.subdaily_model = WF_SUBDAILY_IERS_2010;
    snprintf(blq, sizeof blq, "%s/forest.blq", argv[1]);
    write_blq(&s, blq);
    s.observation.ocean_loading_blq_path = blq;
    write_file(&s, argv[1], "linear.fits");
    return 0;
}
