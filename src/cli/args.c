/* One table of options for all commands; each knows which commands it is for. */
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "cli/cli.h"
#include "cli/near.h"

typedef bool (*take_fn)(arguments *args, const char *value);

typedef struct option {
    const char *name;        /* with its dashes */
    unsigned    commands;    /* that know it */
    take_fn     take;
    bool        has_value;
    const char *expects;     /* said when the value does not fit */
} option;

/* ---- values ---------------------------------------------------------------------------------- */

/* A whole decimal number in low..high; nothing before or behind it. */
static bool take_number(unsigned long *out, const char *text, unsigned long low,
                        unsigned long high)
{
    char *end;
    unsigned long v;

    if (text[0] < '0' || text[0] > '9')
        return false;
    errno = 0;
    v = strtoul(text, &end, 10);
    if (errno != 0 || *end != '\0' || v < low || v > high)
        return false;
    *out = v;
    return true;
}

/* A decimal fraction with a point, whatever the locale; an optional minus. */
static bool take_real(double *out, const char **text)
{
    const char *p = *text;
    double v = 0;
    double place = 1;
    const bool minus = *p == '-';
    bool digits = false;

    p += minus;
    for (; *p >= '0' && *p <= '9'; p++, digits = true)
        v = v * 10 + (*p - '0');
    if (*p == '.')
        for (p++; *p >= '0' && *p <= '9'; p++, digits = true)
            v += (*p - '0') * (place /= 10);
    *out = minus ? -v : v;
    *text = p;
    return digits;
}

/* TIFF, A4 and sRGB are what people write. ASCII only: <ctype.h> asks the locale. */
static bool is(const char *value, const char *word)
{
    for (; *value != '\0' && *word != '\0'; value++, word++)
        if (*value != *word && !(*value >= 'A' && *value <= 'Z' && *value - 'A' + 'a' == *word))
            return false;
    return *value == *word;
}

static bool take_page_size(arguments *a, const char *v)
{
    a->page_size_given = true;
    a->page_size_none = is(v, "none");
    if (a->page_size_none) {
        a->settings.page_mm[0] = a->settings.page_mm[1] = 0;
        return true;
    }
    return sl_page_size_parse(a->settings.page_mm, v, NULL) == SL_OK;
}

static bool take_ppi(arguments *a, const char *v)
{
    return take_real(&a->settings.ppi, &v) && *v == '\0' && a->settings.ppi >= 1
           && a->settings.ppi <= 4800;
}

static bool take_no_upsample(arguments *a, const char *v)
{
    (void)v;
    a->settings.no_upsample = true;
    return true;
}

static bool take_min_ppi(arguments *a, const char *v)
{
    return take_real(&a->settings.min_ppi, &v) && *v == '\0' && a->settings.min_ppi > 0
           && a->settings.min_ppi <= 4800;
}

static bool take_margin(arguments *a, const char *v)
{
    return sl_length_parse(&a->settings.margin_mm, v, NULL) == SL_OK
           && a->settings.margin_mm <= 200;
}

static bool take_turn(arguments *a, const char *v)
{
    unsigned long turn;

    if (!take_number(&turn, v, 0, 270) || turn % 90 != 0)
        return false;
    a->settings.turn_deg = (unsigned)turn;
    return true;
}

static bool take_ignore_orientation(arguments *a, const char *v)
{
    (void)v;
    a->settings.decode.orientation = 1;
    return true;
}

static bool take_corners(arguments *a, const char *v)
{
    if (is(v, "frame")) {
        a->settings.whole_frame = true;
        return true;
    }
    for (int i = 0; i < 8; i++) {
        double *to = i % 2 == 0 ? &a->settings.corners[i / 2].x : &a->settings.corners[i / 2].y;

        if (!take_real(to, &v) || *v != (i < 7 ? ',' : '\0'))
            return false;
        v++;
    }
    a->settings.has_corners = true;
    return true;
}

static bool take_exact(arguments *a, const char *v)
{
    (void)v;
    a->settings.exact = true;
    return true;
}

