/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/check.h"

#include "engine/grid.h"

/* Recordings without files: the linker takes this description in place of the library's. */
struct wf_recording {
    wf_recording_info info;
};

const wf_recording_info *__wrap_wf_recording_describe(const wf_recording *recording);

const wf_recording_info *__wrap_wf_recording_describe(const wf_recording *recording)
{
    return &recording->info;
}

size_t __wrap_wf_recording_exclusion(const wf_recording *recording, size_t i_stream);

size_t __wrap_wf_recording_exclusion(const wf_recording *recording, size_t i_stream)
{
    (void)recording;
    (void)i_stream;
    return WF_NO_EXCLUSION;
}

static const wf_thread_info real_thread = {0, {WF_ENCODING_OFFSET_BINARY, 2, false, 1}};
static const wf_thread_info complex_thread = {0, {WF_ENCODING_OFFSET_BINARY, 2, true, 1}};

static wf_recording recording_of(const wf_thread_info *thread, int64_t rate_hz)
{
    return (wf_recording){{.sample_rate_hz = rate_hz, .threads = thread, .n_threads = 1}};
}

typedef struct set_up {
    wf_station stations[2];
    wf_band band;
    wf_stream streams[3];
    wf_recording_entry entries[3];
    wf_recording recordings[3];
    const wf_recording *pointers[3];
    wf_observation observation;
} set_up;

/* One band of 16 MHz at 8400 MHz in 32 channels, R only; the recordings are the test's. */
static void begin(set_up *s, wf_sideband sideband)
{
    memset(s, 0, sizeof *s);
    strcpy(s->stations[0].name, "Alder");
    strcpy(s->stations[1].name, "Birch");
    s->band = (wf_band){"low", sideband == WF_SIDEBAND_UPPER ? 8400e6 : 8416e6, 16e6, sideband};
    s->observation = (wf_observation){
        .stations = s->stations,
        .n_stations = 2,
        .bands = &s->band,
        .n_bands = 1,
        .recordings = s->entries,
        .correlation = {.n_channels = 32,
                        .integration_s = 1.0,
                        .products = {{WF_POLARIZATION_R, WF_POLARIZATION_R}},
                        .n_products = 1},
    };
}

static void add(set_up *s, size_t i_station, const wf_thread_info *thread, int64_t rate_hz,
                wf_anchor anchor, double anchor_hz, wf_sideband sideband)
{
    const size_t r = s->observation.n_recordings++;
    s->recordings[r] = recording_of(thread, rate_hz);
    s->pointers[r] = &s->recordings[r];
    s->streams[r] = (wf_stream){0, 0, WF_POLARIZATION_R, anchor, anchor_hz, sideband};
    s->entries[r] =
        (wf_recording_entry){.i_station = i_station, .streams = &s->streams[r], .n_streams = 1};
}

static wfi_grid *grid_of(set_up *s)
{
    wf_error err = WF_ERROR_INIT;
    wfi_grid *grid = NULL;
    wf_check_ok(wfi_grid_create(&grid, &s->observation, s->pointers, &err), &err);
    return grid;
}

/* The sky frequency of a piece's first channel, from the stream's side. */
static double sky_of_first_bin(const wfi_grid *grid, const wfi_grid_piece *piece)
{
    const wfi_grid_stream *stream = &grid->streams[piece->i_stream];
    return stream->zero_hz + stream->residual_hz +
           (double)piece->first_bin * grid->channel_width_hz;
}

static void check_pieces_lie_on_the_grid(const set_up *s, const wfi_grid *grid)
{
    for (size_t p = 0; p < grid->n_pieces; p++) {
        const double want = wf_band_first_channel_hz(&s->observation, 0) +
                            (double)grid->pieces[p].first_channel * grid->channel_width_hz;
        wf_check_near("sky", sky_of_first_bin(grid, &grid->pieces[p]), want, 1e-3, "Hz");
    }
}

static void grid_ties_real_and_complex_streams_of_one_band(void **state)
{
    (void)state;
    set_up s;
    begin(&s, WF_SIDEBAND_UPPER);
    add(&s, 0, &real_thread, 32000000, WF_ANCHOR_EDGE, 8400e6, WF_SIDEBAND_UPPER);
    add(&s, 1, &complex_thread, 16000000, WF_ANCHOR_EDGE, 8400e6, WF_SIDEBAND_UPPER);
    wfi_grid *grid = grid_of(&s);
    assert_int_equal(grid->n_spans, 1);
    assert_int_equal(grid->n_pieces, 2);
    assert_int_equal(grid->streams[0].n_fft, 64);
    assert_int_equal(grid->streams[1].n_fft, 32);
    assert_true(grid->streams[1].zero_hz == 8408e6);
    assert_int_equal(grid->pieces[0].first_bin, 0);
    assert_int_equal(grid->pieces[1].first_bin, -16);
    check_pieces_lie_on_the_grid(&s, grid);
    wfi_grid_destroy(grid);
}

