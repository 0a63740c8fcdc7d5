/*
 * Survey of an album's optics: 12 made shots through one lens, each page with a curl of its own,
 * mapped with the optics solved over all of them and one by one.
 *
 * usage: survey-optics [SEED]
 */
#include "survey/made.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

enum { PAGES = 12 };

static const double LENS_K1 = -0.06;

/* A copying stand's pages are tilted by no more, in degrees. */
static const double TILT = 4.0;

/* What is asked of a page with a curl or seen through a lens, mm, and of the lens, px. */
static const double RMS_BAR = 0.10;
static const double WORST_BAR = 0.30;
static const double LENS_BAR = 0.3;

/* A wide lens of a phone or a small camera, and its page's nominal size. */
static void make_album_camera(scene *s, dice *d)
{
    *s = (scene){ .tags = pick(d, 2) == 0 ? BY_DIAGONAL : BY_WIDTH,
                  .sized = true,
                  .nominal = { 304.8, 304.8 },
                  .k1 = LENS_K1 };
    make_camera(s, d);
}

/* Brown's lens (Brown 1971) with one camera's numbers, of a ray (x, y, 1). */
static sl_point see(double focal, const double centre[2], double k1, double k2, double x,
                    double y)
{
    const double rr = x * x + y * y;
    const double scale = focal * (1.0 + k1 * rr + k2 * rr * rr);

    return (sl_point){ centre[0] + scale * x, centre[1] + scale * y };
}

/*
 * How far the lens found moves the page's points from where the true one does, px: the largest
 * over a page that fills 0.94 of the frame, after the best homography between the two
 * pictures, which is what the page's own pose takes up.
 */
static double lens_difference(const sl_optics *found, const scene *s)
{
    enum { GRID = 17 };
    static sl_point a[GRID * GRID];
    static sl_point b[GRID * GRID];
    const double centre[2] = { found->centre_x, found->centre_y };
    const double half =
        0.47 * (double)(s->width < s->height ? s->width : s->height) / s->focal;
    double h[9];
    double worst = 0.0;

    for (size_t i = 0; i < GRID * GRID; i++) {
        const double x = half * (2.0 * (double)(i % GRID) / (GRID - 1) - 1.0);
        const double y = half * (2.0 * (double)(i / GRID) / (GRID - 1) - 1.0);

        a[i] = see(found->focal_px, centre, found->k1, found->k2, x, y);
        b[i] = see(s->focal, s->centre, s->k1, s->k2, x, y);
    }
    if (sl_homography_fit(h, a, b, GRID * GRID, NULL) != SL_OK)
        return INFINITY;
    for (size_t i = 0; i < GRID * GRID; i++) {
        const sl_point p = sl_homography_apply(h, a[i]);

        worst = fmax(worst, hypot(p.x - b[i].x, p.y - b[i].y));
    }
    return worst;
}

typedef struct figures {
    double rms;
    double worst;
    double said;
} figures;

static bool map_page(figures *out, const sl_outline *outline, const sl_optics *optics,
                     const sl_rectify_params *params, const scene *s)
{
    sl_rectified r;
    sl_error err = { 0 };

    if (sl_rectify(&r, outline, optics, params, &err) != SL_OK) {
        printf("not mapped: %s\n", err.detail);
        return false;
    }
    out->said = r.inside_error_mm;
    score_map(&out->rms, &out->worst, &r.map, s);
    return true;
}

static void print_lens(const char *name, const sl_optics *o, const scene *s)
{
    printf("%-9s f %7.1f px, centre %7.1f,%7.1f, k1 %7.4f, k2 %7.4f", name, o->focal_px,
           o->centre_x, o->centre_y, o->k1, o->k2);
    printf("   lens off by %.3f px\n", lens_difference(o, s));
}

int main(int argc, char **argv)
{
    static const kind kinds[] = { BOW, SPINE, WAVE, ASKEW };
    static sl_outline outline[PAGES];
    static scene page[PAGES];
    static scene camera;
    const sl_outline *given[PAGES];
    const long seed = argc > 1 ? strtol(argv[1], NULL, 10) : 1;
    sl_rectify_params params = sl_rectify_defaults();
    sl_error err = { 0 };
    sl_optics solved;
    size_t within[2] = { 0, 0 };
    size_t beyond[2] = { 0, 0 };

    if (argc > 2 || seed < 0) {
        fprintf(stderr, "usage: %s [SEED]\n", argv[0]);
        return 64;
    }

    dice d = { (uint64_t)seed * UINT64_C(1000003) };

    make_album_camera(&camera, &d);
    params.page_mm[0] = camera.nominal[0];
    params.page_mm[1] = camera.nominal[1];
    for (size_t i = 0; i < PAGES; i++) {
        make_page_of_album(page + i, &d, &camera, kinds[i % 4], TILT);
        make_outline(outline + i, page + i, &d);
        given[i] = outline + i;
    }

    const sl_optics guess = sl_optics_guess(&camera.exif, camera.width, camera.height);

    printf("album of %d made shots, one lens (k1 = %.2f), seed %ld, %.0f mm equivalent by %s\n",
           PAGES, LENS_K1, seed, camera.exif.focal_35mm, tags_name[camera.tags]);
    printf("%-9s f %7.1f px, centre %7.1f,%7.1f, k1 %7.4f, k2 %7.4f\n", "truth", camera.focal,
           camera.centre[0], camera.centre[1], camera.k1, camera.k2);
    print_lens("tags", &guess, &camera);
    if (sl_optics_solve(&solved, given, PAGES, &guess, &params, &err) != SL_OK) {
        printf("the album tells no optics: %s\n", err.detail);
        return 1;
    }
    print_lens("album", &solved, &camera);
    printf("\n                with the album's optics     one by one\n");
    printf("page  curl     RMS    max  bound           RMS    max  bound   mm\n");
    for (size_t i = 0; i < PAGES; i++) {
        figures of[2] = { { 0, 0, 0 }, { 0, 0, 0 } };

        printf("%4zu  %-5s", i + 1, kind_name[page[i].kind]);
        for (size_t way = 0; way < 2; way++) {
            if (!map_page(of + way, given[i], way == 0 ? &solved : &guess, &params, page + i))
                return 1;

            const bool good = of[way].rms <= RMS_BAR && of[way].worst <= WORST_BAR;

            within[way] += good;
            beyond[way] += of[way].worst > of[way].said;
            printf("  %6.3f %6.3f %6.3f %-6s", of[way].rms, of[way].worst, of[way].said,
                   good ? "" : "over");
        }
        printf("\n");
    }
    printf("within RMS %.2f, max %.2f mm: %zu of %d with the album's optics, %zu one by one\n",
           RMS_BAR, WORST_BAR, within[0], PAGES, within[1]);
    printf("truth beyond the bound: %zu and %zu\n", beyond[0], beyond[1]);
    return within[0] == PAGES && lens_difference(&solved, &camera) <= LENS_BAR ? 0 : 1;
}
