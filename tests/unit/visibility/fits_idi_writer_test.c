/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What is written comes back in the house sense, and a file that fails leaves nothing. */
#include "file_scene.h"

#include <complex.h>
#include <signal.h>
#include <sys/resource.h>

#include "base/memory.h"

static void check_row(const scene *s, const row_buffer *got, size_t i, size_t j, size_t i_baseline)
{
    assert_int_equal(got->row.i_station, i);
    assert_int_equal(got->row.j_station, j);
    assert_int_equal(got->row.i_source, s->scans[s->integration.i_scan].i_source);
    /* TIME has a rounding of 1e-16 day */
    wf_check_near("middle", wf_instant_difference_s(got->row.middle, s->integration.middle), 0.0,
                  2e-11, "s");
    wf_check_near("length", got->row.length_s, 2.0, 0.0, "s");
    assert_memory_equal(got->row.uvw_s, s->uvw_s[i_baseline], sizeof got->row.uvw_s);
    assert_memory_equal(got->weight, s->weight + i_baseline * SCENE_WEIGHTS, sizeof got->weight);
    for (size_t n = 0; n < SCENE_VALUES; n++) {
        const float complex want = s->visibility[i_baseline * SCENE_VALUES + n];
        const bool is_power = i == j && n % SCENE_PRODUCTS < 2; /* RR or LL of one station */
        assert_true(crealf(got->visibility[n]) == crealf(want));
        assert_true(cimagf(got->visibility[n]) == (is_power ? 0.0f : cimagf(want)));
    }
}

static void written_visibilities_come_back(void **state)
{
    (void)state;
    static scene s;
    static row_buffer got;
    scene_set(&s);
    write_file(&s, "a.fits");
    wf_fits_idi_reader *reader = open_reader("a.fits");
    assert_int_equal(wf_fits_idi_describe(reader)->n_rows, 4 * SCENE_BASELINES);
    for (size_t n = 0, i_row = 0; n < 4; n++) {
        scene_fill(&s, n / 2, (int)n % 2);
        for (size_t i = 0, i_baseline = 0; i < SCENE_STATIONS; i++) {
            for (size_t j = i; j < SCENE_STATIONS; j++, i_row++, i_baseline++) {
                read_row(reader, i_row, &got);
                check_row(&s, &got, i, j, i_baseline);
            }
        }
    }
    wf_fits_idi_close(reader);
}

static void file_describes_itself(void **state)
{
    (void)state;
    static scene s;
    scene_set(&s);
    write_file(&s, "a.fits");
    wf_fits_idi_reader *reader = open_reader("a.fits");
    const wf_fits_idi_info *info = wf_fits_idi_describe(reader);
    assert_string_equal(info->campaign, "Forest-7");
    assert_int_equal(info->n_stations, SCENE_STATIONS);
    for (size_t i = 0; i < SCENE_STATIONS; i++)
        assert_string_equal(info->station_names[i], s.stations[i].name);
    assert_int_equal(info->n_sources, 2);
    assert_string_equal(info->source_names[0], "Ousel");
    assert_string_equal(info->source_names[1], "Willowbrook");
    assert_int_equal(info->n_bands, SCENE_BANDS);
    assert_int_equal(info->n_channels, SCENE_CHANNELS);
    assert_int_equal(info->n_products, SCENE_PRODUCTS);
    assert_int_equal(info->first_product_code, -1);
    /* 4 channels of 4 MHz; the lower sideband's end at its edge, 8450 MHz */
    assert_true(info->channel_width_hz == 4e6);
    assert_true(info->band_first_hz[0] == 8400e6);
    assert_true(info->band_first_hz[1] == 8438e6);
    wf_fits_idi_close(reader);
}

