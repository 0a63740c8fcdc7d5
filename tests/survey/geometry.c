/*
 * Survey of the geometry: made pages, exact outlines with noise and strays, and how far the
 * page map found for them is off inside the page.
 *
 * usage: survey-geometry [PAGES] [SEED] [-v]
 *
 * The maker below shares no code with the fitter: sheets are walked in small steps from a slope
 * that is no polynomial, cameras are turned by three angles.
 */
#include "squareleaf.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

enum { GRID = 17, EDGE = 200, WALK = 4000, PAGES_MAX = 20000 };

static const double RADIAN = 0.017453292519943295;

/* ---- chance ---------------------------------------------------------------------------- */

/* SplitMix64 (Steele, Lea, Flood, OOPSLA 2014): the same pages everywhere. */
typedef struct dice {
    uint64_t state;
} dice;

static double uniform(dice *d, double low, double high)
{
    uint64_t z = d->state += UINT64_C(0x9e3779b97f4a7c15);

    z = (z ^ (z >> 30)) * UINT64_C(0xbf58476d1ce4e5b9);
    z = (z ^ (z >> 27)) * UINT64_C(0x94d049bb133111eb);
    z ^= z >> 31;
    return low + (high - low) * ((double)(z >> 11) / 9007199254740992.0);
}

static double normal(dice *d, double sigma)
{
    const double u = uniform(d, 1e-12, 1.0);
    const double v = uniform(d, 0.0, 6.283185307179586);

    return sigma * sqrt(-2.0 * log(u)) * cos(v);
}

static size_t pick(dice *d, size_t n)
{
    const size_t i = (size_t)uniform(d, 0.0, (double)n);

    return i < n ? i : n - 1;
}

/* ---- a made page ----------------------------------------------------------------------- */

typedef enum kind { FLAT, LENS, BOW, SPINE, WAVE, ASKEW, CORNER, KINDS } kind;

static const char *const kind_name[KINDS] = {
    "flat", "lens", "bow", "spine", "s", "askew", "corner",
};

typedef enum tags { BY_DIAGONAL, BY_WIDTH, MISSING, CROPPED, TAGS } tags;

static const char *const tags_name[TAGS] = { "diagonal", "width", "missing", "cropped" };

typedef struct scene {
    kind kind;
    tags tags;
    bool sized;                  /* the page size is told */
    double nominal[2];           /* mm */
    double actual[2];
    double along;                /* direction across the rulings */
    double reach;                /* half the page's extent that way */
    double slope;                /* of the sheet, rad */
    double decay;                /* spine, corner: mm */
    double phase;
    double walk_x[2 * WALK + 1]; /* the bent profile at equal arc lengths */
    double walk_z[2 * WALK + 1];
    double turn[3][3];
    double place[3];
    double focal;
    double centre[2];
    double k1;
    double k2;
    size_t width;
    size_t height;
    sl_exif exif;
} scene;

static double slope_at(const scene *s, double arc)
{
    const double t = arc / s->reach;

    switch (s->kind) {
    case BOW:
    case ASKEW:
        return s->slope * sin(1.3 * t + s->phase);
    case WAVE:
        return s->slope * cos(3.14159 * t + s->phase);
    case SPINE:
        return s->slope * exp(-(t + 1.0) * s->reach / s->decay);
    case CORNER: {
        /* flat, then a smooth rise over the last stretch before the corner */
        const double past = (arc - s->reach + s->decay) / s->decay;

        return past > 0.0 ? s->slope * past * past * (3.0 - 2.0 * fmin(past, 1.0)) : 0.0;
    }
    default:
        return 0.0;
    }
}

static void walk_sheet(scene *s)
{
    const double step = 1.05 * s->reach / WALK;

    for (int way = -1; way <= 1; way += 2) {
        double x = 0.0;
        double z = 0.0;

        s->walk_x[WALK] = s->walk_z[WALK] = 0.0;
        for (int i = 0; i < WALK; i++) {
            const double angle = slope_at(s, way * step * (i + 0.5));

            x += way * step * cos(angle);
            z += way * step * sin(angle);
            s->walk_x[WALK + way * (i + 1)] = x;
            s->walk_z[WALK + way * (i + 1)] = z;
        }
    }
}