static bool take_master(arguments *a, const char *v)
{
    a->settings.master = is(v, "tiff") ? SL_FORMAT_TIFF : is(v, "png") ? SL_FORMAT_PNG
                                                                      : SL_FORMAT_UNKNOWN;
    return a->settings.master != SL_FORMAT_UNKNOWN || is(v, "none");
}

static bool take_access(arguments *a, const char *v)
{
    a->settings.access = is(v, "jpeg") ? SL_FORMAT_JPEG : SL_FORMAT_UNKNOWN;
    return a->settings.access != SL_FORMAT_UNKNOWN || is(v, "none");
}

/* A thumbnail at least; a JPEG's most (ITU-T T.81: 65,535, and libjpeg holds 65,500). */
static bool take_access_pixels(arguments *a, const char *v)
{
    unsigned long n = 0;

    if (!is(v, "all") && !take_number(&n, v, 64, 65500))
        return false;
    a->settings.access_pixels = (size_t)n;
    return true;
}

static bool take_quality(arguments *a, const char *v)
{
    unsigned long q;

    if (!take_number(&q, v, 1, 100))
        return false;
    a->settings.quality = (int)q;
    return true;
}

static bool take_bits(arguments *a, const char *v)
{
    a->settings.bits = is(v, "8") ? 8 : is(v, "16") ? 16 : 0;
    return a->settings.bits != 0;
}

static bool take_compress(arguments *a, const char *v)
{
    a->settings.compression = is(v, "lzw") ? SL_LZW : is(v, "none") ? SL_NO_COMPRESSION
                                                                    : SL_DEFLATE;
    return a->settings.compression != SL_DEFLATE || is(v, "deflate");
}

static bool take_colour(arguments *a, const char *v)
{
    a->settings.colour = is(v, "srgb") ? SL_COLOUR_SRGB : SL_COLOUR_KEEP;
    return a->settings.colour != SL_COLOUR_KEEP || is(v, "keep");
}

static bool take_keep_location(arguments *a, const char *v)
{
    (void)v;
    a->settings.keep_location = true;
    return true;
}

static bool take_format(arguments *a, const char *v)
{
    a->format = is(v, "jpeg") ? SL_FORMAT_JPEG : is(v, "png") ? SL_FORMAT_PNG
                : is(v, "tiff")                               ? SL_FORMAT_TIFF
                                                              : SL_FORMAT_UNKNOWN;
    return a->format != SL_FORMAT_UNKNOWN;
}

static bool take_order(arguments *a, const char *v)
{
    a->order = is(v, "time") ? SL_ORDER_TIME
               : is(v, "rectos-versos") ? SL_ORDER_RECTOS_VERSOS
                                        : SL_ORDER_NAME;
    return a->order != SL_ORDER_NAME || is(v, "name");
}

static bool take_versos_reversed(arguments *a, const char *v)
{
    (void)v;
    a->versos_reversed = true;
    return true;
}

static bool take_dry_run(arguments *a, const char *v)
{
    (void)v;
    a->dry_run = true;
    return true;
}

static bool take_each(arguments *a, const char *v)
{
    (void)v;
    a->each = true;
    return true;
}

static bool take_follow(arguments *a, const char *v)
{
    (void)v;
    a->follow = true;
    return true;
}

static bool take_share(arguments *a, const char *v)
{
    const char *slash = strchr(v, '/');
    char number[8] = "";
    unsigned long k;
    unsigned long n;

    if (slash == NULL || (size_t)(slash - v) >= sizeof number)
        return false;
    memcpy(number, v, (size_t)(slash - v));
    if (!take_number(&n, slash + 1, 1, SL_SHARES_MOST) || !take_number(&k, number, 1, n))
        return false;
    a->share = (unsigned)k;
    a->shares = (unsigned)n;
    return true;
}

static bool take_name(arguments *a, const char *v)
{
    a->name = v;
    return v[0] != '\0' && strlen(v) < sizeof ((sl_album_params *)NULL)->name;
}

static bool take_expect(arguments *a, const char *v)
{
    unsigned long n = 0;

    if (!is(v, "none") && !take_number(&n, v, 1, 1000000))
        return false;
    a->expect = (size_t)n;
    return true;
}

