/*
 * Profiles across a side are averaged in groups along it, on bins of a quarter px. The model has
 * three levels: page, darkest shadow, table; the shadow's share falls outward like the integral of
 * a bell, as behind a lamp with a width, and begins at the page's edge; the camera blurs it all.
 * Where and how the shadow falls off is fitted once for the side, the edge's place in each group.
 */
#include "border/shade.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/blur.h"
#include "base/order.h"
#include "border/step.h"

enum {
    GROUPS = 12,
    PER_PX = 4,              /* bins of a profile */
    HALF_MOST = 48,          /* px of a profile on either side of the step */
    BINS = 2 * HALF_MOST * PER_PX,
    TABLE_PER_PX = 8,        /* of the blurred shadow */
    TABLE_HALF = 72,
    TABLE = 2 * TABLE_HALF * TABLE_PER_PX + 1,
    LEAST_POINTS = 20,
    POINTS_MOST = 160,       /* that profiles are gathered at */
    AGREE = 9,               /* groups within a px of a smooth course */
    WINDOWS = 32,            /* over the page, each way */
    LEAST_WINDOWS = 12
};

static const double ALONG = 3;                /* px along the side on either side of a point */
static const double IN_BLURS = 4.5;           /* a profile's reach inward and outward, in blurs */
static const double OUT_BLURS = 4.5;
static const double IN_MORE = 8;              /* ... and px more */
static const double OUT_MORE = 4;
static const double DEEPEST = 2.2;            /* blurs: the edge lies no further inside the step */
static const double SHALLOWEST = 0.5;         /* px outside it */
static const double COARSE = 0.25;            /* px between places that are tried */
static const double SOFT_EDGE = 1.25;         /* so much softer than the camera: no bare step */
static const double LEAST_HUE = 0.02;         /* of the page's colour beside the table's, linear */
static const double LEAST_HUE_SHARE = 0.1;    /* ... and of the table's brightness */
static const double LEAST_SHIFT = 0.8;        /* px inside the step: less is the lens's colour */
static const double CONTRADICTS = 1.2;        /* px from the colour's edge to the shadow's */
static const double LEAST_STEP = 0.03;        /* from page to table, linear */
static const double BETTER = 0.95;            /* the cost over that of the plain step, to be taken */
static const double FIT_WITHIN = 0.2;         /* of the step's height: the residuals' rms, likewise */
static const double SQRT_HALF = 0.70710678118654752;

/* IEC 61966-2-1, rounded as in ITU-R BT.709. */
static const double luminance[3] = { 0.2126, 0.7152, 0.0722 };

typedef struct profile {
    double t[BINS];          /* px outward of the step that was seen */
    double value[BINS];
    double weight[BINS];
    int    count;
} profile;

/* What profiles are made of: sums over the px that fall into a bin, linear light. */
typedef struct bins {
    double t[BINS];
    double rgb[BINS][3];
    double weight[BINS];     /* px */
} bins;

/* The share of light beside the edge, blurred: at t px outward of it. */
typedef struct falloff {
    double light[TABLE];
} falloff;

static sl_point mixed(sl_point a, sl_point b, double t)
{
    return (sl_point){ a.x + t * (b.x - a.x), a.y + t * (b.y - a.y) };
}

static double bell_integral(double x)
{
    return 0.5 * erfc(-x * SQRT_HALF);
}

