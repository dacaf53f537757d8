/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/folder.h"

#include "base/memory.h"
#include "observation/hypotheses.h"

/* Three invented stations: Alder records two bands and two polarizations in four real channels,
 * Birch complex samples, which an alias repeats for Birch's second file, Cedar sound. */
static const char JOB[] =
    "campaign: Forest-7\n"
    "stations:\n"
    "  - name: Alder\n"
    "    position_itrf_m: [4215810.25, 883800.5, 4688973.75] # surveyed\n"
    "    mount: equatorial\n"
    "    axis_offset_m: 2.5\n"
    "    clock: {reference: 2026-03-01T11:00:00, ahead_s: 1.25e-6, rate_s_per_s: -2e-12}\n"
    "  - {name: Birch, position_itrf_m: [3244820, 867626, 5404087]}\n"
    "  - {name: Cedar, position_itrf_m: [4755766, 109584, 4235202]}\n"
    "sources:\n"
    "  - {name: Ousel, right_ascension_deg: 180, declination_deg: 45}\n"
    "  - {name: Willowbrook, right_ascension_deg: 170, declination_deg: 45}\n"
    "  - {name: Kingcup, right_ascension_deg: 160, declination_deg: 45}\n"
    "scans:\n"
    "  - {name: S01, source: Ousel, start: 2026-03-01T12:00:00, duration_s: 4}\n"
    "  - {name: S02, source: Willowbrook, start: 2026-03-01T12:00:40, duration_s: 4}\n"
    "bands:\n"
    "  - {name: low, edge_hz: 8400.0e6, bandwidth_hz: 16.0e6, sideband: upper}\n"
    "  - {name: high, edge_hz: 8432.0e6, bandwidth_hz: 16.0e6, sideband: lower}\n"
    "recordings:\n"
    "  - station: Alder\n"
    "    files: [alder.vdif]\n"
    "    format: vdif\n"
    "    sample_rate_hz: 32000000\n"
    "    streams:\n"
    "      - {band: low, polarization: R, channel: 0}   # first\n"
    "      - {band: low, polarization: L, channel: 1}\n"
    "      - {edge_hz: 8432.0e6, sideband: lower, polarization: R, channel: 2}\n"
    "      - {edge_hz: 8432.0e6, sideband: lower, polarization: L, channel: 3}\n"
    "  - station: Birch\n"
    "    files: [birch-1.vdif]\n"
    "    format: vdif\n"
    "    sampling: complex\n"
    "    sample_rate_hz: 32000000\n"
    "    streams: &streams\n"
    "      - {centre_hz: 8416.0e6, sideband: upper, polarization: R}\n"
    "  - station: Birch\n"
    "    files: [birch-2.vdif]\n"
    "    format: vdif\n"
    "    sampling: complex\n"
    "    sample_rate_hz: 32000000\n"
    "    streams: *streams\n"
    "  - station: Cedar\n"
    "    files: [cedar.wav]\n"
    "    format: sound\n"
    "    sampling: complex\n"
    "    sample_rate_hz: 32000000\n"
    "    start: 2026-03-01T11:59:59.5\n"
    "    streams:\n"
    "      - {centre_hz: 8416.0e6, sideband: upper, polarization: R}\n"
    "correlation: {channels: 256, integration_s: 0.5, polarization_products: [RR, LL]}\n"
    "earth_orientation:\n"
    "  days:\n"
    "    - {date: 2026-02-28, pole_x_arcsec: 0.1, pole_y_arcsec: 0.3, ut1_minus_utc_s: 0.05}\n"
    "    - {date: 2026-03-01, pole_x_arcsec: 0.1, pole_y_arcsec: 0.3, ut1_minus_utc_s: 0.05}\n"
    "    - {date: 2026-03-02, pole_x_arcsec: 0.1, pole_y_arcsec: 0.3, ut1_minus_utc_s: 0.05}\n"
    "    - {date: 2026-03-03, pole_x_arcsec: 0.1, pole_y_arcsec: 0.3, ut1_minus_utc_s: 0.05}\n";

enum { ALDER, BIRCH, CEDAR, N_STATIONS };

typedef struct scene {
    wf_job_edit *edit;
    wf_observation *job;
    wfi_hypotheses list;
} scene;

