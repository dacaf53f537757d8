/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The job file beside simulated recordings.
 *
 * Every value is the text of the sky file, so that job and sky hold the same numbers to the last
 * bit; only paths are made absolute, and what the recorder chose is added.
 */
#include <whitefringe/simulate.h>

#include <errno.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "base/memory.h"
#include "base/output.h"
#include "base/status.h"
#include "base/text.h"
#include "simulate/sky.h"

enum { FOLDER_BYTES = 4096 };

/* A YAML scalar: plain where that is safe, else in double quotes. */
static void scalar(wfi_text *out, const char *text)
{
    static const char plain[] = "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789"
                                "_+-./";
    const bool listed = text[0] == '-' && strspn(text + 1, "0123456789.") == 0;
    if (text[0] != '\0' && !listed && strspn(text, plain) == strlen(text)) {
        wfi_text_append(out, "%s", text);
        return;
    }
    wfi_text_append(out, "\"");
    for (const char *c = text; *c != '\0'; c++) {
        const unsigned char byte = (unsigned char)*c;
        if (byte < 0x20)
            wfi_text_append(out, "\\x%02x", byte);
        else
            wfi_text_append(out, byte == '"' || byte == '\\' ? "\\%c" : "%c", byte);
    }
    wfi_text_append(out, "\"");
}

/* "<before>key: value<after>"; nothing where the sky file leaves the key out. */
static void pair(wfi_text *out, const char *before, const char *key, const char *value,
                 const char *after)
{
    if (value == NULL)
        return;
    wfi_text_append(out, "%s%s: ", before, key);
    scalar(out, value);
    wfi_text_append(out, "%s", after);
}

static void line(wfi_text *out, const char *indent, const char *key, const char *value)
{
    pair(out, indent, key, value, "\n");
}

static void list(wfi_text *out, const char *indent, const char *key, char *const *values, size_t n)
{
    if (values == NULL)
        return;
    wfi_text_append(out, "%s%s: [", indent, key);
    for (size_t i = 0; i < n; i++) {
        wfi_text_append(out, "%s", i > 0 ? ", " : "");
        scalar(out, values[i]);
    }
    wfi_text_append(out, "]\n");
}

static void write_ground(wfi_text *out, const wfi_raw_station *raw)
{
    list(out, "    ", "eccentricity_enu_m", raw->eccentricity_enu_m, 3);
    list(out, "    ", "eccentricity_itrf_m", raw->eccentricity_itrf_m, 3);
    if (raw->post_seismic_count > 0)
        wfi_text_append(out, "    post_seismic:\n");
    for (size_t i = 0; i < raw->post_seismic_count; i++) {
        const wfi_raw_post_seismic *const term = &raw->post_seismic[i];
        pair(out, "      - {", "epoch", term->epoch, ", ");
        pair(out, "", "component", term->component, ", ");
        pair(out, "", "law", term->law, ", ");
        pair(out, "", "amplitude_m", term->amplitude_m, ", ");
        pair(out, "", "relaxation_years", term->relaxation_years, "}\n");
    }
    if (raw->ocean_pole_tide != NULL) {
        wfi_text_append(out, "    ocean_pole_tide:\n");
        list(out, "      ", "u_real", raw->ocean_pole_tide->u_real, 3);
        list(out, "      ", "u_imaginary", raw->ocean_pole_tide->u_imaginary, 3);
    }
}

static void write_antenna(wfi_text *out, const wfi_raw_antenna *raw)
{
    if (raw == NULL)
        return;
    wfi_text_append(out, "    antenna:\n");
    line(out, "      ", "focus", raw->focus);
    line(out, "      ", "reference_temperature_c", raw->reference_temperature_c);
    line(out, "      ", "foundation_m", raw->foundation_m);
    line(out, "      ", "foundation_per_k", raw->foundation_per_k);
    line(out, "      ", "axis_m", raw->axis_m);
    line(out, "      ", "structure_per_k", raw->structure_per_k);
    line(out, "      ", "vertex_m", raw->vertex_m);
    line(out, "      ", "focus_m", raw->focus_m);
}

static void write_state_table(wfi_text *out, const wfi_raw_state_table *raw, const char *path)
{
    if (raw == NULL)
        return;
    wfi_text_append(out, "    state_table:\n");
    line(out, "      ", "file", path);
    line(out, "      ", "frame", raw->frame);
    line(out, "      ", "time_scale", raw->time_scale);
}