static bool take_jobs(arguments *a, const char *v)
{
    unsigned long n;

    if (!take_number(&n, v, 1, 256))
        return false;
    a->jobs = (unsigned)n;
    return true;
}

/* 4G, 500M, 4GB, 500000000: decimal, as disks and mail servers count. */
static bool take_bytes(double *bytes, const char *v, double least)
{
    double size;
    double unit = 1;

    if (!take_real(&size, &v))
        return false;
    if (*v == 'k' || *v == 'K')
        unit = 1e3;
    else if (*v == 'm' || *v == 'M')
        unit = 1e6;
    else if (*v == 'g' || *v == 'G')
        unit = 1e9;
    v += unit > 1;
    v += *v == 'b' || *v == 'B';
    size *= unit;
    if (*v != '\0' || !(size >= least && size <= 1e15))
        return false;
    *bytes = size;
    return true;
}

static bool take_memory(arguments *a, const char *v)
{
    double bytes;

    if (!take_bytes(&bytes, v, 1e6))
        return false;
    a->memory = (size_t)bytes;
    return true;
}

static bool take_optics(arguments *a, const char *v)
{
    a->optics = v;
    return *v != '\0';
}

static bool take_corrections(arguments *a, const char *v)
{
    a->corrections = v;
    return *v != '\0';
}

static bool take_recalibrate(arguments *a, const char *v)
{
    (void)v;
    a->recalibrate = true;
    return true;
}

static bool take_force(arguments *a, const char *v)
{
    (void)v;
    a->force = a->book.force = true;
    return true;
}

static bool take_redo(arguments *a, const char *v)
{
    (void)v;
    a->redo = true;
    return true;
}

static bool take_rehash(arguments *a, const char *v)
{
    (void)v;
    a->rehash = true;
    return true;
}

static bool take_renumber(arguments *a, const char *v)
{
    (void)v;
    a->renumber = true;
    return true;
}

static bool take_forget(arguments *a, const char *v)
{
    (void)v;
    a->forget = true;
    return true;
}

static bool take_fail_on(arguments *a, const char *v)
{
    a->fail_on = is(v, "reshoot") ? FAIL_RESHOOT : is(v, "never") ? FAIL_NEVER : FAIL_LOOK;
    return a->fail_on != FAIL_LOOK || is(v, "look");
}

/* Where the limit of a reason is kept; NULL for a reason that has no figure. */
static double *limit_of(arguments *a, sl_code code)
{
    switch (code) {
    case SL_CODE_NO_PAGE:
    case SL_CODE_CUT:
    case SL_CODE_HAND_CORRECTED:
    case SL_CODE_WHICH_WAY_UP:
    case SL_CODE_FROM_PLACE:
        return NULL;
    case SL_CODE_FEW_PIXELS:
        return &a->settings.min_ppi; /* --min-ppi by its other name */
    default:
        return &a->settings.limit[code];
    }
}

static bool take_limit(arguments *a, const char *v)
{
    const char *equals = strchr(v, '=');
    const char *number = equals != NULL ? equals + 1 : v;

    for (int code = 0; equals != NULL && code < SL_CODE_COUNT; code++) {
        const char *name = sl_code_name((sl_code)code);
        double *limit = limit_of(a, (sl_code)code);

        if (strlen(name) == (size_t)(equals - v) && strncmp(v, name, strlen(name)) == 0)
            /* 0 as --min-ppi would mean its default */
            return limit != NULL && take_real(limit, &number) && *number == '\0'
                   && (code == SL_CODE_FEW_PIXELS ? *limit > 0 : *limit >= 0);
    }
    return false;
}

static bool take_draw(arguments *a, const char *v)
{
    a->draw = v;
    return *v != '\0';
}

static bool take_grid(arguments *a, const char *v)
{
    unsigned long n;

    if (!take_number(&n, v, 2, 1000))
        return false;
    a->grid = (unsigned)n;
    return true;
}

static bool take_numbers(arguments *a, const char *v)
{
    a->numbers = v;
    return *v != '\0';
}