static void rows_without_weight_are_left_out(void **state)
{
    (void)state;
    static scene s;
    static row_buffer got;
    wf_error err = WF_ERROR_INIT;
    scene_set(&s);
    wf_delay_model *model = model_of(&s);
    const wf_fits_idi_options options = {.bits = s.bits};
    wf_fits_idi_writer *writer = NULL;
    wf_check_ok(wf_fits_idi_create(&writer, "a.fits", &s.observation, model, &options, &err), &err);
    scene_fill(&s, 0, 0);
    for (size_t i = 0; i < SCENE_WEIGHTS; i++) {
        s.weight[1 * SCENE_WEIGHTS + i] = 0.0f;
        s.weight[3 * SCENE_WEIGHTS + i] = i == 5 ? 0.5f : -1.0f;
    }
    wf_check_ok(wf_fits_idi_append(writer, &s.integration, &err), &err);
    wf_check_ok(wf_fits_idi_finish(writer, &err), &err);
    wf_fits_idi_destroy(writer);
    wf_delay_model_destroy(model);
    wf_fits_idi_reader *reader = open_reader("a.fits");
    assert_int_equal(wf_fits_idi_describe(reader)->n_rows, SCENE_BASELINES - 1);
    read_row(reader, 1, &got);
    assert_int_equal(got.row.i_station, 0);
    assert_int_equal(got.row.j_station, 2);
    read_row(reader, 2, &got); /* stations 1-1: one product of one band is left */
    for (size_t i = 0; i < SCENE_WEIGHTS; i++)
        assert_true(got.weight[i] == (i == 5 ? 0.5f : 0.0f));
    for (size_t n = 0; n < SCENE_VALUES; n++) {
        const size_t i_weight = n / (SCENE_VALUES / 2) * SCENE_PRODUCTS + n % SCENE_PRODUCTS;
        assert_true((got.visibility[n] != 0.0f) == (i_weight == 5));
    }
    wf_fits_idi_close(reader);
}

static void what_is_no_number_is_written_as_invalid(void **state)
{
    (void)state;
    static scene s;
    static row_buffer got;
    wf_error err = WF_ERROR_INIT;
    scene_set(&s);
    wf_delay_model *model = model_of(&s);
    const wf_fits_idi_options options = {.bits = s.bits};
    wf_fits_idi_writer *writer = NULL;
    wf_check_ok(wf_fits_idi_create(&writer, "a.fits", &s.observation, model, &options, &err), &err);
    scene_fill(&s, 0, 0);
    float parts[2] = {1.0f, NAN};
    memcpy(&s.visibility[SCENE_VALUES + 2], parts, sizeof parts); /* band 0, product 2 */
    parts[0] = -INFINITY;
    parts[1] = 1.0f;
    memcpy(&s.visibility[2 * SCENE_VALUES - 1], parts, sizeof parts); /* band 1, product 3 */
    s.weight[SCENE_WEIGHTS + 0] = NAN;
    s.weight[SCENE_WEIGHTS + 4] = INFINITY;
    wf_check_ok(wf_fits_idi_append(writer, &s.integration, &err), &err);
    s.uvw_s[2][1] = NAN;
    wf_check_refused(wf_fits_idi_append(writer, &s.integration, &err), WF_ARGUMENT, &err,
                     "u, v, w of baseline 2 are no numbers");
    err = (wf_error)WF_ERROR_INIT;
    wf_check_ok(wf_fits_idi_finish(writer, &err), &err);
    wf_fits_idi_destroy(writer);
    wf_delay_model_destroy(model);
    wf_fits_idi_reader *reader = open_reader("a.fits");
    read_row(reader, 1, &got);
    for (size_t i = 0; i < SCENE_WEIGHTS; i++) {
        const bool invalid = i == 0 || i == 2 || i == 4 || i == 7;
        assert_true((got.weight[i] == 0.0f) == invalid);
        for (size_t c = 0; c < SCENE_CHANNELS; c++) {
            const size_t n =
                (i / SCENE_PRODUCTS * SCENE_CHANNELS + c) * SCENE_PRODUCTS + i % SCENE_PRODUCTS;
            assert_true((got.visibility[n] == 0.0f) == invalid);
        }
    }
    wf_fits_idi_close(reader);
}

