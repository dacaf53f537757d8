/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Every refusal of a job: its line, its key, what was expected and found, what to do. */
#include "job_text.h"

typedef struct fault {
    const char *find; /* of the valid job */
    const char *replacement;
    const char *message; /* behind "folder/job.yaml:" */
} fault;

static void check_faults(const fault *faults, size_t n)
{
    for (size_t i = 0; i < n; i++) {
        char *text = edited_job(faults[i].find, faults[i].replacement);
        wf_error err = WF_ERROR_INIT;
        wf_observation *job = NULL;
        const wf_status status = load_text(&job, text, strlen(text), &err);
        free(text);
        if (status != WF_FORMAT || job != NULL)
            fail_msg("\"%s\": status %d: %s", faults[i].replacement, status, err.message);
        if (strncmp(err.message, "folder/job.yaml:", 16) != 0 ||
            strcmp(err.message + 16, faults[i].message) != 0)
            fail_msg("got  %s\nwant folder/job.yaml:%s", err.message, faults[i].message);
    }
}

#define CHECK_FAULTS(faults) check_faults(faults, sizeof(faults) / sizeof(faults)[0])

static void job_refuses_keys_that_are_not_its_own(void **state)
{
    (void)state;
    static const fault faults[] = {
        {"bandwidth_hz: 16e6", "bandwidth_mhz: 16",
         "35: bands[1]: unknown key \"bandwidth_mhz\"; did you mean bandwidth_hz?"},
        {"rate_s_per_s: -2e-12", "colour: green",
         "10: stations[0].clock: unknown key \"colour\"; known here: reference, ahead_s, "
         "rate_s_per_s"},
        {"thread: 1}", "tread: 1}",
         "45: recordings[0].streams[2]: unknown key \"tread\"; did you mean thread?"},
        {"correlation:", "corelation:",
         "53: unknown key \"corelation\"; did you mean correlation?"},
        {"  integration_s: 0.5\n", "  integration_s: 0.5\n  integration_s: 0.25\n",
         "56: correlation: the key integration_s was given in line 55 already; keep one of them"},
        {"    sideband: lower\n", "",
         "33: bands[1]: the key sideband is missing; needed here: name, edge_hz, bandwidth_hz, "
         "sideband"},
        {"campaign: Forest-7\n", "",
         "1: the key campaign is missing; needed here: campaign, stations, sources, scans, bands, "
         "correlation, recordings"},
    };
    CHECK_FAULTS(faults);
}

static void job_refuses_values_of_another_kind(void **state)
{
    (void)state;
    static const fault faults[] = {
        {"stations: [Birch]", "stations: Birch",
         "26: scans[0].stations: expected a list such as [a, b], found a single value"},
        {"clock:\n      reference: 2026-03-01T11:00:00\n      ahead_s: -3e-6\n", "clock: -3e-6\n",
         "13: stations[1].clock: expected a group of keys, each as \"key: value\", found a single "
         "value"},
        {"campaign: Forest-7", "campaign: [Forest, 7]",
         "1: campaign: expected a single value, found a list"},
        {"channels: 256", "channels:",
         "54: correlation.channels: no value; write one, or remove "
         "the key"},
        {"[3244820, 867626, 5404087]", "[3244820, 867626]",
         "12: stations[1].position_itrf_m: expected 3 values, found 2"},
        {"[RR, LL]", "[]",
         "56: correlation.polarization_products: expected at least 1 entry, found 0"},
        {"files: [alder.wav]", "files:\n    - [alder.wav]",
         "48: recordings[1].files[0]: expected a single value, found a list"},
    };
    CHECK_FAULTS(faults);
}

