/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Lines that keep their numbers through edits. */
#include "observation/edit_lines.h"

#include <stdbool.h>
#include <string.h>

#include "base/memory.h"
#include "base/status.h"

static size_t count_lines(const char *bytes, size_t n)
{
    size_t lines = n > 0 && bytes[n - 1] != '\n';
    for (size_t i = 0; i < n; i++)
        lines += bytes[i] == '\n';
    return lines;
}

wf_status wfi_lines_split(wfi_lines *out, const char *bytes, size_t n, wf_error *err)
{
    *out = (wfi_lines){.bytes = bytes, .n = count_lines(bytes, n)};
    WFI_TRY(wfi_allocate(&out->begin, out->n + 1, sizeof *out->begin, "lines", err));
    WFI_TRY(wfi_allocate(&out->origin, out->n, sizeof *out->origin, "lines", err));
    size_t at = 0;
    for (size_t i = 0; i < out->n; i++) {
        out->begin[i] = at;
        out->origin[i] = i + 1;
        const char *end = memchr(bytes + at, '\n', n - at);
        at = end == NULL ? n : (size_t)(end - bytes) + 1;
    }
    out->begin[out->n] = n;
    return WF_OK;
}

void wfi_lines_release(wfi_lines *lines)
{
    wfi_free(lines->begin);
    wfi_free(lines->origin);
    *lines = (wfi_lines){0};
}

static bool same_line(const wfi_lines *a, size_t i, const wfi_lines *b, size_t j)
{
    const size_t n = a->begin[i + 1] - a->begin[i];
    return n == b->begin[j + 1] - b->begin[j] &&
           memcmp(a->bytes + a->begin[i], b->bytes + b->begin[j], n) == 0;
}

wf_status wfi_lines_follow(wfi_lines *out, const wfi_lines *before, const char *bytes, size_t n,
                           wf_error *err)
{
    WFI_TRY(wfi_lines_split(out, bytes, n, err));
    const size_t fewest = before->n < out->n ? before->n : out->n;
    size_t head = 0;
    while (head < fewest && same_line(before, head, out, head))
        head++;
    size_t tail = 0;
    while (tail < fewest - head && same_line(before, before->n - 1 - tail, out, out->n - 1 - tail))
        tail++;
    for (size_t j = 0; j < out->n; j++) {
        if (j >= out->n - tail)
            out->origin[j] = before->origin[before->n - (out->n - j)];
        else
            out->origin[j] = j < before->n - tail ? before->origin[j] : 0;
    }
    return WF_OK;
}

size_t wfi_lines_origin(const wfi_lines *lines, size_t line)
{
    return line >= 1 && line <= lines->n ? lines->origin[line - 1] : 0;
}

/* Lines of the one text that stand in the place of lines of the other. */
typedef struct run {
    size_t old_begin, old_end;
    size_t new_begin, new_end;
} run;

static bool is_kept(const wfi_lines *first, const wfi_lines *now, size_t j)
{
    return now->origin[j] != 0 && same_line(first, now->origin[j] - 1, now, j);
}

/* The first one behind lines that agree. */
static bool next_run(const wfi_lines *first, const wfi_lines *now, size_t i, size_t j, run *out)
{
    while (i < first->n && j < now->n && now->origin[j] == i + 1 && is_kept(first, now, j)) {
        i++;
        j++;
    }
    *out = (run){i, first->n, j, j};
    while (out->new_end < now->n && !is_kept(first, now, out->new_end))
        out->new_end++;
    if (out->new_end < now->n)
        out->old_end = now->origin[out->new_end] - 1;
    return out->old_end > i || out->new_end > j;
}

typedef struct sink {
    char *text;
    size_t capacity;
    size_t n;
} sink;

static void put(sink *s, const char *bytes, size_t n)
{
    for (size_t i = 0; i < n; i++, s->n++) {
        if (s->n + 1 < s->capacity)
            s->text[s->n] = bytes[i];
    }
    if (s->capacity > 0)
        s->text[s->n < s->capacity ? s->n : s->capacity - 1] = '\0';
}

static void put_words(sink *s, const char *words)
{
    put(s, words, strlen(words));
}

static void put_number(sink *s, size_t number)
{
    char digits[24];
    size_t i = sizeof digits;
    do {
        digits[--i] = (char)('0' + number % 10);
        number /= 10;
    } while (number > 0);
    put(s, digits + i, sizeof digits - i);
}

static void put_lines(sink *s, char mark, const wfi_lines *lines, size_t begin, size_t end)
{
    for (size_t i = begin; i < end; i++) {
        const size_t n = lines->begin[i + 1] - lines->begin[i];
        put(s, &mark, 1);
        put(s, lines->bytes + lines->begin[i], n);
        if (n == 0 || lines->bytes[lines->begin[i + 1] - 1] != '\n')
            put_words(s, "\n\\ No newline at end of file\n");
    }
}

static void put_range(sink *s, const char *mark, size_t begin, size_t end)
{
    put_words(s, mark);
    put_number(s, end > begin ? begin + 1 : begin);
    put_words(s, ",");
    put_number(s, end - begin);
}

enum { CONTEXT_LINES = 3 };

/* Runs that lie close share a hunk. */
static run hunk_end(const wfi_lines *first, const wfi_lines *now, run last)
{
    run next;
    while (next_run(first, now, last.old_end, last.new_end, &next) &&
           next.old_begin - last.old_end <= 2 * CONTEXT_LINES)
        last = next;
    return last;
}

static void put_hunk(sink *s, const wfi_lines *first, const wfi_lines *now, run r, run last)
{
    const size_t above = r.old_begin < CONTEXT_LINES ? r.old_begin : CONTEXT_LINES;
    const size_t left = first->n - last.old_end;
    const size_t below = left < CONTEXT_LINES ? left : CONTEXT_LINES;
    put_range(s, "@@ -", r.old_begin - above, last.old_end + below);
    put_range(s, " +", r.new_begin - above, last.new_end + below);
    put_words(s, " @@\n");
    put_lines(s, ' ', first, r.old_begin - above, r.old_begin);
    for (;;) {
        put_lines(s, '-', first, r.old_begin, r.old_end);
        put_lines(s, '+', now, r.new_begin, r.new_end);
        if (r.old_end == last.old_end && r.new_end == last.new_end)
            break;
        const size_t from = r.old_end;
        (void)next_run(first, now, r.old_end, r.new_end, &r);
        put_lines(s, ' ', first, from, r.old_begin);
    }
    put_lines(s, ' ', first, last.old_end, last.old_end + below);
}

size_t wfi_lines_diff(const wfi_lines *first, const wfi_lines *now, const char *path, char *text,
                      size_t capacity)
{
    sink s = {text, capacity, 0};
    put(&s, "", 0);
    run r = {0};
    if (!next_run(first, now, 0, 0, &r))
        return 0;
    put_words(&s, "--- ");
    put_words(&s, path);
    put_words(&s, "\n+++ ");
    put_words(&s, path);
    put_words(&s, "\n");
    do {
        const run last = hunk_end(first, now, r);
        put_hunk(&s, first, now, r, last);
        r = last;
    } while (next_run(first, now, r.old_end, r.new_end, &r));
    return s.n;
}
