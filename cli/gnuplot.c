/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Pictures are drawn by gnuplot, a process of its own. */
#include "gnuplot.h"

#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#include "base/output.h"
#include "base/status.h"
#include "base/text.h"
#include "cancel.h"

static const char LOG[] = "gnuplot.log";
enum { LINE_BYTES = 200, EXIT_NOT_STARTED = 127 };

/* In the child: only calls that are safe after fork. */
static void become_gnuplot(const char *folder, const char *script, int reason_pipe)
{
    int reason = 0;
    const int nothing = open("/dev/null", O_RDONLY);
    if (chdir(folder) != 0 || nothing < 0)
        reason = errno;
    const int log = open(LOG, O_WRONLY | O_CREAT | O_TRUNC, 0666);
    if (reason == 0 && (log < 0 || dup2(nothing, STDIN_FILENO) < 0 ||
                        dup2(log, STDOUT_FILENO) < 0 || dup2(log, STDERR_FILENO) < 0))
        reason = errno;
    if (reason == 0) {
        /* without the user's own settings: pictures are the same everywhere */
        execlp("gnuplot", "gnuplot", "--default-settings", script, (char *)NULL);
        reason = errno;
    }
    const ssize_t n = write(reason_pipe, &reason, sizeof reason);
    _exit(n == (ssize_t)sizeof reason ? EXIT_NOT_STARTED : EXIT_NOT_STARTED - 1);
}

static wf_status not_started(int reason, wf_error *err)
{
    char words[WFI_ERRNO_TEXT_BYTES];
    if (reason == ENOENT)
        return wfi_fail(err, WF_IO,
                        "gnuplot, which draws the pictures, is not installed or not on PATH: "
                        "install it (Debian: apt install gnuplot-nox)");
    return wfi_fail(err, WF_IO, "gnuplot, which draws the pictures, cannot be started: %s",
                    wfi_errno_text(words, reason));
}

/* Start gnuplot; the pipe closes by itself when it runs, and carries errno when it does not. */
static wf_status start(pid_t *child, const char *folder, const char *script, wf_error *err)
{
    int ends[2];
    if (pipe(ends) != 0 || fcntl(ends[1], F_SETFD, FD_CLOEXEC) != 0)
        return not_started(errno, err);
    *child = fork();
    if (*child == 0) {
        close(ends[0]);
        become_gnuplot(folder, script, ends[1]);
    }
    int reason = *child < 0 ? errno : 0;
    close(ends[1]);
    ssize_t n = 0;
    if (reason == 0) {
        do
            n = read(ends[0], &reason, sizeof reason);
        while (n < 0 && errno == EINTR);
    }
    close(ends[0]);
    if (n == 0 && reason == 0)
        return WF_OK;
    if (*child > 0)
        waitpid(*child, NULL, 0);
    return not_started(reason, err);
}

/* Wait for the end; a request to stop is passed on, whoever it was sent to. */
static int wait_for(pid_t child)
{
    int result = 0;
    bool told = false;
    const struct timespec pause = {.tv_nsec = 5000000};
    while (waitpid(child, &result, WNOHANG) == 0) {
        if (cancel_requested() != 0 && !told) {
            kill(child, SIGTERM);
            told = true;
        }
        nanosleep(&pause, NULL);
    }
    return result;
}

static void join(wfi_text *path, const char *folder, const char *name)
{
    wfi_text_append(path, "%s/%s", folder, name);
}

/* First line of the log that says something. */
static void first_line(char line[LINE_BYTES], const char *folder)
{
    wfi_text path = {0};
    line[0] = '\0';
    join(&path, folder, LOG);
    FILE *file = path.failed ? NULL : fopen(path.bytes, "r");
    while (file != NULL && line[0] == '\0' && fgets(line, LINE_BYTES, file) != NULL)
        line[strcspn(line, "\n")] = '\0';
    if (file != NULL)
        fclose(file);
    wfi_text_release(&path);
}

static bool stands(const char *folder, const char *name)
{
    wfi_text path = {0};
    struct stat entry;
    join(&path, folder, name);
    const bool yes = !path.failed && stat(path.bytes, &entry) == 0 && S_ISREG(entry.st_mode) &&
                     entry.st_size > 0;
    wfi_text_release(&path);
    return yes;
}

wf_status gnuplot_run(const char *folder, const char *script, const char *picture, wf_error *err)
{
    pid_t child = -1;
    WFI_TRY(start(&child, folder, script, err));
    const int result = wait_for(child);
    if (cancel_requested() != 0)
        return WF_CANCELLED;
    if (WIFEXITED(result) && WEXITSTATUS(result) == 0 && stands(folder, picture))
        return WF_OK;
    char line[LINE_BYTES];
    first_line(line, folder);
    return wfi_fail(err, WF_IO, "gnuplot did not draw %s: %s", picture,
                    line[0] != '\0' ? line : "it ended without a word");
}

wf_status gnuplot_check(const char *folder, wf_error *err)
{
    wfi_text path = {0};
    join(&path, folder, "check.gp");
    FILE *file = path.failed ? NULL : fopen(path.bytes, "w");
    wf_status status = WF_IO;
    if (file != NULL) {
        fputs("set terminal pngcairo size 16,16\nset output 'check.png'\nplot 0\n", file);
        status = fclose(file) == 0 ? gnuplot_run(folder, "check.gp", "check.png", err) : WF_IO;
    } else {
        wfi_fail(err, WF_IO, "%s: no file can be written into this folder", folder);
    }
    if (status == WF_IO)
        wfi_prefix(err, "pictures need gnuplot with its pngcairo terminal: ");
    wfi_text_release(&path);
    return status;
}
