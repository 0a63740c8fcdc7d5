#include "album/faults.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>

#include "album/amend.h"
#include "album/names.h"
#include "album/work.h"
#include "base/compiler.h"
#include "base/order.h"

/* Adds a fault; without a figure `unit` is "". */
SL_PRINTF(6, 7)
static void add_fault(json_t *faults, const char *code, double value, double limit,
                      const char *unit, const char *text, ...)
{
    char said[400];
    va_list args;

    va_start(args, text);
    (void)vsnprintf(said, sizeof said, text, args);
    va_end(args);
    json_array_append_new(faults, json_pack("{s:s, s:f, s:f, s:s, s:s}", "code", code, "value",
                                            value, "limit", limit, "unit", unit, "text", said));
}

/* ---- how many pages -------------------------------------------------------------------------- */

/* A page was found in the shot, be it good or not. */
static bool shows_a_page(const json_t *line)
{
    return sl_line_outcome(line) != SL_OUTCOME_FAILED
           && json_is_array(json_object_get(json_object_get(line, "report"), "corners"));
}

void sl_fault_page_count(json_t *faults, const json_t *lines, const char *out_dir,
                         size_t expect)
{
    json_t *seen;
    json_t *shown;
    size_t all;
    size_t pages;
    size_t i;
    const json_t *line;
    char empty[80] = "";

    if (expect == 0)
        return;
    seen = json_object();
    shown = json_object();
    /* shots of one page in several states (a flap open, a flap closed) share its label */
    json_array_foreach(lines, i, line) {
        if (!sl_line_still_there(line, out_dir))
            continue;
        json_object_set_new(seen, sl_line_label(line), json_true());
        if (shows_a_page(line))
            json_object_set_new(shown, sl_line_label(line), json_true());
    }
    all = json_object_size(seen);
    pages = json_object_size(shown);
    json_decref(seen);
    json_decref(shown);
    if (pages == expect)
        return;
    if (pages < all)
        (void)snprintf(empty, sizeof empty, " (%zu shot%s gave no page)", all - pages,
                       all - pages == 1 ? "" : "s");
    if (pages < expect)
        add_fault(faults, "page-count", (double)pages, (double)expect, "pages",
                  "%zu pages are expected and %zu found%s: %zu missing. Leaf through the album "
                  "beside the pages, photograph what is missing and run again.",
                  expect, pages, empty, expect - pages);
    else
        add_fault(faults, "page-count", (double)pages, (double)expect, "pages",
                  "%zu page%s expected and %zu found%s: %zu too many. Look for pages that "
                  "were photographed twice, or count the album again.",
                  expect, expect == 1 ? " is" : "s are", pages, empty, pages - expect);
}

/* ---- what most pages are --------------------------------------------------------------------- */

/* So many pages at least, and this share of them, make a fault of the album. */
enum { LEAST_PAGES = 3 };
static const double MOST = 2.0 / 3;

static bool are_most(size_t some, size_t all)
{
    return some >= LEAST_PAGES && (double)some >= MOST * (double)all;
}

static double figure(const json_t *line, const char *key)
{
    const json_t *value = json_object_get(json_object_get(line, "report"), key);

    return json_is_number(value) ? json_number_value(value) : NAN;
}

/* ---- size ------------------------------------------------------------------------------------ */

/* A page agrees with the album within this share, and within what its own figure is worth. */
static const double AGREES = 0.003;
static const double AGREES_MOST = 0.01;

/* Proportions of one page. */
typedef struct shape {
    size_t line;
    double ratio;            /* longer over shorter side, by the stated size where it tells */
    double sigma;            /* of its logarithm */
} shape;

