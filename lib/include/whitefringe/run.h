/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A whole job, over threads: from recordings to a finished file. */
#ifndef WHITEFRINGE_RUN_H
#define WHITEFRINGE_RUN_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <whitefringe/observation.h>
#include <whitefringe/recording.h>
#include <whitefringe/simulate.h>
#include <whitefringe/statistics.h>
#include <whitefringe/status.h>

/** How far a run has come.
 *
 *  Called from one thread at a time; returning non-zero cancels the run.
 */
typedef struct wf_progress {
    int64_t n_done;
    int64_t n_total;
    const char *unit;         /* what is counted: "integrations", "recordings" */
    double data_seconds_done; /* seconds of recorded time */
} wf_progress;
typedef int (*wf_progress_sink)(void *context, const wf_progress *progress);

typedef struct wf_correlate_options {
    int n_threads;         /* 0: as many as the machine has cores */
    const char *scan_name; /* NULL: all scans */
    bool keep_going;       /* what of a recording cannot be read is invalid, and no error */
    const char *kernels;   /* of the engine, see wf_plan_options; NULL: the fastest here */
    wf_progress_sink progress;
    wf_warn warn;
    void *context; /* of both sinks */
} wf_correlate_options;

/** What a station contributed. */
typedef struct wf_stream_summary {
    size_t i_station;
    size_t i_recording;
    size_t i_stream;       /* within the recording */
    double valid_fraction; /* of the samples that the scans asked for */
    double mean_power;     /* mean square in steps of the sampler */
    double quantisation_efficiency;
    bool is_complex;
    wf_sampler_statistics component[2]; /* I and Q, real streams the first only; of some thousand
                                           samples of each integration */
    double not_recorded_fraction;       /* of the samples asked for, outside the recording */
    double lost_fraction[WF_FAULT_N_KINDS]; /* the same, inside it, by why they are invalid */
    double below_limit_fraction; /* of the time asked for, the source below the elevation limit:
                                    correlated all the same, and no loss */
} wf_stream_summary;

/** What was found wrong with a recording where it was read. */
typedef struct wf_recording_summary {
    wf_fault faults[WF_FAULT_N_KINDS];
} wf_recording_summary;

typedef struct wf_correlate_summary {
    int64_t n_integrations;
    int64_t n_rows;
    double data_s; /* seconds of observation correlated */
    int n_threads;
    double rotation_loss;
    char plan[4096];            /* what the engine planned, lines of text */
    wf_stream_summary *streams; /* [n_streams] */
    size_t n_streams;
    int64_t n_tone_rows;    /* of PHASE-CAL */
    int64_t n_uncalibrated; /* bands of stations times integrations whose tones were to be applied
                               and too weak */
    int64_t n_flagged;      /* channels of stations times integrations that are no Gaussian noise */
    wf_recording_summary *recordings; /* [n_recordings] of the observation */
    size_t n_recordings;
} wf_correlate_summary;

/** Correlate a job into a FITS-IDI file.
 *
 *  The file holds the same bytes for any number of threads.
 *  returned  summary  to be released with wf_correlate_summary_release
 *  status    any; on failure nothing stands under output_path that did not stand there before
 */
WF_API WF_MUST_CHECK wf_status wf_correlate(const wf_observation *observation,
                                            const char *output_path,
                                            const wf_correlate_options *options,
                                            wf_correlate_summary *summary, wf_error *err);
WF_API void wf_correlate_summary_release(wf_correlate_summary *summary);

/** Make all recordings of a sky and the job file beside them, several at a time. */
WF_API WF_MUST_CHECK wf_status wf_run_simulation(const wf_sky *sky, const char *folder,
                                                 int n_threads, wf_progress_sink progress,
                                                 void *context, wf_error *err);

#endif
