/* SPDX-License-Identifier: GPL-3.0-or-later */
/* VDIF against its specification (Release 1.1.1, VDIF Task Force 2014, vlbi.org).
 *
 *  The worked frame was put together by hand from figure 3 and section 10 of it and decoded with
 *  an independent reader (repository mhvk/baseband, commit 617ecae). The second header is that of
 *  the open test file sample.vdif of the same repository.
 */
#include "support/check.h"

#include <stdio.h>
#include <stdlib.h>
#include <sys/types.h>
#include <unistd.h>
#include <whitefringe/recording.h>
#include <whitefringe/time.h>

#include "recording/vdif_header.h"

/* A real frame of 2 channels of 2 bits, payload 8000 bytes, extended data version 1, thread 3,
 * station "Al", frame 7 of the second 2024-05-02T10:00:01 UTC. */
static const uint8_t worked_header[32] = {
    0xa1, 0x63, 0xa1, 0x00, 0x07, 0x00, 0x00, 0x30, 0xec, 0x03, 0x00, 0x01, 0x6c, 0x41, 0x03, 0x04,
    0x20, 0x00, 0x80, 0x01, 0xed, 0xfe, 0xab, 0xac, 0x47, 0x52, 0x4f, 0x56, 0x45, 0x2d, 0x30, 0x31};
static const uint8_t worked_payload[4] = {0x9c, 0x3a, 0x05, 0x6f};
/* Codes of channel 0 and 1, in time order. */
static const unsigned worked_codes[8][2] = {{0, 3}, {1, 2}, {2, 2}, {3, 0},
                                            {1, 1}, {0, 0}, {3, 3}, {2, 1}};

static void check_time(const wfi_vdif_header *header, const char *want)
{
    char text[WF_INSTANT_TEXT_BYTES];
    const wf_instant t = {wfi_vdif_epoch_second(header->epoch) + header->second, 0.0};
    wf_instant_format(text, t, 0);
    assert_string_equal(text, want);
}

static void vdif_header_of_the_worked_frame(void **state)
{
    (void)state;
    wfi_vdif_header h;
    assert_true(wfi_vdif_header_decode(&h, worked_header, sizeof worked_header));
    assert_false(h.invalid);
    assert_false(h.legacy);
    assert_int_equal(h.epoch, 48);
    assert_int_equal(h.second, 10576801);
    assert_int_equal(h.frame, 7);
    assert_int_equal(h.version, 0);
    assert_int_equal(h.log2_channels, 1);
    assert_int_equal(h.frame_bytes, 8032);
    assert_false(h.is_complex);
    assert_int_equal(h.bits, 2);
    assert_int_equal(h.thread, 3);
    assert_int_equal(h.station, 'A' << 8 | 'l');
    assert_int_equal(h.extended[0], 0x01800020);
    assert_int_equal(h.extended[1], 0xACABFEED);
    assert_int_equal(h.extended[2], 0x564F5247);
    assert_int_equal(h.extended[3], 0x31302D45);
    assert_int_equal(wfi_vdif_samples_per_frame(&h), 16000);
    assert_null(wfi_vdif_header_fault(&h));
    check_time(&h, "2024-05-02T10:00:01");
}

static void vdif_header_of_the_worked_frame_encodes_to_its_bytes(void **state)
{
    (void)state;
    const wfi_vdif_header h = {.epoch = 48,
                               .second = 10576801,
                               .frame = 7,
                               .log2_channels = 1,
                               .frame_bytes = 8032,
                               .bits = 2,
                               .thread = 3,
                               .station = 0x416c,
                               .extended = {0x01800020, 0xACABFEED, 0x564F5247, 0x31302D45}};
    uint8_t bytes[WFI_VDIF_HEADER_BYTES];
    assert_int_equal(wfi_vdif_header_encode(bytes, &h), 32);
    assert_memory_equal(bytes, worked_header, sizeof bytes);
}

