/* OUT_DIR remembers its settings: what is not on the command line is as in the last run there. */
#include <stddef.h>
#include <stdio.h>
#include <string.h>

#include "cli/cli.h"

/* Prints the option as one would write it; nothing when it stands at its default. */
typedef void (*show_fn)(const sl_settings *s, const sl_settings *defaults);

static bool differ(double a, double b)
{
    return a < b || a > b;
}

static void show_page_size(const sl_settings *s, const sl_settings *d)
{
    (void)d;
    if (s->page_mm[0] > 0)
        (void)fprintf(stderr, " --page-size %gx%gmm", s->page_mm[0], s->page_mm[1]);
}

static void show_ppi(const sl_settings *s, const sl_settings *d)
{
    if (differ(s->ppi, d->ppi))
        (void)fprintf(stderr, " --ppi %g", s->ppi);
}

static void show_no_upsample(const sl_settings *s, const sl_settings *d)
{
    (void)d;
    if (s->no_upsample)
        (void)fputs(" --no-upsample", stderr);
}

static void show_min_ppi(const sl_settings *s, const sl_settings *d)
{
    (void)d;
    if (s->min_ppi > 0)
        (void)fprintf(stderr, " --min-ppi %g", s->min_ppi);
}

static void show_margin(const sl_settings *s, const sl_settings *d)
{
    (void)d;
    if (s->margin_mm > 0)
        (void)fprintf(stderr, " --margin %gmm", s->margin_mm);
}

static void show_turn(const sl_settings *s, const sl_settings *d)
{
    (void)d;
    if (s->turn_deg != 0)
        (void)fprintf(stderr, " --turn %u", s->turn_deg);
}

static void show_ignore_orientation(const sl_settings *s, const sl_settings *d)
{
    (void)d;
    if (s->decode.orientation == 1)
        (void)fputs(" --ignore-orientation", stderr);
}

static void show_corners(const sl_settings *s, const sl_settings *d)
{
    (void)d;
    if (s->whole_frame)
        (void)fputs(" --corners frame", stderr);
    else if (s->has_corners)
        (void)fprintf(stderr, " --corners %g,%g,%g,%g,%g,%g,%g,%g", s->corners[0].x,
                      s->corners[0].y, s->corners[1].x, s->corners[1].y, s->corners[2].x,
                      s->corners[2].y, s->corners[3].x, s->corners[3].y);
}

static void show_exact(const sl_settings *s, const sl_settings *d)
{
    (void)d;
    if (s->exact)
        (void)fputs(" --exact", stderr);
}

static void show_master(const sl_settings *s, const sl_settings *d)
{
    if (s->master != d->master)
        (void)fprintf(stderr, " --master %s", s->master == SL_FORMAT_PNG ? "png" : "none");
}

static void show_access(const sl_settings *s, const sl_settings *d)
{
    if (s->access != d->access)
        (void)fputs(" --access none", stderr);
}

static void show_access_pixels(const sl_settings *s, const sl_settings *d)
{
    (void)d;
    if (s->access_pixels > 0)
        (void)fprintf(stderr, " --access-pixels %zu", s->access_pixels);
}

static void show_quality(const sl_settings *s, const sl_settings *d)
{
    if (s->quality != d->quality)
        (void)fprintf(stderr, " --quality %d", s->quality);
}

static void show_bits(const sl_settings *s, const sl_settings *d)
{
    (void)d;
    if (s->bits != 0)
        (void)fprintf(stderr, " --bits %u", s->bits);
}

static void show_compress(const sl_settings *s, const sl_settings *d)
{
    if (s->compression != d->compression)
        (void)fprintf(stderr, " --compress %s", s->compression == SL_LZW ? "lzw" : "none");
}

static void show_colour(const sl_settings *s, const sl_settings *d)
{
    if (s->colour != d->colour)
        (void)fprintf(stderr, " --colour srgb");
}