static bool take_replay(arguments *a, const char *v)
{
    a->replay = v;
    return *v != '\0';
}

static bool take_camera(arguments *a, const char *v)
{
    double w;
    double h;

    if (!take_real(&w, &v))
        return false;
    if (*v == 'x' || *v == 'X')
        v++;
    else if (strncmp(v, "\xc3\x97", 2) == 0) /* the multiplication sign in UTF-8 */
        v += 2;
    else
        return false;
    if (!take_real(&h, &v) || *v != '\0' || !(w >= 16 && h >= 16 && w <= 1e6 && h <= 1e6))
        return false;
    a->camera[0] = (size_t)w;
    a->camera[1] = (size_t)h;
    return true;
}

static bool take_pages(arguments *a, const char *v)
{
    unsigned long n;

    if (!take_number(&n, v, 1, 10000000))
        return false;
    a->pages = (unsigned)n;
    return true;
}

static bool take_title(arguments *a, const char *v)
{
    a->book.title = v;
    return *v != '\0';
}

/* Of album: the table to read. */
static bool take_captions_file(arguments *a, const char *v)
{
    a->captions = v;
    return *v != '\0';
}

/* Of book: where the words go. */
static bool take_captions(arguments *a, const char *v)
{
    a->book.captions_below = is(v, "below");
    return a->book.captions_below || is(v, "none");
}

static bool take_paper(arguments *a, const char *v)
{
    a->book.paper = is(v, "a4") ? SL_PAPER_A4 : is(v, "letter") ? SL_PAPER_LETTER : SL_PAPER_OWN;
    return a->book.paper != SL_PAPER_OWN || is(v, "own");
}

static bool take_max_bytes(arguments *a, const char *v)
{
    return take_bytes(&a->book.max_bytes, v, 1e4);
}

static bool take_incomplete(arguments *a, const char *v)
{
    (void)v;
    a->book.incomplete = true;
    return true;
}

static bool take_shots(arguments *a, const char *v)
{
    a->shots = v;
    return *v != '\0';
}

static bool take_without_shots(arguments *a, const char *v)
{
    (void)v;
    a->without_shots = true;
    return true;
}

static bool take_json(arguments *a, const char *v)
{
    (void)v;
    a->json = true;
    return true;
}

static bool take_quiet(arguments *a, const char *v)
{
    (void)v;
    a->quiet = true;
    return true;
}

static bool take_verbose(arguments *a, const char *v)
{
    (void)v;
    a->verbose = true;
    return true;
}

static bool take_help(arguments *a, const char *v)
{
    (void)v;
    a->help = true;
    return true;
}

static bool take_version(arguments *a, const char *v)
{
    (void)v;
    a->version = true;
    return true;
}

/* ---- the table ------------------------------------------------------------------------------- */

enum {
    SHOTS = ALBUM | PAGE | OUTLINE,
    WRITES = ALBUM | PAGE,
    MEASURES = SHOTS | PLAN, /* needs to know the page's size */
    ALL = MEASURES | BOOK | BAG | VERIFY | REVIEW | GATHER | CAPTIONS
};