static scene set_scene(const char *text, size_t i_station, const wfi_recorded *recorded)
{
    scene s = {0};
    wf_error err = WF_ERROR_INIT;
    put_file("job.yaml", text);
    wf_check_ok(wf_job_edit_open(&s.edit, "job.yaml", &err), &err);
    wf_check_ok(wf_job_edit_observation(s.edit, &s.job, &err), &err);
    wf_check_ok(wfi_hypotheses_list(&s.list, s.job, s.edit, i_station, 0, recorded, &err), &err);
    return s;
}

static void clear(scene *s)
{
    wfi_hypotheses_release(&s->list);
    wf_observation_destroy(s->job);
    wf_job_edit_destroy(s->edit);
}

static const wfi_hypothesis *find(const scene *s, const char *name, const char *detail)
{
    for (size_t i = 0; i < s->list.n; i++) {
        if (strcmp(s->list.items[i].name, name) == 0 &&
            strcmp(s->list.items[i].detail, detail) == 0)
            return &s->list.items[i];
    }
    return NULL;
}

static wf_observation *edited_by(const scene *s, const wfi_hypothesis *hypothesis)
{
    wf_job_edit *edit = NULL;
    wf_observation *job = NULL;
    wf_error err = WF_ERROR_INIT;
    wf_check_ok(wf_job_edit_copy(&edit, s->edit, &err), &err);
    wf_check_ok(wfi_hypothesis_apply(hypothesis, edit, &err), &err);
    wf_check_ok(wf_job_edit_observation(edit, &job, &err), &err);
    wf_job_edit_destroy(edit);
    return job;
}

static wf_observation *edited(const scene *s, const char *name, const char *detail)
{
    const wfi_hypothesis *hypothesis = find(s, name, detail);
    if (hypothesis == NULL)
        fail_msg("%s (%s) is not among the hypotheses", name, detail);
    return edited_by(s, hypothesis);
}

/* In what two jobs differ. */
enum {
    POLARIZATION = 1 << 0,
    SKY = 1 << 1,
    SLOT = 1 << 2,
    CLOCK = 1 << 3,
    TIMES = 1 << 4,
    EPOCH = 1 << 5,
    CODES = 1 << 6,
    SAMPLING = 1 << 7,
    SOURCE = 1 << 8,
    POSITION = 1 << 9,
    MOUNT = 1 << 10,
    ELSEWHERE = 1 << 11, /* what no hypothesis may touch */
};

static unsigned if_differs(bool differs, unsigned what)
{
    return differs ? what : 0;
}

static bool same_instant(wf_instant a, wf_instant b)
{
    return a.second == b.second && a.fraction == b.fraction;
}

static unsigned compare_stations(const wf_station *a, const wf_station *b)
{
    return if_differs(memcmp(a->position_itrf_m, b->position_itrf_m, sizeof a->position_itrf_m) !=
                          0,
                      POSITION) |
           if_differs(a->mount != b->mount || a->axis_offset_m != b->axis_offset_m, MOUNT) |
           if_differs(a->clock.ahead_s != b->clock.ahead_s ||
                          a->clock.rate_s_per_s != b->clock.rate_s_per_s,
                      CLOCK) |
           if_differs(strcmp(a->name, b->name) != 0, ELSEWHERE);
}

static unsigned compare_streams(const wf_stream *a, const wf_stream *b)
{
    return if_differs(a->polarization != b->polarization, POLARIZATION) |
           if_differs(a->anchor_hz != b->anchor_hz || a->sideband != b->sideband, SKY) |
           if_differs(a->thread != b->thread || a->channel != b->channel, SLOT) |
           if_differs(a->anchor != b->anchor, ELSEWHERE);
}