static void write_atmosphere(wfi_text *out, const wfi_raw_station *raw)
{
    if (raw->weather_count > 0)
        wfi_text_append(out, "    weather:\n");
    for (size_t i = 0; i < raw->weather_count; i++) {
        wfi_text_append(out, "      - {");
        pair(out, "", "time", raw->weather[i].time, ", ");
        pair(out, "", "temperature_c", raw->weather[i].temperature_c, ", ");
        pair(out, "", "relative_humidity", raw->weather[i].relative_humidity, ", ");
        pair(out, "", "pressure_hpa", raw->weather[i].pressure_hpa, "");
        wfi_text_append(out, "}\n");
    }
    if (raw->vmf1_count > 0)
        wfi_text_append(out, "    vmf1:\n");
    for (size_t i = 0; i < raw->vmf1_count; i++) {
        wfi_text_append(out, "      - {");
        pair(out, "", "time", raw->vmf1[i].time, ", ");
        pair(out, "", "hydrostatic_a", raw->vmf1[i].hydrostatic_a, ", ");
        pair(out, "", "wet_a", raw->vmf1[i].wet_a, "}\n");
    }
    line(out, "    ", "zenith_wet_delay_m", raw->zenith_wet_delay_m);
    line(out, "    ", "wet_from_weather", raw->wet_from_weather);
    line(out, "    ", "gradient_north_m", raw->gradient_north_m);
    line(out, "    ", "gradient_east_m", raw->gradient_east_m);
}

static void write_station(wfi_text *out, const wfi_raw_station *raw, const char *table)
{
    line(out, "  - ", "name", raw->name);
    list(out, "    ", "position_itrf_m", raw->position_itrf_m, 3);
    line(out, "    ", "position_epoch_year", raw->position_epoch_year);
    list(out, "    ", "velocity_itrf_m_per_year", raw->velocity_itrf_m_per_year, 3);
    line(out, "    ", "mount", raw->mount);
    line(out, "    ", "axis_offset_m", raw->axis_offset_m);
    write_ground(out, raw);
    line(out, "    ", "diameter_m", raw->diameter_m);
    line(out, "    ", "elevation_limit_deg", raw->elevation_limit_deg);
    write_antenna(out, raw->antenna);
    write_atmosphere(out, raw);
    if (raw->clock != NULL) {
        wfi_text_append(out, "    clock:\n");
        line(out, "      ", "reference", raw->clock->reference);
        line(out, "      ", "ahead_s", raw->clock->ahead_s);
        line(out, "      ", "rate_s_per_s", raw->clock->rate_s_per_s);
    }
    line(out, "    ", "delay_table", table);
}

static void write_scans(wfi_text *out, const wfi_raw_job *job)
{
    wfi_text_append(out, "\nscans:\n");
    for (size_t i = 0; i < job->scans_count; i++) {
        const wfi_raw_scan *const raw = &job->scans[i];
        line(out, "  - ", "name", raw->name);
        line(out, "    ", "source", raw->source);
        line(out, "    ", "start", raw->start);
        line(out, "    ", "duration_s", raw->duration_s);
        list(out, "    ", "stations", raw->stations, raw->stations_count);
    }
}

static void write_bands(wfi_text *out, const wfi_raw_job *job)
{
    wfi_text_append(out, "\nbands:\n");
    for (size_t i = 0; i < job->bands_count; i++) {
        const wfi_raw_band *const raw = &job->bands[i];
        line(out, "  - ", "name", raw->name);
        line(out, "    ", "edge_hz", raw->edge_hz);
        line(out, "    ", "bandwidth_hz", raw->bandwidth_hz);
        line(out, "    ", "sideband", raw->sideband);
    }
}

static void write_stream(wfi_text *out, const wfi_raw_stream *raw)
{
    wfi_text_append(out, "      - {");
    pair(out, "", "band", raw->band, ", ");
    pair(out, "", "edge_hz", raw->edge_hz, ", ");
    pair(out, "", "centre_hz", raw->centre_hz, ", ");
    pair(out, "", "sideband", raw->sideband, ", ");
    pair(out, "", "thread", raw->thread, ", ");
    pair(out, "", "channel", raw->channel, ", ");
    pair(out, "", "polarization", raw->polarization, "}\n");
}

