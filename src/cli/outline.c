#include <stdio.h>
#include <stdlib.h>

#include "cli/cli.h"

int run_outline(const arguments *args)
{
    const char *shot = args->operand[0];
    sl_page *page = NULL;
    char *text = NULL;
    sl_error err = { SL_OK, NULL, "" };
    int status;

    if (args->operands != 1) {
        (void)fputs("squareleaf: outline wants a SHOT: see squareleaf outline --help\n", stderr);
        return EXIT_USAGE;
    }
    if (sl_page_load(&page, shot, &args->settings, NULL, &err) != SL_OK) {
        complain(shot, &err);
        return err.status == SL_ERR_IO ? EXIT_NO_INPUT : exit_of_error(&err);
    }
    status = page->has_map ? exit_of_verdict(page->inspection.verdict, args->fail_on)
                           : EXIT_RESHOOT;
    if (sl_page_json(&text, page, args->grid, args->json ? 0 : 1, &err) != SL_OK) {
        complain(shot, &err);
        status = exit_of_error(&err);
    } else {
        (void)fputs(text, stdout);
    }
    if (args->draw != NULL
        && sl_page_draw(page, args->draw, shot, args->force, &err) != SL_OK) {
        complain(args->draw, &err);
        status = exit_of_error(&err);
    }
    free(text);
    sl_page_free(page);
    return status;
}
