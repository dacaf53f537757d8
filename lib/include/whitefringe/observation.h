/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What was observed, and how it is to be correlated: the contents of a job file. */
#ifndef WHITEFRINGE_OBSERVATION_H
#define WHITEFRINGE_OBSERVATION_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <whitefringe/delay_terms.h>
#include <whitefringe/status.h>
#include <whitefringe/time.h>

#ifdef __cplusplus
extern "C" {
#endif

/** Room for the name of a station, source, scan, band or campaign, terminating zero included.
 *  The job file holds station names to 8 characters and source names to 16: FITS-IDI's width. */
#define WF_NAME_BYTES 33

/** Polarizations of a job are R and L, or X and Y, never of both kinds: FITS-IDI has no code for
 *  a mixed product. */
typedef enum wf_polarization {
    WF_POLARIZATION_R,
    WF_POLARIZATION_L,
    WF_POLARIZATION_X,
    WF_POLARIZATION_Y,
} wf_polarization;

/** Net sideband: sky frequency = zero_hz + sideband * baseband frequency. */
typedef enum wf_sideband { WF_SIDEBAND_UPPER = 1, WF_SIDEBAND_LOWER = -1 } wf_sideband;

typedef enum wf_mount {
    WF_MOUNT_ALTAZ,
    WF_MOUNT_EQUATORIAL,
    WF_MOUNT_XY_NORTH, /* fixed axis north-south */
    WF_MOUNT_XY_EAST,  /* fixed axis east-west */
    WF_MOUNT_NASMYTH_RIGHT,
    WF_MOUNT_NASMYTH_LEFT,
} wf_mount;

/** Station clock minus UTC: ahead_s + rate_s_per_s * (t - reference). */
typedef struct wf_clock {
    wf_instant reference;
    double ahead_s;
    double rate_s_per_s;
} wf_clock;

/** What the positions of a table of states are counted from; the axes are the same. */
typedef enum wf_state_frame {
    WF_STATE_GCRS,            /* geocentric celestial system: orbits of the Earth's satellites */
    WF_STATE_BCRS,            /* barycentric celestial system */
    WF_STATE_BCRS_FROM_EARTH, /* barycentric system, less the geocentre's place at the same TDB: as
                                 ephemerides list what lies beyond the Earth's satellites */
} wf_state_frame;

typedef enum wf_time_scale { WF_TIME_UTC, WF_TIME_TT, WF_TIME_TDB } wf_time_scale;

/** A file of positions and velocities; its format stands in whitefringe/delay.h. */
typedef struct wf_state_table {
    const char *path; /* NULL: there is none */
    wf_state_frame frame;
    wf_time_scale time_scale;
} wf_state_table;

typedef enum wf_component { WF_COMPONENT_EAST, WF_COMPONENT_NORTH, WF_COMPONENT_UP } wf_component;

/** How the ground settles after an earthquake, with dt the time since. */
typedef enum wf_post_seismic_law {
    WF_POST_SEISMIC_LOGARITHMIC, /* amplitude * ln(1 + dt / relaxation) */
    WF_POST_SEISMIC_EXPONENTIAL, /* amplitude * (1 - exp(-dt / relaxation)) */
} wf_post_seismic_law;

/** One term of a station's post-seismic motion, as the ITRF lists them (Altamimi et al. 2016, J.
 *  Geophys. Res. Solid Earth 121, 6109); 0 before the earthquake. */
typedef struct wf_post_seismic {
    wf_instant earthquake;
    wf_component component;
    wf_post_seismic_law law;
    double amplitude_m;
    double relaxation_years; /* of 365.25 days */
} wf_post_seismic;

/** A station's coefficients of ocean pole tide loading: IERS Conventions (2010) eq. 7.29. */
typedef struct wf_ocean_pole_tide {
    double real[3]; /* u_R: radial, north, east */
    double imaginary[3];
} wf_ocean_pole_tide;

typedef enum wf_focus { WF_FOCUS_PRIME, WF_FOCUS_SECONDARY } wf_focus;

/** Dimensions of an antenna that grow with its temperature (Nothnagel 2009, J. Geodesy 83, 787). */
typedef struct wf_antenna {
    wf_focus focus;
    double reference_temperature_c;
    double foundation_m; /* height of the foundation */
    double foundation_per_k;
    double axis_m; /* height of the fixed axis over the foundation */
    double structure_per_k;
    double vertex_m; /* from the moving axis to the vertex of the dish */
    double focus_m;  /* from the vertex to the focus, or to the secondary mirror */
} wf_antenna;

/** Tones of a phase-calibration generator, at whole multiples of the spacing on the sky, in phase
 * at whole seconds of the station's clock. */
typedef struct wf_phase_calibration {
    int64_t spacing_hz; /* 0: none are read */
    bool apply;         /* take phase and delay of the tones out of the visibilities */
} wf_phase_calibration;

/** Weather at the station's reference point. What is not known is NaN. */
typedef struct wf_weather {
    wf_instant time; /* first: records are searched by it */
    double pressure_hpa;
    double temperature_c;
    double relative_humidity; /* 0 to 1 */
} wf_weather;

/** Leading coefficients of the mapping functions of the troposphere at the station (VMF1). */
typedef struct wf_mapping {
    wf_instant time;
    double hydrostatic_a;
    double wet_a;
} wf_mapping;

typedef struct wf_station {
    char name[WF_NAME_BYTES];
    double position_itrf_m[3];     /* of the marker */
    double eccentricity_itrf_m[3]; /* from the marker to where the antenna's axes meet */
    double velocity_itrf_m_per_year[3];
    double position_epoch_year;          /* decimal year of position_itrf_m; 2015.0 = MJD 57023 */
    const wf_post_seismic *post_seismic; /* [n_post_seismic] */
    size_t n_post_seismic;
    const wf_ocean_pole_tide *ocean_pole_tide; /* NULL: not known */
    wf_mount mount;
    double axis_offset_m;
    double diameter_m;         /* 0: not known */
    const wf_antenna *antenna; /* NULL: not known */
    const wf_weather *weather; /* [n_weather], ascending; between records it runs straight */
    size_t n_weather;          /* 0: the usual weather of the place and the season */
    const wf_mapping *mapping; /* [n_mapping], ascending; 0: GPT2 or GMF */
    size_t n_mapping;
    double zenith_wet_delay_m;
    bool wet_from_weather;   /* in the place of zenith_wet_delay_m: from temperature and humidity */
    double gradient_north_m; /* of the troposphere, both parts */
    double gradient_east_m;
    double elevation_limit_rad; /* the antenna does not look lower; 0: the horizon */
    wf_clock clock;
    wf_phase_calibration phase_calibration;
    const char *delay_table_path; /* NULL: the delay comes from the model */
    wf_state_table orbit;         /* of a station in space; in the GCRS */
} wf_station;

typedef struct wf_source {
    char name[WF_NAME_BYTES];
    double right_ascension_icrf_rad;
    double declination_icrf_rad;
    wf_state_table track; /* of a spacecraft: it stands for the direction in the delays */
} wf_source;

typedef struct wf_scan {
    char name[WF_NAME_BYTES];
    size_t i_source;
    wf_instant start; /* of geocentre time */
    double duration_s;
    const bool *station_takes_part; /* [n_stations] */
} wf_scan;

/** A range of sky frequency on the output's channel grid.
 *
 *  Upper sideband: from edge_hz to edge_hz + bandwidth_hz. Lower: from edge_hz - bandwidth_hz to
 *  edge_hz. The channels always ascend in sky frequency: wf_band_first_channel_hz.
 */
typedef struct wf_band {
    char name[WF_NAME_BYTES];
    double edge_hz; /* sky frequency at zero baseband frequency */
    double bandwidth_hz;
    wf_sideband sideband;
} wf_band;

/** What of a recorded band stands at a stream's anchor_hz. */
typedef enum wf_anchor {
    WF_ANCHOR_EDGE, /* upper sideband: its lowest sky frequency; lower: its highest */
    WF_ANCHOR_CENTRE,
} wf_anchor;

/** From start on, before stop. */
typedef struct wf_time_span {
    wf_instant start;
    wf_instant stop;
} wf_time_span;

/** One station x one recorded band x one polarization: where its samples stand and which sky
 *  frequencies they hold.
 *
 *  The recorded band is as wide as the sampling allows: half the sample rate of a real stream,
 *  the sample rate of a complex one. A stream that the job ties to a band has its edge there.
 *  Zero baseband frequency is at the edge of a real stream and at the centre of a complex one.
 */
typedef struct wf_stream {
    uint32_t thread;  /* VDIF thread ID; sound files: always 0 */
    uint32_t channel; /* within the thread; of sound files: the channel, or I/Q pair */
    wf_polarization polarization;
    wf_anchor anchor;
    double anchor_hz;
    wf_sideband sideband;
    const wf_time_span *excluded; /* [n_excluded] invalid by the job, by the station's clock */
    size_t n_excluded;
} wf_stream;

typedef enum wf_file_format {
    WF_FILE_FORMAT_PROBE,
    WF_FILE_FORMAT_VDIF,
    WF_FILE_FORMAT_SOUND
} wf_file_format;

typedef enum wf_sampling { WF_SAMPLING_PROBE, WF_SAMPLING_REAL, WF_SAMPLING_COMPLEX } wf_sampling;

/** How codes stand for levels in VDIF payloads that are not as the standard has them. */
typedef enum wf_code_order {
    WF_CODES_OFFSET_BINARY,   /* the standard: code 0 is the most negative level */
    WF_CODES_TWOS_COMPLEMENT, /* the highest bit is that of the sign */
} wf_code_order;

typedef enum wf_byte_order {
    WF_BYTES_IN_ORDER, /* the standard: little-endian words */
    WF_BYTES_SWAPPED_IN_16,
    WF_BYTES_SWAPPED_IN_32,
    WF_BYTES_SWAPPED_IN_64,
} wf_byte_order;

/** What has to be done to payload bytes, in this order, before they are as the standard has them;
 *  all zero: nothing. */
typedef struct wf_payload_order {
    wf_byte_order bytes;
    bool bits_reversed; /* in every byte */
    bool sign_lowest;   /* of 2 bits, the lower is the sign: sign and magnitude are swapped */
    wf_code_order codes;
} wf_payload_order;

/** One station's files of one stream format. */
typedef struct wf_recording_entry {
    size_t i_station;
    wf_file_format format;    /* PROBE: by the file's contents */
    const char *const *paths; /* [n_paths], in time order; relative ones are already resolved
                                 against the job file's folder */
    size_t n_paths;
    int64_t sample_rate_hz; /* of each channel; 0: as the file says */
    wf_sampling sampling; /* sound files: COMPLEX takes channel pairs as I and Q; VDIF: it wins over
                             the headers */
    bool has_start;
    wf_instant start;         /* station-clock time of the first sample; sound files only */
    wf_payload_order payload; /* VDIF only, as what follows */
    int64_t time_offset_s;    /* is added to all times of the recording */
    bool has_reference_epoch;
    uint32_t reference_epoch; /* in place of what the headers say; half years since 2000 */
    uint32_t header_bytes;    /* of a frame, 16 or 32, in place of what the headers say; 0: as they
                                 say */
    bool frame_index_exact;   /* look at every header before anything is read */
    const char *owner;        /* NULL, or whose recording it is, for messages of failed reads */
    bool keep_going; /* what the system cannot read is invalid, and no error; set by whoever
                        opens the recording, not by the job */
    const wf_stream *streams; /* [n_streams] */
    size_t n_streams;
} wf_recording_entry;

/** Samples that are not to be used: of some stations, of the streams that hold some bands.
 *
 *  They are invalid in the correlation and stand in the output's FLAG table. A stream that holds
 *  other bands too loses those with them; recordings are listed in parts where only some of their
 *  streams are meant.
 */
typedef struct wf_exclusion {
    const bool *stations; /* [n_stations] */
    const bool *bands;    /* [n_bands] */
    wf_time_span time;    /* UTC at the station */
    const char *reason;
} wf_exclusion;

typedef enum wf_rotation {
    WF_ROTATION_PLANNED,
    WF_ROTATION_BEFORE_FFT,
    WF_ROTATION_AFTER_FFT
} wf_rotation;

/** A product of two polarizations: that of the first station, that of the second. */
typedef struct wf_product {
    wf_polarization first;
    wf_polarization second;
} wf_product;

typedef struct wf_correlation {
    size_t n_channels; /* of every band; channel width = bandwidth_hz / n_channels */
    double integration_s;
    wf_product products[4]; /* in FITS-IDI order: RR LL RL LR, or XX YY XY YX, or a stretch of it */
    size_t n_products;
    wf_rotation rotation;
    double rotation_loss_limit; /* largest tolerated loss of amplitude, a fraction */
    bool quantisation_correction;
} wf_correlation;

/** The pole that the pole tides are counted from (IERS Conventions (2010), section 7.1.4). */
typedef enum wf_pole_tide_reference {
    WF_POLE_TIDE_SECULAR_2018, /* the conventions' update of 2018 */
    WF_POLE_TIDE_MEAN_2010,    /* the mean pole of their edition of 2010 */
} wf_pole_tide_reference;

/** Earth orientation at an instant of UTC, usually 0h of a day. */
typedef struct wf_earth_orientation_day {
    int32_t mjd;
    double pole_x_rad;
    double pole_y_rad;
    double ut1_minus_utc_s;
    double celestial_pole_dx_rad;
    double celestial_pole_dy_rad;
    double second_of_day; /* of mjd, s, in [0, 86400) */
    bool predicted;       /* not measured */
} wf_earth_orientation_day;

/** Model of the ocean tides in the Earth's rotation. */
typedef enum wf_subdaily_model {
    WF_SUBDAILY_DESAI_SIBOIS_2016, /* 159 lines, recommended by the IERS since 2019 */
    WF_SUBDAILY_IERS_2010,         /* 71 lines, IERS Conventions (2010) section 8.2 */
} wf_subdaily_model;

/** What a file of Earth orientation is. */
typedef enum wf_earth_orientation_format {
    WF_EARTH_ORIENTATION_FINALS2000A,
    WF_EARTH_ORIENTATION_C04, /* 14 C04 or 20 C04, as its contents say */
} wf_earth_orientation_format;

typedef struct wf_earth_orientation_entry {
    const char *path; /* a file of the IERS; NULL: the days below */
    wf_earth_orientation_format format;
    const wf_earth_orientation_day *days; /* [n_days], ascending in even steps, usually of a day */
    size_t n_days;
    int extrapolate_days; /* how far beyond the last day its trend may be continued */
    wf_subdaily_model subdaily_model;
} wf_earth_orientation_entry;

/** A whole job. Everything in it lives as long as it does. */
typedef struct wf_observation {
    char campaign[WF_NAME_BYTES];
    const wf_station *stations;
    size_t n_stations;
    const wf_source *sources;
    size_t n_sources;
    const wf_scan *scans; /* in time order */
    size_t n_scans;
    const wf_band *bands; /* all with the same channel width */
    size_t n_bands;
    const wf_recording_entry *recordings;
    size_t n_recordings;
    const wf_exclusion *exclusions;
    size_t n_exclusions;
    wf_correlation correlation;
    double kurtosis_flag_sigma; /* flag channels whose spectral kurtosis Gaussian noise leaves as
                                   rarely as a normal variable so many sigma; 0: none */
    wf_delay_terms delay_terms;
    wf_pole_tide_reference pole_tide_reference;
    const char *ocean_loading_blq_path; /* NULL: no ocean loading */
    const char *gpt2_grid_path;         /* NULL: GPT and GMF where no record says better */
    wf_earth_orientation_entry earth_orientation;
} wf_observation;

/** Read a job file.
 *
 *  returned  out   to be destroyed by the caller; NULL on failure
 *  status    OK | MISSING: no such file | FORMAT: a fault in the job; the message names file,
 *            line and key, what was expected and, for an unknown key, the nearest known one
 *            | IO | MEMORY
 */
WF_API WF_MUST_CHECK wf_status wf_observation_load(wf_observation **out, const char *path,
                                                   wf_error *err);

/** The same of a text in memory.
 *
 *  given  path  the name that messages use; relative files are taken from its folder. It need not
 *               be there.
 *         text  [n] bytes
 */
WF_API WF_MUST_CHECK wf_status wf_observation_load_text(wf_observation **out, const char *path,
                                                        const char *text, size_t n, wf_error *err);
WF_API void wf_observation_destroy(wf_observation *observation);

/** Width of every channel of every band, Hz. */
WF_API double wf_channel_width_hz(const wf_observation *observation);

/** Sky frequency of the centre of a band's first, lowest channel, Hz.
 *
 *  Upper sideband: edge_hz. Lower: edge_hz - bandwidth_hz + channel width, so that the channel of
 *  zero baseband frequency belongs to the band in both.
 */
WF_API double wf_band_first_channel_hz(const wf_observation *observation, size_t i_band);

enum { WF_STREAM_TEXT_BYTES = 64 };

/** A stream as people name it, "8400 MHz upper R": its anchor, sideband and polarization. */
WF_API void wf_stream_format(char text[WF_STREAM_TEXT_BYTES], const wf_stream *stream);

/** Letter of a polarization: 'R', 'L', 'X' or 'Y'. */
WF_API char wf_polarization_letter(wf_polarization polarization);

#ifdef __cplusplus
}
#endif

#endif
