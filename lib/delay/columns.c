/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Numbers that stand in fixed columns of a line, or between blanks. */
#include "delay/columns.h"

#include <math.h>
#include <string.h>

#include "base/status.h"
#include "base/text.h"

size_t wfi_next_word(const char **cursor, const char **word)
{
    static const char blanks[] = " \t";
    *word = *cursor + strspn(*cursor, blanks);
    const size_t n = strcspn(*word, blanks);
    *cursor = *word + n;
    return n;
}

bool wfi_is_blank(const char *text, size_t n)
{
    return strspn(text, " ") >= n;
}

wf_status wfi_columns_read(const wfi_line_reader *reader, wfi_columns columns, const char *format,
                           double *value, wf_error *err)
{
    *value = NAN;
    if (reader->n < columns.first)
        return WF_OK;
    const char *text = reader->line + columns.first - 1;
    const size_t width = columns.last - columns.first + 1;
    const size_t rest = reader->n - columns.first + 1;
    const size_t n = rest < width ? rest : width;
    if (wfi_is_blank(text, n))
        return WF_OK;
    if (n < width)
        return wfi_fail(err, WF_FORMAT,
                        "%s: line %ld ends inside columns %zu-%zu (%s): the file is cut off; "
                        "fetch it again",
                        reader->path, reader->number, columns.first, columns.last, columns.what);
    if (text[width - 1] == ' ' || !wfi_parse_double(value, text, width))
        return wfi_fail(err, WF_FORMAT,
                        "%s: line %ld: columns %zu-%zu hold \"%.*s\" where %s has %s: "
                        "another file, or a damaged one",
                        reader->path, reader->number, columns.first, columns.last, (int)width, text,
                        format, columns.what);
    return WF_OK;
}
