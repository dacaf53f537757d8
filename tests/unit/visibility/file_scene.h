/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The invented observation written to a file. */
#ifndef TESTS_UNIT_VISIBILITY_FILE_SCENE_H
#define TESTS_UNIT_VISIBILITY_FILE_SCENE_H

#include "support/folder.h"
#include "support/visibility_scene.h"

static inline wf_delay_model *model_of(const scene *s)
{
    wf_error err = WF_ERROR_INIT;
    wf_delay_model *model = NULL;
    wf_check_ok(wf_delay_model_create(&model, &s->observation, &err), &err);
    return model;
}

/** Write two integrations of each scan; stops at the first failure and cleans up. */
static inline wf_status write_scene(scene *s, const char *path, const wf_delay_model *model,
                                    const wf_fits_idi_options *options, wf_error *err)
{
    wf_fits_idi_writer *writer = NULL;
    wf_status status = wf_fits_idi_create(&writer, path, &s->observation, model, options, err);
    for (int n = 0; n < 4 && status == WF_OK; n++) {
        scene_fill(s, (size_t)n / 2, n % 2);
        status = wf_fits_idi_append(writer, &s->integration, err);
    }
    if (status == WF_OK)
        status = wf_fits_idi_finish(writer, err);
    wf_fits_idi_destroy(writer);
    return status;
}

static inline void write_file(scene *s, const char *path)
{
    wf_error err = WF_ERROR_INIT;
    wf_delay_model *model = model_of(s);
    const wf_fits_idi_options options = {.bits = s->bits};
    wf_check_ok(write_scene(s, path, model, &options, &err), &err);
    wf_delay_model_destroy(model);
}

static inline wf_fits_idi_reader *open_reader(const char *path)
{
    wf_error err = WF_ERROR_INIT;
    wf_fits_idi_reader *reader = NULL;
    wf_check_ok(wf_fits_idi_open(&reader, path, &err), &err);
    return reader;
}

/** One row with buffers, SCENE_VALUES at most. */
typedef struct row_buffer {
    float complex visibility[SCENE_VALUES];
    float weight[SCENE_WEIGHTS];
    wf_fits_idi_row row;
} row_buffer;

static inline void read_row(wf_fits_idi_reader *reader, size_t i_row, row_buffer *buffer)
{
    wf_error err = WF_ERROR_INIT;
    buffer->row = (wf_fits_idi_row){.visibility = buffer->visibility, .weight = buffer->weight};
    wf_check_ok(wf_fits_idi_read(reader, i_row, &buffer->row, &err), &err);
}

#endif