static void job_refuses_names_that_fits_cannot_hold(void **state)
{
    (void)state;
    static const fault faults[] = {
        {"- name: Birch", "- name: Birchwood",
         "11: stations[1].name: expected a name of at most 8 characters, found \"Birchwood\" of 9; "
         "shorten it"},
        {"- name: Birch", "- name: Alder",
         "11: stations[1].name: \"Alder\" is the name of stations[0] already; names must differ"},
        {"- name: Birch", "- name: \"Bir'ch\"",
         "11: stations[1].name: expected a name of printable ASCII characters without quotes, "
         "found "
         "\"Bir'ch\"; byte 4 is not one"},
        {"- name: Birch", "- name: \"B\\erch\"",
         "11: stations[1].name: expected a name of printable ASCII characters without quotes, "
         "found "
         "\"B?rch\"; byte 2 is not one"},
        {"- name: Birch", "- name: \" Birch\"",
         "11: stations[1].name: expected a name, found \" Birch\"; take the blanks at its ends "
         "away"},
        {"name: Willowbrook", "name: Willowbrook-upper",
         "20: sources[1].name: expected a name of at most 16 characters, found "
         "\"Willowbrook-upper\" of 17; shorten it"},
        {"- name: S01", "- name: S02",
         "27: scans[1].name: \"S02\" is the name of scans[0] already; names must differ"},
        {"- name: high", "- name: low",
         "33: bands[1].name: \"low\" is the name of bands[0] already; names must differ"},
    };
    CHECK_FAULTS(faults);
}

static void job_refuses_names_that_are_nowhere(void **state)
{
    (void)state;
    static const fault faults[] = {
        {"source: Ousel", "source: Owsel",
         "28: scans[1].source: \"Owsel\" is not among the sources; did you mean Ousel?"},
        {"source: Ousel", "source: Kingfisher",
         "28: scans[1].source: \"Kingfisher\" is not among the sources, which are: Ousel, "
         "Willowbrook"},
        {"[Birch]", "[Brich]",
         "26: scans[0].stations[0]: \"Brich\" is not among the stations; did you mean Birch?"},
        {"[Birch]", "[Birch, Birch]",
         "26: scans[0].stations[1]: Birch is listed already; keep one of them"},
        {"- station: Alder", "- station: Adler",
         "46: recordings[1].station: \"Adler\" is not among the stations; did you mean Alder?"},
        {"{band: high,", "{band: hihg,",
         "44: recordings[0].streams[1].band: \"hihg\" is not among the bands; did you mean high?"},
    };
    CHECK_FAULTS(faults);
}

static void job_refuses_numbers_that_cannot_be(void **state)
{
    (void)state;
    static const fault faults[] = {
        {"bandwidth_hz: 16e6", "bandwidth_hz: -16e6",
         "35: bands[1].bandwidth_hz: expected a width in Hz above 0, found -16e6; write the width "
         "positive and turn the band with sideband: lower"},
        {"bandwidth_hz: 16e6", "bandwidth_hz: 16 MHz",
         "35: bands[1].bandwidth_hz: expected a width in Hz above 0, found \"16 MHz\"; write the "
         "number alone: its unit stands in the key"},
        {"bandwidth_hz: 16e6", "bandwidth_hz: \"16,0e6\"",
         "35: bands[1].bandwidth_hz: expected a width in Hz above 0, found \"16,0e6\"; write a "
         "point before the decimals, and no signs between the thousands"},
        {"bandwidth_hz: 16e6", "bandwidth_hz: wide",
         "35: bands[1].bandwidth_hz: expected a width in Hz above 0, found \"wide\"; write a "
         "number "
         "such as 16.0e6"},
        {"bandwidth_hz: 16e6", "bandwidth_hz: .nan",
         "35: bands[1].bandwidth_hz: expected a width in Hz above 0, found \".nan\"; write a "
         "number "
         "such as 16.0e6"},
        {"duration_s: 4.0", "duration_s: 0",
         "30: scans[1].duration_s: expected a duration in s above 0, of at most 10 days, found 0"},
        {"channels: 256", "channels: 2.5",
         "54: correlation.channels: expected a number of channels from 1 to 16777216, a whole "
         "number, found 2.5"},
        {"channels: 256", "channels: 0",
         "54: correlation.channels: expected a number of channels from 1 to 16777216, found 0"},
        {"thread: 3", "thread: 1024",
         "44: recordings[0].streams[1].thread: expected a thread ID from 0 to 1023, found 1024"},
        {"rotation_loss_limit: 1.0e-3", "rotation_loss_limit: 1",
         "58: correlation.rotation_loss_limit: expected a fraction above 0 and at most 0.5, found "
         "1"},
        {"clock: no", "clock: never",
         "60: delay_terms.clock: expected true or false, found \"never\""},
        {"sideband: lower", "sideband: lowr",
         "36: bands[1].sideband: expected one of upper, lower, found \"lowr\"; did you mean "
         "lower?"},
        {"mount: xy_east", "mount: dish",
         "7: stations[0].mount: expected one of altaz, equatorial, xy_north, xy_east, "
         "nasmyth_right, nasmyth_left, found \"dish\""},
        {"start: 2026-03-01T12:00:10", "start: 2026-02-30T12:00:10",
         "24: scans[0].start: \"2026-02-30T12:00:10\" is no time: expected UTC such as "
         "2026-03-01T12:00:00.25"},
        {"reference: 2026-03-01T11:00:00\n", "reference: yesterday\n",
         "14: stations[1].clock.reference: \"yesterday\" is no time: expected UTC such as "
         "2026-03-01T12:00:00.25"},
    };
    CHECK_FAULTS(faults);
}

