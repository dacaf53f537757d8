/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Files of others, and files that are damaged. */
#include "file_scene.h"
#include "foreign_file.h"

#include <complex.h>

#include "base/memory.h"

typedef struct foreign_buffer {
    float complex visibility[FOREIGN_VALUES];
    float weight[FOREIGN_WEIGHTS];
    wf_fits_idi_row row;
} foreign_buffer;

static void read_foreign(wf_fits_idi_reader *reader, size_t i_row, foreign_buffer *buffer)
{
    wf_error err = WF_ERROR_INIT;
    buffer->row = (wf_fits_idi_row){.visibility = buffer->visibility, .weight = buffer->weight};
    wf_check_ok(wf_fits_idi_read(reader, i_row, &buffer->row, &err), &err);
}

static wf_fits_idi_reader *open_foreign(foreign f)
{
    write_foreign("foreign.fits", f);
    return open_reader("foreign.fits");
}

static void check_value(float complex got, double re, double im)
{
    wf_check_near("real", crealf(got), re, 0.0, "");
    wf_check_near("imaginary", cimagf(got), im, 0.0, "");
}

/* Element 2 n and 2 n + 1 of FLUX, conjugate. */
static void foreign_file_is_read_by_column_names(void **state)
{
    (void)state;
    wf_fits_idi_reader *reader = open_foreign((foreign){0});
    const wf_fits_idi_info *info = wf_fits_idi_describe(reader);
    assert_string_equal(info->campaign, "Heath-2");
    assert_int_equal(info->n_stations, 3);
    assert_string_equal(info->station_names[0], "Elder");
    assert_string_equal(info->station_names[1], ""); /* no antenna has the number 2 */
    assert_string_equal(info->station_names[2], "Fir");
    assert_string_equal(info->source_names[0], "Dipper");
    assert_int_equal(info->n_rows, FOREIGN_ROWS);
    assert_int_equal(info->n_products, FOREIGN_PRODUCTS);
    /* REF_PIXL 1.5 is half a channel above the first */
    assert_true(info->band_first_hz[0] == 5e9 - 0.5e6);
    assert_true(info->band_first_hz[1] == 5e9 + 32e6 - 0.5e6);
    foreign_buffer got;
    read_foreign(reader, 0, &got);
    assert_int_equal(got.row.i_station, 0);
    assert_int_equal(got.row.j_station, 2);
    assert_int_equal(got.row.i_source, 0);
    wf_check_near("length", got.row.length_s, 1.5, 0.0, "s");
    wf_check_near("u", got.row.uvw_s[0], 1e-3, 1e-10, "s"); /* single precision */
    wf_check_near("w", got.row.uvw_s[2], 3e-3, 0.0, "s");
    const wf_instant six_hours = wf_instant_add(wf_instant_of_mjd(61100), 21600.0);
    wf_check_near("time", wf_instant_difference_s(got.row.middle, six_hours), 0.0, 0.0, "s");
    for (int n = 0; n < FOREIGN_VALUES; n++)
        check_value(got.visibility[n], 2 * n, -(2 * n + 1));
    for (int n = 0; n < FOREIGN_WEIGHTS; n++)
        assert_true(got.weight[n] == (float)(n + 1) / 4.0f);
    read_foreign(reader, 1, &got); /* weights -1/4, 0, 1/4, 1/2; a day on */
    wf_check_near("time", wf_instant_difference_s(got.row.middle, six_hours), 86400.0, 0.0, "s");
    for (int n = 0; n < FOREIGN_VALUES; n++) {
        const bool valid = n >= FOREIGN_VALUES / 2; /* the second band */
        check_value(got.visibility[n], valid ? 2 * n + 100 : 0, valid ? -(2 * n + 101) : 0);
    }
    assert_true(got.weight[0] == 0.0f && got.weight[1] == 0.0f && got.weight[3] == 0.5f);
    wf_fits_idi_close(reader);
}

