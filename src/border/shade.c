/*
 * Profiles across a side are averaged in groups along it, on bins of a quarter px. Where the page
 * has a colour of its own, that tells its edge: a table in shadow keeps the table's colour. Where
 * it has none, a dark page's edge is where the first light shows beyond it, in each group.
 */
#include "border/shade.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/blur.h"
#include "base/order.h"
#include "border/onset.h"
#include "border/step.h"
#include "geometry/linear.h"

enum {
    GROUPS = 12,
    LEAST_POINTS = 20,
    NEIGHBOURS = 3,          /* of a point, each way */
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
static const double SOFT_EDGE = 1.25;         /* blurs of the camera: such a step is no edge's */
static const double LEAST_HUE = 0.005;         /* of the page's colour beside the table's, linear */
static const double LEAST_HUE_SHARE = 0.06;   /* ... and of the table's brightness */
static const double LEAST_SHIFT = 0.3;        /* px inside the step seen: less is the lens's ... */
static const double LEAST_HUE_SHIFT = 0.12;   /* ... either way of it, by a dark page's colour */
static const double SURELY = 0.3;             /* cost of the first light over that of a bare step */
static const double NO_STEP = 0.005;          /* of the height: a bare step that is as far off */
static const double LIGHTER = 1.2;            /* times the table's light: such a page's edge shows */
static const double LEAST_STEP = 0.01;        /* from page to table, linear */
static const double PATTERN = 0.05;           /* of the table's light, averaged over a group */

/* IEC 61966-2-1, rounded as in ITU-R BT.709. */
static const double luminance[3] = { 0.2126, 0.7152, 0.0722 };

/* What profiles are made of: sums over the px that fall into a bin, linear light. */
typedef struct bins {
    double t[SL_PROFILE_BINS];
    double rgb[SL_PROFILE_BINS][3];
    double weight[SL_PROFILE_BINS];     /* px */
} bins;

static sl_point mixed(sl_point a, sl_point b, double t)
{
    return (sl_point){ a.x + t * (b.x - a.x), a.y + t * (b.y - a.y) };
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
            const int k = (int)floor((t + SL_PROFILE_HALF) * SL_PROFILE_PER_PX);
            double rgb[3];

            if (t < -inward || t > outward || k < 0 || k >= SL_PROFILE_BINS
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
    for (int k = 0; k < SL_PROFILE_BINS; k++) {
        sum->t[k] += more->t[k];
        sum->weight[k] += more->weight[k];
        for (int c = 0; c < 3; c++)
            sum->rgb[k][c] += more->rgb[k][c];
    }
}

/* Means of a weighted sum of the channels, without the bins that hold nothing. */
static void project(sl_light_profile *out, const bins *in, const double weight[3])
{
    out->count = 0;
    for (int k = 0; k < SL_PROFILE_BINS; k++) {
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
    for (int k = 0; k < SL_PROFILE_BINS; k++) {
        if (in->weight[k] > 0 && in->t[k] > from * in->weight[k] && in->t[k] < to * in->weight[k]) {
            weight += in->weight[k];
            for (int c = 0; c < 3; c++)
                rgb[c] += in->rgb[k][c];
        }
    }
    for (int c = 0; c < 3; c++)
        rgb[c] /= weight;
}

/* ---- a side ---------------------------------------------------------------------------------- */

typedef struct work {
    bins    all;             /* of the side */
    bins    part[GROUPS];
    bins    aligned;         /* the parts at the page's edge */
    sl_light_profile side;   /* as the place is fitted: all groups together, and each */
    sl_light_profile group[GROUPS];
    sl_point smooth[SL_EDGE_POINTS];
    double  inward;          /* reach of the profiles, px */
    double  outward;
} work;

static double median(double *value, size_t count)
{
    qsort(value, count, sizeof *value, sl_by_double);
    return value[count / 2];
}

/* Median over the points, px. */
static double step_blur(const sl_edge *edge)
{
    double value[SL_EDGE_POINTS];

    for (size_t i = 0; i < edge->count; i++)
        value[i] = edge->point[i].blur_px;
    return median(value, edge->count);
}

/* Where the greatest step of a profile lies; false when there is none. */
static bool step_place(double *place, const sl_light_profile *p)
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

/*
 * A point of the edge without most of its noise, which would blur a mean profile: as far from the
 * course as its neighbours are in the median.
 */
static sl_point smooth_point(const sl_edge *edge, const sl_course *course, size_t i)
{
    double off[2 * NEIGHBOURS + 1];
    size_t count = 0;
    const size_t first = i < NEIGHBOURS ? 0 : i - NEIGHBOURS;
    sl_point p = { 0 };
    sl_point out = { 0 };

    for (size_t k = first; k <= i + NEIGHBOURS && k < edge->count; k++) {
        const double s = side_place(course, edge->point[k].at);
        const sl_point on = sl_course_point(course, s);
        const sl_point n = sl_course_outward(course, s);

        off[count++] = (edge->point[k].at.x - on.x) * n.x + (edge->point[k].at.y - on.y) * n.y;
        if (k == i) {
            p = on;
            out = n;
        }
    }

    const double usual = median(off, count);

    return (sl_point){ p.x + usual * out.x, p.y + usual * out.y };
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
        if (!sl_solve_normal(bend, m[0], 3, 4))
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
    if (!(left > LEAST_HUE && left > LEAST_HUE_SHARE * sqrt(square))
        || brightness(page) > LIGHTER * brightness(table))
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

/* The sum of the groups, each moved by its offset: outward of the page's edge. */
static void align(bins *sum, const work *w, const double offset[GROUPS])
{
    memset(sum, 0, sizeof *sum);
    for (int g = 0; g < GROUPS; g++) {
        const int by = (int)lround(offset[g] * SL_PROFILE_PER_PX);

        for (int k = 0; k < SL_PROFILE_BINS; k++) {
            const int from = k + by;

            if (from < 0 || from >= SL_PROFILE_BINS)
                continue;
            sum->t[k] += w->part[g].t[from]
                         - (double)by / SL_PROFILE_PER_PX * w->part[g].weight[from];
            sum->weight[k] += w->part[g].weight[from];
            for (int c = 0; c < 3; c++)
                sum->rgb[k][c] += w->part[g].rgb[from][c];
        }
    }
}

/* Puts the groups that show no edge at the median of the others; false when too many do. */
static bool fill_in(double offset[GROUPS])
{
    double sorted[GROUPS];
    size_t seen = 0;

    for (int g = 0; g < GROUPS; g++)
        if (!isnan(offset[g]))
            sorted[seen++] = offset[g];
    if (seen < AGREE)
        return false;

    const double usual = median(sorted, seen);

    for (int g = 0; g < GROUPS; g++)
        offset[g] = isnan(offset[g]) ? usual : offset[g];
    return true;
}

/* Light of the table over that of the page, linear. */
static double height_of(const work *w)
{
    double page[3];
    double table[3];

    mean_colour(page, &w->all, -w->inward, -0.6 * w->inward);
    mean_colour(table, &w->all, 0.6 * w->outward, w->outward);
    return brightness(table) - brightness(page);
}

/* Is the edge by its colour elsewhere than the step that is seen? Both may be right to a fraction of
   a px; and a table as dark as the page gives no light that could draw the step outward. */
static bool is_elsewhere(double place, double height)
{
    return height > LEAST_STEP ? fabs(place) > LEAST_HUE_SHIFT : place < -LEAST_SHIFT;
}

/*
 * The edge by the first light beyond the page, in luminance: of each group for itself, and once
 * more when it is known from all groups, aligned by that, how the light begins.
 */
static bool by_light(double offset[GROUPS], work *w, double camera, double blur)
{
    const double height = height_of(w);
    double smooth[GROUPS] = { 0 };
    double sorted[GROUPS];
    sl_onset side;

    if (height < LEAST_STEP)
        return false;
    project_all(w, luminance);
    for (int g = 0; g < GROUPS; g++)
        offset[g] = sl_onset_find(&side, &w->group[g], camera, false, height, PATTERN)
                        ? side.place
                        : NAN;

    const bool agree = fill_in(offset) && smooth_offsets(smooth, offset) >= AGREE;

    memcpy(sorted, smooth, sizeof sorted);

    const double usual = agree ? median(sorted, GROUPS) : 0;

    const bool sharp = blur < SOFT_EDGE * camera;

    /* further in than noise puts them */
    if (sharp && agree && usual < -LEAST_SHIFT - (sorted[3 * GROUPS / 4] - sorted[GROUPS / 4]) / 2)
        return true;
    /* of a sharp side the groups may be of two minds, or each too noisy: their sum tells */
    if (!agree)
        memset(smooth, 0, sizeof smooth);
    align(&w->aligned, w, smooth);
    project(&w->side, &w->aligned, luminance);
    if (!sl_onset_find(&side, &w->side, camera, true, height, PATTERN / sqrt(GROUPS))
        || ((usual > -LEAST_SHIFT || sharp)
            && (side.cost > SURELY * side.bare || sqrt(side.bare) < NO_STEP * height))
        || (sharp && !(side.place < -LEAST_SHIFT)))
        return false;
    for (int g = 0; g < GROUPS; g++) {
        if (!sl_onset_place(&offset[g], &w->group[g], &side, height, PATTERN))
            offset[g] = NAN;
        /* half way from the one model's place to the other's: each errs by itself */
        else if (usual < -LEAST_SHIFT)
            offset[g] -= side.place / 2;
    }
    return fill_in(offset) && smooth_offsets(smooth, offset) >= AGREE;
}

static bool shade_fit(work *w, sl_edge *edge, sl_course *course, const sl_image *shot,
                      const float *linear, double camera)
{
    const size_t every = 1 + edge->count / POINTS_MOST;
    const double blur = step_blur(edge);
    double offset[GROUPS];
    double smooth[GROUPS];
    double place;

    w->inward = fmin(IN_BLURS * blur + IN_MORE, SL_PROFILE_HALF - 1);
    w->outward = fmin(OUT_BLURS * blur + OUT_MORE, SL_PROFILE_HALF - 1);
    for (size_t i = 0; i < edge->count; i += every) {
        const double s = side_place(course, edge->point[i].at);
        const int g = (int)fmin(fmax((s + 1) / 2 * GROUPS, 0), GROUPS - 1);

        gather(&w->part[g], shot, linear, smooth_point(edge, course, i),
               sl_course_outward(course, s), w->inward, w->outward);
    }
    for (int g = 0; g < GROUPS; g++)
        add(&w->all, &w->part[g]);
    place = by_colour(offset, w);
    if (isnan(place) ? !by_light(offset, w, camera, blur) : !is_elsewhere(place, height_of(w)))
        return false;
    (void)smooth_offsets(smooth, offset);
    for (size_t i = 0; i < edge->count; i++)
        w->smooth[i] = smooth_point(edge, course, i);
    for (size_t i = 0; i < edge->count; i++) {
        const double s = side_place(course, w->smooth[i]);
        const sl_point n = sl_course_outward(course, s);
        const double out = offset_at(smooth, s);

        edge->point[i].at = (sl_point){ w->smooth[i].x + out * n.x, w->smooth[i].y + out * n.y };
    }
    sl_course_refit(course, edge);
    edge->camera_px = camera;
    return true;
}

bool sl_shade_possible(const sl_edge *edge)
{
    return edge->count >= LEAST_POINTS && !edge->cut && step_blur(edge) > 0;
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
