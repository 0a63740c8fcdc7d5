#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "cli/cli.h"

static void say_reasons(const arguments *args, const char *name, const sl_page *page)
{
    const sl_inspection *in = &page->inspection;

    if (args->quiet)
        return;
    for (size_t i = 0; i < in->reason_count; i++)
        (void)fprintf(stderr, "squareleaf: %s: %s: %s\n", SHOWN(name),
                      in->reason[i].weight == SL_PASS ? "note"
                                                      : sl_verdict_name(in->reason[i].weight),
                      in->reason[i].text);
}

/* What was written, in one line for people. */
static void say_written(const arguments *args, const char *out, const sl_page *page)
{
    if (args->quiet)
        return;
    (void)fprintf(stderr, "squareleaf: %s: %zu x %zu px", SHOWN(out),
                  page->width + 2 * page->margin_px, page->height + 2 * page->margin_px);
    if (page->written_ppi > 0)
        (void)fprintf(stderr, ", %g ppi written, %.0f ppi in the shot", page->written_ppi,
                      page->inspection.native_ppi.p5);
    else
        (void)fputs(", no print size claimed (no --page-size)", stderr);
    if (page->filled > 0)
        (void)fprintf(stderr, "; %.1f %% lay outside the shot and is plain grey",
                      100 * page->filled);
    (void)fputc('\n', stderr);
}

int run_page(const arguments *args)
{
    const char *shot = args->operand[0];
    const char *out = args->operand[1];
    sl_format format = args->format != SL_FORMAT_UNKNOWN ? args->format : sl_format_of_name(out);
    sl_context *context = NULL;
    sl_page *page = NULL;
    sl_error err = { SL_OK, NULL, "" };
    int status;

    if (format != SL_FORMAT_JPEG && format != SL_FORMAT_PNG && format != SL_FORMAT_TIFF) {
        (void)fprintf(stderr,
                      "squareleaf: %s: name a file that ends in .tif, .png or .jpg, or say "
                      "--format\n",
                      SHOWN(out));
        return EXIT_USAGE;
    }
    if (sl_format_of_name(out) != SL_FORMAT_UNKNOWN && sl_format_of_name(out) != format) {
        (void)fprintf(stderr, "squareleaf: %s: its ending says another format than --format\n",
                      SHOWN(out));
        return EXIT_USAGE;
    }
    if (strcmp(out, "-") == 0 && isatty(STDOUT_FILENO)) {
        (void)fputs("squareleaf: a terminal shows no picture: name a file, or send - to a file or "
                    "into a pipe\n", stderr);
        return EXIT_USAGE;
    }
    if (args->json && strcmp(out, "-") == 0) {
        (void)fputs("squareleaf: --json and the page cannot both go to standard output\n", stderr);
        return EXIT_USAGE;
    }
    if (sl_page_load(&page, shot, &args->settings, NULL, &err) != SL_OK) {
        complain(strcmp(shot, "-") == 0 ? "standard input" : shot, &err);
        return err.status == SL_ERR_IO ? EXIT_NO_INPUT : exit_of_error(&err);
    }
    status = exit_of_verdict(page->inspection.verdict, args->fail_on);
    say_reasons(args, shot, page);
    if (!page->has_map) {
        if (!args->quiet)
            (void)fprintf(stderr, "squareleaf: %s: nothing was written\n", SHOWN(shot));
        status = EXIT_RESHOOT;
    } else if (sl_context_new(&context, args->jobs, &err) != SL_OK
               || sl_page_save(page, out, shot, format, args->force, context, &stop_signal, &err)
                      != SL_OK) {
        complain(out, &err);
        status = exit_of_error(&err);
    } else {
        say_written(args, out, page);
    }
    if (args->json && status < EXIT_USAGE) {
        char *text = NULL;

        if (sl_page_json(&text, page, 0, 0, &err) == SL_OK)
            (void)fputs(text, stdout);
        free(text);
    }
    sl_context_free(context);
    sl_page_free(page);
    return status;
}
