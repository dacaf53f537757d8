/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Changing values of a job file in place: comments, order, quotes, line ends and all else stay byte
 * for byte.
 *
 * A handle keeps the text. Each edit gives a text that was read again and says what the one before
 * said but for the edit; an edit that fails leaves the text as it was. Nothing touches the file
 * before wf_job_edit_save.
 *
 *      wf_job_edit *edit = NULL;
 *      wf_job_edit_open(&edit, "job.yaml", &err);
 *      wf_job_edit_set_number(edit, "stations[Alder].clock.ahead_s", 3.4e-6, &err);
 *      wf_job_edit_set_text(edit, "recordings[Alder].streams[0].sideband", "lower", &err);
 *      wf_job_edit_remove(edit, "recordings[1].time_offset_s", &err);
 *      wf_job_edit_save(edit, backup, sizeof backup, &err);
 *
 * A path holds keys with points between them, and entries of lists in brackets: by number from 0
 * in the order of the file, or by name, which of a recording is that of its station. A name of
 * digits alone, or with a bracket in it, is put into double quotes: stations["12"].
 *
 * A key that is not there is added in the style of its mapping, after the last value that is
 * written beside its key, before nested blocks; where several are missing, the last ones in braces.
 * Values that stand for others too (YAML's anchors and aliases) are not changed:
 * wf_job_edit_write_out makes them the path's own first.
 */
#ifndef WHITEFRINGE_JOB_EDIT_H
#define WHITEFRINGE_JOB_EDIT_H

#include <stddef.h>
#include <whitefringe/observation.h>
#include <whitefringe/status.h>
#include <whitefringe/time.h>

#ifdef __cplusplus
extern "C" {
#endif

typedef struct wf_job_edit wf_job_edit;

/** Read a job file for editing; what its keys mean is not checked.
 *
 *  returned  out  to be destroyed by the caller; NULL on failure
 *  status    OK | MISSING: no such file | FORMAT: no YAML, or more than one document
 *            | UNSUPPORTED: UTF-16 | IO | MEMORY
 */
WF_API WF_MUST_CHECK wf_status wf_job_edit_open(wf_job_edit **out, const char *path, wf_error *err);

/** A handle of its own with the same text and the same changes, so that edits can be tried side by
 *  side. */
WF_API WF_MUST_CHECK wf_status wf_job_edit_copy(wf_job_edit **out, const wf_job_edit *edit,
                                                wf_error *err);

/** Accepts NULL. */
WF_API void wf_job_edit_destroy(wf_job_edit *edit);

/* The edits all return
 *
 *  status  OK | ARGUMENT: no path, or a value that no job can hold | MISSING: an entry of a list
 *          that is not there | FORMAT: the path ends in a list or a mapping where it needs the
 *          other, or a name is not unique | UNSUPPORTED: the value stands for others too, or the
 *          YAML is written in a way that does not let it be changed by itself; the message names
 *          the line | MEMORY
 *
 * The quotes of an old single value are kept; where it equals the new one, so is its text.
 */

/** A finite number, with the fewest digits that read back as the same one. */
WF_API WF_MUST_CHECK wf_status wf_job_edit_set_number(wf_job_edit *edit, const char *path,
                                                      double value, wf_error *err);

/** A list [n] of numbers. Where there is one of that length, only what differs in it changes. */
WF_API WF_MUST_CHECK wf_status wf_job_edit_set_numbers(wf_job_edit *edit, const char *path,
                                                       const double *values, size_t n,
                                                       wf_error *err);

/** A word, a name, or any other single value; with quotes where YAML needs them. */
WF_API WF_MUST_CHECK wf_status wf_job_edit_set_text(wf_job_edit *edit, const char *path,
                                                    const char *value, wf_error *err);

/** UTC, with as many decimals as the instant has. */
WF_API WF_MUST_CHECK wf_status wf_job_edit_set_instant(wf_job_edit *edit, const char *path,
                                                       wf_instant value, wf_error *err);

/** Any value, as YAML writes it in one line: {reference: 2026-03-01T12:00:00, ahead_s: 1e-6}. What
 *  stood there goes, with comments within it. */
WF_API WF_MUST_CHECK wf_status wf_job_edit_set_yaml(wf_job_edit *edit, const char *path,
                                                    const char *value, wf_error *err);

/** The clock of a station, by its name; its keys one by one where it has one, comments kept. All or
 *  nothing is done. */
WF_API WF_MUST_CHECK wf_status wf_job_edit_set_clock(wf_job_edit *edit, const char *station,
                                                     const wf_clock *clock, wf_error *err);

/** Take a key with its value away, or an entry of a list: its lines with the comment behind it, or
 *  its part of a line. */
WF_API WF_MUST_CHECK wf_status wf_job_edit_remove(wf_job_edit *edit, const char *path,
                                                  wf_error *err);

/** Make what a path leads to its own: the aliases on its way, and those elsewhere that repeat it,
 *  are replaced by what they stand for. Nothing where there are none. The job means the same. */
WF_API WF_MUST_CHECK wf_status wf_job_edit_write_out(wf_job_edit *edit, const char *path,
                                                     wf_error *err);

/** The single value at a path, aliases followed, without quotes; borrowed, until the next edit.
 *  NULL: not there, or no single value. */
WF_API const char *wf_job_edit_value(const wf_job_edit *edit, const char *path);

/** How many entries the list at a path has, keys the mapping; 0: it is not there. */
WF_API size_t wf_job_edit_n_entries(const wf_job_edit *edit, const char *path);

/** The edited text, n bytes and a zero; borrowed, until the next edit. `n` may be NULL. */
WF_API const char *wf_job_edit_text(const wf_job_edit *edit, size_t *n);

/** The file's path, as it was given; borrowed. */
WF_API const char *wf_job_edit_path(const wf_job_edit *edit);

/** The job as edited, as if it were read from the file: see wf_observation_load. */
WF_API WF_MUST_CHECK wf_status wf_job_edit_observation(const wf_job_edit *edit,
                                                       wf_observation **out, wf_error *err);

/** The changes since the file was opened, in the order of the edits; of a value that was edited
 *  several times as one. */
WF_API size_t wf_job_edit_n_changes(const wf_job_edit *edit);

/** A change in a line for a human, with the line of the file as it was opened, as
 *  "line 12: ahead_s: 1.2e-6 -> 3.4e-6 (station Alder)"; borrowed, until the next edit. NULL: there
 *  is no such change. */
WF_API const char *wf_job_edit_change(const wf_job_edit *edit, size_t i_change);

/** What differs between file and text, line by line, as a unified diff with three lines around.
 *
 *  returned  text      as much as fits into `capacity` bytes, a zero included; NULL with 0 bytes
 *  return    length of the whole, without the zero; 0: nothing differs
 */
WF_API size_t wf_job_edit_diff(const wf_job_edit *edit, char *text, size_t capacity);

/** Put the edited text into the file, whole or not at all, its permissions kept. What stood there
 *  is written to JOB.1, or the next number that is free, beside it first. A link stays, what it
 *  points to is replaced. With nothing changed, nothing is done.
 *
 *  returned  backup  [capacity] path of the copy; empty: none was made. NULL: not wanted
 *  status    OK | FORMAT: the file is not what it was when it was opened: somebody else has changed
 *            it | MISSING: it is gone | IO: the copy stays if it was made | MEMORY
 */
WF_API WF_MUST_CHECK wf_status wf_job_edit_save(wf_job_edit *edit, char *backup, size_t capacity,
                                                wf_error *err);

#ifdef __cplusplus
}
#endif

#endif