static void time_stays_right_through_a_leap_second(void **state)
{
    (void)state;
    static scene s;
    static row_buffer got;
    wf_error err = WF_ERROR_INIT;
    scene_set(&s);
    wf_instant start;
    wf_check_ok(wf_instant_parse(&start, "2016-12-31T23:59:58.5", &err), &err);
    scene_set_sky(&s, start);
    enum { MJD_2017 = 57754 };
    for (int i = 0; i < SCENE_DAYS; i++)
        s.days[i].ut1_minus_utc_s += s.days[i].mjd >= MJD_2017 ? 0.6 : -0.4;
    write_file(&s, "a.fits"); /* middles 23:59:59.5 and 0:00:00.5 across 23:59:60 */
    wf_fits_idi_reader *reader = open_reader("a.fits");
    for (size_t k = 0; k < 2; k++) {
        read_row(reader, k * SCENE_BASELINES, &got);
        wf_check_near("middle", wf_instant_difference_s(got.row.middle, start),
                      1.0 + 2.0 * (double)k, 2e-11, "s");
    }
    wf_fits_idi_close(reader);
    s.scans[0].start = wf_instant_add(start, 0.75); /* a middle within the leap second */
    write_file(&s, "a.fits");
    reader = open_reader("a.fits");
    read_row(reader, 0, &got);
    char text[WF_INSTANT_TEXT_BYTES];
    wf_instant_format(text, wf_instant_add(got.row.middle, 1e-10), 2);
    assert_string_equal(text, "2016-12-31T23:59:60.25");
    wf_fits_idi_close(reader);
}

static void same_input_makes_the_same_file(void **state)
{
    (void)state;
    static scene s;
    scene_set(&s);
    write_file(&s, "a.fits");
    write_file(&s, "b.fits");
    size_t n_a, n_b;
    unsigned char *a = whole_file("a.fits", &n_a);
    unsigned char *b = whole_file("b.fits", &n_b);
    assert_int_equal(n_a % 2880, 0);
    assert_int_equal(n_a, n_b);
    assert_memory_equal(a, b, n_a);
    free(a);
    free(b);
}

static void unfinished_file_leaves_nothing(void **state)
{
    (void)state;
    static scene s;
    wf_error err = WF_ERROR_INIT;
    scene_set(&s);
    put_file("a.fits", "precious");
    wf_delay_model *model = model_of(&s);
    const wf_fits_idi_options options = {.bits = s.bits};
    wf_fits_idi_writer *writer = NULL;
    wf_check_ok(wf_fits_idi_create(&writer, "a.fits", &s.observation, model, &options, &err), &err);
    scene_fill(&s, 0, 0);
    wf_check_ok(wf_fits_idi_append(writer, &s.integration, &err), &err);
    check_file("a.fits", "precious");
    wf_fits_idi_destroy(writer);
    wf_delay_model_destroy(model);
    check_file("a.fits", "precious");
    assert_int_equal(n_entries("."), 1);
}

static void finished_file_takes_no_more(void **state)
{
    (void)state;
    static scene s;
    wf_error err = WF_ERROR_INIT;
    scene_set(&s);
    wf_delay_model *model = model_of(&s);
    const wf_fits_idi_options options = {.bits = s.bits};
    wf_fits_idi_writer *writer = NULL;
    wf_check_ok(wf_fits_idi_create(&writer, "a.fits", &s.observation, model, &options, &err), &err);
    wf_check_ok(wf_fits_idi_finish(writer, &err), &err);
    scene_fill(&s, 0, 0);
    wf_check_refused(wf_fits_idi_append(writer, &s.integration, &err), WF_ARGUMENT, &err,
                     "is finished");
    err = (wf_error)WF_ERROR_INIT;
    wf_check_refused(wf_fits_idi_finish(writer, &err), WF_ARGUMENT, &err, "is finished");
    wf_fits_idi_destroy(writer);
    wf_delay_model_destroy(model);
    wf_fits_idi_reader *reader = open_reader("a.fits");
    assert_int_equal(wf_fits_idi_describe(reader)->n_rows, 0);
    wf_fits_idi_close(reader);
}

