/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The page of a report: sections one after the other, figures inside them. */
#ifndef CLI_REPORT_PAGE_H
#define CLI_REPORT_PAGE_H

#include "base/text.h"
#include "report/figure.h"
#include "report/html.h"
#include "report/survey.h"
#include "staging.h"

typedef struct page {
    const survey *survey;
    staging *files; /* where scripts, pictures and the page are made */
    wfi_text body;
    bool all; /* draw every baseline, however many there are */
} page;

/** A section appends to p->body what stands under its heading; one that appends nothing is left
 *  out, heading and all. */
typedef struct section {
    const char *id;
    const char *heading;
    wf_status (*append)(page *p, wf_error *err);
} section;

extern const section section_summary, section_overview, section_baselines, section_autocorrelations,
    section_weights, section_clocks, section_uv, section_losses, section_origin, section_stations,
    section_stability;

/** Write all sections into a file of the staging folder, to be published.
 *
 *  given  p  with survey, files, all; its body is released by the caller
 */
wf_status page_write(page *p, const char *file, wf_error *err);

/** What a figure is called: its PNG, its title for who does not see it, the words below it. */
typedef struct figure_words {
    const char *name; /* of the PNG without ".png" */
    const char *title;
    const char *caption;
} figure_words;

/** Draw a figure, append it to the page, keep its PNG, and release it.
 *
 *  status  OK | IO: gnuplot did not draw it | CANCELLED | MEMORY
 */
wf_status page_figure(page *p, figure *f, const figure_words *words, wf_error *err);

/** A third heading that names a stretch, its source and time. */
void page_stretch_heading(page *p, size_t i_stretch);

/** Figures between these stand side by side where there is room. */
void page_figures_begin(page *p);
void page_figures_end(page *p);

/** "stretch01_Alder-Birch_fringe": a name for a file, from names that may hold anything. j_station
 *  or i_station beyond the stations: none. */
enum { PAGE_NAME_BYTES = 160 };
void page_name(char name[PAGE_NAME_BYTES], const survey *s, size_t i_stretch, size_t i_station,
               size_t j_station, const char *what);
#define PAGE_NO_STATION ((size_t)-1)

/** The style sheet; parts, for C limits the length of a literal. */
extern const char *const page_style[];

#endif