static void show_keep_location(const sl_settings *s, const sl_settings *d)
{
    (void)d;
    if (s->keep_location)
        (void)fprintf(stderr, " --keep-location");
}

static void show_limits(const sl_settings *s, const sl_settings *d)
{
    for (int code = 0; code < SL_CODE_COUNT; code++)
        if (differ(s->limit[code], d->limit[code]))
            (void)fprintf(stderr, " --limit %s=%g", sl_code_name((sl_code)code), s->limit[code]);
}

/* What each option sets; of --corners three fields, one row each. */
#define FIELD(name) offsetof(sl_settings, name), sizeof(((sl_settings *)NULL)->name)

static const struct {
    const char *option;
    size_t      offset;
    size_t      size;
    show_fn     show;
} rows[] = {
    { "--page-size", FIELD(page_mm), show_page_size },
    { "--ppi", FIELD(ppi), show_ppi },
    { "--no-upsample", FIELD(no_upsample), show_no_upsample },
    { "--min-ppi", FIELD(min_ppi), show_min_ppi },
    { "--margin", FIELD(margin_mm), show_margin },
    { "--turn", FIELD(turn_deg), show_turn },
    { "--ignore-orientation", FIELD(decode.orientation), show_ignore_orientation },
    { "--corners", FIELD(whole_frame), NULL },
    { "--corners", FIELD(has_corners), NULL },
    { "--corners", FIELD(corners), show_corners },
    { "--exact", FIELD(exact), show_exact },
    { "--master", FIELD(master), show_master },
    { "--access", FIELD(access), show_access },
    { "--access-pixels", FIELD(access_pixels), show_access_pixels },
    { "--quality", FIELD(quality), show_quality },
    { "--bits", FIELD(bits), show_bits },
    { "--compress", FIELD(compression), show_compress },
    { "--colour", FIELD(colour), show_colour },
    { "--keep-location", FIELD(keep_location), show_keep_location },
    { "--limit", FIELD(limit), show_limits },
};

/* Does the last run tell what is no default and not on the command line? */
static bool is_news(const sl_settings *was, const sl_settings *defaults, const arguments *args,
                    size_t row)
{
    return !was_given(args, rows[row].option)
           && memcmp((const char *)was + rows[row].offset,
                     (const char *)defaults + rows[row].offset, rows[row].size)
                  != 0;
}

/* The line's first words, once. */
static bool begin_news(const arguments *args, bool begun)
{
    if (!begun && !args->quiet)
        (void)fputs("squareleaf: as in the last run:", stderr);
    return true;
}

void recall_settings(arguments *args)
{
    const sl_settings defaults = sl_settings_defaults();
    sl_album_params last = { .settings = defaults };
    const sl_settings *was = &last.settings;
    bool news = false;

    if (args->forget || !sl_album_remembered(&last, args->operand[1]))
        return;
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        if (!is_news(was, &defaults, args, i))
            continue;
        memcpy((char *)&args->settings + rows[i].offset, (const char *)was + rows[i].offset,
               rows[i].size);
        news = begin_news(args, news);
        if (rows[i].show != NULL && !args->quiet)
            rows[i].show(was, &defaults);
    }
    if (!was_given(args, "--order") && last.order != SL_ORDER_NAME) {
        args->order = last.order;
        args->versos_reversed = args->versos_reversed || last.versos_reversed;
        news = begin_news(args, news);
        if (!args->quiet)
            (void)fprintf(stderr, " --order %s%s",
                          last.order == SL_ORDER_TIME ? "time" : "rectos-versos",
                          last.versos_reversed ? " --versos-reversed" : "");
    }
    if (!was_given(args, "--expect") && last.expect > 0) {
        args->expect = last.expect;
        news = begin_news(args, news);
        if (!args->quiet)
            (void)fprintf(stderr, " --expect %zu", last.expect);
    }
    if (news && !args->quiet)
        (void)fputs(" (--forget starts from the defaults)\n", stderr);
}
