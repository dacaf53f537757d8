/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The terms of the delay: the one list that drives the job's switches, the fields of wf_delay, the
 * columns of reports and what the history of a file says of them.
 */
#ifndef WHITEFRINGE_DELAY_TERMS_H
#define WHITEFRINGE_DELAY_TERMS_H

#include <stdbool.h>
#include <stddef.h>
#include <whitefringe/status.h>

#ifdef __cplusplus
extern "C" {
#endif

/** Everything that adds to the delay of the catalogue's position in vacuum, each once:
 *  TERM(name, applied unless the job says otherwise, heading of 16 letters at most, what it is).
 *
 *  A name is the job's key under delay_terms and the field of wf_delay_terms; with _s it is the
 *  field of wf_delay and the key of JSON and CSV.
 *
 *  Galactic aberration is off: catalogues and schedules seldom state the epoch of their positions,
 *  and correlators leave it to analysis; on, positions are those of ICRF3, of 2015.0.
 */
#define WF_DELAY_SHARES(TERM)                                                                      \
    TERM(station_velocity, true, "plate motion", "plate motion since the positions' epoch")        \
    TERM(post_seismic, true, "post-seismic", "post-seismic deformation")                           \
    TERM(solid_tide, true, "solid tide", "solid Earth tide")                                       \
    TERM(pole_tide, true, "pole tide", "solid Earth pole tide")                                    \
    TERM(ocean_loading, true, "ocean loading", "ocean tide loading")                               \
    TERM(ocean_pole_tide, true, "ocean pole tide", "ocean pole tide loading")                      \
    TERM(celestial_pole_offsets, true, "dX, dY", "celestial pole offsets")                         \
    TERM(ut1_zonal_tides, true, "zonal tides",                                                     \
         "zonal tides of UT1, kept out of its interpolation")                                      \
    TERM(libration, true, "libration", "libration of the Earth's axis and spin")                   \
    TERM(subdaily_rotation, true, "sub-daily", "ocean tides in the Earth's rotation")              \
    TERM(gravity_sun, true, "Sun", "gravity of the Sun")                                           \
    TERM(gravity_planets, true, "planets", "gravity of Moon and planets")                          \
    TERM(gravity_earth, true, "Earth", "gravity of the Earth")                                     \
    TERM(galactic_aberration, false, "galactic", "galactic aberration since 2015.0")               \
    TERM(axis_offset, true, "axis offset", "offset of the antenna's axes")                         \
    TERM(axis_refraction, true, "axis refraction",                                                 \
         "refraction in the direction of an antenna with offset axes")                             \
    TERM(thermal_expansion, true, "thermal", "thermal expansion of the antenna")                   \
    TERM(troposphere_hydrostatic, true, "hydrostatic", "hydrostatic troposphere")                  \
    TERM(troposphere_wet, true, "wet", "wet troposphere")                                          \
    TERM(troposphere_gradients, true, "gradients", "horizontal gradients of the troposphere")

/** All that a job can switch: the shares of the delay, and the clock, which is added to it. */
#define WF_DELAY_SWITCHES(TERM)                                                                    \
    WF_DELAY_SHARES(TERM)                                                                          \
    TERM(clock, true, "clock", "station clocks")

/** Which terms of the delay are applied. */
typedef struct wf_delay_terms {
#define WF_DELAY_SWITCH_FIELD(name, on, heading, text) bool name;
    WF_DELAY_SWITCHES(WF_DELAY_SWITCH_FIELD)
#undef WF_DELAY_SWITCH_FIELD
} wf_delay_terms;

/** One of WF_DELAY_SHARES. */
typedef struct wf_delay_share {
    const char *name;
    const char *heading;
    const char *description;
    size_t switch_offset; /* of its bool in wf_delay_terms */
    size_t delay_offset;  /* of its double in wf_delay */
} wf_delay_share;

/** Borrowed, of the life of the program; [*n], in the order of WF_DELAY_SHARES. */
WF_API const wf_delay_share *wf_delay_shares(size_t *n);

/** The switches as they stand where a job says nothing. */
WF_API wf_delay_terms wf_delay_terms_default(void);

#ifdef __cplusplus
}
#endif

#endif