void sl_camera_blur(double out[2], const sl_image *shot, const sl_point corner[4])
{
    double blur[2][WINDOWS * WINDOWS];
    size_t count[2] = { 0, 0 };

    for (int v = 0; v < WINDOWS; v++) {
        for (int u = 0; u < WINDOWS; u++) {
            const double s = (u + 0.5) / WINDOWS;
            const double t = (v + 0.5) / WINDOWS;
            const sl_point p = mixed(mixed(corner[0], corner[1], s), mixed(corner[3], corner[2], s),
                                     t);

            if (!(p.x > SL_WINDOW_ROOM && p.y > SL_WINDOW_ROOM
                  && p.x < (double)shot->width - SL_WINDOW_ROOM - 1
                  && p.y < (double)shot->height - SL_WINDOW_ROOM - 1))
                continue;
            for (int k = 0; k < 2; k++) {
                const double dx = corner[k + 1].x - corner[k].x;
                const double dy = corner[k + 1].y - corner[k].y;
                const double length = hypot(dx, dy);
                const double b = sl_window_blur(shot, p, (sl_point){ -dy / length, dx / length });

                if (b > 0)
                    blur[k][count[k]++] = b;
            }
        }
    }
    for (int k = 0; k < 2; k++) {
        qsort(blur[k], count[k], sizeof **blur, sl_by_double);
        out[k] = count[k] < LEAST_WINDOWS ? INFINITY : blur[k][count[k] / 5];
    }
}

/* ---- profiles -------------------------------------------------------------------------------- */

static void colour_at(double rgb[3], const sl_image *shot, const float *linear, size_t x, size_t y)
{
    const unsigned char *row = shot->data + y * shot->stride;

    for (size_t c = 0; c < 3; c++) {
        const size_t i = x * shot->channels + (shot->channels == 3 ? c : 0);

        rgb[c] = (double)(shot->bits == 8 ? linear[row[i]]
                                          : linear[((const uint16_t *)(const void *)row)[i]]);
    }
}

/* Adds the px about one edge point. */
static void gather(bins *sum, const sl_image *shot, const float *linear, sl_point at,
                   sl_point out, double inward, double outward)
{
    const sl_point along = { -out.y, out.x };
    const double reach = fmax(inward, outward);
    const double dx = reach * fabs(out.x) + ALONG * fabs(along.x);
    const double dy = reach * fabs(out.y) + ALONG * fabs(along.y);
    const double x1 = fmin((double)shot->width - 1, floor(at.x + dx));
    const double y1 = fmin((double)shot->height - 1, floor(at.y + dy));

    for (double y = fmax(0, ceil(at.y - dy)); y <= y1; y++) {
        for (double x = fmax(0, ceil(at.x - dx)); x <= x1; x++) {
            const double t = (x - at.x) * out.x + (y - at.y) * out.y;
            const int k = (int)floor((t + HALF_MOST) * PER_PX);
            double rgb[3];

            if (t < -inward || t > outward || k < 0 || k >= BINS
                || fabs((x - at.x) * along.x + (y - at.y) * along.y) > ALONG)
                continue;
            colour_at(rgb, shot, linear, (size_t)x, (size_t)y);
            sum->t[k] += t;
            sum->weight[k] += 1;
            for (int c = 0; c < 3; c++)
                sum->rgb[k][c] += rgb[c];
        }
    }
}

static void add(bins *sum, const bins *more)
{
    for (int k = 0; k < BINS; k++) {
        sum->t[k] += more->t[k];
        sum->weight[k] += more->weight[k];
        for (int c = 0; c < 3; c++)
            sum->rgb[k][c] += more->rgb[k][c];
    }
}

/* Means of a weighted sum of the channels, without the bins that hold nothing. */
static void project(profile *out, const bins *in, const double weight[3])
{
    out->count = 0;
    for (int k = 0; k < BINS; k++) {
        if (in->weight[k] > 0) {
            out->t[out->count] = in->t[k] / in->weight[k];
            out->value[out->count] = (weight[0] * in->rgb[k][0] + weight[1] * in->rgb[k][1]
                                      + weight[2] * in->rgb[k][2])
                                     / in->weight[k];
            out->weight[out->count++] = in->weight[k];
        }
    }
}

/* Mean colour between two places; black where there is nothing. */
static void mean_colour(double rgb[3], const bins *in, double from, double to)
{
    double weight = 1e-12;

    rgb[0] = rgb[1] = rgb[2] = 0;
    for (int k = 0; k < BINS; k++) {
        if (in->weight[k] > 0 && in->t[k] > from * in->weight[k] && in->t[k] < to * in->weight[k]) {
            weight += in->weight[k];
            for (int c = 0; c < 3; c++)
                rgb[c] += in->rgb[k][c];
        }
    }
    for (int c = 0; c < 3; c++)
        rgb[c] /= weight;
}