static void grid_ties_lower_to_upper_sideband(void **state)
{
    (void)state;
    set_up s;
    begin(&s, WF_SIDEBAND_UPPER);
    add(&s, 0, &real_thread, 32000000, WF_ANCHOR_EDGE, 8400e6, WF_SIDEBAND_UPPER);
    add(&s, 1, &real_thread, 32000000, WF_ANCHOR_EDGE, 8416e6, WF_SIDEBAND_LOWER);
    wfi_grid *grid = grid_of(&s);
    assert_int_equal(grid->n_spans, 1); /* channel 0 is the lower stream's last bin */
    assert_int_equal(grid->pieces[1].first_bin, -32);
    assert_int_equal(grid->pieces[1].n_channels, 32);
    check_pieces_lie_on_the_grid(&s, grid);
    wfi_grid_destroy(grid);
}

static void grid_joins_two_narrow_streams_to_one_band(void **state)
{
    (void)state;
    set_up s;
    begin(&s, WF_SIDEBAND_UPPER);
    add(&s, 0, &real_thread, 32000000, WF_ANCHOR_EDGE, 8400e6, WF_SIDEBAND_UPPER);
    add(&s, 1, &real_thread, 16000000, WF_ANCHOR_EDGE, 8400e6, WF_SIDEBAND_UPPER);
    add(&s, 1, &real_thread, 16000000, WF_ANCHOR_EDGE, 8408e6, WF_SIDEBAND_UPPER);
    wfi_grid *grid = grid_of(&s);
    assert_int_equal(grid->n_spans, 2);
    assert_int_equal(grid->spans[0].n_channels, 16);
    assert_int_equal(grid->spans[1].first_channel, 16);
    assert_int_equal(grid->n_pieces, 3); /* the wide stream's two spans are one piece again */
    assert_int_equal(grid->pieces[0].n_channels, 32);
    assert_int_equal(grid->streams[1].n_fft, 32);
    check_pieces_lie_on_the_grid(&s, grid);
    wfi_grid_destroy(grid);
}

static void grid_finds_the_part_of_a_channel_that_a_stream_is_off(void **state)
{
    (void)state;
    set_up s;
    begin(&s, WF_SIDEBAND_LOWER);
    add(&s, 0, &real_thread, 32000000, WF_ANCHOR_EDGE, 8416e6, WF_SIDEBAND_LOWER);
    add(&s, 1, &real_thread, 64000000, WF_ANCHOR_EDGE, 8420.1e6, WF_SIDEBAND_LOWER);
    wfi_grid *grid = grid_of(&s);
    wf_check_near("residual", grid->streams[0].residual_hz, 0.0, 0.0, "Hz");
    /* 8416 - 8420.1 MHz = -4.1 MHz = -8 channels of 0.5 MHz - 0.1 MHz. */
    wf_check_near("residual", grid->streams[1].residual_hz, -0.1e6, 1e-3, "Hz");
    check_pieces_lie_on_the_grid(&s, grid);
    wfi_grid_destroy(grid);
}

static void grid_refuses_what_was_not_recorded(void **state)
{
    (void)state;
    set_up s;
    wfi_grid *grid = NULL;
    wf_error err = WF_ERROR_INIT;
    begin(&s, WF_SIDEBAND_UPPER);
    add(&s, 0, &real_thread, 32000000, WF_ANCHOR_EDGE, 8500e6, WF_SIDEBAND_UPPER);
    wf_check_refused(wfi_grid_create(&grid, &s.observation, s.pointers, &err), WF_FORMAT, &err,
                     "band low");
    err = (wf_error)WF_ERROR_INIT;
    s.streams[0].thread = 3;
    wf_check_refused(wfi_grid_create(&grid, &s.observation, s.pointers, &err), WF_FORMAT, &err,
                     "station Alder: no thread 3");
    err = (wf_error)WF_ERROR_INIT;
    begin(&s, WF_SIDEBAND_UPPER);
    add(&s, 0, &real_thread, 32000001, WF_ANCHOR_EDGE, 8400e6, WF_SIDEBAND_UPPER);
    wf_check_refused(wfi_grid_create(&grid, &s.observation, s.pointers, &err), WF_FORMAT, &err,
                     "expected a whole number");
    assert_null(grid);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(grid_ties_real_and_complex_streams_of_one_band),
        cmocka_unit_test(grid_ties_lower_to_upper_sideband),
        cmocka_unit_test(grid_joins_two_narrow_streams_to_one_band),
        cmocka_unit_test(grid_finds_the_part_of_a_channel_that_a_stream_is_off),
        cmocka_unit_test(grid_refuses_what_was_not_recorded),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
