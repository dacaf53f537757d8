/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The page of a report: head, contents, sections. */
#include "report/page.h"

#include <math.h>

#include "base/memory.h"
#include "base/status.h"
#include "report/svg.h"

static const section *const sections[] = {
    &section_summary,   &section_overview,         &section_baselines, &section_stations,
    &section_stability, &section_autocorrelations, &section_weights,   &section_clocks,
    &section_uv,        &section_losses,           &section_origin,
};
enum { N_SECTIONS = sizeof sections / sizeof sections[0], N_BARS = 61 };

/* An invented white-light fringe: bars under an envelope. */
static void append_emblem(wfi_text *out)
{
    wfi_text_append(out,
                    "<svg class=\"emblem\" viewBox=\"0 0 610 40\" preserveAspectRatio=\"none\" "
                    "aria-hidden=\"true\">");
    for (int i = 0; i < N_BARS; i++) {
        const double x = i - 0.5 * (N_BARS - 1);
        const double envelope = exp(-x * x / 180.0);
        wfi_text_append(out,
                        "<rect x=\"%d\" y=\"%.1f\" width=\"%.1f\" height=\"%.1f\" "
                        "opacity=\"%.3f\"/>",
                        10 * i + 2, 20 - 20 * envelope, 3 + 3 * envelope, 40 * envelope,
                        0.25 + 0.75 * envelope);
    }
    wfi_text_append(out, "</svg>\n");
}

static void append_head(wfi_text *out, const page *p)
{
    const wf_fits_idi_info *info = p->survey->info;
    const char *campaign = info->campaign[0] != '\0' ? info->campaign : p->survey->file;
    wfi_text_append(out, "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n"
                         "<meta name=\"viewport\" content=\"width=device-width, "
                         "initial-scale=1\">\n<meta name=\"color-scheme\" content=\"light "
                         "dark\">\n<link rel=\"icon\" href=\"data:,\">\n<title>");
    html_textf(out, "%s: fringes", campaign);
    wfi_text_append(out, "</title>\n<style>\n");
    for (size_t i = 0; page_style[i] != NULL; i++)
        wfi_text_append(out, "%s", page_style[i]);
    wfi_text_append(out, "</style>\n</head>\n<body>\n");
    svg_append_definitions(out);
    wfi_text_append(out, "<a class=\"skip\" href=\"#summary\">to the summary</a>\n<header>\n");
    append_emblem(out);
    html_element(out, "h1", NULL, "%s", campaign);
    html_element(out, "p", "file", "%s", p->survey->file);
    wfi_text_append(out, "</header>\n");
}

static void append_contents(wfi_text *out, const bool shown[N_SECTIONS])
{
    wfi_text_append(out, "<nav aria-label=\"contents\">\n<ul>\n");
    for (size_t i = 0; i < N_SECTIONS; i++) {
        if (shown[i])
            wfi_text_append(out, "<li><a href=\"#%s\">%s</a></li>\n", sections[i]->id,
                            sections[i]->heading);
    }
    wfi_text_append(out, "</ul>\n</nav>\n");
}

/* True where the section had something to say. */
static wf_status append_section(page *p, const section *s, bool *shown, wf_error *err)
{
    const size_t before = p->body.n;
    wfi_text_append(&p->body, "<section id=\"%s\">\n<h2>%s</h2>\n", s->id, s->heading);
    const size_t empty = p->body.n;
    WFI_TRY(s->append(p, err));
    *shown = p->body.n > empty;
    if (*shown) {
        wfi_text_append(&p->body, "</section>\n");
    } else if (p->body.n > before) {
        p->body.n = before;
        p->body.bytes[before] = '\0';
    }
    return WF_OK;
}

wf_status page_write(page *p, const char *file, wf_error *err)
{
    bool shown[N_SECTIONS] = {false};
    wfi_text whole = {0};
    for (size_t i = 0; i < N_SECTIONS; i++)
        WFI_TRY(append_section(p, sections[i], &shown[i], err));
    append_head(&whole, p);
    wfi_text_append(&whole, "<div class=\"frame\">\n");
    append_contents(&whole, shown);
    wfi_text_append(&whole, "<main>\n%s</main>\n</div>\n</body>\n</html>\n",
                    p->body.bytes != NULL ? p->body.bytes : "");
    whole.failed = whole.failed || p->body.failed;
    wf_status status = staging_write(p->files, file, &whole, err);
    if (status == WF_OK)
        status = staging_keep(p->files, file, err);
    wfi_text_release(&whole);
    return status;
}

void page_stretch_heading(page *p, size_t i_stretch)
{
    const wf_stretch *stretch = wf_stretches_get(p->survey->stretches, i_stretch);
    char span[PLOT_SPAN_BYTES];
    plot_format_span(span, stretch);
    html_element(&p->body, "h3", NULL, "Stretch %zu: %s, %s", i_stretch + 1,
                 p->survey->info->source_names[stretch->i_source], span);
}

void page_figures_begin(page *p)
{
    wfi_text_append(&p->body, "<div class=\"figures\">\n");
}

void page_figures_end(page *p)
{
    wfi_text_append(&p->body, "</div>\n");
}