static unsigned compare_recordings(const wf_recording_entry *a, const wf_recording_entry *b)
{
    unsigned found =
        if_differs(a->time_offset_s != b->time_offset_s || !same_instant(a->start, b->start),
                   TIMES) |
        if_differs(a->has_reference_epoch != b->has_reference_epoch, EPOCH) |
        if_differs(a->payload.bytes != b->payload.bytes ||
                       a->payload.bits_reversed != b->payload.bits_reversed ||
                       a->payload.sign_lowest != b->payload.sign_lowest ||
                       a->payload.codes != b->payload.codes,
                   CODES) |
        if_differs(a->sampling != b->sampling || a->sample_rate_hz != b->sample_rate_hz, SAMPLING) |
        if_differs(a->n_streams != b->n_streams || a->i_station != b->i_station, ELSEWHERE);
    for (size_t k = 0; k < a->n_streams && k < b->n_streams; k++)
        found |= compare_streams(&a->streams[k], &b->streams[k]);
    return found;
}

/* What differs at the station; what differs at others is elsewhere. */
static unsigned compare(const wf_observation *a, const wf_observation *b, size_t i_station)
{
    assert_int_equal(a->n_recordings, b->n_recordings);
    unsigned found = 0;
    for (size_t i = 0; i < a->n_stations; i++) {
        const unsigned here = compare_stations(&a->stations[i], &b->stations[i]);
        found |= i == i_station ? here : if_differs(here != 0, ELSEWHERE);
    }
    for (size_t r = 0; r < a->n_recordings; r++) {
        const unsigned here = compare_recordings(&a->recordings[r], &b->recordings[r]);
        found |= a->recordings[r].i_station == i_station ? here : if_differs(here != 0, ELSEWHERE);
    }
    for (size_t i = 0; i < a->n_scans; i++)
        found |=
            if_differs(a->scans[i].i_source != b->scans[i].i_source, i == 0 ? SOURCE : ELSEWHERE) |
            if_differs(!same_instant(a->scans[i].start, b->scans[i].start), ELSEWHERE);
    return found | if_differs(memcmp(a->bands, b->bands, a->n_bands * sizeof *a->bands) != 0 ||
                                  a->n_sources != b->n_sources,
                              ELSEWHERE);
}

static const struct {
    const char *name;
    unsigned changes;
    wfi_shown_by shown_by;
} KINDS[] = {
    {"polarizations_swapped", POLARIZATION, WFI_SHOWN_BY_PRODUCTS},
    {"feeds_of_the_other_kind", 0, WFI_SHOWN_BY_PRODUCTS},
    {"sideband_inverted", SKY, WFI_SHOWN_BY_CORRELATION},
    {"sideband_beyond_the_edge", SKY, WFI_SHOWN_BY_CORRELATION},
    {"clock_sign", CLOCK, WFI_SHOWN_BY_WINDOW},
    {"one_frame", CLOCK, WFI_SHOWN_BY_WINDOW},
    {"whole_seconds", TIMES, WFI_SHOWN_BY_CORRELATION},
    {"bands_reversed", SLOT, WFI_SHOWN_BY_CORRELATION},
    {"bands_rotated", SLOT, WFI_SHOWN_BY_CORRELATION},
    {"bands_swapped_in_pairs", SLOT, WFI_SHOWN_BY_CORRELATION},
    {"streams_interleaved", SLOT, WFI_SHOWN_BY_CORRELATION},
    {"sky_frequency", SKY, WFI_SHOWN_BY_CORRELATION},
    {"real_or_complex", SAMPLING, WFI_SHOWN_BY_CORRELATION},
    {"sign_and_magnitude_bits", CODES, WFI_SHOWN_BY_CORRELATION},
    {"bit_order", CODES, WFI_SHOWN_BY_CORRELATION},
    {"codes", CODES, WFI_SHOWN_BY_CORRELATION},
    {"byte_order", CODES, WFI_SHOWN_BY_CORRELATION},
    {"reference_epoch", EPOCH, WFI_SHOWN_BY_CORRELATION},
    {"recording_of_other_scan", TIMES, WFI_SHOWN_BY_CORRELATION},
    {"other_source", SOURCE, WFI_SHOWN_BY_CORRELATION},
    {"position_of_other_station", POSITION, WFI_SHOWN_BY_CORRELATION},
    {"position_sign", POSITION, WFI_SHOWN_BY_CORRELATION},
    {"position_x_and_y", POSITION, WFI_SHOWN_BY_CORRELATION},
    {"mount", MOUNT, WFI_SHOWN_BY_WINDOW},
    {"axis_offset_sign", MOUNT, WFI_SHOWN_BY_WINDOW},
};

