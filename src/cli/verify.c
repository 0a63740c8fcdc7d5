#include <stdio.h>

#include "cli/cli.h"

/* 0: all is as recorded; 1: nothing is lost, and there is something to look at; 2: loss. */
static int exit_of_verified(const sl_verified *v)
{
    const size_t *n = v->found;

    if (n[SL_FOUND_MISSING] + n[SL_FOUND_CHANGED] + n[SL_FOUND_FAULT] > 0)
        return EXIT_RESHOOT;
    return n[SL_FOUND_EXTRA] + n[SL_FOUND_UNSEEN] > 0 ? EXIT_LOOK : EXIT_PASS;
}

static void say_verified(const arguments *args, const sl_verified *v)
{
    const size_t unknown = v->found[SL_FOUND_UNKNOWN];
    bool any = false;

    (void)fprintf(stderr, "squareleaf: %s: %zu file%s, %.1f MB read: ", args->operand[0], v->files,
                  v->files == 1 ? "" : "s", v->bytes / 1e6);
    for (int i = 0; i < SL_FOUND_UNKNOWN; i++) {
        if (v->found[i] == 0)
            continue;
        (void)fprintf(stderr, "%s%zu %s", any ? ", " : "", v->found[i],
                      sl_finding_name((sl_finding)i));
        any = true;
    }
    if (unknown > 0)
        (void)fprintf(stderr, "%s%zu not checked, for no run made %s%s", any ? ", " : "", unknown,
                      unknown == 1 ? "it" : "them", any ? "" : "; all else is ");
    (void)fprintf(stderr, "%s.\n", any ? "" : v->is_bag ? "as it was bagged" : "as it was made");
}

int run_verify(const arguments *args)
{
    keeper k = keeper_for(args, "");
    const sl_keep_events events = keeper_events(&k);
    sl_verified verified;
    sl_error err = { SL_OK, NULL, "" };
    sl_status st;

    if (!judge_shots(args))
        return EXIT_USAGE;
    st = sl_verify(&verified, args->operand[0], args->shots, args->without_shots, &events,
                   &stop_signal, &err);
    keeper_clear(&k);
    if (st != SL_OK) {
        complain(args->operand[0], &err);
        return st == SL_ERR_IO ? EXIT_NO_INPUT : exit_of_keeping(&err);
    }
    if (verified.is_bag && !args->quiet && (args->shots != NULL || args->without_shots))
        (void)fputs("squareleaf: a bag holds its own shots: they were read there\n", stderr);
    if (!args->quiet)
        say_verified(args, &verified);
    return exit_of_verified(&verified);
}