/* ---- the model ------------------------------------------------------------------------------- */

/* middle, width: of the shadow's fall, px outward of the edge. */
static void make_falloff(falloff *out, double camera, double middle, double width)
{
    double kernel[TABLE];
    double sharp[TABLE];
    const int half = (int)fmin(ceil(5 * camera * TABLE_PER_PX), TABLE / 2);
    double sum = 0;

    for (int k = -half; k <= half; k++) {
        const double x = k / (camera * TABLE_PER_PX);

        kernel[k + half] = exp(-0.5 * x * x);
        sum += kernel[k + half];
    }
    for (int i = 0; i < TABLE; i++) {
        const double t = (double)i / TABLE_PER_PX - TABLE_HALF;

        sharp[i] = t < 0 ? 0 : (t > 0 ? 1 : 0.5) * bell_integral((t - middle) / width);
    }
    for (int i = 0; i < TABLE; i++) {
        double light = 0;

        for (int k = -half; k <= half; k++)
            light += kernel[k + half] * sharp[i < k ? 0 : i - k >= TABLE ? TABLE - 1 : i - k];
        out->light[i] = light / sum;
    }
}

static double light_at(const falloff *s, double t)
{
    const double x = fmin(fmax((t + TABLE_HALF) * TABLE_PER_PX, 0), TABLE - 1.001);
    const int i = (int)x;

    return s->light[i] + (x - i) * (s->light[i + 1] - s->light[i]);
}

/* Solves the n x n normal equations m (the right side in column 3) in place; false: singular. */
static bool solve(double level[3], double m[3][4], int n)
{
    for (int a = 0; a < n; a++) {
        if (!(m[a][a] > 1e-9))
            return false;
        for (int b = a + 1; b < n; b++) {
            const double f = m[b][a] / m[a][a];

            for (int c = a; c < n; c++)
                m[b][c] -= f * m[a][c];
            m[b][3] -= f * m[a][3];
        }
    }
    for (int a = n - 1; a >= 0; a--) {
        level[a] = m[a][3];
        for (int b = a + 1; b < n; b++)
            level[a] -= m[a][b] * level[b];
        level[a] /= m[a][a];
    }
    return true;
}

/*
 * Least-squares levels (page, table, shadow) for an edge at `place`; returns the mean squared
 * residual. A shadow reflects no less than nothing: then it is taken as black.
 */
static double cost_at(const profile *p, const falloff *bare, const falloff *shaded, double place)
{
    double basis[BINS][3];
    double level[3] = { 0 };
    double m[3][4] = { { 0 } };
    double cost = 0;
    double weights = 0;
    bool solved = false;

    for (int i = 0; i < p->count; i++) {
        const double beyond = light_at(bare, p->t[i] - place);
        const double light = light_at(shaded, p->t[i] - place);

        basis[i][0] = 1 - beyond;
        basis[i][1] = light;
        basis[i][2] = beyond - light;
        for (int a = 0; a < 3; a++) {
            for (int b = 0; b < 3; b++)
                m[a][b] += p->weight[i] * basis[i][a] * basis[i][b];
            m[a][3] += p->weight[i] * basis[i][a] * p->value[i];
        }
    }
    for (int n = 3; n >= 2 && !solved; n--) {
        double copy[3][4];

        memcpy(copy, m, sizeof copy);
        level[2] = 0;
        solved = solve(level, copy, n) && level[2] >= 0;
    }
    if (!solved)
        return INFINITY;
    for (int i = 0; i < p->count; i++) {
        const double r = p->value[i] - level[0] * basis[i][0] - level[1] * basis[i][1]
                         - level[2] * basis[i][2];

        cost += p->weight[i] * r * r;
        weights += p->weight[i];
    }
    return cost / weights;
}