static void job_recognises_wrong_units(void **state)
{
    (void)state;
    static const fault faults[] = {
        {"[3244820, 867626, 5404087]", "[3244, 867, 5404]",
         "12: stations[1].position_itrf_m: expected a place 6.30e6 to 6.40e6 m from the geocentre, "
         "found 6362 m; the numbers look like km: multiply them by 1000"},
        {"[3244820, 867626, 5404087]", "[58.3, 15.0, 155]",
         "12: stations[1].position_itrf_m: expected a place 6.30e6 to 6.40e6 m from the geocentre, "
         "found 166.3 m; the numbers look like latitude, longitude and height: convert them to "
         "geocentric x, y, z"},
        {"[3244820, 867626, 5404087]", "[3244000, 867000, 540400]",
         "12: stations[1].position_itrf_m: expected a place 6.30e6 to 6.40e6 m from the geocentre, "
         "found 3.401e+06 m; check every number and its digits: x, y, z in m from the geocentre"},
        {"[-0.0142, 0.0171, 0.0106]", "[-14.2, 17.1, 10.6]",
         "6: stations[0].velocity_itrf_m_per_year[0]: expected a velocity in m per year, within "
         "+-1, found -14.2; plates move less than 0.2 m a year: divide by 1000 what is in mm"},
        {"rate_s_per_s: -2e-12", "rate_s_per_s: -2",
         "10: stations[0].clock.rate_s_per_s: expected a clock rate in s per s, within +-1e-3, "
         "found -2; divide by 1e6 what is in us per s"},
        {"edge_hz: 8448000000", "edge_hz: 8448",
         "34: bands[1].edge_hz: a lower sideband 16e6 Hz wide below 8448 Hz reaches below 0; is "
         "the "
         "edge in MHz or GHz? the unit is Hz"},
        {"sample_rate_hz: 32000000", "sample_rate_hz: 32",
         "41: recordings[0].sample_rate_hz: expected a sample rate in Hz of at least 1000, found "
         "32; the unit is Hz: multiply by 1e6 what is in MHz"},
        {"pole_x_arcsec: 0.102", "pole_x_arcsec: 102",
         "65: earth_orientation.days[2].pole_x_arcsec: expected an angle in arcsec, within +-2, "
         "found 102; divide by 1000 what is in mas"},
        {"channels: 256", "channel_width_hz: 0.0625",
         "54: correlation.channel_width_hz: found 0.0625: more than 16777216 channels in 16000000 "
         "Hz; is the width in kHz or MHz? the unit is Hz"},
    };
    CHECK_FAULTS(faults);
}

