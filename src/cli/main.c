#include <signal.h>
#include <stdio.h>
#include <string.h>

#include "cli/cli.h"

/* The one writable variable of file scope: the signal handler has nothing else to write to. */
volatile int stop_signal;

static void take_signal(int number)
{
    stop_signal = number;
}

static void watch_signals(void)
{
    static const int signals[] = { SIGINT, SIGTERM, SIGHUP };
    struct sigaction action;

    memset(&action, 0, sizeof action);
    action.sa_handler = take_signal;
    /* the second Ctrl-C ends at once */
    action.sa_flags = (int)SA_RESETHAND;
    (void)sigemptyset(&action.sa_mask);
    for (size_t i = 0; i < sizeof signals / sizeof *signals; i++)
        (void)sigaction(signals[i], &action, NULL);
    /* a reader that went away, or a file size limit, is an error of that write */
    action.sa_handler = SIG_IGN;
    action.sa_flags = 0;
    (void)sigaction(SIGPIPE, &action, NULL);
    (void)sigaction(SIGXFSZ, &action, NULL);
}

int exit_of_error(const sl_error *err)
{
    switch (err->status) {
    case SL_ERR_ARG:
        return EXIT_USAGE;
    case SL_ERR_EXISTS:
        return EXIT_CANNOT_CREATE;
    case SL_ERR_SPACE:
        return EXIT_DISK;
    case SL_ERR_IO:
        return EXIT_DISK;
    case SL_ERR_CANCELLED:
        return EXIT_SIGNAL + stop_signal;
    case SL_ERR_NOMEM:
        return EXIT_OURS;
    case SL_ERR_NO_SHOTS:
        return EXIT_NO_INPUT;
    case SL_ERR_BUSY:
        return EXIT_BUSY;
    case SL_ERR_PERMISSION:
        return EXIT_PERMISSION;
    case SL_OK:
    case SL_ERR_INCOMPLETE:
    case SL_ERR_FORMAT:
    case SL_ERR_UNSUPPORTED:
    case SL_ERR_LIMIT:
    case SL_ERR_DEGENERATE:
    default:
        return EXIT_RESHOOT;
    }
}

int exit_of_verdict(sl_verdict verdict, fail_policy fail_on)
{
    if (fail_on == FAIL_NEVER || (fail_on == FAIL_RESHOOT && verdict == SL_LOOK))
        return EXIT_PASS;
    return verdict == SL_PASS ? EXIT_PASS : verdict == SL_LOOK ? EXIT_LOOK : EXIT_RESHOOT;
}

static int run_command(const arguments *args)
{
    switch (args->command) {
    case ALBUM:
        return run_album(args);
    case PAGE:
        return run_page(args);
    case OUTLINE:
        return run_outline(args);
    case REVIEW:
        return run_review(args);
    case CAPTIONS:
        return run_captions(args);
    case BOOK:
        return run_book(args);
    case GATHER:
        return run_gather(args);
    case BAG:
        return run_bag(args);
    case VERIFY:
        return run_verify(args);
    case PLAN:
    default:
        return run_plan(args);
    }
}

int main(int argc, char **argv)
{
    arguments args;
    int status;

    watch_signals();
    if (!parse_arguments(&args, argc, argv))
        return EXIT_USAGE;
    if (args.version) {
        (void)puts(sl_version());
        status = EXIT_PASS;
    } else if (args.help) {
        print_help(args.command);
        status = argc < 2 ? EXIT_USAGE : EXIT_PASS;
    } else {
        status = run_command(&args);
    }
    if (fflush(stdout) != 0 && status < EXIT_USAGE) {
        (void)fputs("squareleaf: standard output could not be written\n", stderr);
        return EXIT_DISK;
    }
    return status;
}