static void vdif_header_of_an_open_recording(void **state)
{
    (void)state;
    static const uint32_t words[8] = {0x00db2c77, 0x1c000000, 0x20000275, 0x0401fffc,
                                      0x03800010, 0xacabfeed, 0x33400000, 0xf2031583};
    uint8_t bytes[32];
    for (size_t i = 0; i < 32; i++)
        bytes[i] = (uint8_t)(words[i / 4] >> 8 * (i % 4) & 0xff);
    wfi_vdif_header h;
    assert_true(wfi_vdif_header_decode(&h, bytes, sizeof bytes));
    assert_int_equal(h.epoch, 28);
    assert_int_equal(h.second, 14363767);
    assert_int_equal(h.frame, 0);
    assert_int_equal(h.version, 1);
    assert_int_equal(h.log2_channels, 0);
    assert_int_equal(h.frame_bytes, 5032);
    assert_int_equal(h.bits, 2);
    assert_false(h.is_complex);
    assert_int_equal(h.thread, 1);
    assert_int_equal(h.station, 0xfffc);
    assert_int_equal(h.extended[0] >> 24, 3);
    check_time(&h, "2014-06-16T05:56:07");
}

static unsigned code_at(const uint8_t *bytes, size_t bit)
{
    return (unsigned)bytes[bit / 8] >> (bit % 8) & 3u;
}

static void vdif_payload_of_the_worked_frame(void **state)
{
    (void)state;
    char path[] = "worked_frame.XXXXXX";
    const int fd = mkstemp(path);
    assert_true(fd >= 0);
    uint8_t frame[8032] = {0};
    memcpy(frame, worked_header, sizeof worked_header);
    memcpy(frame + 32, worked_payload, sizeof worked_payload);
    assert_int_equal(write(fd, frame, sizeof frame), sizeof frame);
    close(fd);

    const char *const paths[] = {path};
    const wf_recording_entry entry = {.paths = paths, .n_paths = 1, .sample_rate_hz = 64000000};
    wf_recording *recording = NULL;
    wf_window *window = NULL;
    wf_error err = WF_ERROR_INIT;
    wf_check_ok(wf_recording_open(&recording, &entry, &err), &err);
    unlink(path);
    const wf_recording_info *info = wf_recording_describe(recording);
    /* frame 7 of 4000 a second starts 1.75 ms after the second */
    char text[WF_INSTANT_TEXT_BYTES];
    wf_instant_format(text, wf_instant_add_samples(info->origin, info->first, info->sample_rate_hz),
                      6);
    assert_string_equal(text, "2024-05-02T10:00:01.001750");
    wf_check_ok(wf_window_create(&window, recording, 8, &err), &err);
    wf_check_ok(wf_window_load(window, info->first, 8, &err), &err);
    const wf_packed *packed = wf_window_thread(window, 0);
    for (size_t k = 0; k < 8; k++)
        for (size_t c = 0; c < 2; c++) {
            const size_t sample = (size_t)(info->first - packed->first) + k;
            assert_int_equal(code_at(packed->bytes, 4 * sample + 2 * c), worked_codes[k][c]);
        }
    wf_window_destroy(window);
    wf_recording_close(recording);
}

/* Source: reference epochs by the specification's rule (half years since 2000); dates as modified
 * Julian days by ERFA 2.0 eraCal2jd, TAI - UTC by eraDat (IERS Bulletin C), no leap second after
 * 2017 assumed. */
static const struct {
    const char *date;
    int32_t mjd;
    int tai_minus_utc_s;
} epochs[64] = {
    {"2000-01-01", 51544, 32}, {"2000-07-01", 51726, 32}, {"2001-01-01", 51910, 32},
    {"2001-07-01", 52091, 32}, {"2002-01-01", 52275, 32}, {"2002-07-01", 52456, 32},
    {"2003-01-01", 52640, 32}, {"2003-07-01", 52821, 32}, {"2004-01-01", 53005, 32},
    {"2004-07-01", 53187, 32}, {"2005-01-01", 53371, 32}, {"2005-07-01", 53552, 32},
    {"2006-01-01", 53736, 33}, {"2006-07-01", 53917, 33}, {"2007-01-01", 54101, 33},
    {"2007-07-01", 54282, 33}, {"2008-01-01", 54466, 33}, {"2008-07-01", 54648, 33},
    {"2009-01-01", 54832, 34}, {"2009-07-01", 55013, 34}, {"2010-01-01", 55197, 34},
    {"2010-07-01", 55378, 34}, {"2011-01-01", 55562, 34}, {"2011-07-01", 55743, 34},
    {"2012-01-01", 55927, 34}, {"2012-07-01", 56109, 35}, {"2013-01-01", 56293, 35},
    {"2013-07-01", 56474, 35}, {"2014-01-01", 56658, 35}, {"2014-07-01", 56839, 35},
    {"2015-01-01", 57023, 35}, {"2015-07-01", 57204, 36}, {"2016-01-01", 57388, 36},
    {"2016-07-01", 57570, 36}, {"2017-01-01", 57754, 37}, {"2017-07-01", 57935, 37},
    {"2018-01-01", 58119, 37}, {"2018-07-01", 58300, 37}, {"2019-01-01", 58484, 37},
    {"2019-07-01", 58665, 37}, {"2020-01-01", 58849, 37}, {"2020-07-01", 59031, 37},
    {"2021-01-01", 59215, 37}, {"2021-07-01", 59396, 37}, {"2022-01-01", 59580, 37},
    {"2022-07-01", 59761, 37}, {"2023-01-01", 59945, 37}, {"2023-07-01", 60126, 37},
    {"2024-01-01", 60310, 37}, {"2024-07-01", 60492, 37}, {"2025-01-01", 60676, 37},
    {"2025-07-01", 60857, 37}, {"2026-01-01", 61041, 37}, {"2026-07-01", 61222, 37},
    {"2027-01-01", 61406, 37}, {"2027-07-01", 61587, 37}, {"2028-01-01", 61771, 37},
    {"2028-07-01", 61953, 37}, {"2029-01-01", 62137, 37}, {"2029-07-01", 62318, 37},
    {"2030-01-01", 62502, 37}, {"2030-07-01", 62683, 37}, {"2031-01-01", 62867, 37},
    {"2031-07-01", 63048, 37},
};