static void job_recognises_a_bandwidth_in_megahertz(void **state)
{
    (void)state;
    static const char tail[] =
        "  - {name: low, edge_hz: 8400e6, bandwidth_hz: 16, sideband: upper}\nrecordings:\n";
    const char *bands = strstr(JOB, "  - {name: low");
    const char *after = strstr(JOB, "  - station: Birch");
    char text[sizeof JOB + sizeof tail];
    snprintf(text, sizeof text, "%.*s%s%s", (int)(bands - JOB), JOB, tail, after);
    memcpy(strstr(text, "{band: high"), "{band: low ", 11);
    wf_error err = WF_ERROR_INIT;
    wf_observation *job = NULL;
    wf_check_refused(
        load_text(&job, text, strlen(text), &err), WF_FORMAT, &err,
        "folder/job.yaml:32: bands[0].bandwidth_hz: found 16, a millionth of the width "
        "that is recorded; did you mean 16e6? the unit is Hz");
}

static void job_refuses_angles_outside_the_sphere(void **state)
{
    (void)state;
    static const fault faults[] = {
        {"right_ascension_hms: \"12:34:56.789012\"", "right_ascension_hms: \"24:00:00\"",
         "18: sources[0].right_ascension_hms: expected hours, minutes and seconds from 00:00:00 to "
         "below 24:00:00 such as 12:34:56.789, found \"24:00:00\"; degrees go into "
         "right_ascension_deg"},
        {"right_ascension_deg: 180.0", "right_ascension_deg: 360",
         "20: sources[1].right_ascension_deg: expected an angle in degrees from 0 to below 360, "
         "found 360; bring it into the circle"},
        {"declination_dms: \"-00:30:15.1\"", "declination_dms: \"-90:00:00.1\"",
         "19: sources[0].declination_dms: expected degrees, minutes and seconds within +-90:00:00 "
         "such as -12:34:56.78, found \"-90:00:00.1\"; a decimal number goes into "
         "declination_deg"},
        {"declination_deg: 45", "declination_deg: 95",
         "20: sources[1].declination_deg: expected an angle in degrees within +-90, found 95"},
        {"    declination_dms: \"-00:30:15.1\"\n", "",
         "17: sources[0]: a source needs declination_dms or declination_deg; add one"},
        {"    declination_dms: \"-00:30:15.1\"\n",
         "    declination_dms: \"-00:30:15.1\"\n    declination_deg: -0.5\n",
         "20: sources[0].declination_deg: declination_dms is given too; keep one of them"},
    };
    CHECK_FAULTS(faults);
}

static void job_refuses_stations_and_scans_that_contradict(void **state)
{
    (void)state;
    static const fault faults[] = {
        {"    position_epoch_year: 2020.5\n", "",
         "5: stations[0].velocity_itrf_m_per_year: a velocity needs the year that the position is "
         "of; add position_epoch_year"},
        {"start: 2026-03-01T12:00:10", "start: 2026-03-01T12:00:04",
         "24: scans[0].start: scan S02 begins at 2026-03-01T12:00:04.000, before scan S01 (line "
         "27) "
         "ends at 2026-03-01T12:00:04.500; scans must not overlap: shorten one, or put it into a "
         "job of its own"},
        {"- station: Alder", "- station: Birch",
         "27: scans[1].stations: Alder takes part in scan S01, and no recording is of Alder; add "
         "its recording, or list the scan's stations without it"},
        {"duration_s: 4\n", "duration_s: 1e-5\n",
         "25: scans[0].duration_s: expected at least one segment, 1.6e-05 s (1 / channel width), "
         "found 1e-05; take wider channels or a longer scan"},
        {"bandwidth_hz: 16e6", "bandwidth_hz: 8e6",
         "35: bands[1].bandwidth_hz: expected the width of bands[0], 16.0e6 Hz, found 8e6; all "
         "bands of a job are of one width: split the wider ones"},
    };
    CHECK_FAULTS(faults);
}