/* The place of least cost from `first` to `last`, to a fraction of the spacing by a parabola. */
static double best_place(double *cost, const profile *p, const falloff *bare,
                         const falloff *shaded, double first, double last, double spacing)
{
    double best = first;
    double before;
    double after;
    double bend;

    *cost = INFINITY;
    for (double t = first; t <= last; t += spacing) {
        const double c = cost_at(p, bare, shaded, t);

        if (c < *cost) {
            *cost = c;
            best = t;
        }
    }
    before = cost_at(p, bare, shaded, best - spacing);
    after = cost_at(p, bare, shaded, best + spacing);
    bend = before - 2 * *cost + after;
    if (bend > 0 && before >= *cost && after >= *cost)
        best += 0.5 * spacing * (before - after) / bend;
    return best;
}

/* ---- a side ---------------------------------------------------------------------------------- */

typedef struct work {
    bins    all;             /* of the side */
    bins    part[GROUPS];
    profile side;            /* as the place is fitted: all groups together, and each */
    profile group[GROUPS];
    falloff bare;            /* a table without a shadow */
    falloff shaded;          /* the side's shadow */
    falloff trial;
    double  inward;          /* reach of the profiles, px */
    double  outward;
} work;

static double median(double *value, size_t count)
{
    qsort(value, count, sizeof *value, sl_by_double);
    return value[count / 2];
}

/* Medians over the points: the step's blur, and its height from page to table. */
static double step_of(double *height, const sl_edge *edge)
{
    double value[SL_EDGE_POINTS];

    for (size_t i = 0; i < edge->count; i++)
        value[i] = -edge->point[i].contrast;
    *height = median(value, edge->count);
    for (size_t i = 0; i < edge->count; i++)
        value[i] = edge->point[i].blur_px;
    return median(value, edge->count);
}

/* Where the greatest step of a profile lies; false when there is none. */
static bool step_place(double *place, const profile *p)
{
    enum { NEAR = 3, WINDOW = 7 };
    sl_step step = { .blur = 1.5 };
    double most = 0;
    int first = 0;
    int end = p->count;

    for (int i = 0; i < p->count; i++) {
        double side[2] = { 0, 0 };
        double weight[2] = { 1e-12, 1e-12 };

        for (int k = 0; k < p->count; k++) {
            const double t = p->t[k] - p->t[i];

            if (fabs(t) < NEAR) {
                side[t > 0] += p->weight[k] * p->value[k];
                weight[t > 0] += p->weight[k];
            }
        }
        /* the ends have one side only */
        if (i > 0 && p->t[i] > p->t[0] + NEAR && p->t[i] < p->t[p->count - 1] - NEAR
            && fabs(side[0] / weight[0] - side[1] / weight[1]) > most) {
            most = fabs(side[0] / weight[0] - side[1] / weight[1]);
            step.place = p->t[i];
        }
    }
    while (first < end && p->t[first] < step.place - WINDOW)
        first++;
    while (end > first && p->t[end - 1] > step.place + WINDOW)
        end--;
    if (!(most > 0)
        || !sl_step_fit(&step, p->t + first, p->value + first, p->weight + first,
                        (size_t)(end - first)))
        return false;
    *place = step.place;
    return true;
}

/*
 * How the side's shadow falls off, and the edge's place with it, px outward of the step (so below
 * 0 for an edge inside it). False when a plain step explains the profile as well.
 */
static bool fit_shadow(double *place, work *w, double camera, double blur, double height)
{
    static const double middles[] = { -1, -0.5, 0, 0.5, 1, 1.5, 2, 2.5, 3, 4 };
    static const double widths[] = { 0.3, 0.5, 0.75, 1, 1.25, 1.5, 2, 2.5, 3.5 };
    double least = INFINITY;
    double plain;

    make_falloff(&w->trial, blur, -TABLE_HALF, 1);
    (void)best_place(&plain, &w->side, &w->trial, &w->trial, -1, 1, COARSE);
    for (size_t i = 0; i < sizeof middles / sizeof *middles; i++) {
        for (size_t k = 0; k < sizeof widths / sizeof *widths; k++) {
            double cost;
            double t;

            make_falloff(&w->trial, camera, middles[i] * blur, widths[k] * blur);
            t = best_place(&cost, &w->side, &w->bare, &w->trial, -DEEPEST * blur, SHALLOWEST,
                           2 * COARSE);
            if (cost < least) {
                least = cost;
                *place = t;
                w->shaded = w->trial;
            }
        }
    }
    return least < BETTER * plain && sqrt(least) < FIT_WITHIN * height;
}

