/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A figure is drawn twice from one script: as SVG into the page, as PNG beside it. */
#include <ctype.h>
#include <stdio.h>
#include <string.h>

#include "base/status.h"
#include "gnuplot.h"
#include "report/page.h"
#include "report/svg.h"

static const char SCRIPT[] = "figure.gp";
static const char BODY[] = "body.gp";
static const char DRAWN[] = "figure.svg";

/* Letters, digits, '+' and '-' stay. */
static void sanitise(char out[WF_NAME_BYTES], const char *name)
{
    snprintf(out, WF_NAME_BYTES, "%s", name);
    for (char *p = out; *p != '\0'; p++) {
        if (!isalnum((unsigned char)*p) && *p != '+' && *p != '-')
            *p = '_';
    }
}

/* A station's name within a file's name. One that becomes the same as another's takes its number
 * along, after a sign that no name keeps. */
static void append_station(char name[PAGE_NAME_BYTES], const wf_fits_idi_info *info,
                           const char *between, size_t i_station)
{
    char mine[WF_NAME_BYTES];
    char other[WF_NAME_BYTES];
    bool alone = true;
    if (i_station >= info->n_stations)
        return;
    sanitise(mine, info->station_names[i_station]);
    for (size_t i = 0; i < info->n_stations; i++) {
        sanitise(other, info->station_names[i]);
        alone = alone && (i == i_station || strcmp(other, mine) != 0);
    }
    const size_t n = strlen(name);
    if (alone)
        snprintf(name + n, PAGE_NAME_BYTES - n, "%s%s", between, mine);
    else
        snprintf(name + n, PAGE_NAME_BYTES - n, "%s%s~%zu", between, mine, i_station + 1);
}

void page_name(char name[PAGE_NAME_BYTES], const survey *s, size_t i_stretch, size_t i_station,
               size_t j_station, const char *what)
{
    snprintf(name, PAGE_NAME_BYTES, "stretch%02zu", i_stretch + 1);
    append_station(name, s->info, "_", i_station);
    append_station(name, s->info, "-", j_station);
    const size_t n = strlen(name);
    snprintf(name + n, PAGE_NAME_BYTES - n, "_%s", what);
}

/* Terminals for both, and the same body. */
static void append_script(wfi_text *out, const figure *f, const char *picture)
{
    wfi_text_append(out,
                    "set encoding utf8\n"
                    "set terminal svg size %d,%d noenhanced font 'sans-serif,14' linewidth 1\n"
                    "set output '%s'\nload '%s'\nset output\n"
                    "set terminal pngcairo size %d,%d noenhanced font 'sans-serif,14' "
                    "fontscale 1.5 linewidth 2 pointscale 2 background '#ffffff'\nset output '%s'\n"
                    "load '%s'\nset output\n",
                    FIGURE_WIDTH, f->height, DRAWN, BODY, 2 * FIGURE_WIDTH, 2 * f->height, picture,
                    BODY);
}

static wf_status draw(page *p, const figure *f, const char *picture, wf_error *err)
{
    wfi_text script = {0};
    append_script(&script, f, picture);
    wf_status status = staging_write(p->files, BODY, &f->script, err);
    if (status == WF_OK)
        status = staging_write(p->files, SCRIPT, &script, err);
    if (status == WF_OK)
        status = gnuplot_run(p->files->folder, SCRIPT, picture, err);
    if (status == WF_OK)
        status = staging_keep(p->files, picture, err);
    wfi_text_release(&script);
    return status;
}

static wf_status embed(page *p, const figure_words *words, wf_error *err)
{
    wfi_text drawn = {0};
    wf_status status = staging_read(p->files, DRAWN, &drawn, err);
    if (status == WF_OK) {
        wfi_text_append(&p->body, "<figure>\n");
        if (!svg_append(&p->body, drawn.bytes, words->title))
            status = wfi_fail(err, WF_IO, "gnuplot did not draw %s as SVG", words->name);
        html_element(&p->body, "figcaption", NULL, "%s", words->caption);
        wfi_text_append(&p->body, "</figure>\n");
    }
    wfi_text_release(&drawn);
    return status;
}

wf_status page_figure(page *p, figure *f, const figure_words *words, wf_error *err)
{
    char picture[PAGE_NAME_BYTES + 8];
    snprintf(picture, sizeof picture, "%s.png", words->name);
    wfi_text_append(&f->script, "unset multiplot\n");
    wf_status status = draw(p, f, picture, err);
    if (status == WF_OK)
        status = embed(p, words, err);
    figure_release(f);
    return status;
}
