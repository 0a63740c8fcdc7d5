/*
 * Survey of the geometry: made pages, exact outlines with noise and strays, and how far the
 * page map found for them is off inside the page.
 *
 * usage: survey-geometry [PAGES] [SEED] [-v]
 */
#include "survey/made.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

enum { PAGES_MAX = 20000 };

/* ---- score ----------------------------------------------------------------------------- */

typedef struct score {
    kind kind;
    tags tags;
    bool sized;
    bool solved;
    sl_model model;
    double rms;                  /* mm */
    double worst;
    double said;
    double ms;
} score;

static void run(score *out, const scene *s, dice *d, bool verbose, size_t number)
{
    static sl_outline outline;   /* large; the survey is one thread */
    sl_rectify_params params = sl_rectify_defaults();
    sl_rectified r;
    sl_error err = { 0 };
    const sl_optics optics = sl_optics_guess(&s->exif, s->width, s->height);

    make_outline(&outline, s, d);
    if (s->sized) {
        params.page_mm[0] = s->nominal[1];   /* either order */
        params.page_mm[1] = s->nominal[0];
    }
    *out = (score){ .kind = s->kind, .tags = s->tags, .sized = s->sized };

    const clock_t before = clock();
    const sl_status st = sl_rectify(&r, &outline, &optics, &params, &err);

    out->ms = 1e3 * (double)(clock() - before) / CLOCKS_PER_SEC;
    out->solved = st == SL_OK;
    if (!out->solved) {
        printf("page %zu (%s): %s\n", number, kind_name[s->kind], err.detail);
        return;
    }
    score_map(&out->rms, &out->worst, &r.map, s);
    out->model = r.map.model;
    out->said = s->sized ? r.inside_error_mm : r.inside_error_mm * s->actual[0] / 1000.0;
    if (verbose)
        printf("page %4zu %-6s %-8s %s rms %.3f max %.3f said %.3f model %d res %.3f px "
               "outliers %.3f phi %.1f (true %.1f) f %.0f (true %.0f) k1 %.4f (true %.4f) "
               "stretch %.5f (true %.5f) slope %.2f %.1f ms\n",
               number, kind_name[s->kind], tags_name[s->tags], s->sized ? "sized" : "free ",
               out->rms, out->worst, out->said, (int)r.map.model, r.residual_px,
               r.outlier_share, r.map.phi / RADIAN, s->along / RADIAN, r.map.focal_px, s->focal,
               r.map.k1, s->k1, r.map.stretch,
               s->actual[1] / s->actual[0] / (s->nominal[1] / s->nominal[0]), s->slope,
               out->ms);
}

static int ascending(const void *a, const void *b)
{
    const double x = *(const double *)a;
    const double y = *(const double *)b;

    return (x > y) - (x < y);
}

static void print_row(const char *name, const score *all, size_t n, bool (*belongs)(
                          const score *, int), int which)
{
    static double rms[PAGES_MAX];
    static double worst[PAGES_MAX];
    static double ratio[PAGES_MAX];
    static double ms[PAGES_MAX];
    size_t m = 0;
    size_t lost = 0;
    size_t beyond = 0;

    for (size_t i = 0; i < n; i++) {
        if (!belongs(all + i, which))
            continue;
        if (!all[i].solved) {
            lost++;
            continue;
        }
        rms[m] = all[i].rms;
        worst[m] = all[i].worst;
        ratio[m] = all[i].said / all[i].worst;
        ms[m] = all[i].ms;
        beyond += all[i].worst > all[i].said;
        m++;
    }
    if (m == 0)
        return;
    qsort(rms, m, sizeof *rms, ascending);
    qsort(worst, m, sizeof *worst, ascending);
    qsort(ratio, m, sizeof *ratio, ascending);
    qsort(ms, m, sizeof *ms, ascending);
    printf("%-9s %5zu %4zu  %6.3f %6.3f %7.3f   %6.3f %6.3f %7.3f   %5.1f%% %6.2f   %6.1f %6.1f\n",
           name, m, lost, rms[m / 2], rms[m * 95 / 100], rms[m - 1], worst[m / 2],
           worst[m * 95 / 100], worst[m - 1], 100.0 * (double)beyond / (double)m, ratio[m / 2],
           ms[m / 2], ms[m - 1]);
}

static bool of_kind(const score *s, int which)
{
    return (int)s->kind == which;
}

static bool of_tags(const score *s, int which)
{
    return (int)s->tags == which;
}

static bool of_size(const score *s, int which)
{
    return (int)s->sized == which;
}

static bool of_all(const score *s, int which)
{
    (void)s;
    (void)which;
    return true;
}

int main(int argc, char **argv)
{
    static score all[PAGES_MAX];
    static scene s;
    const bool verbose = argc > 1 && strcmp(argv[argc - 1], "-v") == 0;
    const int words = argc - (verbose ? 1 : 0);
    const long pages = words > 1 ? strtol(argv[1], NULL, 10) : 700;
    const long seed = words > 2 ? strtol(argv[2], NULL, 10) : 1;

    if (pages < 1 || pages > PAGES_MAX || seed < 0) {
        fprintf(stderr, "usage: %s [PAGES 1..%d] [SEED] [-v]\n", argv[0], PAGES_MAX);
        return 64;
    }
    for (size_t i = 0; i < (size_t)pages; i++) {
        dice d = { (uint64_t)seed * UINT64_C(1000003) + i };

        make_scene(&s, &d, (kind)(i % KINDS));
        run(all + i, &s, &d, verbose, i);
    }
    printf("%ld made pages, seed %ld: error inside the page in mm, over a %dx%d grid\n", pages,
           seed, SCORE_GRID, SCORE_GRID);
    printf("                       RMS                      largest              bound      "
           "    ms a page\n");
    printf("kind      pages lost  median   95%%   worst   median   95%%   worst   beyond  x true"
           "   median  worst\n");
    for (int k = 0; k < KINDS; k++)
        print_row(kind_name[k], all, (size_t)pages, of_kind, k);
    for (int t = 0; t < TAGS; t++)
        print_row(tags_name[t], all, (size_t)pages, of_tags, t);
    print_row("no size", all, (size_t)pages, of_size, 0);
    print_row("all", all, (size_t)pages, of_all, 0);
    return 0;
}
