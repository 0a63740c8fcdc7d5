#include <stdio.h>
#include <stdlib.h>

#include "cli/cli.h"

/* A replay is of one file of numbers, with the settings that it holds. */
static bool judge_replay(const arguments *args)
{
    static const char *const settings[] = { "--page-size", "--ppi", "--min-ppi", "--turn",
                                            "--corners", "--exact", "--limit" };

    if (args->operands != 0) {
        (void)fputs("squareleaf: --replay takes the place of a SHOT: give one of them\n", stderr);
        return false;
    }
    if (args->draw != NULL) {
        (void)fputs("squareleaf: --replay has no picture that --draw could draw on\n", stderr);
        return false;
    }
    for (size_t i = 0; i < sizeof settings / sizeof *settings; i++) {
        if (was_given(args, settings[i])) {
            (void)fprintf(stderr,
                          "squareleaf: %s does not go with --replay: the file holds the settings\n",
                          settings[i]);
            return false;
        }
    }
    return true;
}

/* A picture that is called another thing than it is opens in no viewer. */
static bool judge_draw(const arguments *args)
{
    const sl_format format = args->draw != NULL ? sl_format_of_name(args->draw) : SL_FORMAT_PNG;

    if (format == SL_FORMAT_PNG || format == SL_FORMAT_UNKNOWN)
        return true;
    (void)fprintf(stderr, "squareleaf: --draw %s: the picture is a PNG: name a file that ends in "
                          ".png\n", SHOWN(args->draw));
    return false;
}

static sl_status find_page(sl_page **page, const arguments *args, sl_error *err)
{
    sl_status st;

    if (args->replay == NULL)
        return sl_page_load(page, args->operand[0], &args->settings, NULL, err);
    st = sl_page_replay(page, args->replay, err);
    if (st == SL_OK && !args->quiet)
        (void)fprintf(stderr,
                      "squareleaf: %s: replayed without a picture: glare, clipped and evenness are "
                      "null, and the verdict is about geometry only\n",
                      args->replay);
    return st;
}

/* The files beside the JSON; status of the first that fails. */
static sl_status write_files(const arguments *args, const sl_page *page, const char **failed,
                             sl_error *err)
{
    const char *shot = args->replay == NULL ? args->operand[0] : args->replay;
    sl_status st = SL_OK;

    if (args->draw != NULL) {
        *failed = args->draw;
        st = sl_page_draw(page, args->draw, shot, args->force, err);
    }
    if (st == SL_OK && args->numbers != NULL) {
        *failed = args->numbers;
        st = sl_page_numbers(page, args->numbers, shot, args->force, err);
    }
    return st;
}

int run_outline(const arguments *args)
{
    const char *name = args->replay != NULL ? args->replay : args->operand[0];
    sl_page *page = NULL;
    char *text = NULL;
    sl_error err = { SL_OK, NULL, "" };
    int status;

    if (args->replay == NULL && args->operands != 1) {
        (void)fputs("squareleaf: outline wants a SHOT: see squareleaf outline --help\n", stderr);
        return EXIT_USAGE;
    }
    if ((args->replay != NULL && !judge_replay(args)) || !judge_draw(args))
        return EXIT_USAGE;
    if (find_page(&page, args, &err) != SL_OK) {
        complain(name, &err);
        return err.status == SL_ERR_IO ? EXIT_NO_INPUT : exit_of_error(&err);
    }
    status = page->has_map ? exit_of_verdict(page->inspection.verdict, args->fail_on)
                           : EXIT_RESHOOT;
    if (sl_page_json(&text, page, args->grid, args->json ? 0 : 1, &err) != SL_OK
        || write_files(args, page, &name, &err) != SL_OK) {
        complain(name, &err);
        status = exit_of_error(&err);
    }
    if (text != NULL)
        (void)fputs(text, stdout);
    free(text);
    sl_page_free(page);
    return status;
}