/* Shot px of the true page's point (u, v in 0..1). */
static sl_point shoot(const scene *s, double u, double v)
{
    const double a = (u - 0.5) * s->actual[0];
    const double b = (v - 0.5) * s->actual[1];
    const double arc = a * cos(s->along) + b * sin(s->along);
    const double rule = b * cos(s->along) - a * sin(s->along);
    const double at = arc / (1.05 * s->reach) * WALK + WALK;
    const size_t i = (size_t)fmin(fmax(at, 0.0), 2.0 * WALK - 1.0);
    const double f = at - (double)i;
    const double x = (1.0 - f) * s->walk_x[i] + f * s->walk_x[i + 1];
    const double z = (1.0 - f) * s->walk_z[i] + f * s->walk_z[i + 1];
    const double sheet[3] = { x * cos(s->along) - rule * sin(s->along),
                              x * sin(s->along) + rule * cos(s->along), z };
    double eye[3];

    for (size_t r = 0; r < 3; r++)
        eye[r] = s->turn[r][0] * sheet[0] + s->turn[r][1] * sheet[1] + s->turn[r][2] * sheet[2]
                 + s->place[r];

    const double px = eye[0] / eye[2];
    const double py = eye[1] / eye[2];
    const double rr = px * px + py * py;
    const double lens = 1.0 + s->k1 * rr + s->k2 * rr * rr;

    return (sl_point){ s->centre[0] + s->focal * px * lens,
                       s->centre[1] + s->focal * py * lens };
}

static void turn_camera(scene *s, double pitch, double yaw, double roll)
{
    const double cp = cos(pitch), sp = sin(pitch);
    const double cy = cos(yaw), sy = sin(yaw);
    const double cr = cos(roll), sr = sin(roll);
    const double turn[3][3] = {
        { cr * cy - sr * sp * sy, -sr * cp, cr * sy + sr * sp * cy },
        { sr * cy + cr * sp * sy, cr * cp, sr * sy - cr * sp * cy },
        { -cp * sy, sp, cp * cy },
    };

    memcpy(s->turn, turn, sizeof turn);
}

/* Backs the camera off until the page fills `fill` of the frame; the page about the middle. */
static void frame_page(scene *s, double fill, double shift_x, double shift_y)
{
    s->place[0] = s->place[1] = 0.0;
    s->place[2] = 3.0 * s->actual[0];
    for (int round = 0; round < 30; round++) {
        double low[2] = { 1e9, 1e9 };
        double high[2] = { -1e9, -1e9 };

        for (int i = 0; i <= 40; i++) {
            const double t = i / 40.0;
            const sl_point edge[4] = { shoot(s, t, 0), shoot(s, t, 1), shoot(s, 0, t),
                                       shoot(s, 1, t) };

            for (size_t k = 0; k < 4; k++) {
                low[0] = fmin(low[0], edge[k].x);
                high[0] = fmax(high[0], edge[k].x);
                low[1] = fmin(low[1], edge[k].y);
                high[1] = fmax(high[1], edge[k].y);
            }
        }

        const double filled = fmax((high[0] - low[0]) / (double)s->width,
                                   (high[1] - low[1]) / (double)s->height);
        const double mm = s->place[2] / s->focal;

        s->place[0] += mm * (0.5 * (double)s->width + shift_x - 0.5 * (low[0] + high[0]));
        s->place[1] += mm * (0.5 * (double)s->height + shift_y - 0.5 * (low[1] + high[1]));
        s->place[2] *= 1.0 + 0.8 * (filled / fill - 1.0);
    }
}

static void make_camera(scene *s, dice *d)
{
    static const size_t frames[3][2] = { { 4032, 3024 }, { 5184, 3456 }, { 3000, 4000 } };
    const size_t *const frame = frames[pick(d, 3)];
    const double mm35 = exp(uniform(d, log(24.0), log(85.0)));
    const double diagonal = hypot((double)frame[0], (double)frame[1]);
    const double longer = (double)(frame[0] > frame[1] ? frame[0] : frame[1]);

    s->width = frame[0];
    s->height = frame[1];
    s->focal = s->tags == BY_WIDTH ? mm35 / 36.0 * longer : mm35 * diagonal / 43.2666;
    /* the tag holds whole mm; lens centring is good to some tenths of a per cent */
    s->exif.focal_35mm = s->tags == MISSING ? 0.0 : floor(mm35 + 0.5);
    s->exif.pixel_x = frame[0];
    s->exif.pixel_y = frame[1];
    s->centre[0] = 0.5 * ((double)frame[0] - 1.0) + normal(d, 0.002 * longer);
    s->centre[1] = 0.5 * ((double)frame[1] - 1.0) + normal(d, 0.002 * longer);
    if (s->tags == CROPPED) {
        /* off one side and off the bottom, so that the middle is no longer the middle */
        const double x = uniform(d, 0.0, 0.08) * (double)frame[0];
        const double y = uniform(d, 0.0, 0.08) * (double)frame[1];

        s->width -= (size_t)x;
        s->height -= (size_t)y;
        s->centre[0] -= uniform(d, 0.0, 1.0) * x;
        s->centre[1] -= uniform(d, 0.0, 1.0) * y;
    }
}

