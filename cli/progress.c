/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How far a run has come, on stderr where that is a terminal. */
#include "progress.h"

#include <inttypes.h>
#include <stdio.h>
#include <string.h>
#include <sys/ioctl.h>
#include <time.h>
#include <unistd.h>

#include "cancel.h"

static const double REDRAW_S = 0.1;
enum { LINE_BYTES = 256, BAR_MAX = 40, COLUMNS_DEFAULT = 80 };

static double now_s(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

progress progress_start(const char *title)
{
    return (progress){
        .title = title, .on_terminal = isatty(STDERR_FILENO) == 1, .start_s = now_s()};
}

static int terminal_columns(void)
{
    struct winsize size = {0};
    if (ioctl(STDERR_FILENO, TIOCGWINSZ, &size) != 0 || size.ws_col == 0)
        return COLUMNS_DEFAULT;
    return size.ws_col < LINE_BYTES ? size.ws_col : LINE_BYTES - 1;
}

static void format_duration(char text[32], double seconds)
{
    const int64_t s = (int64_t)(seconds + 0.5);
    if (s < 60)
        snprintf(text, 32, "%" PRId64 " s", s);
    else if (s < 3600)
        snprintf(text, 32, "%" PRId64 " min %02" PRId64 " s", s / 60, s % 60);
    else
        snprintf(text, 32, "%" PRId64 " h %02" PRId64 " min", s / 3600, s / 60 % 60);
}

/* "37 of 240 integrations, 12.5 x real time, 8 s left" */
static void format_state(char text[LINE_BYTES], const wf_progress *now, double elapsed_s)
{
    size_t n = (size_t)snprintf(text, LINE_BYTES, "%" PRId64 " of %" PRId64 " %.24s", now->n_done,
                                now->n_total, now->unit);
    if (now->n_done <= 0 || elapsed_s <= 0)
        return;
    if (now->data_seconds_done > 0)
        n += (size_t)snprintf(text + n, LINE_BYTES - n, ", %.3g x real time",
                              now->data_seconds_done / elapsed_s);
    else
        n += (size_t)snprintf(text + n, LINE_BYTES - n, ", %.3g a second",
                              (double)now->n_done / elapsed_s);
    char left[32];
    format_duration(left, elapsed_s * (double)(now->n_total - now->n_done) / (double)now->n_done);
    snprintf(text + n, LINE_BYTES - n, ", %s left", left);
}

static void draw(progress *bar, const wf_progress *now, double elapsed_s)
{
    char state[LINE_BYTES];
    char cells[BAR_MAX + 1] = "";
    format_state(state, now, elapsed_s);
    const double done = now->n_total > 0 ? (double)now->n_done / (double)now->n_total : 0;
    const int columns = terminal_columns();
    const int room = columns - (int)strlen(bar->title) - (int)strlen(state) - 13;
    const int length = room < 0 ? 0 : room > BAR_MAX ? BAR_MAX : room;
    for (int i = 0; i < length; i++)
        cells[i] = i < (int)(done * length) ? '=' : ' ';
    char line[2 * LINE_BYTES];
    snprintf(line, sizeof line, "%s [%s] %3.0f %%  %s", bar->title, cells, 100 * done, state);
    fprintf(stderr, "\r\033[K%.*s", columns - 1, line);
    fflush(stderr);
    bar->drawn = true;
}

int progress_show(void *context, const wf_progress *now)
{
    progress *bar = context;
    const double t = now_s();
    if (bar->on_terminal && t - bar->drawn_s >= REDRAW_S) {
        bar->drawn_s = t;
        draw(bar, now, t - bar->start_s);
    }
    return cancel_requested();
}

static void clear(progress *bar)
{
    if (bar->drawn)
        fputs("\r\033[K", stderr);
    bar->drawn = false;
}

void progress_warn(void *context, const char *message)
{
    clear(context);
    fprintf(stderr, "whitefringe: warning: %s\n", message);
}

double progress_end(progress *bar)
{
    clear(bar);
    return now_s() - bar->start_s;
}