static void job_refuses_recordings_that_contradict(void **state)
{
    (void)state;
    static const fault faults[] = {
        {"    sample_rate_hz: 32000000\n", "",
         "38: recordings[0]: a VDIF recording needs sample_rate_hz: VDIF frames do not hold it; "
         "add "
         "it, in Hz, of each channel"},
        {"    sample_rate_hz: 32000000\n",
         "    sample_rate_hz: 32e6\n    start: 2026-03-01T11:59:59\n",
         "42: recordings[0].start: VDIF frames hold their own times; remove the key"},
        {"/elsewhere/birch-2.vdif", "birch-1.vdif",
         "39: recordings[0].files: \"birch-1.vdif\" is listed twice; keep one"},
        {"format: sound", "format: wav",
         "48: recordings[1].format: expected one of vdif, sound, found \"wav\""},
        {"channel: 0}", "thread: 2}",
         "52: recordings[1].streams[0].thread: sound files have no threads; use channel"},
        {"thread: 3, channel: 1", "thread: 0",
         "44: recordings[0].streams[1]: thread 0 channel 0 is taken by streams[0] already; give "
         "each stream its own thread or channel"},
        {"{band: low, polarization: R}", "{polarization: R}",
         "43: recordings[0].streams[0]: a stream needs band, or edge_hz or centre_hz with "
         "sideband; "
         "add one"},
        {"{band: low, polarization: R}", "{band: low, edge_hz: 1e9, polarization: R}",
         "43: recordings[0].streams[0]: a stream takes one of band, edge_hz and centre_hz; found 2 "
         "of them"},
        {"{band: low, polarization: R}", "{band: low, sideband: lower, polarization: R}",
         "43: recordings[0].streams[0].sideband: a stream tied to a band has the band's sideband; "
         "remove the key, or give edge_hz instead of band"},
        {"sideband: lower, polarization: L, thread: 1", "polarization: L, thread: 1",
         "45: recordings[0].streams[2]: the key sideband is missing; add upper or lower"},
        {"polarization: R, channel: 0", "polarization: X, channel: 0",
         "52: recordings[1].streams[0].polarization: X is of another kind than R of "
         "recordings[0].streams[0]; a job holds R and L or X and Y, never both"},
        {"polarization: R, channel: 0", "polarization: V, channel: 0",
         "52: recordings[1].streams[0].polarization: expected one of R, L, X, Y, found \"V\""},
    };
    CHECK_FAULTS(faults);
}

static void job_refuses_a_correlation_that_does_not_add_up(void **state)
{
    (void)state;
    static const fault faults[] = {
        {"  channels: 256\n", "",
         "53: correlation: channels or channel_width_hz is missing; add one"},
        {"  channels: 256\n", "  channels: 256\n  channel_width_hz: 62500\n",
         "55: correlation.channel_width_hz: channels is given too; keep one of them"},
        {"channels: 256", "channel_width_hz: 60e3",
         "54: correlation.channel_width_hz: expected a width that divides the bandwidth, 16000000 "
         "Hz, found 60e3; the nearest is 59925.0936329588 (channels: 267)"},
        {"integration_s: 0.5", "integration_s: 0.50001",
         "55: correlation.integration_s: expected a whole number of segments of 1.6e-05 s (1 / "
         "channel width), found 0.50001, which is 31250.625000 of them; the nearest is 0.500016"},
        {"integration_s: 0.5", "integration_s: 0.00001",
         "55: correlation.integration_s: expected at least one segment, 1.6e-05 s (1 / channel "
         "width of 62500 Hz), found 0.00001; take a longer integration or wider channels, and see "
         "that bandwidth_hz is in Hz"},
        {"[RR, LL]", "[RR, RL]",
         "56: correlation.polarization_products: FITS-IDI holds a contiguous stretch of RR LL RL "
         "LR; add the products between RR and RL"},
        {"[RR, LL]", "[RR, RR]",
         "56: correlation.polarization_products[1]: RR is listed already; keep one of them"},
        {"[RR, LL]", "[RR, XX]",
         "56: correlation.polarization_products[1]: XX needs polarization X, which no stream "
         "holds; "
         "remove it"},
        {"[RR, LL]", "[RR, VV]",
         "56: correlation.polarization_products[1]: expected one of RR, LL, RL, LR, XX, YY, XY, "
         "YX, "
         "found \"VV\""},
        {"fringe_rotation: before_fft", "fringe_rotation: before",
         "57: correlation.fringe_rotation: expected one of planned, before_fft, after_fft, found "
         "\"before\"; did you mean before_fft?"},
    };
    CHECK_FAULTS(faults);
}