static void integrations_come_in_time_order(void **state)
{
    (void)state;
    static scene s;
    wf_error err = WF_ERROR_INIT;
    scene_set(&s);
    wf_delay_model *model = model_of(&s);
    const wf_fits_idi_options options = {.bits = s.bits};
    wf_fits_idi_writer *writer = NULL;
    wf_check_ok(wf_fits_idi_create(&writer, "a.fits", &s.observation, model, &options, &err), &err);
    scene_fill(&s, 0, 1);
    wf_check_ok(wf_fits_idi_append(writer, &s.integration, &err), &err);
    scene_fill(&s, 0, 0);
    wf_check_refused(wf_fits_idi_append(writer, &s.integration, &err), WF_ARGUMENT, &err,
                     "scan S01: an integration lies before");
    err = (wf_error)WF_ERROR_INIT;
    s.integration.i_scan = 2;
    wf_check_refused(wf_fits_idi_append(writer, &s.integration, &err), WF_ARGUMENT, &err,
                     "scan number 2");
    wf_fits_idi_destroy(writer);
    wf_delay_model_destroy(model);
}

/* Every size at which the disk may turn out full, up to the whole file's. */
static void full_disk_leaves_nothing(void **state)
{
    (void)state;
    static scene s;
    scene_set(&s);
    write_file(&s, "whole.fits");
    struct stat whole;
    assert_int_equal(stat("whole.fits", &whole), 0);
    put_file("a.fits", "precious");
    wf_delay_model *model = model_of(&s);
    const wf_fits_idi_options options = {.bits = s.bits};
    struct rlimit before;
    assert_int_equal(getrlimit(RLIMIT_FSIZE, &before), 0);
    signal(SIGXFSZ, SIG_IGN);
    for (off_t size = 0; size < whole.st_size; size += 1440) {
        wf_error err = WF_ERROR_INIT;
        struct rlimit limit = {(rlim_t)size, before.rlim_max};
        assert_int_equal(setrlimit(RLIMIT_FSIZE, &limit), 0);
        const wf_status status = write_scene(&s, "a.fits", model, &options, &err);
        assert_int_equal(setrlimit(RLIMIT_FSIZE, &before), 0);
        wf_check_refused(status, WF_IO, &err, "a.fits: could not be written: File too large");
        check_file("a.fits", "precious");
        assert_int_equal(n_entries("."), 2);
    }
    wf_delay_model_destroy(model);
}

static void short_memory_leaves_nothing(void **state)
{
    (void)state;
#ifdef WFI_CHECKS
    static scene s;
    scene_set(&s);
    wf_delay_model *model = model_of(&s);
    const wf_fits_idi_options options = {.bits = s.bits};
    wf_status status = WF_MEMORY;
    long n = 0;
    while (status != WF_OK) {
        wf_error err = WF_ERROR_INIT;
        wfi_memory_fail_after(++n);
        status = write_scene(&s, "a.fits", model, &options, &err);
        wfi_memory_fail_after(0);
        if (status == WF_OK)
            break;
        wf_check_refused(status, WF_MEMORY, &err, "out of memory");
        assert_int_equal(n_entries("."), 0);
    }
    assert_true(n > 7);
    wf_delay_model_destroy(model);
#else
    skip();
#endif
}

/* The observation as it stands is refused. */
static void refuse(const scene *s, const char *words)
{
    static scene good;
    scene_set(&good);
    wf_delay_model *model = model_of(&good);
    wf_error err = WF_ERROR_INIT;
    wf_fits_idi_writer *writer = NULL;
    const wf_fits_idi_options options = {.bits = s->bits};
    wf_check_refused(wf_fits_idi_create(&writer, "a.fits", &s->observation, model, &options, &err),
                     WF_ARGUMENT, &err, words);
    assert_null(writer);
    wf_delay_model_destroy(model);
    assert_int_equal(n_entries("."), 0);
}