static const option options[] = {
    { "--page-size", MEASURES, take_page_size, true,
      "a size like 12x12in, 210x297mm, 30x30cm, a4 or letter, of less than 10 m, or none" },
    { "--ppi", MEASURES, take_ppi, true, "a number from 1 to 4800" },
    { "--no-upsample", WRITES, take_no_upsample, false, NULL },
    { "--min-ppi", SHOTS, take_min_ppi, true, "a number from 1 to 4800" },
    { "--margin", WRITES, take_margin, true, "a length up to 200mm, like 5mm or 0.25in" },
    { "--turn", SHOTS, take_turn, true, "0, 90, 180 or 270" },
    { "--ignore-orientation", SHOTS, take_ignore_orientation, false, NULL },
    { "--corners", SHOTS, take_corners, true,
      "eight numbers x,y,x,y,x,y,x,y in px of the upright shot, or frame" },
    { "--exact", SHOTS, take_exact, false, NULL },
    { "--master", ALBUM, take_master, true, "tiff, png or none" },
    { "--access", ALBUM, take_access, true, "jpeg or none" },
    { "--access-pixels", ALBUM, take_access_pixels, true, "a whole number from 64 to 65500, or all" },
    { "--quality", WRITES, take_quality, true, "a whole number from 1 to 100" },
    { "--bits", WRITES, take_bits, true, "8 or 16" },
    { "--compress", WRITES, take_compress, true, "deflate, lzw or none" },
    { "--colour", WRITES, take_colour, true, "keep or srgb" },
    { "--keep-location", WRITES, take_keep_location, false, NULL },
    { "--format", PAGE, take_format, true, "jpeg, png or tiff" },
    { "--order", ALBUM, take_order, true, "name, time or rectos-versos" },
    { "--versos-reversed", ALBUM, take_versos_reversed, false, NULL },
    { "--dry-run", ALBUM, take_dry_run, false, NULL },
    { "--each", ALBUM, take_each, false, NULL },
    { "--follow", ALBUM, take_follow, false, NULL },
    { "--share", ALBUM, take_share, true, "a share, like 2/4: the second of four" },
    { "--name", ALBUM, take_name, true,
      "a pattern of up to 63 characters, like '{album}-{page}-{state}'" },
    { "--expect", ALBUM, take_expect, true, "the number of the album's pages, or none" },
    { "--jobs", WRITES, take_jobs, true, "a whole number from 1 to 256" },
    { "--memory", ALBUM, take_memory, true, "a size like 4G or 800M, of 1M at least" },
    { "--optics", ALBUM, take_optics, true, "a file" },
    { "--corrections", ALBUM, take_corrections, true, "a file that review.html saved" },
    { "--recalibrate", ALBUM, take_recalibrate, false, NULL },
    { "--force", WRITES | OUTLINE | BOOK | REVIEW | GATHER, take_force, false, NULL },
    { "--redo", ALBUM, take_redo, false, NULL },
    { "--rehash", ALBUM, take_rehash, false, NULL },
    { "--renumber", ALBUM, take_renumber, false, NULL },
    { "--forget", ALBUM, take_forget, false, NULL },
    { "--fail-on", SHOTS | GATHER, take_fail_on, true, "look, reshoot or never" },
    { "--limit", SHOTS, take_limit, true, NULL },
    { "--draw", OUTLINE, take_draw, true, "a file" },
    { "--grid", OUTLINE, take_grid, true, "a whole number from 2 to 1000" },
    { "--numbers", OUTLINE, take_numbers, true, "a file" },
    { "--replay", OUTLINE, take_replay, true, "a file" },
    { "--camera", PLAN, take_camera, true, "a size in px, like 4032x3024" },
    { "--pages", PLAN, take_pages, true, "a whole number from 1 to 10000000" },
    { "--title", BOOK, take_title, true, "a text" },
    { "--captions", ALBUM, take_captions_file, true, "a table that captions wrote" },
    { "--captions", BOOK, take_captions, true, "below or none" },
    { "--paper", BOOK, take_paper, true, "a4, letter or own" },
    { "--max-bytes", BOOK, take_max_bytes, true, "a size like 20MB, of 10 kB at least" },
    { "--incomplete", BOOK | BAG, take_incomplete, false, NULL },
    { "--shots", BAG | VERIFY, take_shots, true, "a folder" },
    { "--without-shots", BAG | VERIFY, take_without_shots, false, NULL },
    { "--json", MEASURES, take_json, false, NULL },
    { "--quiet", ALL, take_quiet, false, NULL },
    { "-q", ALL, take_quiet, false, NULL },
    { "--verbose", ALL, take_verbose, false, NULL },
    { "-v", ALL, take_verbose, false, NULL },
    { "--help", ALL, take_help, false, NULL },
    { "-h", ALL, take_help, false, NULL },
    { "--version", ALL, take_version, false, NULL },
};

enum { OPTIONS = sizeof options / sizeof *options };

_Static_assert(OPTIONS <= 64, "arguments.given has a bit for each option");

