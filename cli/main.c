/* SPDX-License-Identifier: GPL-3.0-or-later */
/* whitefringe VERB ...: finds the verb, reads its options, runs it, and says how it ended. */
#include <stdio.h>
#include <string.h>
#include <whitefringe/version.h>

#include "base/text.h"
#include "cancel.h"
#include "exit.h"
#include "options.h"
#include "verbs.h"

enum { MESSAGE_BYTES = 512 };

static const verb *const verbs[] = {
    &verb_correlate, &verb_delays, &verb_inspect, &verb_report, &verb_search, &verb_simulate, &verb_throughput,
};
enum { N_VERBS = sizeof verbs / sizeof verbs[0] };

static void print_help(FILE *file)
{
    fputs("whitefringe: from the recordings of radio telescopes to visibilities and fringes\n\n"
          "usage: whitefringe VERB FILE [options]\n\n",
          file);
    for (size_t i = 0; i < N_VERBS; i++)
        fprintf(file, "  %-12s %s\n", verbs[i]->name, verbs[i]->summary);
    fputs("\n  whitefringe VERB --help   what the verb does, and its options\n"
          "  whitefringe --version     the version\n\n"
          "Exit code: 0 done, 1 the data or the job are at fault, 2 the command line, 3 the\n"
          "machine.\n",
          file);
}

static int refuse_usage(const char *verb_name, const char *message)
{
    if (verb_name == NULL)
        fprintf(stderr, "whitefringe: %s\nwhitefringe --help shows the verbs\n", message);
    else
        fprintf(stderr, "whitefringe: %s: %s\nwhitefringe %s --help shows the options\n", verb_name,
                message, verb_name);
    return EXIT_USAGE;
}

static int refuse_verb(const char *word)
{
    const char *names[N_VERBS];
    for (size_t i = 0; i < N_VERBS; i++)
        names[i] = verbs[i]->name;
    const char *nearest = wfi_nearest_word(word, names, N_VERBS);
    char message[MESSAGE_BYTES];
    if (nearest != NULL)
        snprintf(message, sizeof message, "there is no verb %.100s; did you mean %s?", word,
                 nearest);
    else
        snprintf(message, sizeof message, "there is no verb %.100s", word);
    return refuse_usage(NULL, message);
}

static int run(const verb *v, const settings *asked)
{
    wf_error err = WF_ERROR_INIT;
    cancel_watch();
    const wf_status status = v->run(asked, &err);
    if (status == WF_OK)
        return EXIT_DONE;
    if (status == WF_CANCELLED && cancel_requested() != 0) {
        fflush(stdout);
        fprintf(stderr, "whitefringe: stopped by signal %d; nothing unfinished is left\n",
                cancel_requested());
        cancel_end();
    }
    fprintf(stderr, "whitefringe: %s\n",
            err.message[0] != '\0' ? err.message : wf_status_text(status));
    return exit_code(status);
}

static int dispatch(int n, char *const *words)
{
    if (n == 0)
        return refuse_usage(NULL, "which verb?");
    if (strcmp(words[0], "--help") == 0 || strcmp(words[0], "-h") == 0) {
        print_help(stdout);
        return EXIT_DONE;
    }
    if (strcmp(words[0], "--version") == 0) {
        puts("whitefringe " WF_VERSION);
        return EXIT_DONE;
    }
    for (size_t i = 0; i < N_VERBS; i++) {
        if (strcmp(words[0], verbs[i]->name) != 0)
            continue;
        settings asked;
        char message[MESSAGE_BYTES] = "";
        if (!options_parse(&asked, verbs[i], n - 1, words + 1, message, sizeof message))
            return refuse_usage(verbs[i]->name, message);
        if (!asked.help)
            return run(verbs[i], &asked);
        options_print_help(verbs[i], stdout);
        return EXIT_DONE;
    }
    return refuse_verb(words[0]);
}

int main(int argc, char **argv)
{
    const int code = dispatch(argc - 1, argv + 1);
    if (fflush(stdout) != 0 || ferror(stdout)) {
        perror("whitefringe: standard output");
        return code == EXIT_DONE ? EXIT_MACHINE : code;
    }
    return code;
}