static void check_hypothesis(const scene *s, const wfi_hypothesis *hypothesis, size_t i_station)
{
    size_t k = 0;
    while (k < sizeof KINDS / sizeof KINDS[0] && strcmp(KINDS[k].name, hypothesis->name) != 0)
        k++;
    if (k == sizeof KINDS / sizeof KINDS[0])
        fail_msg("unexpected: %s", hypothesis->name);
    assert_true(hypothesis->shown_by == KINDS[k].shown_by);
    assert_true(strncmp(hypothesis->sentence, "station ", 8) == 0);
    assert_true(strlen(hypothesis->sentence) < sizeof hypothesis->sentence - 1);
    wf_observation *job = edited_by(s, hypothesis);
    const unsigned found = compare(s->job, job, i_station);
    if (found != KINDS[k].changes)
        fail_msg("%s (%s) changes %x, want %x", hypothesis->name, hypothesis->detail, found,
                 KINDS[k].changes);
    wf_observation_destroy(job);
}

static const wfi_recorded RECORDED[] = {
    {true, true, false, 2, 32000000, 250e-6, 52},
    {true, true, true, 8, 32000000, 125e-6, 51},
    {true, true, true, 8, 32000000, 125e-6, 51},
    {true, false, true, 16, 32000000, 0, -1},
};

static void every_hypothesis_changes_its_own_and_loads(void **state)
{
    (void)state;
    for (size_t i = 0; i < N_STATIONS; i++) {
        for (int known = 0; known < 2; known++) {
            scene s = set_scene(JOB, i, known ? RECORDED : NULL);
            for (size_t k = 0; k < s.list.n; k++)
                check_hypothesis(&s, &s.list.items[k], i);
            clear(&s);
        }
    }
}

static void no_two_ask_for_the_same(void **state)
{
    (void)state;
    for (size_t i = 0; i < N_STATIONS; i++) {
        scene s = set_scene(JOB, i, RECORDED);
        for (size_t a = 0; a < s.list.n; a++) {
            for (size_t b = 0; b < a; b++) {
                assert_false(strcmp(s.list.items[a].name, s.list.items[b].name) == 0 &&
                             strcmp(s.list.items[a].detail, s.list.items[b].detail) == 0);
                assert_false(strcmp(s.list.items[a].sentence, s.list.items[b].sentence) == 0);
            }
        }
        clear(&s);
    }
}

static void every_kind_is_among_them(void **state)
{
    (void)state;
    bool is_there[sizeof KINDS / sizeof KINDS[0]] = {false};
    for (size_t i = 0; i < N_STATIONS; i++) {
        scene s = set_scene(JOB, i, RECORDED);
        for (size_t k = 0; k < sizeof KINDS / sizeof KINDS[0]; k++) {
            for (size_t h = 0; h < s.list.n; h++)
                is_there[k] = is_there[k] || strcmp(s.list.items[h].name, KINDS[k].name) == 0;
        }
        clear(&s);
    }
    for (size_t k = 0; k < sizeof KINDS / sizeof KINDS[0]; k++) {
        const bool by_others = strcmp(KINDS[k].name, "sideband_beyond_the_edge") == 0 ||
                               strcmp(KINDS[k].name, "bands_rotated") == 0 ||
                               strcmp(KINDS[k].name, "bands_swapped_in_pairs") == 0;
        if (is_there[k] == by_others) /* of two bands all orders are one; edges leave no band */
            fail_msg("%s: %s", KINDS[k].name, by_others ? "unexpected" : "missing");
    }
}

static void check_stream(const wf_observation *job, size_t r, size_t k, double anchor_hz,
                         wf_sideband sideband)
{
    const wf_stream *stream = &job->recordings[r].streams[k];
    assert_true(stream->anchor_hz == anchor_hz);
    assert_int_equal(stream->sideband, sideband);
}