static void older_names_are_known(void **state)
{
    (void)state;
    static const char *const u_names[] = {"UU---SIN", "UU--SIN", "uu", "UU-L"};
    for (size_t i = 0; i < 4; i++) {
        wf_fits_idi_reader *reader = open_foreign(
            (foreign){.u_name = u_names[i], .source_name = "SOURCE", .id_name = "ID_NO."});
        foreign_buffer got;
        read_foreign(reader, 1, &got);
        wf_check_near("u", got.row.uvw_s[0], 2e-3, 1e-10, "s");
        wf_fits_idi_close(reader);
    }
}

static void weights_of_single_visibilities_count(void **state)
{
    (void)state;
    wf_fits_idi_reader *reader = open_foreign((foreign){.n_complex = 3, .weight_form = "1E"});
    foreign_buffer got;
    read_foreign(reader, 0, &got);
    for (int n = 0; n < FOREIGN_VALUES; n++)
        check_value(got.visibility[n], 3 * n, -(3 * n + 1));
    /* mean over the channels: visibilities 0, 2, 4 of band 0, product 0 weigh 3, 9, 15 / 64 */
    assert_true(got.weight[0] == 9.0f / 64.0f);
    assert_true(got.weight[1] == 12.0f / 64.0f);
    wf_fits_idi_close(reader);
}

static void weights_of_other_shapes_are_read(void **state)
{
    (void)state;
    static const struct {
        const char *form;
        float want[FOREIGN_WEIGHTS];
    } cases[] = {
        {"", {1, 1, 1, 1}}, {"1E", {0.25, 0.25, 0.25, 0.25}}, {"2E", {0.25, 0.25, 0.5, 0.5}}};
    for (size_t i = 0; i < 3; i++) {
        wf_fits_idi_reader *reader = open_foreign((foreign){.weight_form = cases[i].form});
        foreign_buffer got;
        read_foreign(reader, 0, &got);
        assert_memory_equal(got.weight, cases[i].want, sizeof got.weight);
        wf_fits_idi_close(reader);
    }
}

static void sums_are_divided_by_their_weights(void **state)
{
    (void)state;
    wf_fits_idi_reader *reader = open_foreign((foreign){.weight_type = "CORRELAT"});
    foreign_buffer got;
    read_foreign(reader, 0, &got);
    check_value(got.visibility[2], 4 * 4, -5 * 4);
    check_value(got.visibility[3], 6 * 2, -7 * 2);
    wf_fits_idi_close(reader);
}

static void descending_channels_are_turned_round(void **state)
{
    (void)state;
    wf_fits_idi_reader *reader = open_foreign((foreign){.channel_width_hz = -1e6});
    /* channels 1, 2, 3 lie at +0.5, -0.5, -1.5 MHz of the reference */
    assert_true(wf_fits_idi_describe(reader)->band_first_hz[0] == 5e9 - 1.5e6);
    assert_true(wf_fits_idi_describe(reader)->channel_width_hz == 1e6);
    foreign_buffer got;
    read_foreign(reader, 0, &got);
    check_value(got.visibility[0], 8, -9);
    check_value(got.visibility[1], 10, -11);
    check_value(got.visibility[4], 0, -1);
    wf_fits_idi_close(reader);
}

static void atomic_time_becomes_utc(void **state)
{
    (void)state;
    static const char *const scales[] = {"IAT", "TAI", ""}; /* the last: no card */
    for (size_t i = 0; i < 3; i++) {
        wf_fits_idi_reader *reader = open_foreign((foreign){.time_scale = scales[i]});
        foreign_buffer got;
        read_foreign(reader, 0, &got);
        /* TAI - UTC is 37 s since 2017 (IERS Bulletin C) */
        const wf_instant want = wf_instant_add(wf_instant_of_mjd(61100), 21600.0 - 37.0);
        wf_check_near("time", wf_instant_difference_s(got.row.middle, want), 0.0, 0.0, "s");
        wf_fits_idi_close(reader);
    }
}