static void make_sheet(scene *s, dice *d)
{
    const double sign = uniform(d, 0.0, 1.0) < 0.5 ? -1.0 : 1.0;
    const double side = 90.0 * (double)pick(d, 4);

    s->phase = 0.0;
    switch (s->kind) {
    case BOW:
        s->along = side * RADIAN + normal(d, 2.0 * RADIAN);
        s->slope = sign * uniform(d, 0.05, 0.35);
        s->phase = normal(d, 0.2);
        break;
    case WAVE:
        s->along = side * RADIAN + normal(d, 2.0 * RADIAN);
        s->slope = sign * uniform(d, 0.04, 0.22);
        s->phase = normal(d, 0.4);
        break;
    case SPINE:
        s->along = side * RADIAN + normal(d, 1.0 * RADIAN);
        s->slope = sign * uniform(d, 0.2, 0.6);
        s->decay = uniform(d, 35.0, 90.0);
        break;
    case ASKEW:
        s->along = (side + uniform(d, -45.0, 45.0)) * RADIAN;
        s->slope = sign * uniform(d, 0.05, 0.3);
        s->phase = normal(d, 0.2);
        break;
    case CORNER:
        s->along = (side + uniform(d, 30.0, 60.0)) * RADIAN;
        s->slope = sign * uniform(d, 0.1, 0.6);
        break;
    default:
        s->along = 0.0;
        break;
    }
    s->reach = 0.5 * (fabs(s->actual[0] * cos(s->along)) + fabs(s->actual[1] * sin(s->along)));
    if (s->kind == CORNER)
        s->decay = s->reach * uniform(d, 0.4, 0.9);
    walk_sheet(s);
}

static void make_scene(scene *s, dice *d, kind k)
{
    static const double sizes[6][2] = { { 304.8, 304.8 }, { 203.2, 203.2 }, { 215.9, 279.4 },
                                        { 297.0, 210.0 }, { 300.0, 300.0 }, { 240.0, 300.0 } };
    static const double share[TAGS] = { 0.4, 0.8, 0.9, 1.0 };
    const double draw = uniform(d, 0.0, 1.0);
    const double *const size = sizes[pick(d, 6)];
    const double lens = uniform(d, 0.0, 1.0);

    memset(s, 0, sizeof *s);
    s->kind = k;
    while (draw > share[s->tags])
        s->tags++;
    s->sized = uniform(d, 0.0, 1.0) < 0.85;
    for (size_t i = 0; i < 2; i++) {
        s->nominal[i] = size[i];
        /* each length up to half a per cent off: the ratio up to 1 % */
        s->actual[i] = size[i] * (1.0 + fmin(fmax(normal(d, 0.0025), -0.005), 0.005));
    }
    if (k == LENS || lens < 0.4) {
        s->k1 = uniform(d, -0.1, 0.05);
        s->k2 = -0.08 * s->k1 + normal(d, 0.003);
    } else if (lens < 0.7) {
        s->k1 = normal(d, 0.01);
    }
    if (k == FLAT && lens < 0.4)
        s->k1 = s->k2 = 0.0;
    make_camera(s, d);
    make_sheet(s, d);

    const double tilt = uniform(d, 0.0, 1.0) < 0.5 ? 1.5 : 14.0;
    const double lean = uniform(d, 0.0, tilt) * RADIAN;
    const double way = uniform(d, 0.0, 6.283);
    const double px = 0.01 * (double)s->width;

    turn_camera(s, lean * cos(way), lean * sin(way), normal(d, 1.5 * RADIAN));
    frame_page(s, uniform(d, 0.7, 0.94), normal(d, px), normal(d, px));
}