static void what_the_convention_cannot_hold_is_refused(void **state)
{
    (void)state;
    static scene s;
    scene_set(&s);
    s.observation.n_stations = 256;
    refuse(&s, "256 stations: FITS-IDI numbers baselines of at most 255");
    scene_set(&s);
    s.observation.n_scans = 0;
    refuse(&s, "at least one");
    scene_set(&s);
    strcpy(s.stations[1].name, "Sweetgale");
    refuse(&s, "station \"Sweetgale\": a name of 1 to 8 characters");
    scene_set(&s);
    strcpy(s.sources[0].name, "");
    refuse(&s, "source \"\": a name of 1 to 16 characters");
    scene_set(&s);
    strcpy(s.sources[0].name, "Ems\xc3\xa4");
    refuse(&s, "ASCII characters only");
    scene_set(&s);
    s.observation.correlation.products[1] = s.observation.correlation.products[2];
    refuse(&s, "polarization products");
    scene_set(&s);
    s.observation.correlation.products[0].second = WF_POLARIZATION_X;
    refuse(&s, "polarization products");
    scene_set(&s); /* LR XX: the codes follow one another, the kinds do not */
    s.observation.correlation.products[0] = s.observation.correlation.products[3];
    s.observation.correlation.products[1] = (wf_product){WF_POLARIZATION_X, WF_POLARIZATION_X};
    s.observation.correlation.n_products = 2;
    refuse(&s, "polarization products");
}

static void target_that_cannot_be_written_is_refused(void **state)
{
    (void)state;
    static scene s;
    scene_set(&s);
    wf_delay_model *model = model_of(&s);
    const wf_fits_idi_options options = {.bits = s.bits};
    wf_error err = WF_ERROR_INIT;
    assert_int_equal(mkdir("b", 0777), 0);
    wf_check_refused(write_scene(&s, "b", model, &options, &err), WF_IO, &err, "b: is a folder");
    err = (wf_error)WF_ERROR_INIT;
    wf_check_refused(write_scene(&s, "c/a.fits", model, &options, &err), WF_MISSING, &err,
                     "there is no folder c/");
    wf_delay_model_destroy(model);
    assert_int_equal(n_entries("."), 1);
}

static void brackets_and_blanks_in_a_name_mean_nothing(void **state)
{
    (void)state;
    static scene s;
    scene_set(&s);
    static const char *const names[] = {"a[1].fits", " b.fits", "!c.fits", "d(e).fits",
                                        "f.fits.gz"};
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++) {
        write_file(&s, names[i]);
        wf_fits_idi_close(open_reader(names[i]));
        assert_int_equal(n_entries("."), (int)i + 1);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST_IN_FOLDER(written_visibilities_come_back),
        TEST_IN_FOLDER(file_describes_itself),
        TEST_IN_FOLDER(rows_without_weight_are_left_out),
        TEST_IN_FOLDER(what_is_no_number_is_written_as_invalid),
        TEST_IN_FOLDER(time_stays_right_through_a_leap_second),
        TEST_IN_FOLDER(same_input_makes_the_same_file),
        TEST_IN_FOLDER(unfinished_file_leaves_nothing),
        TEST_IN_FOLDER(finished_file_takes_no_more),
        TEST_IN_FOLDER(integrations_come_in_time_order),
        TEST_IN_FOLDER(full_disk_leaves_nothing),
        TEST_IN_FOLDER(short_memory_leaves_nothing),
        TEST_IN_FOLDER(what_the_convention_cannot_hold_is_refused),
        TEST_IN_FOLDER(target_that_cannot_be_written_is_refused),
        TEST_IN_FOLDER(brackets_and_blanks_in_a_name_mean_nothing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