static const struct { const char *name; command_id command; } commands[] = {
    { "album", ALBUM }, { "page", PAGE }, { "outline", OUTLINE }, { "plan", PLAN },
    { "review", REVIEW }, { "gather", GATHER }, { "book", BOOK }, { "bag", BAG }, { "verify", VERIFY },
    { "captions", CAPTIONS },
};

/* ---- near misses ----------------------------------------------------------------------------- */

bool refuse(const char *what, const char *which, const char *more)
{
    (void)fprintf(stderr, "squareleaf: %s '%s'%s%s\n", what, SHOWN(which),
                  *more != '\0' ? ": " : "", more);
    return false;
}

/* 0 for none. */
static command_id command_of(const char *name)
{
    for (size_t k = 0; k < sizeof commands / sizeof *commands; k++)
        if (strcmp(name, commands[k].name) == 0)
            return commands[k].command;
    return 0;
}

static const char *name_of(command_id command)
{
    size_t k = 0;

    while (commands[k].command != command)
        k++;
    return commands[k].name;
}

static bool unknown_option(const arguments *args, const char *name)
{
    const char *nearest = NULL;
    size_t best = strlen(name) > 7 ? 4 : strlen(name) > 2 ? 3 : 0; /* to a short one all are near */
    char more[96];

    for (int i = 0; i < OPTIONS; i++) {
        const size_t d = edit_distance(name, options[i].name);

        if ((options[i].commands & args->command) == 0)
            continue;
        if (d < best) {
            best = d;
            nearest = options[i].name;
        } else if (nearest == NULL && strlen(name) > 3
                   && strstr(options[i].name, name + 1) != NULL) {
            nearest = options[i].name; /* --size, of --page-size */
        }
    }
    (void)snprintf(more, sizeof more, nearest != NULL ? "did you mean %s?"
                                                 : "see squareleaf %s --help",
                   nearest != NULL ? nearest : name_of(args->command));
    return refuse("unknown option", name, more);
}

static bool unknown_command(const char *name)
{
    const char *nearest = NULL;
    size_t best = 3;
    char more[160];
    size_t length;

    for (size_t i = 0; i < sizeof commands / sizeof *commands; i++) {
        const size_t d = edit_distance(name, commands[i].name);

        if (d < best) {
            best = d;
            nearest = commands[i].name;
        }
    }
    if (name[0] == '-')
        return refuse("unknown option", name, "a command comes first, like album: see squareleaf help");
    if (nearest != NULL) {
        (void)snprintf(more, sizeof more, "did you mean %s?", nearest);
        return refuse("unknown command", name, more);
    }
    length = (size_t)snprintf(more, sizeof more, "the commands are");
    for (size_t i = 0; i < sizeof commands / sizeof *commands && length < sizeof more; i++)
        length += (size_t)snprintf(more + length, sizeof more - length, "%s %s",
                                   i > 0 ? "," : "", commands[i].name);
    return refuse("unknown command", name, more);
}

static bool wants(const arguments *args, const char *verb, const char *what)
{
    const char *name = name_of(args->command);

    (void)fprintf(stderr, "squareleaf: %s %s %s: see squareleaf %s --help\n", name, verb, what, name);
    return false;
}

/* ---- parsing --------------------------------------------------------------------------------- */

/* What an option's value looks like; of --limit with all the codes that have one. */
static void print_expected(char *out, size_t room, arguments *args, const option *o)
{
    size_t length;

    if (o->take != take_limit) {
        (void)snprintf(out, room, "%s", o->expects);
        return;
    }
    length = (size_t)snprintf(out, room, "CODE=VALUE, like soft=3; the codes are");
    for (int code = 0; code < SL_CODE_COUNT && length < room; code++)
        if (limit_of(args, (sl_code)code) != NULL)
            length += (size_t)snprintf(out + length, room - length, "%s %s",
                                       code == SL_CODE_SEVERAL_PAGES ? "" : ",",
                                       sl_code_name((sl_code)code));
}

