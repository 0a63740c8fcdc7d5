#include <stdio.h>

#include "cli/cli.h"

int run_captions(const arguments *args)
{
    const char *folder = args->operand[0];
    sl_captions_told told;
    sl_error err = { SL_OK, NULL, "" };
    const sl_status st = sl_captions_table(&told, folder, &err);

    if (st != SL_OK) {
        complain(folder, &err);
        return exit_of_keeping(&err);
    }
    if (args->quiet)
        return EXIT_PASS;
    if (told.added == 0)
        (void)fprintf(stderr, "squareleaf: %s/captions.csv has a row for each of the %zu pages and "
                              "was left as it is.\n", folder, told.pages);
    else
        (void)fprintf(stderr, "squareleaf: %s/captions.csv: %zu page%s, %zu of them new.\n"
                              "Fill it in with any spreadsheet, save it as 'CSV UTF-8', and run "
                              "album again.\n", folder, told.pages, told.pages == 1 ? "" : "s",
                      told.added);
    return EXIT_PASS;
}