static void parts_follow_one_another(void **state)
{
    (void)state;
    wf_fits_idi_reader *reader = open_foreign((foreign){.two_parts = true});
    assert_int_equal(wf_fits_idi_describe(reader)->n_rows, 2);
    foreign_buffer got;
    for (int k = 0; k < 3; k++) {
        read_foreign(reader, 1, &got);
        check_value(got.visibility[FOREIGN_VALUES - 1], 122, -123);
        read_foreign(reader, 0, &got);
        check_value(got.visibility[FOREIGN_VALUES - 1], 22, -23);
    }
    wf_fits_idi_close(reader);
}

static void rows_come_in_any_order(void **state)
{
    (void)state;
    static scene s;
    static row_buffer got, again;
    scene_set(&s);
    write_file(&s, "a.fits");
    wf_fits_idi_reader *forward = open_reader("a.fits");
    wf_fits_idi_reader *jumping = open_reader("a.fits");
    const size_t n = wf_fits_idi_describe(forward)->n_rows;
    for (size_t i = 0; i < n; i++)
        read_row(jumping, (7 * i) % n, &again); /* 7 and 24 have no common divisor */
    for (size_t i = 0; i < n; i++) {
        read_row(forward, i, &got);
        read_row(jumping, i, &again);
        assert_memory_equal(got.visibility, again.visibility, sizeof got.visibility);
        wf_fits_idi_row label = {0};
        wf_error err = WF_ERROR_INIT;
        wf_check_ok(wf_fits_idi_read(jumping, n - 1 - i, &label, &err), &err);
        assert_null(label.visibility);
    }
    wf_fits_idi_row row = {0};
    wf_error err = WF_ERROR_INIT;
    wf_check_refused(wf_fits_idi_read(forward, n, &row, &err), WF_ARGUMENT, &err, "there are 24");
    wf_fits_idi_close(forward);
    wf_fits_idi_close(jumping);
}

static void refuse_open(const char *path, wf_status want, const char *words)
{
    wf_error err = WF_ERROR_INIT;
    wf_fits_idi_reader *reader = NULL;
    wf_check_refused(wf_fits_idi_open(&reader, path, &err), want, &err, words);
    assert_null(reader);
}

static void missing_tables_are_named(void **state)
{
    (void)state;
    static const char *const tables[] = {"ARRAY_GEOMETRY", "SOURCE", "ANTENNA", "FREQUENCY",
                                         "UV_DATA"};
    for (size_t i = 0; i < 5; i++) {
        char words[64];
        snprintf(words, sizeof words, "table %s is missing", tables[i]);
        write_foreign("a.fits", (foreign){.without = tables[i]});
        refuse_open("a.fits", WF_FORMAT, words);
    }
}

static void what_is_no_fits_file_is_refused(void **state)
{
    (void)state;
    refuse_open("a.fits", WF_MISSING, "a.fits: cannot be opened: No such file");
    put_file("a.fits", "");
    refuse_open("a.fits", WF_FORMAT, "a.fits: is no FITS file");
    put_file("a.fits", "SIMPLE");
    refuse_open("a.fits", WF_FORMAT, "a.fits: is no FITS file");
    put_file("a.fits", "campaign: Forest-7\nstations:\n");
    refuse_open("a.fits", WF_FORMAT, "a.fits: is no FITS file");
    refuse_open(".", WF_FORMAT, "expected a FITS-IDI file");
    put_file("a.fits", "SIMPLE  =                    T and then nothing of the kind");
    refuse_open("a.fits", WF_FORMAT, "a.fits: ");
}

