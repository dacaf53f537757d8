/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the samples of a recording look like: sampler states, power, spectra, tones, repetition. */
#ifndef WHITEFRINGE_STATISTICS_H
#define WHITEFRINGE_STATISTICS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <whitefringe/recording.h>
#include <whitefringe/status.h>

#ifdef __cplusplus
extern "C" {
#endif

/** What is wrong with a sampler; the first that holds is given. */
typedef enum wf_sampler_verdict {
    WF_SAMPLER_NO_DATA,   /* fewer than 100 valid samples */
    WF_SAMPLER_STUCK,     /* one state in more than 99.9 % of the samples, or only two of four */
    WF_SAMPLER_ONE_SIDED, /* more than 99.9 % of the samples on one side of zero */
    WF_SAMPLER_OFFSET,    /* mean further than 0.1 sigma from zero */
    WF_SAMPLER_WEAK,      /* too little power for the levels: over 1 % of sensitivity is lost */
    WF_SAMPLER_STRONG,    /* too much power for the levels: over 1 % of sensitivity is lost */
    WF_SAMPLER_HEALTHY,
} wf_sampler_verdict;

/** A word or two for a verdict, such as "levels too low"; never NULL. */
WF_API const char *wf_sampler_verdict_text(wf_sampler_verdict verdict);

enum { WF_SAMPLER_STATES_MAX = 256 };

/** Counts of one sampler: that of a real stream, or of I or Q of a complex one.
 *
 *  state_fraction     [n_states] of the valid samples, the most negative state first
 *  rms, mean          in the levels of the decoded samples (equal steps of 1; 2 bits: inner level
 *                     1, outer 3.3359; floats: as they are)
 *  sigma_steps        rms of Gaussian noise of these counts, in steps of the sampler (2 bits: of
 *                     the outer threshold); by the outer states for 2 bits, by the rms else; NAN
 *                     where it cannot be known (1 bit, floats)
 *  offset_sigma       mean of that noise over its rms, by the fraction above zero (1 and 2 bits)
 *                     or by the mean
 *  efficiency         what quantisation leaves of a small correlation, against the unquantised
 *  best_efficiency    the same with the best levels
 */
typedef struct wf_sampler_statistics {
    double n_samples;
    size_t n_states; /* 2^bits up to 8 bits, else 0 */
    double state_fraction[WF_SAMPLER_STATES_MAX];
    double lowest; /* of the decoded samples */
    double highest;
    double extreme_fraction; /* of samples in the two outermost states */
    double mean;
    double rms;
    double sigma_steps;
    double offset_sigma;
    double efficiency;
    double best_efficiency;
    wf_sampler_verdict verdict;
} wf_sampler_statistics;

/** Fractions of the states of Gaussian noise that the best levels of n bits give.
 *
 *  given    bits  1 to 8
 *  returned fraction  [2^bits]
 *  returns  false for other widths
 *  source   Thompson, Emerson, Schwab 2007, Radio Science 42, RS3022; 2 bits: Max 1960, IRE
 *           Trans. IT-6, 7
 */
WF_API bool wf_sampler_optimum(unsigned bits, double fraction[WF_SAMPLER_STATES_MAX]);

/** A line in the spectrum of one stream. */
typedef struct wf_tone {
    double frequency_hz; /* baseband: 0 .. rate/2 real, -rate/2 .. rate/2 complex */
    double power_fraction;
    double significance; /* peak over the noise of the local spectrum, in its sigma */
} wf_tone;

/** One tone of a comb. */
typedef struct wf_comb_tone {
    double frequency_hz; /* baseband, positive upwards, as recorded */
    double amplitude;    /* sqrt(power of the tone / power of the stream) */
    double phase_rad;    /* at whole seconds of the station's clock */
    double phase_error_rad;
} wf_comb_tone;

/** A comb of tones at equal spacing, as a phase-calibration generator makes.
 *
 *  delay_s     of its pulses after the whole second of the station's clock, modulo 1/spacing, in
 *              (-1/2, 1/2] of it; for an upper-sideband stream
 *  coherence   |mean| of the tones' common phasor over the places looked at, 0..1; near 0 the
 *              phases mean nothing and only amplitude and delay do
 */
typedef struct wf_comb {
    double spacing_hz; /* 0: no comb was found */
    double offset_hz;  /* baseband frequency of its lowest tone */
    double delay_s;
    double delay_error_s;
    double amplitude; /* rms of the tones' */
    double coherence;
    double significance; /* of the sum of the tones' powers, in sigma of noise */
    wf_comb_tone *tones; /* [n_tones] */
    size_t n_tones;
} wf_comb;

/** Data that come again. */
typedef struct wf_repetition {
    int64_t lag_samples;
    double coefficient;  /* autocorrelation at that lag of the whitened samples */
    double significance; /* coefficient over its sigma in noise */
} wf_repetition;

/** What was seen of one stream: one channel of one thread. */
typedef struct wf_stream_statistics {
    size_t i_thread; /* into wf_recording_info.threads */
    uint32_t thread;
    uint32_t channel;
    wf_sample_format format;
    double n_asked; /* samples */
    double n_valid;
    double power;                       /* mean square of the decoded samples, |x|^2 if complex */
    wf_sampler_statistics component[2]; /* I and Q; of real streams only the first */
    size_t n_channels;
    double *spectrum; /* [n_channels] mean 1 for white noise, baseband frequency ascending from
                         first_hz by channel_hz: power of the samples over that of white noise */
    double first_hz;  /* centre of the first channel */
    double channel_hz;
    double *kurtosis;     /* [n_channels] spectral kurtosis, 1 for Gaussian noise */
    double kurtosis_low;  /* bounds that Gaussian noise leaves with the chance of ... */
    double kurtosis_high; /* ... wf_inspect_options.kurtosis_sigma, each side */
    double n_spectra;     /* that were summed */
    wf_tone *tones;       /* [n_tones] the strongest first */
    size_t n_tones;
    wf_comb comb;
    wf_repetition *repetitions; /* [n_repetitions] the strongest first */
    size_t n_repetitions;
} wf_stream_statistics;

/** Samples of a thread that are missing or not valid. Where places here and there were looked at,
 *  these are the gaps that reach into one of them; their ends were searched for by halving. */
typedef struct wf_gap {
    size_t i_thread;
    int64_t first; /* sample number since the recording's origin */
    int64_t n;
} wf_gap;

typedef struct wf_inspection {
    bool all;         /* every sample was looked at, and not places here and there */
    int64_t n_places; /* that were looked at */
    int64_t place_samples;
    wf_stream_statistics *streams; /* [n_streams] by thread, then channel */
    size_t n_streams;
    wf_gap *gaps; /* [n_gaps] in time order; at most WF_GAPS_MAX are listed */
    size_t n_gaps;
    int64_t n_gaps_seen;
} wf_inspection;

enum { WF_GAPS_MAX = 1000, WF_TONES_MAX = 12, WF_REPETITIONS_MAX = 4 };

/** Called now and then; returning non-zero cancels. */
typedef int (*wf_inspect_progress)(void *context, int64_t n_done, int64_t n_total);

typedef struct wf_inspect_options {
    bool all;              /* look at every sample */
    size_t n_channels;     /* of the spectra; 0: as many as suit, at most 512 */
    double spacing_hz;     /* of a comb to look for; 0: find out */
    double kurtosis_sigma; /* 0: 5 */
    wf_inspect_progress progress;
    void *context;
} wf_inspect_options;

/** Look at a recording.
 *
 *  returned  out  to be released with wf_inspection_destroy; NULL on failure
 *  status    OK | ARGUMENT | IO | MEMORY | CANCELLED
 *  threads   one
 */
WF_API WF_MUST_CHECK wf_status wf_inspect(wf_inspection **out, const wf_recording *recording,
                                          const wf_inspect_options *options, wf_error *err);
WF_API void wf_inspection_destroy(wf_inspection *inspection);

#ifdef __cplusplus
}
#endif

#endif