/* One option at argv[*i], which moves past it and its value. */
static bool take_option(arguments *args, int argc, char **argv, int *i)
{
    const char *text = argv[(*i)++];
    const char *equals = strncmp(text, "--", 2) == 0 ? strchr(text, '=') : NULL;
    const size_t length = equals != NULL ? (size_t)(equals - text) : strlen(text);
    const char *value = equals != NULL ? equals + 1 : NULL;
    bool known = false;
    char name[40];

    (void)snprintf(name, sizeof name, "%.*s", length < sizeof name ? (int)length : 39, text);
    for (int k = 0; k < OPTIONS; k++) {
        const option *o = &options[k];

        if (strcmp(o->name, name) != 0)
            continue;
        known = true;
        if ((o->commands & args->command) == 0)
            continue;
        if (!o->has_value && value != NULL)
            return refuse("no value belongs to", name, "");
        if (o->has_value && value == NULL) {
            if (*i >= argc) {
                char more[500];

                print_expected(more, sizeof more, args, o);
                return refuse("a value is missing after", name, more);
            }
            value = argv[(*i)++];
        }
        args->given |= (uint64_t)1 << k;
        if (!o->take(args, value)) {
            char more[500];
            const size_t said = (size_t)snprintf(more, sizeof more, "%s wants ", name);

            print_expected(more + said, sizeof more - said, args, o);
            return refuse("cannot use", value, more);
        }
        return true;
    }
    return known ? wants(args, "does not take", name) : unknown_option(args, name);
}

bool was_given(const arguments *args, const char *name)
{
    for (int k = 0; k < OPTIONS; k++)
        if (strcmp(options[k].name, name) == 0 && (args->given >> k & 1) != 0)
            return true;
    return false;
}

bool parse_arguments(arguments *args, int argc, char **argv)
{
    static const struct { command_id command; int least; int most; const char *wants; } counts[] = {
        { ALBUM, 2, 2, "SHOTS_DIR OUT_DIR" },
        { PAGE, 2, 2, "SHOT OUT_FILE" },
        { OUTLINE, 0, 1, "SHOT" },
        { PLAN, 0, 1, "--camera WxH or a SHOT" },
        { REVIEW, 1, 1, "OUT_DIR" },
        { GATHER, 1, OPERANDS_MOST, "OUT_DIR SHARE_DIR..." },
        { BOOK, 2, 2, "OUT_DIR BOOK.pdf" },
        { BAG, 2, 2, "OUT_DIR BAG_DIR" },
        { VERIFY, 1, 1, "a bag, or an OUT_DIR" },
        { CAPTIONS, 1, 1, "OUT_DIR" },
    };
    bool only_operands = false;
    int i = 2;

    memset(args, 0, sizeof *args);
    args->settings = sl_settings_defaults();
    if (argc < 2) {
        args->help = true;
        return true;
    }
    if (is(argv[1], "--version")) {
        args->version = true;
        return true;
    }
    if (is(argv[1], "--help") || is(argv[1], "-h") || is(argv[1], "help")) {
        args->help = true;
        args->command = argc > 2 ? command_of(argv[2]) : 0;
        return true;
    }
    args->command = command_of(argv[1]);
    if (args->command == 0)
        return unknown_command(argv[1]);
    while (i < argc) {
        if (!only_operands && is(argv[i], "--")) {
            only_operands = true;
            i++;
        } else if (!only_operands && argv[i][0] == '-' && argv[i][1] != '\0') {
            if (!take_option(args, argc, argv, &i))
                return false;
            if (args->help || args->version)
                return true;
        } else if (args->operands == (args->command == GATHER ? OPERANDS_MOST : 2)) {
            return refuse("too many names", argv[i], "names with spaces need quotes");
        } else if (argv[i][0] == '\0') {
            return refuse("an empty name", argv[i], "is a variable of a script not set?");
        } else {
            args->operand[args->operands++] = argv[i++];
        }
    }
    for (size_t k = 0; k < sizeof counts / sizeof *counts; k++)
        if (counts[k].command == args->command
            && (args->operands < counts[k].least || args->operands > counts[k].most))
            return wants(args, "wants", counts[k].wants);
    return judge_arguments(args);
}