static void job_refuses_earth_orientation_with_gaps(void **state)
{
    (void)state;
    static const fault faults[] = {
        {"date: 2026-03-02", "date: 2026-03-03",
         "65: earth_orientation.days[2].date: expected the day after 2026-03-01, found 2026-03-03; "
         "list the days in order, one apart"},
        {"date: 2026-03-01,", "date: 2026-02-27,",
         "64: earth_orientation.days[1].date: expected the day after 2026-02-28, found 2026-02-27; "
         "list the days in order, one apart"},
        {"date: 2026-03-01,", "date: 2026-02-28T06:00:00,",
         "65: earth_orientation.days[2].date: expected 0.25 days after 2026-02-28T06:00:00, found "
         "2026-03-02; list the rows in order, in even steps of 5 days at most"},
        {"date: 2026-03-01,", "",
         "64: earth_orientation.days[1]: date is missing (or mjd); add one"},
        {"date: 2026-03-01,", "date: 2026-03-01, mjd: 61100,",
         "64: earth_orientation.days[1].mjd: date is given too; keep one of them"},
        {"date: 2026-03-01,", "mjd: 2461100.5,",
         "64: earth_orientation.days[1].mjd: expected a modified Julian day, from 41317 (1972) to "
         "99999, found 2461100.5; it is the Julian date less 2400000.5"},
        {"  days:\n", "  subdaily_model: iers_2003\n  days:\n",
         "62: earth_orientation.subdaily_model: expected one of desai_sibois_2016, iers_2010, "
         "found \"iers_2003\"; did you mean iers_2010?"},
        {"  days:\n", "  extrapolate_days: 400\n  days:\n",
         "62: earth_orientation.extrapolate_days: expected a whole number of days, from 0 to 30, "
         "found 400"},
        {"  days:\n", "  c04: a\n  finals2000a: b\n  days:\n",
         "62: earth_orientation.c04: finals2000a is given too; keep one of them"},
        {"  days:\n", "  c04: a\n  days:\n",
         "63: earth_orientation.days: c04 is given too; keep one of them"},
        {"date: 2026-03-02", "date: 2026-02-30",
         "65: earth_orientation.days[2].date: expected a date such as 2026-02-28, or a time "
         "such as 2026-02-28T06:00:00, found \"2026-02-30\""},
        {"    - {date: 2026-03-03, pole_x_arcsec: 0.103, pole_y_arcsec: 0.303, ut1_minus_utc_s: "
         "0.053}\n",
         "",
         "62: earth_orientation.days: expected at least 4 days, found 3; the days around a scan "
         "are "
         "needed too"},
        {"  days:\n", "  finals2000a: finals2000A.data\n  days:\n",
         "63: earth_orientation.days: finals2000a is given too; keep one of them"},
    };
    CHECK_FAULTS(faults);
}

