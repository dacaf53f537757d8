/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Keywords: those of the primary header with the file's history, and those of every table. */
#include "visibility/fits_idi.h"

#include <stdio.h>
#include <string.h>
#include <whitefringe/version.h>

/* A HISTORY card holds 72 characters after its keyword. */
enum { HISTORY_WIDTH = 72 };

/* Fifteen digits: what a double carries through a text unharmed. Never an integer: readers ask
 * for reals. */
enum { REAL_DIGITS = -15 };

/* Length of the piece of a text that fits on one card, broken at a blank where there is one. */
static size_t card_length(const char *text)
{
    const size_t n = strcspn(text, "\n");
    if (n <= HISTORY_WIDTH)
        return n;
    for (size_t i = HISTORY_WIDTH; i > 0; i--) {
        if (text[i] == ' ')
            return i;
    }
    return HISTORY_WIDTH;
}

static void write_history(fitsfile *file, const char *text, int *fits)
{
    while (*text != '\0') {
        char card[HISTORY_WIDTH + 1];
        const size_t n = card_length(text);
        for (size_t i = 0; i < n; i++)
            card[i] = text[i] < ' ' || text[i] > '~' ? '?' : text[i];
        card[n] = '\0';
        fits_write_history(file, card, fits);
        text += n;
        text += *text == '\n' || *text == ' ';
    }
}

static const char *file_name(const char *path)
{
    const char *slash = strrchr(path, '/');
    return slash == NULL ? path : slash + 1;
}

static const char *format_name(wf_earth_orientation_format format)
{
    return format == WF_EARTH_ORIENTATION_C04 ? "EOP C04" : "finals2000A";
}

/* The data that the model took, and which of several conventions. */
static void write_delay_sources(const wf_observation *observation, fitsfile *file, int *fits)
{
    const wf_delay_terms *terms = &observation->delay_terms;
    const wf_earth_orientation_entry *earth = &observation->earth_orientation;
    char text[512];
    if (earth->path != NULL)
        snprintf(text, sizeof text, "Earth orientation: the file %.400s (%s).",
                 file_name(earth->path), format_name(earth->format));
    else
        snprintf(text, sizeof text, "Earth orientation: %zu rows that the job states.",
                 earth->n_days);
    write_history(file, text, fits);
    if (terms->subdaily_rotation)
        write_history(
            file,
            earth->subdaily_model == WF_SUBDAILY_IERS_2010
                ? "Ocean tides in the Earth's rotation: IERS Conventions (2010), 71 lines."
                : "Ocean tides in the Earth's rotation: Desai and Sibois (2016).",
            fits);
    if (terms->pole_tide || terms->ocean_pole_tide)
        write_history(file,
                      observation->pole_tide_reference == WF_POLE_TIDE_MEAN_2010
                          ? "Pole tides: from the mean pole of the IERS Conventions (2010)."
                          : "Pole tides: from the secular pole of 2018.",
                      fits);
    if (terms->troposphere_hydrostatic && observation->gpt2_grid_path != NULL) {
        snprintf(text, sizeof text, "Air without records: GPT2, the file %.400s.",
                 file_name(observation->gpt2_grid_path));
        write_history(file, text, fits);
    }
    if (terms->ocean_loading && observation->ocean_loading_blq_path != NULL) {
        snprintf(text, sizeof text, "Ocean loading: the file %.400s.",
                 file_name(observation->ocean_loading_blq_path));
        write_history(file, text, fits);
    }
}

static void write_delay_history(const wf_observation *observation, fitsfile *file, int *fits)
{
    const wf_delay_terms *terms = &observation->delay_terms;
    write_history(
        file,
        "Delays (INTERFEROMETER_MODEL): positive where the wave reaches the station "
        "after the geocentre; the offset of the station's clock is included. MODEL_COMPS: "
        "GDELAY + ATMOS - CLOCK is that delay at TIME; GDELAY is without atmosphere.",
        fits);
    write_delay_sources(observation, file, fits);
    const wf_delay_terms usual = wf_delay_terms_default();
    const struct {
        bool applied;
        bool usual;
        const char *name;
    } all[] = {
#define TERM(name, on, heading, text) {terms->name, usual.name, text},
        WF_DELAY_SWITCHES(TERM)
#undef TERM
    };
    for (size_t i = 0; i < sizeof all / sizeof all[0]; i++) {
        char text[100];
        snprintf(text, sizeof text, "Delay term %s by the job: %s.",
                 all[i].applied ? "added" : "left out", all[i].name);
        if (all[i].applied != all[i].usual)
            write_history(file, text, fits);
    }
}

