/* SPDX-License-Identifier: GPL-3.0-or-later */
/* gnuplot's SVG made ready to stand inside a page. */
#ifndef CLI_REPORT_SVG_H
#define CLI_REPORT_SVG_H

#include "base/text.h"

/** Append a picture as an <svg> element with a title for people who do not see it.
 *
 *  Gone are what may stand only once in a page (identifiers, definitions: svg_append_definitions
 *  gives those), gnuplot's own titles and empty groups. The colours of ink, lines and curves
 *  become the page's variables, so that they follow its light or dark look.
 *
 *  given    drawn  the file's text, terminated
 *  returns  false where it is no SVG
 */
bool svg_append(wfi_text *out, const char *drawn, const char *title);

/** The symbols that all pictures share, once a page. */
void svg_append_definitions(wfi_text *out);

#endif