static bool shape_of(shape *out, const json_t *line, size_t index)
{
    const json_t *page = json_object_get(json_object_get(line, "report"), "page_mm");
    const double w = json_number_value(json_array_get(page, 0));
    const double h = json_number_value(json_array_get(page, 1));
    const double aspect = figure(line, "aspect");
    const double sigma = figure(line, "aspect_sigma");

    /* a page cut by the frame, or one whose outline is not sure, measures nothing */
    if (!(aspect > 0) || sl_line_reason(line, SL_CODE_CUT) != NULL
        || sl_line_reason(line, SL_CODE_HAND_CORRECTED) != NULL)
        return false;
    *out = (shape){ index, aspect > 1 ? aspect : 1 / aspect, sigma >= 0 ? sigma / aspect : 0 };
    if (fabs(w - h) > 0.001 * w) /* else a square either way about, or no size */
        out->ratio = h > w ? aspect : 1 / aspect;
    return true;
}

/* "12 x 12 in", "210 x 297 mm". */
static void print_size(char *out, size_t size, const double mm[2])
{
    const double a = mm[0] / 25.4;
    const double b = mm[1] / 25.4;

    if (fabs(4 * a - round(4 * a)) < 0.01 && fabs(4 * b - round(4 * b)) < 0.01)
        (void)snprintf(out, size, "%g x %g in", round(4 * a) / 4, round(4 * b) / 4);
    else
        (void)snprintf(out, size, "%g x %g mm", mm[0], mm[1]);
}

static void say_size(json_t *faults, const sl_settings *s, size_t agree, size_t all, double ratio)
{
    const double *mm = s->page_mm;
    const double shorter = fmin(mm[0], mm[1]);
    const double longer = fmax(mm[0], mm[1]);
    char said[64];

    print_size(said, sizeof said, mm);
    add_fault(faults, sl_code_name(SL_CODE_SIZE_DIFFERS),
              100 * fabs(ratio * shorter / longer - 1), s->limit[SL_CODE_SIZE_DIFFERS], "%",
              "You said %s, which is %.3f to 1; %zu of %zu pages measure %.3f to 1. Measure a "
              "leaf with a ruler and run again, e.g. --page-size %.0fx%.0fmm.",
              said, longer / shorter, agree, all, ratio, round(ratio * shorter),
              round(shorter));
}

static double off(const shape *s, double middle)
{
    return fabs(log(s->ratio / middle));
}

void sl_fault_size(json_t *faults, json_t *lines, const sl_settings *settings)
{
    const double *mm = settings->page_mm;
    const size_t all = json_array_size(lines);
    shape *of = calloc(all + 1, sizeof *of);
    double *value = calloc(all + 1, sizeof *value);
    size_t count = 0;
    size_t agree = 0;
    double middle;
    double slack;
    bool differs = false;

    for (size_t i = 0; of != NULL && value != NULL && i < all; i++)
        count += shape_of(&of[count], json_array_get(lines, i), i);
    for (size_t i = 0; i < count; i++)
        value[i] = of[i].ratio;
    middle = sl_median(value, count);
    for (size_t i = 0; i < count; i++)
        value[i] = off(&of[i], middle);
    /* from hand a page's figure is worth less than it claims: the album's own spread shows it */
    slack = fmax(AGREES, fmin(2.5 * 1.4826 * sl_median(value, count), AGREES_MOST));
    for (size_t i = 0; i < count; i++)
        agree += off(&of[i], middle) <= slack + 2 * of[i].sigma;
    if (are_most(agree, count)) {
        if (mm[0] > 0)
            differs = 100 * fabs(middle * fmin(mm[0], mm[1]) / fmax(mm[0], mm[1]) - 1)
                      > settings->limit[SL_CODE_SIZE_DIFFERS];
        if (differs)
            say_size(faults, settings, agree, count, middle);
        for (size_t i = 0; i < count; i++) {
            const bool told = sl_line_reason(json_array_get(lines, of[i].line),
                                             SL_CODE_SIZE_DIFFERS) != NULL;
            const double e = off(&of[i], middle);

            if (told && differs && e <= slack + 2 * of[i].sigma)
                sl_amend_excuse(lines, of[i].line, SL_CODE_SIZE_DIFFERS);
            else if (!told && e > 1.5 * slack - 0.5 * AGREES + 3 * of[i].sigma)
                sl_amend_add(lines, of[i].line, SL_CODE_SIZE_DIFFERS, 100 * e, 100 * AGREES, "%",
                             SL_LOOK,
                             "The page measures %.3f to 1 where most pages of the album measure "
                             "%.3f to 1. Check that the whole page is there and nothing else.",
                             of[i].ratio, middle);
        }
    }
    free(value);
    free(of);
}