static void write_all_history(const wfi_fits_idi_setup *setup, fitsfile *file, int *fits)
{
    const wf_observation *observation = setup->observation;
    write_history(file, "Written by whitefringe " WF_VERSION ".", fits);
    write_history(file,
                  "Phase: FLUX holds conj(<x_i conj(x_j)>), i <= j, x the phasor of "
                  "exp(+2 pi i nu t). With u, v of r_i - r_j in seconds, a source l east, m north "
                  "of the phase centre has the phase -2 pi nu (u l + v m).",
                  fits);
    write_history(file,
                  "Amplitude: correlation coefficients, divided by the valid fraction, which is "
                  "the weight.",
                  fits);
    write_history(file,
                  observation->correlation.quantisation_correction
                      ? "The loss of cross power to quantisation is corrected."
                      : "The loss of cross power to quantisation is not corrected.",
                  fits);
    write_delay_history(observation, file, fits);
    for (size_t i = 0; i < setup->options->n_history; i++)
        write_history(file, setup->options->history[i], fits);
}

void wfi_fits_idi_write_primary(const wfi_fits_idi_setup *setup, fitsfile *file, int *fits)
{
    fits_create_img(file, BYTE_IMG, 0, NULL, fits);
    fits_write_key_log(file, "GROUPS", 1, "marks FITS-IDI", fits);
    fits_write_key_lng(file, "GCOUNT", 0, "marks FITS-IDI", fits);
    fits_write_key_lng(file, "PCOUNT", 0, "marks FITS-IDI", fits);
    fits_write_key_str(file, "OBJECT", "BINARYTB", "the tables hold the data", fits);
    fits_write_key_str(file, "TELESCOP", "VLBI", NULL, fits);
    fits_write_key_str(file, "OBSERVER", setup->observation->campaign, "name of the campaign",
                       fits);
    fits_write_key_str(file, "ORIGIN", "whitefringe " WF_VERSION, NULL, fits);
    fits_write_key_str(file, "CORRELAT", "WHITEFRINGE", "what correlated and wrote this", fits);
    fits_write_key_str(file, "DATE-OBS", setup->reference_date, "UTC day of the first scan", fits);
    write_all_history(setup, file, fits);
    wfi_fits_seal(file, fits);
}

void wfi_fits_idi_write_keywords(const wfi_fits_idi_setup *setup, fitsfile *file, int revision,
                                 int *fits)
{
    const wf_observation *observation = setup->observation;
    fits_write_key_lng(file, "EXTVER", 1, NULL, fits);
    fits_write_key_lng(file, "TABREV", revision, "revision of the table's definition", fits);
    fits_write_key_str(file, "OBSCODE", observation->campaign, "name of the campaign", fits);
    fits_write_key_lng(file, "NO_STKD", (LONGLONG)observation->correlation.n_products,
                       "number of polarization products", fits);
    fits_write_key_lng(file, "STK_1", setup->first_product_code, "code of the first product", fits);
    fits_write_key_lng(file, "NO_BAND", (LONGLONG)observation->n_bands, "number of bands", fits);
    fits_write_key_lng(file, "NO_CHAN", (LONGLONG)observation->correlation.n_channels,
                       "channels of each band", fits);
    fits_write_key_dbl(file, "REF_FREQ", setup->reference_hz, REAL_DIGITS,
                       "Hz, centre of the first channel", fits);
    fits_write_key_dbl(file, "CHAN_BW", setup->channel_width_hz, REAL_DIGITS, "Hz, channel width",
                       fits);
    fits_write_key_dbl(file, "REF_PIXL", 1.0, REAL_DIGITS, "channel of REF_FREQ + BANDFREQ", fits);
    fits_write_key_str(file, "RDATE", setup->reference_date, "reference date, UTC", fits);
}