/* The four sides clockwise, as the border stage would give them. */
static void make_outline(sl_outline *outline, const scene *s, dice *d)
{
    static const double corner[4][2] = { { 0, 0 }, { 1, 0 }, { 1, 1 }, { 0, 1 } };
    const double noise = uniform(d, 0.08, 0.25);
    const bool tab = uniform(d, 0.0, 1.0) < 0.3;
    /* an edge painted in whole pixels and blurred: up to half a pixel off, in long steps */
    const bool stepped = uniform(d, 0.0, 1.0) < 0.3;
    const size_t tab_side = pick(d, 4);
    const size_t tab_at = pick(d, EDGE - 8);
    const double rounded = uniform(d, 0.0, 1.0) < 0.3 ? uniform(d, 1.0, 4.0) : 0.0;

    memset(outline, 0, sizeof *outline);
    outline->found = true;
    outline->confidence = 1.0;
    for (size_t side = 0; side < 4; side++) {
        const double *const a = corner[side];
        const double *const b = corner[(side + 1) % 4];
        double drift = 0.0;

        outline->corner[side] = shoot(s, a[0], a[1]);
        outline->corner[side].x += normal(d, 0.5);
        outline->corner[side].y += normal(d, 0.5);
        outline->edge[side].count = EDGE;
        outline->edge[side].support = 1.0;
        for (size_t i = 0; i < EDGE; i++) {
            sl_edge_point *const p = outline->edge[side].point + i;
            const double t = ((double)i + 0.5) / EDGE;
            const double u = a[0] + t * (b[0] - a[0]);
            const double v = a[1] + t * (b[1] - a[1]);
            const sl_point here = shoot(s, u, v);
            const sl_point next = shoot(s, u + 1e-4 * (b[0] - a[0]), v + 1e-4 * (b[1] - a[1]));
            const double length = hypot(next.x - here.x, next.y - here.y);
            /* of a clockwise walk with y down, the inside is to the right: (-dy, dx) */
            const double nx = -(next.y - here.y) / length;
            const double ny = (next.x - here.x) / length;
            const double end = fmin(t, 1.0 - t) * length * 1e4;
            double off;

            /* a paper edge's own waviness, of about eight points' length */
            drift = 0.88 * drift + normal(d, 0.3 * noise * sqrt(1.0 - 0.88 * 0.88));
            off = drift + normal(d, stepped ? 0.3 * noise : noise);
            if (uniform(d, 0.0, 1.0) < 0.02)
                off += normal(d, 8.0);
            if (tab && side == tab_side && i >= tab_at && i < tab_at + 8)
                off -= 6.0;
            if (end < 10.0 * rounded)
                off += (10.0 * rounded - end) * 0.4;
            if (stepped)
                off += (fabs(nx) > fabs(ny) ? (floor(here.x + 0.5) - here.x) / nx
                                            : (floor(here.y + 0.5) - here.y) / ny)
                       - 0.8 * drift;
            *p = (sl_edge_point){ { here.x + off * nx, here.y + off * ny },
                                  stepped ? 0.3 * noise : noise, 0.7, 0.5 };
        }
    }
}

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

static void score_map(score *out, const sl_rectified *r, const scene *s)
{
    double sum = 0.0;

    out->worst = 0.0;
    for (size_t k = 0; k < GRID * GRID; k++) {
        const double u = (double)(k % GRID) / (GRID - 1);
        const double v = (double)(k / GRID) / (GRID - 1);
        const sl_point truth = shoot(s, u, v);
        const sl_point du = shoot(s, u + 1e-4, v);
        const sl_point dv = shoot(s, u, v + 1e-4);
        const double xu = (du.x - truth.x) * 1e4;
        const double yu = (du.y - truth.y) * 1e4;
        const double xv = (dv.x - truth.x) * 1e4;
        const double yv = (dv.y - truth.y) * 1e4;
        const sl_point found =
            sl_page_map_point(&r->map, u * r->map.page[0], v * r->map.page[1]);
        const double ex = found.x - truth.x;
        const double ey = found.y - truth.y;
        const double det = xu * yv - yu * xv;
        const double eu = (ex * yv - ey * xv) / det * s->actual[0];
        const double ev = (xu * ey - yu * ex) / det * s->actual[1];

        sum += eu * eu + ev * ev;
        out->worst = fmax(out->worst, hypot(eu, ev));
    }
    out->rms = sqrt(sum / (GRID * GRID));
}

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
    score_map(out, &r, s);
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
           seed, GRID, GRID);
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