static void job_refuses_weather_that_cannot_be(void **state)
{
    (void)state;
    static const fault faults[] = {
        {"    mount: xy_east\n", "    weather: [{pressure_hpa: 1.013}]\n",
         "7: stations[0].weather[0].pressure_hpa: expected a pressure in hPa, from 300 to 1100, "
         "found 1.013; 1 hPa is 1 mbar, or 100 Pa"},
        {"    mount: xy_east\n", "    weather: [{pressure_hpa: 980, relative_humidity: 80}]\n",
         "7: stations[0].weather[0].relative_humidity: expected a relative humidity, from 0 to 1, "
         "found 80; divide by 100 what is in per cent"},
        {"    mount: xy_east\n", "    weather: [{pressure_hpa: 980}, {pressure_hpa: 981}]\n",
         "7: stations[0].weather[0]: time is missing; only a record that stands alone, for all "
         "times, does without"},
        {"    mount: xy_east\n", "    weather: [{time: 2026-03-01T12:00:00}]\n",
         "7: stations[0].weather[0]: pressure_hpa, temperature_c or relative_humidity is missing; "
         "add at least one"},
        {"    mount: xy_east\n",
         "    weather: [{time: 2026-03-01T12:00:00, pressure_hpa: 980}, {time: "
         "2026-03-01T12:00:00, pressure_hpa: 981}]\n",
         "7: stations[0].weather[1].time: found 2026-03-01T12:00:00, which is not later than the "
         "record before; list them in order"},
        {"    mount: xy_east\n", "    wet_from_weather: true\n",
         "7: stations[0].wet_from_weather: needs weather with temperature_c and "
         "relative_humidity"},
        {"    mount: xy_east\n", "    zenith_wet_delay_m: 120\n",
         "7: stations[0].zenith_wet_delay_m: expected a zenith wet delay in m, from -0.1 to 1, "
         "found 120; divide by 1000 what is in mm"},
    };
    CHECK_FAULTS(faults);
}

/* The job up to one of its keys, and another end. */
static void check_other_end(const char *key, const char *end, const char *message)
{
    const char *at = strstr(JOB, key);
    assert_non_null(at);
    char text[sizeof JOB + 256];
    snprintf(text, sizeof text, "%.*s%s", (int)(at - JOB), JOB, end);
    wf_error err = WF_ERROR_INIT;
    wf_observation *job = NULL;
    wf_check_refused(load_text(&job, text, strlen(text), &err), WF_FORMAT, &err, message);
}

static void job_refuses_missing_parts(void **state)
{
    (void)state;
    check_other_end("recordings:", "correlation: {channels: 4, integration_s: 1}\n",
                    "folder/job.yaml:1: the key recordings is missing; needed here: ");
    check_other_end("scans:", "scans: []\n",
                    "folder/job.yaml:21: scans: expected at least 1 entry, found 0");
    check_other_end("stations:", "stations:\n",
                    "folder/job.yaml:2: stations: expected a list such as [a, b], found nothing");
    check_other_end("earth_orientation:", "",
                    "folder/job.yaml:1: earth_orientation: the key is missing; add it with "
                    "finals2000a: FILE or c04: FILE (of the IERS), or with days");
    check_other_end("  days:", "  {}\n",
                    "folder/job.yaml:61: earth_orientation: finals2000a, c04 or days is missing");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(job_refuses_keys_that_are_not_its_own),
        cmocka_unit_test(job_refuses_values_of_another_kind),
        cmocka_unit_test(job_refuses_names_that_fits_cannot_hold),
        cmocka_unit_test(job_refuses_names_that_are_nowhere),
        cmocka_unit_test(job_refuses_numbers_that_cannot_be),
        cmocka_unit_test(job_recognises_wrong_units),
        cmocka_unit_test(job_recognises_a_bandwidth_in_megahertz),
        cmocka_unit_test(job_refuses_angles_outside_the_sphere),
        cmocka_unit_test(job_refuses_stations_and_scans_that_contradict),
        cmocka_unit_test(job_refuses_recordings_that_contradict),
        cmocka_unit_test(job_refuses_a_correlation_that_does_not_add_up),
        cmocka_unit_test(job_refuses_earth_orientation_with_gaps),
        cmocka_unit_test(job_refuses_weather_that_cannot_be),
        cmocka_unit_test(job_refuses_missing_parts),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