/* ---- light and resolution -------------------------------------------------------------------- */

/* The brightest 200th of a page that is exposed well enough, of white in linear light. */
static const double BRIGHT_ENOUGH = 0.2;

static void fault_exposure(json_t *faults, const json_t *lines)
{
    const size_t all = json_array_size(lines);
    double *value = calloc(all + 1, sizeof *value);
    size_t count = 0;
    size_t dark = 0;
    size_t i;
    const json_t *line;

    json_array_foreach(lines, i, line) {
        const double brightest = figure(line, "brightest");

        if (value == NULL || !(brightest >= 0))
            continue;
        count++;
        if (brightest < BRIGHT_ENOUGH)
            value[dark++] = brightest;
    }
    if (are_most(dark, count)) {
        const double usual = fmax(sl_median(value, dark), 1e-3);

        add_fault(faults, "underexposed", 100 * usual, 100 * BRIGHT_ENOUGH, "%",
                  "%zu of %zu shots are underexposed: nothing on the pages is brighter than "
                  "%.0f %% of white. Expose about %.0f times as long and photograph the album "
                  "again.",
                  dark, count, 100 * usual, 0.7 / usual);
    }
    free(value);
}

/* What each page would be told of, and most have in common. */
static const struct common {
    sl_code     code;
    bool        low;         /* the less the worse */
    const char *unit;
    const char *text;        /* pages with it, pages, figure */
} commons[] = {
    { SL_CODE_SOFT, false, "px",
      "%zu of %zu shots are not sharp (edges are blurred by %.1f px). Focus on the page, use a "
      "tripod and a self-timer, and photograph the album again." },
    { SL_CODE_UNEVEN_LIGHT, true, "%",
      "On %zu of %zu pages one side gets only %.0f %% of the light of the other. Put two equal "
      "lamps at 45 degrees, one on each side." },
    { SL_CODE_FEW_PIXELS, true, "ppi",
      "%zu of %zu shots hold only %.0f ppi of the page. Go nearer, or take a camera with more "
      "pixels; --min-ppi sets what is enough." },
};

/* Worse than the usual by more than this is told on the page too. */
static const double MUCH_WORSE = 1.3;

#if defined(__GNUC__)
#pragma GCC diagnostic push
#pragma GCC diagnostic ignored "-Wformat-nonliteral"
#endif

static void fault_common(json_t *faults, json_t *lines, const struct common *c)
{
    const size_t all = json_array_size(lines);
    double *value = calloc(all + 1, sizeof *value);
    size_t pages = 0;
    size_t some = 0;
    double limit = 0;
    double usual;
    size_t i;
    json_t *line;

    json_array_foreach(lines, i, line) {
        const json_t *reason = sl_line_reason(line, c->code);

        pages += figure(line, "aspect") > 0;
        if (value != NULL && reason != NULL) {
            value[some++] = json_number_value(json_object_get(reason, "value"));
            limit = json_number_value(json_object_get(reason, "limit"));
        }
    }
    usual = sl_median(value, some);
    if (are_most(some, pages)) {
        add_fault(faults, sl_code_name(c->code), usual, limit, c->unit, c->text, some, pages,
                  usual);
        for (i = 0; i < all; i++) {
            const json_t *reason = sl_line_reason(json_array_get(lines, i), c->code);
            const double v = json_number_value(json_object_get(reason, "value"));

            if (reason != NULL && (c->low ? v * MUCH_WORSE >= usual : v <= MUCH_WORSE * usual))
                sl_amend_excuse(lines, i, c->code);
        }
    }
    free(value);
}

#if defined(__GNUC__)
#pragma GCC diagnostic pop
#endif

void sl_fault_light(json_t *faults, json_t *lines)
{
    fault_exposure(faults, lines);
    for (size_t i = 0; i < sizeof commons / sizeof *commons; i++)
        fault_common(faults, lines, &commons[i]);
}
