/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a file tells besides its visibilities. Clocks and flags of others' files: report_test.py. */
#include "file_scene.h"
#include "foreign_file.h"

#include "base/memory.h"

static const char LONG_LINE[] =
    "A line of history that is longer than the seventy-two characters that one card can hold";

static void write_with_history(scene *s)
{
    wf_error err = WF_ERROR_INIT;
    wf_delay_model *model = model_of(s);
    const char *const history[] = {LONG_LINE};
    const wf_fits_idi_options options = {.bits = s->bits, .history = history, .n_history = 1};
    wf_check_ok(write_scene(s, "a.fits", model, &options, &err), &err);
    wf_delay_model_destroy(model);
}

static void history_and_samplers_are_read(void **state)
{
    (void)state;
    static scene s;
    wf_error err = WF_ERROR_INIT;
    wf_fits_idi_notes *notes = NULL;
    scene_set(&s);
    write_with_history(&s);
    wf_fits_idi_reader *reader = open_reader("a.fits");
    wf_check_ok(wf_fits_idi_read_notes(&notes, reader, &err), &err);
    /* broken at the last blank that fits */
    assert_non_null(strstr(notes->history, "\nA line of history that is longer than the "
                                           "seventy-two characters that\none card can hold\n"));
    assert_int_equal(notes->n_levels[0], 4);
    assert_int_equal(notes->n_levels[1], 2);
    assert_int_equal(notes->n_levels[2], 256);
    assert_int_equal(notes->n_clocks, 0); /* the file was written without tracks */
    assert_int_equal(notes->n_flags[0], 0);
    wf_fits_idi_notes_destroy(notes);
    row_buffer row; /* rows are still read after it */
    read_row(reader, 0, &row);
    assert_int_equal(row.row.i_station, 0);
    wf_fits_idi_close(reader);
}

static void file_of_few_words_is_no_fault(void **state)
{
    (void)state;
    wf_error err = WF_ERROR_INIT;
    wf_fits_idi_notes *notes = NULL;
    write_foreign("foreign.fits", (foreign){0});
    wf_fits_idi_reader *reader = open_reader("foreign.fits");
    wf_check_ok(wf_fits_idi_read_notes(&notes, reader, &err), &err);
    assert_string_equal(notes->history, "");
    assert_int_equal(notes->n_clocks, 0);
    wf_fits_idi_notes_destroy(notes);
    wf_fits_idi_close(reader);
    wf_fits_idi_notes_destroy(NULL);
}

static void short_memory_is_told(void **state)
{
    (void)state;
#ifdef WFI_CHECKS
    static scene s;
    scene_set(&s);
    write_with_history(&s);
    wf_fits_idi_reader *reader = open_reader("a.fits");
    wf_status status = WF_MEMORY;
    for (long n = 1; status != WF_OK; n++) {
        wf_error err = WF_ERROR_INIT;
        wf_fits_idi_notes *notes = NULL;
        wfi_memory_fail_after(n);
        status = wf_fits_idi_read_notes(&notes, reader, &err);
        wfi_memory_fail_after(0);
        assert_true(status == WF_OK || (status == WF_MEMORY && notes == NULL));
        wf_fits_idi_notes_destroy(notes);
    }
    wf_fits_idi_close(reader);
#endif
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST_IN_FOLDER(history_and_samplers_are_read),
        TEST_IN_FOLDER(file_of_few_words_is_no_fault),
        TEST_IN_FOLDER(short_memory_is_told),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
