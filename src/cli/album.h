/* What the ways to run albums share: one, one after the other, and one that goes on. */
#ifndef SL_CLI_ALBUM_H
#define SL_CLI_ALBUM_H

#include <time.h>

#include "cli/cli.h"

/* What the events of a run print, and what they remember. */
typedef struct teller {
    const arguments *args;
    bool             bar;    /* standard error is a terminal */
    const char      *album;  /* of --each: its name, before each line; else NULL */
    struct timespec  start;
} teller;

sl_album_events teller_events(teller *t);

/* The run that the command line asks for. */
sl_album_params params_of(const arguments *args);

/* An album's run, told, from beginning to end; the exit status. *out stays for the caller, who
   clears it. */
int run_one(sl_album *out, teller *t, const sl_album_params *params);

/* "3 shots: 2 pass, 1 to look at", without a line's end. */
void print_counts(const sl_album *album);
void tell_summary(const arguments *args, const sl_album *album, const char *out_dir);
/* Says what went wrong, with the name of the pages' folder unless the trouble lies elsewhere. */
void complain_of_album(const arguments *args, const sl_error *err);
/* The exit status of a run that an error ended. */
int exit_of_run(const sl_album *album, const sl_error *err);
int exit_of_album(const arguments *args, const sl_album *album);

/* --each */
int run_each(const arguments *args);

/* No shots in SHOTS_DIR: if its folders have some, prints the command for each of them. */
void tell_folders(const arguments *args);

/* --follow */
int run_follow(const arguments *args);

#endif