/* Closed form: an upper sideband of W from E on holds what a lower one holds from E + W on down. */
static void inverted_sidebands_hold_the_same_sky(void **state)
{
    (void)state;
    scene s = set_scene(JOB, ALDER, NULL);
    wf_observation *job = edited(&s, "sideband_inverted", "");
    check_stream(job, 0, 0, 8416e6, WF_SIDEBAND_LOWER);
    check_stream(job, 0, 1, 8416e6, WF_SIDEBAND_LOWER);
    check_stream(job, 0, 2, 8416e6, WF_SIDEBAND_UPPER);
    check_stream(job, 0, 3, 8416e6, WF_SIDEBAND_UPPER);
    wf_observation_destroy(job);
    clear(&s);
    s = set_scene(JOB, BIRCH, NULL);
    job = edited(&s, "sideband_inverted", "");
    check_stream(job, 1, 0, 8416e6, WF_SIDEBAND_LOWER);
    check_stream(job, 2, 0, 8416e6, WF_SIDEBAND_LOWER);
    wf_observation_destroy(job);
    clear(&s);
}

static char *with(const char *find, const char *replacement)
{
    const char *at = strstr(JOB, find);
    assert_non_null(at);
    char *text = malloc(sizeof JOB + strlen(replacement));
    assert_non_null(text);
    sprintf(text, "%.*s%s%s", (int)(at - JOB), JOB, replacement, at + strlen(find));
    return text;
}

/* 8400 MHz up, or down into nothing that the job correlates. */
static void other_side_of_an_edge_must_reach_a_band(void **state)
{
    (void)state;
    char *text = with("{edge_hz: 8432.0e6, sideband: lower, polarization: R",
                      "{edge_hz: 8416.0e6, sideband: upper, polarization: R");
    scene s = set_scene(text, ALDER, NULL);
    wf_observation *job = edited(&s, "sideband_beyond_the_edge", "");
    check_stream(job, 0, 0, 8400e6, WF_SIDEBAND_LOWER);
    check_stream(job, 0, 2, 8416e6, WF_SIDEBAND_LOWER);
    wf_observation_destroy(job);
    clear(&s);
    free(text);
    s = set_scene(JOB, ALDER, NULL);
    assert_null(find(&s, "sideband_beyond_the_edge", ""));
    clear(&s);
}

static void frequencies_move_together(void **state)
{
    (void)state;
    static const struct {
        const char *detail;
        double shift_hz;
    } cases[] = {{"+1 channel", 62500}, {"-1 channel", -62500}, {"+1 band width", 16e6},
                 {"+1 MHz", 1e6},       {"-5 MHz", -5e6},       {"+10 MHz", 10e6}};
    scene s = set_scene(JOB, ALDER, NULL);
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        wf_observation *job = edited(&s, "sky_frequency", cases[i].detail);
        check_stream(job, 0, 0, 8400e6 + cases[i].shift_hz, WF_SIDEBAND_UPPER);
        check_stream(job, 0, 3, 8432e6 + cases[i].shift_hz, WF_SIDEBAND_LOWER);
        wf_observation_destroy(job);
    }
    clear(&s);
}

static void check_channels(const wf_observation *job, const unsigned want[4])
{
    for (size_t k = 0; k < 4; k++)
        assert_int_equal(job->recordings[0].streams[k].channel, want[k]);
}

static void bands_change_places(void **state)
{
    (void)state;
    scene s = set_scene(JOB, ALDER, NULL);
    wf_observation *job = edited(&s, "bands_reversed", "");
    check_channels(job, (const unsigned[]){2, 3, 0, 1});
    wf_observation_destroy(job);
    job = edited(&s, "streams_interleaved", "in turns"); /* low R, high R, low L, high L before */
    check_channels(job, (const unsigned[]){0, 2, 1, 3});
    wf_observation_destroy(job);
    assert_null(find(&s, "streams_interleaved", "in halves")); /* of four the same */
    clear(&s);
}

