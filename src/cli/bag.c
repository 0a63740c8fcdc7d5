#include <stdio.h>

#include "cli/cli.h"

static void say_bag(const arguments *args, const sl_bag *bag)
{
    if (args->quiet)
        return;
    (void)fprintf(stderr, "squareleaf: %s: %zu files, %.1f MB, %zu shot%s among them",
                  args->operand[1], bag->files, bag->bytes / 1e6, bag->shots,
                  bag->shots == 1 ? "" : "s");
    if (bag->gaps > 0)
        (void)fprintf(stderr, "; %zu missing pages are named in bag-info.txt", bag->gaps);
    (void)fprintf(stderr, ".\nCopy it, then: squareleaf verify COPY\n");
}

int run_bag(const arguments *args)
{
    keeper k = keeper_for(args, "");
    const sl_keep_events events = keeper_events(&k);
    const sl_bag_params params = { args->shots, args->without_shots, args->book.incomplete };
    sl_record *record = NULL;
    sl_bag bag;
    sl_error err = { SL_OK, NULL, "" };
    sl_status st;

    if (!judge_shots(args))
        return EXIT_USAGE;
    st = sl_record_open(&record, args->operand[0], &err);
    if (st != SL_OK) {
        complain(args->operand[0], &err);
        return exit_of_keeping(&err);
    }
    if (record->gaps > 0 && !(args->quiet && params.incomplete))
        list_gaps(record, !params.incomplete);
    st = sl_bag_write(&bag, record, args->operand[1], &params, &events, &stop_signal, &err);
    keeper_clear(&k);
    if (st == SL_OK) {
        say_bag(args, &bag);
    } else {
        if (st != SL_ERR_INCOMPLETE || record->gaps == 0)
            complain(args->operand[1], &err);
        (void)fprintf(stderr, "squareleaf: %s was not made\n", args->operand[1]);
    }
    sl_record_free(record);
    return st == SL_OK ? EXIT_PASS : exit_of_keeping(&err);
}
