/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/folder.h"

#include <signal.h>
#include <sys/resource.h>
#include <whitefringe/time.h>

#include "simulate/vdif_writer.h"

/* Source: VDIF Specification 1.1.1, figure 3. 2024-05-02T10:00:01 UTC is 122 * 86400 + 36001 =
 * 0x00a163a1 s after 2024-01-01, the start of period 48. A frame of two real channels of two bits
 * with 8000 bytes of samples, thread 3, frame 7, station "Al". */
static const uint8_t HEADER[32] = {0xa1, 0x63, 0xa1, 0x00, 0x07, 0x00, 0x00, 0x30,
                                   0xec, 0x03, 0x00, 0x01, 0x6c, 0x41, 0x03, 0x04};
static const wfi_vdif_layout LAYOUT = {
    .bits = 2, .n_channels = 2, .payload_bytes = 8000, .station = 'A' << 8 | 'l'};

static int64_t second_of(const char *text)
{
    wf_error err = WF_ERROR_INIT;
    wf_instant t;
    wf_check_ok(wf_instant_parse(&t, text, &err), &err);
    return t.second;
}

static wfi_vdif_writer *create(const wfi_vdif_layout *layout, const char *first)
{
    wf_error err = WF_ERROR_INIT;
    wfi_vdif_writer *writer = NULL;
    wf_check_ok(wfi_vdif_writer_create(&writer, "a.vdif", layout, second_of(first), &err), &err);
    return writer;
}

static void append(wfi_vdif_writer *writer, const char *second, int64_t frame, uint32_t thread,
                   const uint8_t *payload)
{
    wf_error err = WF_ERROR_INIT;
    wf_check_ok(wfi_vdif_writer_append(writer, second_of(second), frame, thread, payload, &err),
                &err);
}

static void finish(wfi_vdif_writer *writer)
{
    wf_error err = WF_ERROR_INIT;
    wf_check_ok(wfi_vdif_writer_finish(writer, &err), &err);
    wfi_vdif_writer_destroy(writer);
}

static void frames_are_what_the_standard_says(void **state)
{
    (void)state;
    uint8_t payload[8000];
    for (size_t i = 0; i < sizeof payload; i++)
        payload[i] = (uint8_t)(i * 7);
    wfi_vdif_writer *const writer = create(&LAYOUT, "2024-05-02T09:59:59");
    append(writer, "2024-05-02T09:59:59", 0, 0, payload);
    append(writer, "2024-05-02T10:00:01", 7, 3, payload);
    assert_int_equal(access("a.vdif", F_OK), -1);
    finish(writer);
    size_t n;
    unsigned char *const bytes = whole_file("a.vdif", &n);
    assert_int_equal(n, 2 * 8032);
    assert_memory_equal(bytes + 8032, HEADER, 32);
    assert_memory_equal(bytes + 8064, payload, 8000);
    free(bytes);
}

/* Word 0 has bit 30 for a header of 16 bytes; word 2 a length of 8016/8 = 0x3ea; word 3 bit 31 for
 * complex samples. */
static void legacy_headers_are_half_as_long(void **state)
{
    (void)state;
    wfi_vdif_layout layout = LAYOUT;
    layout.legacy_header = true;
    layout.is_complex = true;
    uint8_t payload[8000] = {0};
    wfi_vdif_writer *const writer = create(&layout, "2024-05-02T10:00:01");
    append(writer, "2024-05-02T10:00:01", 7, 3, payload);
    finish(writer);
    size_t n;
    unsigned char *const bytes = whole_file("a.vdif", &n);
    assert_int_equal(n, 8016);
    const uint8_t want[16] = {0xa1, 0x63, 0xa1, 0x40, 0x07, 0x00, 0x00, 0x30,
                              0xea, 0x03, 0x00, 0x01, 0x6c, 0x41, 0x03, 0x84};
    assert_memory_equal(bytes, want, 16);
    free(bytes);
}

/* An epoch is kept over a leap second: 2016-12-31T23:59:60 is second 184 * 86400 of period 33,
 * begun 2016-07-01, and the next one follows it. */
static void seconds_count_leap_seconds(void **state)
{
    (void)state;
    uint8_t payload[8000] = {0};
    wfi_vdif_writer *const writer = create(&LAYOUT, "2016-12-31T23:59:59");
    append(writer, "2016-12-31T23:59:60", 0, 0, payload);
    append(writer, "2017-01-01T00:00:00", 0, 0, payload);
    finish(writer);
    size_t n;
    unsigned char *const bytes = whole_file("a.vdif", &n);
    for (uint32_t i = 0; i < 2; i++) {
        const unsigned char *const b = bytes + 8032 * i;
        assert_int_equal(b[0] | b[1] << 8 | b[2] << 16 | b[3] << 24, 184 * 86400 + (int)i);
        assert_int_equal(b[7], 33);
    }
    free(bytes);
}

static void what_is_not_finished_leaves_nothing(void **state)
{
    (void)state;
    uint8_t payload[8000] = {0};
    wfi_vdif_writer *const writer = create(&LAYOUT, "2024-05-02T10:00:01");
    append(writer, "2024-05-02T10:00:01", 7, 3, payload);
    wfi_vdif_writer_destroy(writer);
    wfi_vdif_writer_destroy(NULL);
    assert_int_equal(n_entries("."), 0);
}

static void a_full_disk_is_told(void **state)
{
    (void)state;
    const struct rlimit little = {20000, RLIM_INFINITY};
    struct rlimit before;
    assert_int_equal(getrlimit(RLIMIT_FSIZE, &before), 0);
    signal(SIGXFSZ, SIG_IGN);
    assert_int_equal(setrlimit(RLIMIT_FSIZE, &little), 0);
    uint8_t payload[8000] = {0};
    wf_error err = WF_ERROR_INIT;
    wfi_vdif_writer *const writer = create(&LAYOUT, "2024-05-02T10:00:01");
    wf_status status = WF_OK;
    for (int i = 0; i < 4 && status == WF_OK; i++)
        status =
            wfi_vdif_writer_append(writer, second_of("2024-05-02T10:00:01"), i, 3, payload, &err);
    if (status == WF_OK)
        status = wfi_vdif_writer_finish(writer, &err);
    wfi_vdif_writer_destroy(writer);
    assert_int_equal(setrlimit(RLIMIT_FSIZE, &before), 0);
    wf_check_refused(status, WF_IO, &err, "a.vdif: could not be written: File too large");
    assert_int_equal(n_entries("."), 0);
}

static void a_folder_that_is_not_there_is_told(void **state)
{
    (void)state;
    wf_error err = WF_ERROR_INIT;
    wfi_vdif_writer *writer = NULL;
    wf_check_refused(wfi_vdif_writer_create(&writer, "none/a.vdif", &LAYOUT, 0, &err), WF_MISSING,
                     &err, "none/a.vdif");
    assert_null(writer);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST_IN_FOLDER(frames_are_what_the_standard_says),
        TEST_IN_FOLDER(legacy_headers_are_half_as_long),
        TEST_IN_FOLDER(seconds_count_leap_seconds),
        TEST_IN_FOLDER(what_is_not_finished_leaves_nothing),
        TEST_IN_FOLDER(a_full_disk_is_told),
        TEST_IN_FOLDER(a_folder_that_is_not_there_is_told),
    };
    return cmocka_run_group_tests_name("simulate.vdif_writer", tests, NULL, NULL);
}