static void more_bands_have_more_orders(void **state)
{
    (void)state;
    char *text = with("      - {edge_hz: 8432.0e6, sideband: lower, polarization: R, channel: 2}\n",
                      "      - {edge_hz: 8416.0e6, sideband: upper, polarization: R, channel: 2}\n"
                      "      - {edge_hz: 8412.0e6, sideband: upper, polarization: R, channel: 5}\n"
                      "      - {edge_hz: 8408.0e6, sideband: upper, polarization: R, thread: 1}\n");
    static const struct {
        const char *name;
        const char *detail;
        unsigned slots[4][2]; /* of the R streams: thread, channel */
    } cases[] = {
        {"bands_reversed", "", {{1, 0}, {0, 5}, {0, 2}, {0, 0}}},
        {"bands_rotated", "up", {{0, 2}, {0, 5}, {1, 0}, {0, 0}}},
        {"bands_rotated", "down", {{1, 0}, {0, 0}, {0, 2}, {0, 5}}},
        {"bands_swapped_in_pairs", "", {{0, 2}, {0, 0}, {1, 0}, {0, 5}}},
    };
    static const size_t streams[] = {0, 2, 3, 4};
    scene s = set_scene(text, ALDER, NULL);
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        wf_observation *job = edited(&s, cases[i].name, cases[i].detail);
        for (size_t k = 0; k < 4; k++) {
            const wf_stream *stream = &job->recordings[0].streams[streams[k]];
            assert_int_equal(stream->thread, cases[i].slots[k][0]);
            assert_int_equal(stream->channel, cases[i].slots[k][1]);
        }
        wf_observation_destroy(job);
    }
    clear(&s);
    free(text);
}

static void times_move_by_seconds_and_frames(void **state)
{
    (void)state;
    scene s = set_scene(JOB, ALDER, RECORDED);
    wf_observation *job = edited(&s, "whole_seconds", "-10 s");
    assert_int_equal(job->recordings[0].time_offset_s, -10);
    wf_observation_destroy(job);
    job = edited(&s, "one_frame", "late");
    assert_true(job->stations[ALDER].clock.ahead_s == 1.25e-6 + 250e-6);
    wf_observation_destroy(job);
    job = edited(&s, "recording_of_other_scan", "S02"); /* 40 s later than S01 */
    assert_int_equal(job->recordings[0].time_offset_s, -40);
    wf_observation_destroy(job);
    job = edited(&s, "reference_epoch", "51"); /* March 2026 is in half year 52 */
    assert_int_equal(job->recordings[0].reference_epoch, 51);
    wf_observation_destroy(job);
    assert_null(find(&s, "reference_epoch", "52"));
    clear(&s);
    s = set_scene(JOB, CEDAR, RECORDED);
    job = edited(&s, "whole_seconds", "+3 s");
    wf_check_near("start", wf_instant_difference_s(job->recordings[3].start, s.job->scans[0].start),
                  2.5, 0, "s");
    wf_observation_destroy(job);
    clear(&s);
    s = set_scene(JOB, BIRCH, RECORDED);
    job = edited(&s, "one_frame", "early"); /* there was no clock */
    assert_true(job->stations[BIRCH].clock.ahead_s == -125e-6);
    wf_observation_destroy(job);
    clear(&s);
}

static void clocks_and_places_turn_over(void **state)
{
    (void)state;
    scene s = set_scene(JOB, ALDER, NULL);
    wf_observation *job = edited(&s, "clock_sign", "offset");
    assert_true(job->stations[ALDER].clock.ahead_s == -1.25e-6);
    assert_true(job->stations[ALDER].clock.rate_s_per_s == -2e-12);
    wf_observation_destroy(job);
    job = edited(&s, "clock_sign", "offset and rate");
    assert_true(job->stations[ALDER].clock.ahead_s == -1.25e-6);
    assert_true(job->stations[ALDER].clock.rate_s_per_s == 2e-12);
    wf_observation_destroy(job);
    job = edited(&s, "position_of_other_station", "Cedar");
    assert_memory_equal(job->stations[ALDER].position_itrf_m, job->stations[CEDAR].position_itrf_m,
                        3 * sizeof(double));
    wf_observation_destroy(job);
    job = edited(&s, "position_sign", "y");
    assert_true(job->stations[ALDER].position_itrf_m[1] == -883800.5);
    wf_observation_destroy(job);
    job = edited(&s, "mount", "xy_north");
    assert_int_equal(job->stations[ALDER].mount, WF_MOUNT_XY_NORTH);
    wf_observation_destroy(job);
    job = edited(&s, "other_source", "Kingcup");
    assert_int_equal(job->scans[0].i_source, 2);
    wf_observation_destroy(job);
    clear(&s);
}

