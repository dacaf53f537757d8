/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Coverage of the u,v plane, and the resolution that it gives. */
#include <math.h>
#include <stdio.h>

#include "base/status.h"
#include "report/page.h"

enum { LEFT = 82, RIGHT = 464, TOP = 52, BOTTOM = 442, HEIGHT = 504 };
static const double MAS_PER_RAD = 206264806.247;
static const double DEG_PER_RAD = 57.29577951308232088;

/* Wavelengths are written in thousands or millions. */
typedef struct unit {
    double factor;
    const char *name;
} unit;

static unit unit_of(double wavelengths)
{
    if (wavelengths >= 1e6)
        return (unit){1e6, "Mλ"};
    return wavelengths >= 1e3 ? (unit){1e3, "kλ"} : (unit){1, "λ"};
}

static void draw(figure *f, const survey *s, size_t i_source)
{
    const double hz = survey_middle_hz(s);
    const double longest = s->extents[i_source].longest_s * hz;
    const unit u = unit_of(longest);
    const double edge = 1.08 * longest / u.factor;
    figure_begin(f, HEIGHT);
    wfi_text_append(&f->script, "$uv << EOD\n");
    for (size_t i = 0; i < s->n_uv; i++) {
        if (s->uv[i].i_source == i_source)
            wfi_text_append(&f->script, "%.6g %.6g\n", s->uv[i].u_s * hz / u.factor,
                            s->uv[i].v_s * hz / u.factor);
    }
    wfi_text_append(&f->script, "EOD\n");
    char title[WF_NAME_BYTES + 32];
    char note[64];
    snprintf(title, sizeof title, "u,v coverage of %s", s->info->source_names[i_source]);
    snprintf(note, sizeof note, "at %.3f MHz; pale: the conjugate points", 1e-6 * hz);
    figure_title(f, title, note);
    figure_panel(f, LEFT, RIGHT, TOP, BOTTOM);
    /* east is on the left, as on the sky */
    wfi_text_append(
        &f->script,
        "set border 15\nset grid xtics ytics\nset xrange [%.6g:%.6g]\nset yrange [%.6g:%.6g]\n"
        "set xlabel 'u / %s (east to the left)'\nset ylabel 'v / %s'\n"
        "plot $uv using (-$1):(-$2) with points pointtype 7 pointsize 0.55 linecolor "
        "rgb '#a3b8c8', $uv using 1:2 with points pointtype 7 pointsize 0.6 linecolor "
        "rgb '" PLOT_FIRST_COLOUR "'\n",
        edge, -edge, -edge, edge, u.name, u.name);
}

/* Axes of the beam near its peak: the dirty beam of equal weights is, close to its middle,
 * 1 - 2 pi^2 <(u l + v m)^2>; the Gaussian with the same curvature has a full width at half maximum
 * of sqrt(2 ln 2) / (pi rms) along each principal axis. */
typedef struct beam {
    double major_rad;
    double minor_rad;
    double angle_rad; /* of the major axis, from north through east */
} beam;

static beam beam_of(const survey_uv_extent *e, double hz)
{
    const double mean = 0.5 * (e->uu_s2 + e->vv_s2);
    const double half = 0.5 * (e->uu_s2 - e->vv_s2);
    const double root = hypot(half, e->uv_s2);
    const double width = sqrt(2 * log(2.0)) / (acos(-1.0) * hz);
    /* the beam is widest where u,v reach least far */
    return (beam){width / sqrt(fmax(mean - root, 0)), width / sqrt(mean + root),
                  0.5 * atan2(-e->uv_s2, half)};
}

static void append_angle(wfi_text *out, double rad)
{
    const double mas = MAS_PER_RAD * rad;
    if (!isfinite(mas) || mas > 3.6e9)
        html_number(out, "unbounded");
    else if (mas >= 1e6)
        html_number(out, "%.4g″", 1e-3 * mas);
    else if (mas >= 1)
        html_number(out, "%.4g mas", mas);
    else
        html_number(out, "%.4g µas", 1e3 * mas);
}

static void append_row(wfi_text *out, const survey *s, size_t i_source)
{
    const survey_uv_extent *e = &s->extents[i_source];
    const double hz = survey_middle_hz(s);
    const unit u = unit_of(e->longest_s * hz);
    html_row_begin(out);
    html_row_head(out, "%s", s->info->source_names[i_source]);
    html_number(out, "%zu", e->n_rows);
    html_number(out, "%.4g %s", e->longest_s * hz / u.factor, u.name);
    append_angle(out, e->longest_s > 0 ? 1 / (e->longest_s * hz) : INFINITY);
    if (e->longest_s > 0) {
        const beam b = beam_of(e, hz);
        append_angle(out, b.major_rad);
        append_angle(out, b.minor_rad);
        html_number(out, "%.0f°", DEG_PER_RAD * b.angle_rad);
    } else {
        html_number(out, "–");
        html_number(out, "–");
        html_number(out, "–");
    }
    html_row_end(out);
}

static wf_status append_pictures(page *p, wf_error *err)
{
    enum { PICTURES_MAX = 6 };
    const survey *s = p->survey;
    size_t n = 0;
    page_figures_begin(p);
    for (size_t i = 0; i < s->info->n_sources && (p->all || n < PICTURES_MAX); i++) {
        char name[32];
        char title[WF_NAME_BYTES + 32];
        figure f = {0};
        if (!(s->extents[i].longest_s > 0))
            continue;
        n++;
        draw(&f, s, i);
        snprintf(name, sizeof name, "uv%02zu", i + 1);
        snprintf(title, sizeof title, "u,v coverage of %s", s->info->source_names[i]);
        WFI_TRY(page_figure(
            p, &f, &(figure_words){name, title, "Baselines as the source sees them."}, err));
    }
    page_figures_end(p);
    return WF_OK;
}

static wf_status append(page *p, wf_error *err)
{
    const survey *s = p->survey;
    bool any = false;
    for (size_t i = 0; i < s->info->n_sources; i++)
        any = any || s->extents[i].longest_s > 0;
    if (!any)
        return WF_OK;
    html_table_begin(&p->body, "Resolution at the middle of the bands, all rows weighted alike",
                     "source|#rows|#longest baseline|#its fringe spacing|#beam, major axis|"
                     "#minor axis|#angle, north through east");
    for (size_t i = 0; i < s->info->n_sources; i++) {
        if (s->extents[i].n_rows > 0)
            append_row(&p->body, s, i);
    }
    html_table_end(&p->body);
    html_element(&p->body, "p", "note",
                 "The beam is the Gaussian with the curvature of the dirty beam at its peak, full "
                 "width at half maximum.");
    return append_pictures(p, err);
}

const section section_uv = {"uv", "u,v coverage", append};