static void write_recordings(wfi_text *out, const wf_sky *sky)
{
    wfi_text_append(out, "\nrecordings:\n");
    for (size_t i = 0; i < sky->raw->recordings_count; i++) {
        const wfi_raw_recording *const raw = &sky->raw->recordings[i].job;
        line(out, "  - ", "station", raw->station);
        list(out, "    ", "files", raw->files, raw->files_count);
        line(out, "    ", "format", sky->styles[i].is_sound ? "sound" : "vdif");
        line(out, "    ", "sample_rate_hz", raw->sample_rate_hz);
        line(out, "    ", "sampling", raw->sampling);
        if (sky->styles[i].is_sound) {
            const int64_t rate_hz = sky->observation->recordings[i].sample_rate_hz;
            char start[WF_INSTANT_TEXT_BYTES];
            wf_instant_format(start, (wf_instant){sky->schedules[i].list[0].first / rate_hz, 0.0},
                              0);
            line(out, "    ", "start", start);
        }
        wfi_text_append(out, "    streams:\n");
        for (size_t k = 0; k < raw->streams_count; k++)
            write_stream(out, &raw->streams[k]);
    }
}

static void write_correlation(wfi_text *out, const wfi_raw_correlation *raw)
{
    wfi_text_append(out, "\ncorrelation:\n");
    line(out, "  ", "channels", raw->channels);
    line(out, "  ", "channel_width_hz", raw->channel_width_hz);
    line(out, "  ", "integration_s", raw->integration_s);
    list(out, "  ", "polarization_products", raw->polarization_products,
         raw->polarization_products_count);
    line(out, "  ", "fringe_rotation", raw->fringe_rotation);
    line(out, "  ", "rotation_loss_limit", raw->rotation_loss_limit);
    line(out, "  ", "quantisation_correction", raw->quantisation_correction);
}

static void write_delay_terms(wfi_text *out, const wfi_raw_delay_terms *raw)
{
    if (raw == NULL)
        return;
    wfi_text_append(out, "\ndelay_terms:\n");
#define LINE(name, on, heading, text) line(out, "  ", #name, raw->name);
    WF_DELAY_SWITCHES(LINE)
#undef LINE
}

static void write_day(wfi_text *out, const wfi_raw_earth_orientation_day *raw)
{
    wfi_text_append(out, "    - {");
    pair(out, "", "date", raw->date, ", ");
    pair(out, "", "mjd", raw->mjd, ", ");
    pair(out, "", "pole_x_arcsec", raw->pole_x_arcsec, ", ");
    pair(out, "", "pole_y_arcsec", raw->pole_y_arcsec, ", ");
    pair(out, "", "celestial_dx_mas", raw->celestial_dx_mas, ", ");
    pair(out, "", "celestial_dy_mas", raw->celestial_dy_mas, ", ");
    pair(out, "", "ut1_minus_utc_s", raw->ut1_minus_utc_s, "}\n");
}

static void write_earth_orientation(wfi_text *out, const wfi_raw_earth_orientation *raw,
                                    const char *path)
{
    if (raw == NULL)
        return;
    wfi_text_append(out, "\nearth_orientation:\n");
    line(out, "  ", raw->c04 != NULL ? "c04" : "finals2000a", path);
    line(out, "  ", "extrapolate_days", raw->extrapolate_days);
    line(out, "  ", "subdaily_model", raw->subdaily_model);
    if (raw->days_count > 0)
        wfi_text_append(out, "  days:\n");
    for (size_t i = 0; i < raw->days_count; i++)
        write_day(out, &raw->days[i]);
}

/* A path that leads there from any folder; NULL stays NULL. */
static wf_status make_absolute(char **out, const char *path, wf_error *err)
{
    *out = NULL;
    if (path == NULL)
        return WF_OK;
    if (path[0] == '/')
        return wfi_string_copy(out, path, err);
    char folder[FOLDER_BYTES];
    if (getcwd(folder, sizeof folder) == NULL) {
        char words[WFI_ERRNO_TEXT_BYTES];
        return wfi_fail(err, WF_IO, "%s: the folder that it is taken from is not known: %s", path,
                        wfi_errno_text(words, errno));
    }
    return wfi_path_in_folder(out, folder, path, err);
}

