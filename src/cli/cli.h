/*
 * The command line: parses, prints and exits; sees squareleaf.h only. Results go to standard
 * output, all else to standard error.
 */
#ifndef SL_CLI_CLI_H
#define SL_CLI_CLI_H

#include <stdbool.h>

#include "squareleaf.h"

/* Exit statuses: sysexits.h's where it has one, the rest are the design's, section 8. */
enum {
    EXIT_PASS = 0,
    EXIT_LOOK = 1,
    EXIT_RESHOOT = 2,
    EXIT_USAGE = 64,
    EXIT_NO_INPUT = 66,
    EXIT_OURS = 70,
    EXIT_CANNOT_CREATE = 73,
    EXIT_DISK = 74,
    EXIT_BUSY = 75,
    EXIT_PERMISSION = 77,
    EXIT_SIGNAL = 128
};

typedef enum command_id {
    ALBUM = 1, PAGE = 2, OUTLINE = 4, PLAN = 8, BOOK = 16, BAG = 32, VERIFY = 64,
    REVIEW = 128, GATHER = 1024, CAPTIONS = 256
} command_id;

enum { OPERANDS_MOST = 200 };

typedef enum fail_policy { FAIL_LOOK = 0, FAIL_RESHOOT, FAIL_NEVER } fail_policy;

/* The command line, parsed. Strings are argv's own. */
typedef struct arguments {
    command_id  command;
    const char *operand[OPERANDS_MOST];
    int         operands;
    sl_settings settings;
    bool        page_size_given; /* --page-size was there, `none` too */
    bool        page_size_none;
    sl_format   format;          /* --format */
    unsigned    jobs;
    size_t      memory;          /* bytes; 0: half of RAM */
    sl_order    order;
    bool        versos_reversed;
    const char *name;            /* --name; NULL: as the pages there */
    const char *optics;
    bool        recalibrate;
    const char *corrections;
    const char *captions;        /* of album: the table */
    size_t      expect;          /* --expect; 0: none */
    bool        force;
    bool        redo;
    bool        rehash;
    bool        renumber;
    bool        dry_run;
    bool        each;            /* an album for each folder in SHOTS_DIR */
    bool        follow;          /* go on as shots arrive */
    unsigned    share;           /* --share K/N */
    unsigned    shares;
    bool        forget;          /* --forget: nothing is as in the last run */
    fail_policy fail_on;
    const char *draw;
    unsigned    grid;
    const char *numbers;
    const char *replay;
    size_t      camera[2];       /* --camera, px */
    unsigned    pages;           /* --pages of plan */
    sl_book_params book;         /* --force and --incomplete of bag too */
    bool        without_shots;
    const char *shots;           /* --shots: where they are now; NULL: where they were */
    bool        json;
    bool        quiet;
    bool        verbose;
    bool        help;
    bool        version;
    uint64_t    given;           /* bit n: option n of the table was there */
} arguments;

/*
 * Parses argv. On an error prints one line that says what to do and returns false.
 * After --help or --version the rest is not judged.
 */
bool parse_arguments(arguments *args, int argc, char **argv);

/* Was the option of this name on the command line? */
bool was_given(const arguments *args, const char *option);

/* Makes the settings that album's command line leaves open those of the last run there, and says
   which. */
void recall_settings(arguments *args);

/* The album's settings and order together. */
bool judge_album(const arguments *args);

/* Prints "squareleaf: WHAT 'which': more" as a mistake of the command line; false. */
bool refuse(const char *what, const char *which, const char *more);

/* Do the options go together? Else prints which do not. */
bool judge_arguments(const arguments *args);

/* Do the settings go together? Else prints what is missing. */
bool judge_settings(const arguments *args);

void print_help(command_id command);

/* A name, or a text with names in it, as a terminal may have it: control characters as \xHH, the
   end of a very long one cut off. SHOWN()'s lives as long as the block around it. */
typedef struct shown_text { char text[1024]; } shown_text;
const char *shown(shown_text *room, const char *text);
#define SHOWN(name) shown(&(shown_text){ "" }, name)

/* Does an error's sentence name this file itself? Of "", yes. */
bool is_named(const char *detail, const char *name);

/* "squareleaf: NAME: what and what to do", as for every message about a file. */
void complain(const char *name, const sl_error *err);

/* The exit status that an error of the machine or of the arguments calls for. */
int exit_of_error(const sl_error *err);

/* The exit status of one page's verdict under --fail-on. */
int exit_of_verdict(sl_verdict verdict, fail_policy fail_on);

/* Non-zero once SIGINT, SIGTERM or SIGHUP came: the signal's number. */
extern volatile int stop_signal;

int run_album(const arguments *args);
int run_gather(const arguments *args);
int run_page(const arguments *args);
int run_outline(const arguments *args);
int run_plan(const arguments *args);
int run_review(const arguments *args);
int run_captions(const arguments *args);
int run_book(const arguments *args);
int run_bag(const arguments *args);
int run_verify(const arguments *args);

/* ---- what book, bag and verify share --------------------------------------------------------- */

/* Prints notes and, on a terminal, a bar. */
typedef struct keeper {
    const arguments *args;
    const char      *unit;   /* "pages", or "" for bytes as a share */
    bool             bar;    /* standard error is a terminal */
    bool             drawn;  /* the cursor stands behind a bar */
    int              percent; /* that it shows */
} keeper;

keeper keeper_for(const arguments *args, const char *unit);
sl_keep_events keeper_events(keeper *k);

/* Takes the bar away, before a message. */
void keeper_clear(keeper *k);

/* Lists the gaps, each with its reason, and with `advice` what to do about them. */
void list_gaps(const sl_record *record, bool advice);

/* Is --shots a folder? Else says what is wrong with it. */
bool judge_shots(const arguments *args);

/* The exit status that an error of book, bag or verify calls for. */
int exit_of_keeping(const sl_error *err);

#endif