static void vdif_reference_epochs(void **state)
{
    (void)state;
    for (uint32_t n = 0; n < 64; n++) {
        const int64_t want_s = (int64_t)(epochs[n].mjd - 51544) * 86400 +
                               epochs[n].tai_minus_utc_s - epochs[0].tai_minus_utc_s;
        const wf_instant t = {wfi_vdif_epoch_second(n), 0.0};
        assert_int_equal(t.second, want_s);
        char text[WF_INSTANT_TEXT_BYTES];
        wf_instant_format(text, t, 0);
        assert_memory_equal(text, epochs[n].date, 10);
        assert_string_equal(text + 10, "T00:00:00");
        assert_int_equal(wf_tai_minus_utc_s(t), epochs[n].tai_minus_utc_s);
        assert_int_equal(wfi_vdif_epoch_of(t), n);
        if (n > 0)
            assert_int_equal(wfi_vdif_epoch_of((wf_instant){t.second - 1, 0.5}), n - 1);
    }
}

/* Seconds are elapsed SI seconds: 184 days after 2016-07-01 came a leap second (Bulletin C 52). */
static void vdif_seconds_count_leap_seconds(void **state)
{
    (void)state;
    wfi_vdif_header h = {.epoch = 33, .second = 184 * 86400 - 1};
    check_time(&h, "2016-12-31T23:59:59");
    h.second++;
    check_time(&h, "2016-12-31T23:59:60");
    h.second++;
    check_time(&h, "2017-01-01T00:00:00");
    assert_int_equal(wfi_vdif_epoch_second(33) + h.second, wfi_vdif_epoch_second(34));
}

/* Source: section 6 of the specification; sizes in common use. */
static void vdif_samples_of_a_frame(void **state)
{
    (void)state;
    static const struct {
        wfi_vdif_header h;
        int64_t samples;
    } cases[] = {
        {{.frame_bytes = 5032, .bits = 2}, 20000},
        {{.frame_bytes = 8032, .bits = 1, .log2_channels = 4}, 4000},
        {{.frame_bytes = 1032, .bits = 8, .is_complex = true}, 500},
        {{.frame_bytes = 8224, .bits = 16}, 4096},
        {{.frame_bytes = 1016, .bits = 8, .legacy = true}, 1000},
        {{.frame_bytes = 5032, .bits = 4, .is_complex = true, .log2_channels = 10}, 4},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++)
        assert_int_equal(wfi_vdif_samples_per_frame(&cases[i].h), cases[i].samples);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(vdif_header_of_the_worked_frame),
        cmocka_unit_test(vdif_header_of_the_worked_frame_encodes_to_its_bytes),
        cmocka_unit_test(vdif_header_of_an_open_recording),
        cmocka_unit_test(vdif_payload_of_the_worked_frame),
        cmocka_unit_test(vdif_reference_epochs),
        cmocka_unit_test(vdif_seconds_count_leap_seconds),
        cmocka_unit_test(vdif_samples_of_a_frame),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