static void codes_follow_what_the_files_hold(void **state)
{
    (void)state;
    scene s = set_scene(JOB, ALDER, RECORDED);
    wf_observation *job = edited(&s, "real_or_complex", "");
    assert_int_equal(job->recordings[0].sampling, WF_SAMPLING_COMPLEX);
    assert_int_equal(job->recordings[0].sample_rate_hz, 16000000);
    wf_observation_destroy(job);
    job = edited(&s, "byte_order", "in 64 bits");
    assert_int_equal(job->recordings[0].payload.bytes, WF_BYTES_SWAPPED_IN_64);
    wf_observation_destroy(job);
    assert_non_null(find(&s, "sign_and_magnitude_bits", ""));
    clear(&s);
    s = set_scene(JOB, BIRCH, RECORDED); /* 8 bits */
    assert_null(find(&s, "sign_and_magnitude_bits", ""));
    job = edited(&s, "real_or_complex", "");
    assert_int_equal(job->recordings[2].sampling, WF_SAMPLING_REAL);
    assert_int_equal(job->recordings[2].sample_rate_hz, 64000000);
    wf_observation_destroy(job);
    clear(&s);
    s = set_scene(JOB, CEDAR, RECORDED);
    assert_null(find(&s, "bit_order", ""));
    assert_null(find(&s, "real_or_complex", ""));
    clear(&s);
}

static void comments_outlive_a_hypothesis(void **state)
{
    (void)state;
    scene s = set_scene(JOB, ALDER, NULL);
    wf_error err = WF_ERROR_INIT;
    wf_check_ok(wfi_hypothesis_apply(find(&s, "sideband_inverted", ""), s.edit, &err), &err);
    wf_check_ok(wfi_hypothesis_apply(find(&s, "position_sign", "y"), s.edit, &err), &err);
    const char *text = wf_job_edit_text(s.edit, NULL);
    assert_non_null(strstr(text,
                           "      - {polarization: R, channel: 0, edge_hz: 8.416e9, sideband: "
                           "lower}   # first\n"));
    assert_non_null(
        strstr(text, "position_itrf_m: [4215810.25, -883800.5, 4688973.75] # surveyed\n"));
    clear(&s);
}

static void places_that_are_not_there_are_refused(void **state)
{
    (void)state;
    scene s = set_scene(JOB, ALDER, NULL);
    wf_error err = WF_ERROR_INIT;
    wfi_hypotheses list = {0};
    wf_check_refused(wfi_hypotheses_list(&list, s.job, s.edit, N_STATIONS, 0, NULL, &err),
                     WF_ARGUMENT, &err, "no station 3");
    clear(&s);
}

static void every_allocation_may_fail(void **state)
{
    (void)state;
    scene s = set_scene(JOB, ALDER, NULL);
    wf_status status = WF_MEMORY;
    for (long n = 1; status == WF_MEMORY; n++) {
        wf_error err = WF_ERROR_INIT;
        wfi_hypotheses list = {0};
        wfi_memory_fail_after(n);
        status = wfi_hypotheses_list(&list, s.job, s.edit, ALDER, 0, NULL, &err);
        wfi_memory_fail_after(0);
        assert_true(status == WF_OK || err.message[0] != '\0');
        wfi_hypotheses_release(&list);
    }
    assert_int_equal(status, WF_OK);
    clear(&s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST_IN_FOLDER(every_hypothesis_changes_its_own_and_loads),
        TEST_IN_FOLDER(no_two_ask_for_the_same),
        TEST_IN_FOLDER(every_kind_is_among_them),
        TEST_IN_FOLDER(inverted_sidebands_hold_the_same_sky),
        TEST_IN_FOLDER(other_side_of_an_edge_must_reach_a_band),
        TEST_IN_FOLDER(frequencies_move_together),
        TEST_IN_FOLDER(bands_change_places),
        TEST_IN_FOLDER(more_bands_have_more_orders),
        TEST_IN_FOLDER(times_move_by_seconds_and_frames),
        TEST_IN_FOLDER(clocks_and_places_turn_over),
        TEST_IN_FOLDER(codes_follow_what_the_files_hold),
        TEST_IN_FOLDER(comments_outlive_a_hypothesis),
        TEST_IN_FOLDER(places_that_are_not_there_are_refused),
        TEST_IN_FOLDER(every_allocation_may_fail),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