/* Offset outward at place s of the side (-1 to 1): linear between the groups' middles. */
static double offset_at(const double offset[GROUPS], double s)
{
    const double x = fmin(fmax((s + 1) / 2 * GROUPS - 0.5, 0), GROUPS - 1);
    const int i = x < GROUPS - 1 ? (int)x : GROUPS - 2;

    return offset[i] + (x - i) * (offset[i + 1] - offset[i]);
}

static double side_place(const sl_course *course, sl_point p)
{
    const double dx = course->b.x - course->a.x;
    const double dy = course->b.y - course->a.y;

    return 2 * ((p.x - course->a.x) * dx + (p.y - course->a.y) * dy) / (dx * dx + dy * dy) - 1;
}

static void project_all(work *w, const double weight[3])
{
    project(&w->side, &w->all, weight);
    for (int g = 0; g < GROUPS; g++)
        project(&w->group[g], &w->part[g], weight);
}

/*
 * Groups that lie a px or more off a parabola through most of them are put on it: a weight or a
 * hand on the edge. Reweighted least squares, Cauchy's weights. Returns how many lie on it.
 */
static int smooth_offsets(double smooth[GROUPS], const double offset[GROUPS])
{
    double bend[3] = { 0 };
    double sorted[GROUPS];
    int agree = 0;

    memcpy(sorted, offset, sizeof sorted);
    bend[0] = median(sorted, GROUPS);
    for (int g = 0; g < GROUPS; g++)
        smooth[g] = bend[0];
    for (int pass = 0; pass < 10; pass++) {
        /* first about the median, where the end of a parabola still counts */
        const double scale = pass == 0 ? 1.5 : 0.3;
        double m[3][4] = { { 0 } };

        for (int g = 0; g < GROUPS; g++) {
            const double x = (2.0 * g + 1) / GROUPS - 1;
            const double basis[3] = { 1, x, x * x };
            const double r = (offset[g] - smooth[g]) / scale;
            const double weight = 1 / (1 + r * r);

            for (int a = 0; a < 3; a++) {
                for (int b = 0; b < 3; b++)
                    m[a][b] += weight * basis[a] * basis[b];
                m[a][3] += weight * basis[a] * offset[g];
            }
        }
        if (!solve(bend, m, 3))
            break;
        for (int g = 0; g < GROUPS; g++) {
            const double x = (2.0 * g + 1) / GROUPS - 1;

            smooth[g] = bend[0] + x * (bend[1] + x * bend[2]);
        }
    }
    for (int g = 0; g < GROUPS; g++) {
        if (fabs(offset[g] - smooth[g]) < 1) {
            smooth[g] = offset[g];
            agree++;
        }
    }
    return agree;
}

static double brightness(const double rgb[3])
{
    return luminance[0] * rgb[0] + luminance[1] * rgb[1] + luminance[2] * rgb[2];
}

/*
 * The edge by its colour: along what is left of the page's colour without its share of the table's,
 * a table in any shadow is as good as the table in the light.
 * offset  out: of each group
 * Returns the median offset; NAN when colour does not tell: the page has the table's hue, or what
 * lies between that edge and the step that was seen is no shadow.
 */
