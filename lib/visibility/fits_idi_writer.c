/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A FITS-IDI file from creation to its name: complete, or not there at all. */
#include <whitefringe/visibility.h>

#include <math.h>
#include <stdbool.h>
#include <string.h>

#include "base/memory.h"
#include "base/output.h"
#include "base/status.h"
#include "visibility/cfitsio.h"
#include "visibility/fits_idi.h"
#include "visibility/fits_idi_extras.h"
#include "visibility/fits_idi_uv_data.h"

struct wf_fits_idi_writer {
    wfi_output output;
    fitsfile *file;
    wfi_fits_idi_setup setup;
    wfi_fits_table rows;
    wfi_fits_idi_extras extras;
    bool has_rows_before;
    wf_instant last_middle;
    bool failed;
};

static const char *const ACTION = "could not be written";

static wf_status write_tables(wf_fits_idi_writer *writer, int *fits, wf_error *err)
{
    const wfi_fits_idi_setup *setup = &writer->setup;
    fitsfile *file = writer->file;
    wfi_fits_idi_write_primary(setup, file, fits);
    WFI_TRY(wfi_fits_idi_write_array_geometry(setup, file, fits, err));
    WFI_TRY(wfi_fits_idi_write_source(setup, file, fits, err));
    WFI_TRY(wfi_fits_idi_write_antenna(setup, file, fits, err));
    WFI_TRY(wfi_fits_idi_write_frequency(setup, file, fits, err));
    if (setup->options->tracks != NULL)
        WFI_TRY(wfi_fits_idi_write_model(setup, file, fits, err));
    return wfi_fits_idi_begin_uv_data(&writer->rows, setup, file, fits, err);
}

static wf_status create_file(wf_fits_idi_writer *writer, wf_error *err)
{
    if (strlen(writer->output.temporary) >= FLEN_FILENAME)
        return wfi_fail(err, WF_IO, "%s: the path is longer than CFITSIO takes: give a shorter one",
                        writer->output.path);
    int fits = 0;
    wfi_cfitsio_enter();
    fits_create_diskfile(&writer->file, writer->output.temporary, &fits);
    wf_status status = fits == 0 ? write_tables(writer, &fits, err) : WF_OK;
    fits_flush_buffer(writer->file, 0, &fits);
    if (status == WF_OK)
        status = wfi_cfitsio_check(fits, writer->output.path, ACTION, WF_IO, err);
    wfi_cfitsio_leave();
    return status;
}

wf_status wf_fits_idi_create(wf_fits_idi_writer **out, const char *path,
                             const wf_observation *observation, const wf_delay_model *model,
                             const wf_fits_idi_options *options, wf_error *err)
{
    *out = NULL;
    wf_fits_idi_writer *writer = NULL;
    WFI_TRY(wfi_allocate(&writer, 1, sizeof *writer, "the writer of the output", err));
    wf_status status = wfi_fits_idi_prepare(&writer->setup, observation, model, options, err);
    if (status == WF_OK)
        status = wfi_output_begin(&writer->output, path, err);
    if (status == WF_OK)
        status = create_file(writer, err);
    writer->extras.n_tones = options->n_tones;
    writer->setup.options = NULL; /* the caller may let go of what it points to */
    if (status == WF_OK)
        *out = writer;
    else
        wf_fits_idi_destroy(writer);
    return status;
}

static wf_status check_integration(const wf_fits_idi_writer *writer,
                                   const wf_integration *integration, wf_error *err)
{
    const wf_observation *observation = writer->setup.observation;
    if (writer->failed || writer->file == NULL)
        return wfi_fail(err, WF_ARGUMENT, "the output has failed or is finished already");
    if (integration->i_scan >= observation->n_scans)
        return wfi_fail(err, WF_ARGUMENT, "an integration of scan number %zu; there are %zu scans",
                        integration->i_scan, observation->n_scans);
    if (writer->has_rows_before &&
        wf_instant_difference_s(integration->middle, writer->last_middle) < 0.0)
        return wfi_fail(err, WF_ARGUMENT,
                        "scan %s: an integration lies before the one appended last",
                        observation->scans[integration->i_scan].name);
    const size_t n_baselines = observation->n_stations * (observation->n_stations + 1) / 2;
    for (size_t i = 0; i < n_baselines; i++) {
        const double *uvw_s = integration->uvw_s[i];
        if (!isfinite(uvw_s[0]) || !isfinite(uvw_s[1]) || !isfinite(uvw_s[2]))
            return wfi_fail(err, WF_ARGUMENT, "scan %s: u, v, w of baseline %zu are no numbers",
                            observation->scans[integration->i_scan].name, i);
    }
    return WF_OK;
}