static void faulty_tables_are_refused(void **state)
{
    (void)state;
    static const struct {
        foreign file;
        wf_status status;
        const char *words;
    } cases[] = {
        {{.u_name = "U"}, WF_FORMAT, "table UV_DATA has no column UU---SIN"},
        {{.source_name = "SOURCES"}, WF_FORMAT, "table UV_DATA has no column SOURCE_ID"},
        {{.id_name = "NUMBER"}, WF_FORMAT, "table SOURCE has no column SOURCE_ID"},
        {{.flux_form = "24A"}, WF_FORMAT, "column FLUX holds no number"},
        {{.flux_form = "12C"}, WF_FORMAT, "column FLUX holds no number"},
        {{.flux_form = "26E"}, WF_FORMAT, "do not make up FLUX of 26"},
        {{.flux_form = "PE(24)"}, WF_FORMAT, "columns do not fill its rows"},
        {{.flux_zero = "3"}, WF_FORMAT, "column FLUX holds no number"},
        {{.band_axis = 3}, WF_FORMAT, "MAXIS4 = 3 does not fit FLUX of 24"},
        {{.band_axis = 1}, WF_FORMAT, "do not make up FLUX of 24"},
        {{.weight_form = "3E"}, WF_FORMAT, "WEIGHT of 3 for 2 bands and 2 products"},
        {{.antenna = 256}, WF_FORMAT, "table ARRAY_GEOMETRY, row 2: NOSTA is 256"},
        {{.antenna = -1}, WF_FORMAT, "table ARRAY_GEOMETRY, row 2: NOSTA is -1"},
        {{.second_width_hz = 2e6}, WF_UNSUPPORTED, "band 2 has channels of 2e+06 Hz"},
        {{.first_product = 1}, WF_UNSUPPORTED, "STK_1 = 1"},
        {{.first_product = -8}, WF_UNSUPPORTED, "STK_1 = -8 with 2 products"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        write_foreign("a.fits", cases[i].file);
        refuse_open("a.fits", cases[i].status, cases[i].words);
    }
}

static void faulty_rows_are_refused(void **state)
{
    (void)state;
    static const struct {
        foreign file;
        wf_status status;
        const char *words;
    } cases[] = {
        {{.baseline = 256 + 4}, WF_FORMAT, "UV_DATA row 2: BASELINE 260 names a station"},
        {{.baseline = 256}, WF_FORMAT, "BASELINE 256 names a station"},
        {{.baseline = -1}, WF_FORMAT, "BASELINE -1 names a station"},
        {{.source = 2}, WF_FORMAT, "UV_DATA row 2: source 2 is not in SOURCE"},
        {{.source = -1}, WF_FORMAT, "source -1 is not in SOURCE"},
        {{.frequency = 2}, WF_UNSUPPORTED, "FREQID 2"},
        {{.date = 61100.0}, WF_FORMAT, "are no time"},
        {{.date = NAN}, WF_FORMAT, "are no time"},
        {{.date = INFINITY}, WF_FORMAT, "are no time"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        wf_fits_idi_reader *reader = open_foreign(cases[i].file);
        wf_error err = WF_ERROR_INIT;
        wf_fits_idi_row row = {0};
        wf_check_refused(wf_fits_idi_read(reader, 1, &row, &err), cases[i].status, &err,
                         cases[i].words);
        wf_fits_idi_close(reader);
    }
}

static void put_bytes(const char *path, const unsigned char *bytes, size_t n)
{
    FILE *file = fopen(path, "wb");
    assert_non_null(file);
    assert_int_equal(fwrite(bytes, 1, n, file), n);
    assert_int_equal(fclose(file), 0);
}

/* Cut anywhere, at the borders of FITS blocks too, the file is refused on opening. */
static void truncated_file_is_refused(void **state)
{
    (void)state;
    size_t n = 0;
    write_foreign("whole.fits", (foreign){0});
    unsigned char *bytes = whole_file("whole.fits", &n);
    for (size_t length = 0; length < n; length += 720) {
        wf_error err = WF_ERROR_INIT;
        wf_fits_idi_reader *reader = NULL;
        put_bytes("a.fits", bytes, length);
        const wf_status status = wf_fits_idi_open(&reader, "a.fits", &err);
        wf_check_refused(status, WF_FORMAT, &err, "a.fits: ");
    }
    free(bytes);
}

/* Reads everything; any status will do. */
static wf_status read_all(const char *path)
{
    wf_fits_idi_reader *reader = NULL;
    wf_status status = wf_fits_idi_open(&reader, path, NULL);
    if (status != WF_OK)
        return status;
    const wf_fits_idi_info *info = wf_fits_idi_describe(reader);
    const size_t n_weights = info->n_bands * info->n_products;
    float *weight = calloc(n_weights, sizeof *weight);
    float complex *visibility = calloc(n_weights * info->n_channels, sizeof *visibility);
    assert_non_null(weight);
    assert_non_null(visibility);
    for (size_t i = 0; i < info->n_rows && i < 100 && status == WF_OK; i++) {
        wf_fits_idi_row row = {.visibility = visibility, .weight = weight};
        status = wf_fits_idi_read(reader, i, &row, NULL);
    }
    free(weight);
    free(visibility);
    wf_fits_idi_close(reader);
    return status;
}

static void damaged_bytes_do_no_harm(void **state)
{
    (void)state;
    enum { N_TRIALS = 400, N_DAMAGES = 3 };
    size_t n = 0;
    write_foreign("whole.fits", (foreign){0});
    unsigned char *whole = whole_file("whole.fits", &n);
    unsigned char *bytes = malloc(n);
    assert_non_null(bytes);
    uint32_t random = 12345; /* a linear congruential generator is random enough here */
    int n_refused = 0;
    for (int i = 0; i < N_TRIALS; i++) {
        memcpy(bytes, whole, n);
        for (int k = 0; k < N_DAMAGES; k++) {
            static const char damages[] = "0123456789-.EDJIA'= ";
            random = random * 1664525u + 1013904223u;
            const size_t place = random % n;
            random = random * 1664525u + 1013904223u;
            bytes[place] = (unsigned char)damages[(random >> 16) % (sizeof damages - 1)];
        }
        put_bytes("a.fits", bytes, n);
        n_refused += read_all("a.fits") != WF_OK;
    }
    assert_true(n_refused > 0 && n_refused < N_TRIALS);
    free(bytes);
    free(whole);
}

static void reader_survives_short_memory(void **state)
{
    (void)state;
#ifdef WFI_CHECKS
    write_foreign("a.fits", (foreign){0});
    wf_status status = WF_MEMORY;
    long n = 0;
    while (status != WF_OK) {
        wfi_memory_fail_after(++n);
        status = read_all("a.fits");
        wfi_memory_fail_after(0);
        assert_true(status == WF_OK || status == WF_MEMORY);
    }
    assert_true(n > 8);
#else
    skip();
#endif
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST_IN_FOLDER(foreign_file_is_read_by_column_names),
        TEST_IN_FOLDER(older_names_are_known),
        TEST_IN_FOLDER(weights_of_single_visibilities_count),
        TEST_IN_FOLDER(weights_of_other_shapes_are_read),
        TEST_IN_FOLDER(sums_are_divided_by_their_weights),
        TEST_IN_FOLDER(descending_channels_are_turned_round),
        TEST_IN_FOLDER(atomic_time_becomes_utc),
        TEST_IN_FOLDER(parts_follow_one_another),
        TEST_IN_FOLDER(rows_come_in_any_order),
        TEST_IN_FOLDER(missing_tables_are_named),
        TEST_IN_FOLDER(what_is_no_fits_file_is_refused),
        TEST_IN_FOLDER(faulty_tables_are_refused),
        TEST_IN_FOLDER(faulty_rows_are_refused),
        TEST_IN_FOLDER(truncated_file_is_refused),
        TEST_IN_FOLDER(damaged_bytes_do_no_harm),
        TEST_IN_FOLDER(reader_survives_short_memory),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