static wf_status write_stations(wfi_text *out, const wf_sky *sky, wf_error *err)
{
    wfi_text_append(out, "\nstations:\n");
    for (size_t i = 0; i < sky->observation->n_stations; i++) {
        char *table = NULL;
        WFI_TRY(make_absolute(&table, sky->observation->stations[i].delay_table_path, err));
        write_station(out, &sky->raw->job.stations[i], table);
        wfi_free(table);
        table = NULL;
        WFI_TRY(make_absolute(&table, sky->observation->stations[i].orbit.path, err));
        write_state_table(out, sky->raw->job.stations[i].state_table, table);
        wfi_free(table);
    }
    return WF_OK;
}

static wf_status write_sources(wfi_text *out, const wf_sky *sky, wf_error *err)
{
    const wfi_raw_job *const job = &sky->raw->job;
    wfi_text_append(out, "\nsources:\n");
    for (size_t i = 0; i < job->sources_count; i++) {
        const wfi_raw_source *const raw = &job->sources[i];
        line(out, "  - ", "name", raw->name);
        line(out, "    ", "right_ascension_hms", raw->right_ascension_hms);
        line(out, "    ", "right_ascension_deg", raw->right_ascension_deg);
        line(out, "    ", "declination_dms", raw->declination_dms);
        line(out, "    ", "declination_deg", raw->declination_deg);
        char *path = NULL;
        WFI_TRY(make_absolute(&path, sky->observation->sources[i].track.path, err));
        write_state_table(out, raw->state_table, path);
        wfi_free(path);
    }
    return WF_OK;
}

static wf_status write_tides(wfi_text *out, const wf_sky *sky, wf_error *err)
{
    char *blq = NULL, *gpt2 = NULL;
    wf_status status = make_absolute(&blq, sky->observation->ocean_loading_blq_path, err);
    if (status == WF_OK)
        status = make_absolute(&gpt2, sky->observation->gpt2_grid_path, err);
    line(out, "\n", "pole_tide_reference", sky->raw->job.pole_tide_reference);
    line(out, "\n", "ocean_loading_blq", blq);
    line(out, "\n", "gpt2_grid", gpt2);
    wfi_free(blq);
    wfi_free(gpt2);
    return status;
}

static wf_status write_job(wfi_text *out, const wf_sky *sky, wf_error *err)
{
    const wfi_raw_job *const job = &sky->raw->job;
    wfi_text_append(out, "# The job that correlates the simulated recordings in this folder.\n"
                         "# Clocks are what the job is to believe: the sky may hold errors of "
                         "them.\n\n");
    line(out, "", "campaign", job->campaign);
    line(out, "", "elevation_limit_deg", job->elevation_limit_deg);
    WFI_TRY(write_stations(out, sky, err));
    WFI_TRY(write_sources(out, sky, err));
    write_scans(out, job);
    write_bands(out, job);
    write_recordings(out, sky);
    write_correlation(out, job->correlation);
    write_delay_terms(out, job->delay_terms);
    WFI_TRY(write_tides(out, sky, err));
    char *series_path = NULL;
    WFI_TRY(make_absolute(&series_path, sky->observation->earth_orientation.path, err));
    write_earth_orientation(out, job->earth_orientation, series_path);
    wfi_free(series_path);
    if (out->failed)
        return wfi_fail(err, WF_MEMORY, "out of memory for the text of a job");
    return WF_OK;
}

static wf_status save(const wfi_text *text, const char *path, wf_error *err)
{
    wfi_output output = {0};
    WFI_TRY(wfi_output_begin(&output, path, err));
    FILE *const file = fopen(output.temporary, "wbx");
    bool written = file != NULL && fwrite(text->bytes, 1, text->n, file) == text->n;
    int reason = written ? 0 : errno;
    if (file != NULL && fclose(file) != 0 && written) {
        written = false;
        reason = errno;
    }
    if (written)
        return wfi_output_commit(&output, err);
    char words[WFI_ERRNO_TEXT_BYTES];
    wfi_fail(err, WF_IO, "%s: could not be written: %s", path, wfi_errno_text(words, reason));
    wfi_output_discard(&output);
    return WF_IO;
}

wf_status wf_simulate_write_job(const wf_sky *sky, const char *folder, wf_error *err)
{
    wfi_text text = {0};
    char *path = NULL;
    wf_status status = write_job(&text, sky, err);
    if (status == WF_OK)
        status = wfi_path_in_folder(&path, folder, "job.yaml", err);
    if (status == WF_OK)
        status = save(&text, path, err);
    wfi_free(path);
    wfi_text_release(&text);
    return status;
}
