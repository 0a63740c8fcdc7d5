#include <stdio.h>
#include <string.h>

#include "cli/cli.h"

static void say_scale(const sl_book *book, sl_paper paper)
{
    const double least = 100 * book->scale[0];
    const double most = 100 * book->scale[1];

    if (paper == SL_PAPER_OWN)
        (void)fputs("Every sheet is as large as its page.\n", stderr);
    else if (most - least < 0.5)
        (void)fprintf(stderr, "The pages are printed at %.0f %% of their own size.\n", most);
    else
        (void)fprintf(stderr, "The pages are printed at %.0f to %.0f %% of their own size.\n",
                      least, most);
}

static void say_book(const arguments *args, const sl_book *book)
{
    if (args->quiet)
        return;
    (void)fprintf(stderr, "squareleaf: %s: %zu page%s, %.1f MB", args->operand[1], book->pages,
                  book->pages == 1 ? "" : "s", book->bytes / 1e6);
    if (book->gaps > 0)
        (void)fprintf(stderr, ", %zu of them blank for what is missing", book->gaps);
    (void)fputs(".\n", stderr);
    say_scale(book, args->book.paper);
    if (!book->reencoded)
        (void)fputs("The JPEGs of the access copies are in it unchanged.\n", stderr);
    else if (book->ppi > 0)
        (void)fprintf(stderr, "To stay below --max-bytes the pages were encoded again, at %.0f ppi "
                              "and quality %d.\n", book->ppi, book->quality);
    else
        (void)fprintf(stderr, "To stay below --max-bytes the pages were encoded again, at quality "
                              "%d, with all their pixels.\n", book->quality);
}

int run_book(const arguments *args)
{
    keeper k = keeper_for(args, "pages");
    const sl_keep_events events = keeper_events(&k);
    const char *path = args->operand[1];
    const size_t length = strlen(path);
    sl_record *record = NULL;
    sl_book book;
    sl_error err = { SL_OK, NULL, "" };
    sl_status st;

    if (strcmp(path, "-") == 0) {
        (void)fputs("squareleaf: book wants the name of a file to write, not -\n", stderr);
        return EXIT_USAGE;
    }
    if (length < 4 || (strcmp(path + length - 4, ".pdf") != 0
                       && strcmp(path + length - 4, ".PDF") != 0)) {
        (void)fprintf(stderr, "squareleaf: %s: name a file that ends in .pdf\n", path);
        return EXIT_USAGE;
    }
    st = sl_record_open(&record, args->operand[0], &err);
    if (st != SL_OK) {
        complain(args->operand[0], &err);
        return exit_of_keeping(&err);
    }
    if (record->gaps > 0 && !(args->quiet && args->book.incomplete))
        list_gaps(record, !args->book.incomplete);
    st = sl_book_write(&book, record, path, &args->book, &events, &stop_signal, &err);
    keeper_clear(&k);
    if (st == SL_OK)
        say_book(args, &book);
    else if (st == SL_ERR_INCOMPLETE && record->gaps > 0)
        (void)fprintf(stderr, "squareleaf: %s was not written\n", path);
    else
        complain(path, &err);
    sl_record_free(record);
    return st == SL_OK ? EXIT_PASS : exit_of_keeping(&err);
}