static void put_rows(wf_fits_idi_writer *writer, const wf_integration *integration, int *fits)
{
    const size_t n_stations = writer->setup.observation->n_stations;
    size_t i_baseline = 0;
    for (size_t i = 0; i < n_stations; i++) {
        for (size_t j = i; j < n_stations; j++, i_baseline++)
            wfi_fits_idi_put_visibilities(&writer->rows, &writer->setup, integration, i_baseline,
                                          (wf_baseline){i, j}, fits);
    }
}

wf_status wf_fits_idi_append(wf_fits_idi_writer *writer, const wf_integration *integration,
                             wf_error *err)
{
    WFI_TRY(check_integration(writer, integration, err));
    writer->has_rows_before = true;
    writer->last_middle = integration->middle;
    int fits = 0;
    wfi_cfitsio_enter();
    put_rows(writer, integration, &fits);
    const wf_status status = wfi_cfitsio_check(fits, writer->output.path, ACTION, WF_IO, err);
    wfi_cfitsio_leave();
    writer->failed = status != WF_OK;
    return status;
}

static wf_status check_open(const wf_fits_idi_writer *writer, size_t i_scan, size_t i_station,
                            wf_error *err)
{
    const wf_observation *observation = writer->setup.observation;
    if (writer->failed || writer->file == NULL)
        return wfi_fail(err, WF_ARGUMENT, "the output has failed or is finished already");
    if (i_scan >= observation->n_scans || i_station >= observation->n_stations)
        return wfi_fail(err, WF_ARGUMENT, "scan number %zu, station number %zu are not in the job",
                        i_scan, i_station);
    return WF_OK;
}

wf_status wf_fits_idi_append_phase_cal(wf_fits_idi_writer *writer, const wf_phase_cal *row,
                                       wf_error *err)
{
    WFI_TRY(check_open(writer, row->i_scan, row->i_station, err));
    return wfi_fits_idi_spool_phase_cal(&writer->extras, &writer->setup, row,
                                        writer->output.temporary, err);
}

wf_status wf_fits_idi_append_flag(wf_fits_idi_writer *writer, const wf_flag *flag, wf_error *err)
{
    WFI_TRY(check_open(writer, flag->i_scan, flag->i_station, err));
    return wfi_fits_idi_spool_flag(&writer->extras, &writer->setup, flag, writer->output.temporary,
                                   err);
}

/* What stands behind the visibilities. */
static wf_status write_last_tables(wf_fits_idi_writer *writer, wf_error *err)
{
    int fits = 0;
    wfi_cfitsio_enter();
    wfi_fits_table_finish(&writer->rows, &fits);
    wf_status status =
        wfi_fits_idi_write_extras(&writer->extras, &writer->setup, writer->file, &fits, err);
    if (status == WF_OK)
        status = wfi_cfitsio_check(fits, writer->output.path, ACTION, WF_IO, err);
    wfi_cfitsio_leave();
    return status;
}

/* CFITSIO frees its handle whether or not closing succeeds. */
static wf_status close_file(wf_fits_idi_writer *writer, wf_error *err)
{
    if (writer->file == NULL)
        return WF_OK;
    int fits = 0;
    wfi_cfitsio_enter();
    if (writer->rows.bytes != NULL)
        wfi_fits_table_finish(&writer->rows, &fits);
    int closed = 0;
    fits_close_file(writer->file, &closed);
    writer->file = NULL;
    const wf_status status =
        wfi_cfitsio_check(fits != 0 ? fits : closed, writer->output.path, ACTION, WF_IO, err);
    wfi_cfitsio_leave();
    return status;
}

wf_status wf_fits_idi_finish(wf_fits_idi_writer *writer, wf_error *err)
{
    if (writer->failed || writer->file == NULL)
        return wfi_fail(err, WF_ARGUMENT, "the output has failed or is finished already");
    wf_status status = write_last_tables(writer, err);
    const wf_status closed = close_file(writer, err);
    status = status != WF_OK ? status : closed;
    if (status != WF_OK) {
        wfi_output_discard(&writer->output);
        return status;
    }
    return wfi_output_commit(&writer->output, err);
}

void wf_fits_idi_destroy(wf_fits_idi_writer *writer)
{
    if (writer == NULL)
        return;
    wfi_fits_table_release(&writer->rows);
    wfi_fits_idi_release_extras(&writer->extras);
    (void)!close_file(writer, NULL);
    wfi_output_discard(&writer->output);
    wfi_free(writer);
}
