#include <stdio.h>

#include "cli/cli.h"

int run_review(const arguments *args)
{
    sl_error err = { SL_OK, NULL, "" };
    const sl_status st = sl_album_review(args->operand[0], args->force, &err);

    if (st != SL_OK) {
        complain(args->operand[0], &err);
        return st == SL_ERR_FORMAT ? EXIT_DISK : exit_of_error(&err);
    }
    if (!args->quiet)
        (void)fprintf(stderr, "squareleaf: %s/review.html is written: open it in a browser\n",
                      args->operand[0]);
    return EXIT_PASS;
}
