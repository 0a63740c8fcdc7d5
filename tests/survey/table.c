#include "survey/table.h"

#include <stdio.h>

const char *survey_wrong_name(survey_wrong wrong)
{
    static const char *const names[] = { "right", "missed", "false alarm", "silent failure",
                                         "broken" };

    return wrong <= WRONG_BROKEN ? names[wrong] : "";
}

const char *survey_expect_name(survey_expect expect)
{
    static const char *const names[] = { "good", "hard", "never" };

    return expect <= EXPECT_NEVER ? names[expect] : "";
}

/* ---- by case --------------------------------------------------------------------------------- */

typedef struct sums {
    size_t scenes;
    size_t good;
    size_t near[3];          /* good pages within 0.3, 0.5, 1 mm */
    size_t hard;
    size_t hard_near;        /* hard ones within 1 mm */
    size_t pass;
    size_t wrong[WRONG_BROKEN + 1];
    double seconds;
} sums;

static void add(sums *to, const survey_finding *f)
{
    static const double limits[3] = { 0.3, 0.5, 1 };

    to->scenes++;
    to->pass += f->verdict == VERDICT_PASS;
    to->wrong[f->wrong]++;
    to->seconds += f->seconds;
    if (f->expect == EXPECT_GOOD) {
        to->good++;
        for (int k = 0; k < 3; k++)
            to->near[k] += f->error_mm <= limits[k];
    } else if (f->expect == EXPECT_HARD) {
        to->hard++;
        to->hard_near += f->error_mm <= limits[2];
    }
}

static void print_sums(const char *name, const sums *s)
{
    (void)printf("%-16s %6zu %6zu %6zu %6zu %6zu %6zu %6zu %6zu %7zu %7zu %7zu %7.2f\n", name,
                 s->scenes, s->good, s->near[0], s->near[1], s->near[2], s->hard, s->hard_near,
                 s->pass, s->wrong[WRONG_SILENT] + s->wrong[WRONG_BROKEN], s->wrong[WRONG_ALARM],
                 s->wrong[WRONG_MISSED], s->seconds / (s->scenes > 0 ? (double)s->scenes : 1));
}

static double percent(size_t part, size_t whole)
{
    return whole > 0 ? 100.0 * (double)part / (double)whole : 0;
}

/* ---- by confidence --------------------------------------------------------------------------- */

static void print_curve(const survey_finding *findings, size_t count)
{
    static const double levels[] = { 0, 0.02, 0.04, 0.06, 0.1, 0.15, 0.2, 0.3, 0.4, 0.5, 0.7, 0.9 };

    (void)puts("\nOutlines by the program's confidence, and errors among them (over 1 mm, or none "
               "to be had)\nconfidence    outlines  errors       %   passed  errors");
    for (size_t k = 0; k < sizeof levels / sizeof levels[0]; k++) {
        size_t outlines = 0;
        size_t errors = 0;
        size_t passed = 0;
        size_t silent = 0;

        for (size_t i = 0; i < count; i++) {
            const survey_finding *f = &findings[i];

            if (!f->outline || f->confidence < levels[k])
                continue;
            outlines++;
            errors += f->expect == EXPECT_NEVER || f->error_mm > ERROR_MOST_MM;
            passed += f->verdict == VERDICT_PASS;
            silent += f->wrong == WRONG_SILENT;
        }
        (void)printf(">= %4.2f       %8zu %7zu %7.2f %8zu %7zu\n", levels[k], outlines, errors,
                     percent(errors, outlines), passed, silent);
    }
}

void survey_table_print(const survey_finding *findings, size_t count)
{
    sums all = { .scenes = 0 };

    (void)puts("                                good pages within       hard          "
               "silent   false\n"
               "case             scenes   good 0.3 mm 0.5 mm   1 mm   hard  1 mm    pass failure"
               "   alarm  missed seconds");
    for (size_t c = 0; c < survey_case_count(); c++) {
        sums s = { .scenes = 0 };

        for (size_t i = 0; i < count; i++)
            if (findings[i].which == c) {
                add(&s, &findings[i]);
                add(&all, &findings[i]);
            }
        if (s.scenes > 0)
            print_sums(survey_case_name(c), &s);
    }
    print_sums("all", &all);
    (void)printf("\n%zu scenes: %zu silent failures; false alarms %.1f %% of the good pages; "
                 "%.1f %% of them within 0.3 mm, %.1f %% within 1 mm; %.1f %% missed\n",
                 count, all.wrong[WRONG_SILENT] + all.wrong[WRONG_BROKEN],
                 percent(all.wrong[WRONG_ALARM], all.good), percent(all.near[0], all.good),
                 percent(all.near[2], all.good), percent(all.wrong[WRONG_MISSED], all.good));
    print_curve(findings, count);
}

size_t survey_table_silent(const survey_finding *findings, size_t count)
{
    size_t n = 0;

    for (size_t i = 0; i < count; i++)
        n += findings[i].wrong == WRONG_SILENT || findings[i].wrong == WRONG_BROKEN;
    return n;
}