static double by_colour(double offset[GROUPS], work *w)
{
    double page[3];
    double table[3];
    double between[3];
    double weight[3];
    double smooth[GROUPS];
    double both = 0;
    double square = 1e-12;
    double left = 0;
    double middle;

    mean_colour(page, &w->all, -w->inward, -0.6 * w->inward);
    mean_colour(table, &w->all, 0.6 * w->outward, w->outward);
    for (int c = 0; c < 3; c++) {
        both += page[c] * table[c];
        square += table[c] * table[c];
    }
    for (int c = 0; c < 3; c++) {
        weight[c] = page[c] - both / square * table[c];
        left += weight[c] * weight[c];
    }
    left = sqrt(left);
    if (!(left > LEAST_HUE && left > LEAST_HUE_SHARE * sqrt(square)))
        return NAN;
    for (int c = 0; c < 3; c++)
        weight[c] /= left;
    project_all(w, weight);
    for (int g = 0; g < GROUPS; g++)
        if (!step_place(&offset[g], &w->group[g]))
            return NAN;
    if (smooth_offsets(smooth, offset) < AGREE)
        return NAN;
    middle = median(smooth, GROUPS);
    mean_colour(between, &w->all, middle, 0);
    if (middle < 1 - w->inward || middle > 1
        || (middle < -1 && brightness(between) > brightness(table)))
        return NAN;
    return middle;
}

/* The edge by the shadow's fall-off, in luminance. */
static bool by_shadow(double offset[GROUPS], work *w, double camera, double blur, double height)
{
    double place = 0;

    if (height < LEAST_STEP || blur < SOFT_EDGE * camera)
        return false;
    project_all(w, luminance);
    make_falloff(&w->bare, camera, -TABLE_HALF, 1);
    if (!fit_shadow(&place, w, camera, blur, height))
        return false;
    for (int g = 0; g < GROUPS; g++) {
        double cost;

        offset[g] = w->group[g].count > 12
                        ? best_place(&cost, &w->group[g], &w->bare, &w->shaded,
                                     place - fmax(1, blur / 2), place + fmax(1, blur / 2), COARSE)
                        : place;
    }
    return true;
}

static bool shade_fit(work *w, sl_edge *edge, sl_course *course, const sl_image *shot,
                      const float *linear, double camera)
{
    const size_t every = 1 + edge->count / POINTS_MOST;
    double height;
    const double blur = step_of(&height, edge);
    double offset[GROUPS];
    double smooth[GROUPS];
    double place;

    w->inward = fmin(IN_BLURS * blur + IN_MORE, HALF_MOST - 1);
    w->outward = fmin(OUT_BLURS * blur + OUT_MORE, HALF_MOST - 1);
    for (size_t i = 0; i < edge->count; i += every) {
        const double s = side_place(course, edge->point[i].at);
        const sl_point in = sl_course_inward(course, s);
        const int g = (int)fmin(fmax((s + 1) / 2 * GROUPS, 0), GROUPS - 1);

        gather(&w->part[g], shot, linear, edge->point[i].at, (sl_point){ -in.x, -in.y },
               w->inward, w->outward);
    }
    for (int g = 0; g < GROUPS; g++)
        add(&w->all, &w->part[g]);
    place = by_colour(offset, w);
    if (!(place < -LEAST_SHIFT)) {
        if (!by_shadow(offset, w, camera, blur, height))
            return false;
        memcpy(smooth, offset, sizeof smooth);
        if (fabs(median(smooth, GROUPS) - place) > CONTRADICTS)
            return false;
    }
    (void)smooth_offsets(smooth, offset);
    for (size_t i = 0; i < edge->count; i++) {
        sl_point *p = &edge->point[i].at;
        const double s = side_place(course, *p);
        const sl_point in = sl_course_inward(course, s);
        const double out = offset_at(smooth, s);

        *p = (sl_point){ p->x - out * in.x, p->y - out * in.y };
    }
    sl_course_refit(course, edge);
    edge->camera_px = camera;
    return true;
}

bool sl_shade_possible(const sl_edge *edge)
{
    return edge->count >= LEAST_POINTS && !edge->cut && step_of(&(double){ 0 }, edge) > 0;
}

bool sl_shade_fit(sl_edge *edge, sl_course *course, const sl_image *shot, const sl_tone *tone,
                  double camera)
{
    work *w = sl_shade_possible(edge) ? calloc(1, sizeof *w) : NULL;
    bool moved = false;

    if (w != NULL)
        moved = shade_fit(w, edge, course, shot,
                          shot->bits == 8 ? sl_tone_linear8(tone) : sl_tone_linear16(tone),
                          camera);
    free(w);
    return moved;
}
