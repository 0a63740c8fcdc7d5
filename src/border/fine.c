/*
 * The fine step. At up to SL_EDGE_POINTS places along a side, the px of a small rectangle across
 * the edge are sorted by their distance from the course and a blurred step is fitted to them. In
 * linear light: blur happens in light, and a step fitted to coded values lies up to
 * 0.6 px too far out on a bright page.
 */
#include "border/fine.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/order.h"
#include "border/across.h"
#include "border/contact.h"
#include "border/select.h"
#include "border/step.h"
#include "geometry/linear.h"

enum {
    WEIGHT_PLACES = 64,
    NONE_IN = 3,             /* px from a profile's inner end to its edge: that is none */
    SHIFTS = 4,
    BESIDE = 7               /* px on either side of a step that show how its colours scatter */
};

static const double SPACING = 8;              /* px between points, at least */
static const double HALF_MOST = 6;            /* px along the edge on either side of a point */
static const double CORNER_SHARE = 0.012;     /* of the side left out at each end: corners */
static const double FIRST_BLUR = 1.0;
static const double COLOUR_RATHER = 0.5;      /* how clear luminance must be, of the clearest */
static const double REACH_TO_MOVE = 10;       /* px; nearer than that it is where it should be */
static const double MOSTLY_NONE = 0.6;        /* of the places */
static const double LEAST_LUMINANCE = 0.3;    /* of the step that is clearest */
static const double CLEAR = 5;                /* ... or in scatters */
static const double LEAST_SCATTER = 0.003;    /* linear */
static const double LEAST_COLOUR = 0.015;     /* linear; a fainter step may be noise */
static const double ROUGH = 0.3;              /* px of scatter: another look may see more */
static const double VERY_ROUGH = 1.5;
static const double SMOOTHER = 0.6;           /* ... when it scatters less than this share of it */
static const double SHARPEST = 0.35;          /* px; the px's own box blurs by 0.29 */
static const double WORST_SIGMA = 0.6;        /* px; a point known no better is none */
static const double LEAST_OVER_NOISE = 2.5;   /* contrast over the noise of one px */

/* Fit in a window of 2.5 blurs about the step: a table shadow or a print beyond it stays out. */
static bool fit_step(sl_step *step, const sl_across *p, double from)
{
    *step = (sl_step){ .place = from, .blur = FIRST_BLUR };
    for (int pass = 0; pass < 4; pass++) {
        const double blur = step->blur;
        const double window = fmax(2.5 * step->blur + 0.75, 3);
        size_t first = 0;
        size_t end = p->count;

        while (first < end && p->t[first] < step->place - window)
            first++;
        while (end > first && p->t[end - 1] > step->place + window)
            end--;
        if (!sl_step_fit(step, p->t + first, p->value + first, p->weight + first, end - first))
            return false;
        if (fabs(step->blur - blur) < 0.15 * blur)
            break;
    }
    return true;
}

/* One edge point: where the colours put it, or, when there is no step just there, at the boldest
   step near by. */
static bool fit_point(sl_step *step, const sl_across *p, const sl_across_px *c, double reach,
                      sl_surfaces *surfaces, int side)
{
    const double from = sl_across_edge(c, reach, surfaces, side);

    if (!fit_step(step, p, from) && !fit_step(step, p, sl_across_bold_step(c, reach, from)))
        return false;
    /* sharper than any camera: its place is known to a bin, whatever the fit's derivatives say */
    if (step->blur < SHARPEST)
        step->place_sigma = fmin(step->place_sigma, 1.0 / SL_BINS_PER_PX);
    return step->place_sigma < WORST_SIGMA && fabs(step->place) < reach - 1
           && fabs(step->after - step->before) > LEAST_OVER_NOISE * step->noise;
}

/* s of point i of `want`, the corners' surroundings left out. */
static double place_of(size_t i, size_t want)
{
    return (1 - 2 * CORNER_SHARE) * ((2.0 * (double)i + 1) / (double)want - 1);
}

/* Luminance: weights of IEC 61966-2-1, rounded as in ITU-R BT.709. */
static const double LUMINANCE[3] = { 0.2126, 0.7152, 0.0722 };

/* The step that four places in five of a side exceed, in one weighting; of one sign, if asked. */
static double usual_step(const double weight[3], double step[][3], size_t count, bool one_sign)
{
    double value[WEIGHT_PLACES];
    double sign = 0;

    for (size_t i = 0; i < count; i++) {
        value[i] = weight[0] * step[i][0] + weight[1] * step[i][1] + weight[2] * step[i][2];
        sign += value[i] > 0 ? 1 : -1;
    }
    for (size_t i = 0; i < count; i++)
        value[i] = !one_sign ? fabs(value[i]) : fmax(0, sign > 0 ? value[i] : -value[i]);
    return count > 0 ? sl_select_double(value, (ptrdiff_t)count, (ptrdiff_t)count / 5) : 0;
}

/* What the places of a side show: the steps at the edge, and how the colours beside it scatter. */
typedef struct steps {
    double step[WEIGHT_PLACES][3]; /* inside less outside, linear */
    size_t count;
    double mean[3];
    double scatter[9];       /* covariance within the px of either side of a place */
    size_t none_in;          /* places whose profile shows nothing of the page */
} steps;

/* Adds to `sum` the squares of the px first .. end - 1 about their mean. Returns the px. */
static double add_scatter(double sum[9], const sl_across_px *p, int first, int end)
{
    double mean[3];
    double px = 0;

    if (!sl_across_mean(mean, p, first, end))
        return 0;
    for (int k = first < 0 ? 0 : first; k < end && k < p->count; k++) {
        double rgb[3];

        if (!sl_across_mean(rgb, p, k, k + 1))
            continue;
        for (int i = 0; i < 9; i++)
            sum[i] += (rgb[i / 3] - mean[i / 3]) * (rgb[i % 3] - mean[i % 3]);
        px += 1;
    }
    return px;
}

static void see_steps(steps *out, const sl_linear_shot *seen, const sl_course *course, double reach,
                      sl_surfaces *surfaces, int side)
{
    double px = 1e-9;

    memset(out, 0, sizeof *out);
    for (size_t i = 0; i < WEIGHT_PLACES; i++) {
        const double s = place_of(i, WEIGHT_PLACES);
        sl_across prof;
        sl_across_px c;
        double inside[3];
        double outside[3];
        int k;

        if (!sl_across_gather(&prof, seen, sl_course_point(course, s),
                              sl_course_outward(course, s), 2, reach))
            continue;
        sl_across_coarsen(&c, &prof, reach);
        k = (int)lround(sl_across_edge(&c, reach, surfaces, side) + reach);
        out->none_in += k <= NONE_IN;
        if (!sl_across_mean(inside, &c, k - 4, k - 1) || !sl_across_mean(outside, &c, k + 1, k + 4))
            continue;
        for (int b = 0; b < 3; b++) {
            out->step[out->count][b] = inside[b] - outside[b];
            out->mean[b] += out->step[out->count][b];
        }
        out->count++;
        px += add_scatter(out->scatter, &c, k - BESIDE, k - 1);
        px += add_scatter(out->scatter, &c, k + 1, k + BESIDE);
    }
    for (int b = 0; b < 3; b++)
        out->mean[b] /= out->count > 0 ? (double)out->count : 1;
    for (int i = 0; i < 9; i++)
        out->scatter[i] = out->scatter[i] / px + (i % 4 == 0 ? LEAST_SCATTER * LEAST_SCATTER : 0);
}

/* A weighting's usual step over the scatter of what lies beside it. */
static double clearness(const double weight[3], steps *s, bool one_sign)
{
    double weighed[3];

    sl_mat3_apply(weighed, s->scatter, weight);
    return usual_step(weight, s->step, s->count, one_sign) / sqrt(sl_dot3(weight, weighed));
}

/*
 * How to look at a side: at its luminance, which shows the lens's lateral colour least; but where
 * something else shows the edge much more clearly, that way: the colour that the two sides differ
 * in; or, of that, what neither a cloth's threads nor the page's shadow changes much (Fisher's linear
 * discriminant: Fisher, Annals of Eugenics 7(2), 1936); or a single channel (a red and white page
 * on green cloth). The first of them that is clear: those further on show the lens's colour more.
 * Returns how many of `weight` to try: the second may show the edge more clearly.
 */
static size_t ways_to_look(double weight[2][3], steps *s)
{
    enum { DIFFERENCE = 1, DISCRIMINANT, WEIGHTINGS = 6 };
    double weighting[WEIGHTINGS][3] = {
        { LUMINANCE[0], LUMINANCE[1], LUMINANCE[2] }, { s->mean[0], s->mean[1], s->mean[2] },
        { 0 }, { 1, 0, 0 }, { 0, 1, 0 }, { 0, 0, 1 }
    };
    double clear[WEIGHTINGS];
    double inverse[9];
    int best = 0;
    int first = 0;

    memcpy(inverse, s->scatter, sizeof inverse);
    if (sl_spd_invert(inverse, 3))
        sl_mat3_apply(weighting[DISCRIMINANT], inverse, s->mean);
    for (int k = DIFFERENCE; k <= DISCRIMINANT; k++) {
        const double norm = sqrt(sl_dot3(weighting[k], weighting[k])) + 1e-12;

        for (int c = 0; c < 3; c++)
            weighting[k][c] /= norm;
    }
    for (int k = 0; k < WEIGHTINGS; k++) {
        clear[k] = clearness(weighting[k], s, true);
        if (clear[k] > clear[best])
            best = k;
    }
    memcpy(weight[0], weighting[0], sizeof weight[0]);
    memcpy(weight[1], weighting[best], sizeof weight[1]);
    if (best == 0 || usual_step(weighting[best], s->step, s->count, true) < LEAST_COLOUR)
        return 1;
    /* luminance may step down here and up there, as beside a chequered cloth; where it hardly steps
       at all it is no clearer for being smooth */
    clear[0] = clearness(weighting[0], s, false);
    if (usual_step(weighting[0], s->step, s->count, false)
        < LEAST_LUMINANCE * usual_step(weighting[best], s->step, s->count, true))
        clear[0] = 0;
    while (first < best && clear[first] < CLEAR && clear[first] < COLOUR_RATHER * clear[best])
        first++;
    memcpy(weight[0], weighting[first], sizeof weight[0]);
    return first < best ? 2 : 1;
}

/* A side's points, and the robust curve through them. */
typedef struct trace {
    sl_edge_point found[SL_EDGE_POINTS];
    sl_places     p;
    sl_course     course;
    double        spread;
    size_t        kept;
} trace;

static void trace_side(trace *out, const sl_course *course, const sl_linear_shot *seen,
                       const double weight[3], double reach, size_t want, sl_surfaces *surfaces,
                       int side)
{
    sl_places *p = &out->p;
    sl_point along;
    sl_point outward;
    const double length = sl_course_chord(&along, &outward, course);
    const double half = fmin(length * (1 - 2 * CORNER_SHARE) / (double)want / 2, HALF_MOST);

    p->count = 0;
    out->course = *course;
    out->spread = 0;
    out->kept = 0;
    for (size_t i = 0; i < want; i++) {
        const sl_point at = sl_course_point(course, place_of(i, want));
        const sl_point normal = sl_course_outward(course, place_of(i, want));
        sl_across prof;
        sl_across_px c;
        sl_step step;

        if (!sl_across_gather(&prof, seen, at, normal, half, reach))
            continue;
        sl_across_coarsen(&c, &prof, reach);
        sl_across_weigh(&prof, weight);
        if (fit_point(&step, &prof, &c, reach, surfaces, side)) {
            const sl_point q = { at.x + step.place * normal.x, at.y + step.place * normal.y };
            const double t = (q.x - course->a.x) * along.x + (q.y - course->a.y) * along.y;

            out->found[p->count] = (sl_edge_point){ q, step.place_sigma, step.blur,
                                                    step.before - step.after };
            p->s[p->count] = 2 * t / length - 1;
            p->offset[p->count] = (q.x - course->a.x) * outward.x
                                  + (q.y - course->a.y) * outward.y;
            p->count++;
        }
    }
    if (p->count < 8)
        return;
    out->spread = sl_course_fit(&out->course, p);
    for (size_t i = 0; i < p->count; i++)
        out->kept += p->weight[i] > 0;
}

/* The side in another weighting, or without what the colours tell, where that is clearly smoother
   and no less is seen. */
static bool look_again(trace *best, const sl_course *course, const sl_linear_shot *seen,
                       const double weight[3], double reach, size_t want, sl_surfaces *surfaces,
                       int side)
{
    trace other;

    trace_side(&other, course, seen, weight, reach, want, surfaces, side);
    if (!(other.spread < SMOOTHER * best->spread && other.kept >= best->kept))
        return false;
    *best = other;
    return true;
}

/*
 * Moves a course that runs outside the page, along the end of its shadow, in to where the page
 * begins. False, as it was, when that is nowhere near.
 */
static bool move_in(sl_course *course, steps *s, const sl_linear_shot *seen, double reach,
                    sl_surfaces *surfaces, int side)
{
    const sl_course first = *course;

    for (int k = 0; k < SHIFTS; k++) {
        see_steps(s, seen, course, reach, surfaces, side);
        if (reach < REACH_TO_MOVE || (double)s->none_in <= MOSTLY_NONE * (double)s->count)
            return true;
        course->term[0] -= reach;
    }
    *course = first;
    return false;
}

void sl_edge_fit(sl_edge *edge, sl_course *course, const sl_image *shot, const sl_tone *tone,
                 double reach, size_t most, sl_surfaces *surfaces, int side)
{
    sl_linear_shot seen = { shot, shot->bits == 8 ? sl_tone_linear8(tone)
                                                  : sl_tone_linear16(tone) };
    double weight[2][3];
    steps s;
    trace traced;
    sl_point along;
    sl_point out;
    const double room = sl_course_chord(&along, &out, course) * (1 - 2 * CORNER_SHARE);
    const size_t want = (size_t)fmin(fmax(24, room / SPACING), (double)most);
    size_t ways;
    size_t way = 0;

    reach = fmin(reach, SL_REACH_MOST - 1);
    if (surfaces == NULL || !move_in(course, &s, &seen, reach, surfaces, side)) {
        surfaces = NULL;
        see_steps(&s, &seen, course, reach, NULL, side);
    }
    ways = ways_to_look(weight, &s);
    trace_side(&traced, course, &seen, weight[0], reach, want, surfaces, side);
    if (ways > 1 && traced.spread > ROUGH
        && look_again(&traced, course, &seen, weight[1], reach, want, surfaces, side))
        way = 1;
    if (traced.spread > VERY_ROUGH
        && look_again(&traced, course, &seen, weight[0], reach, want, NULL, side))
        way = 0;
    edge->count = 0;
    edge->support = 0;
    edge->spread_px = 0;
    edge->camera_px = 0;
    if (traced.p.count < 8)
        return;
    *course = traced.course;
    edge->spread_px = traced.spread;
    for (size_t i = 0; i < traced.p.count; i++)
        if (traced.p.weight[i] > 0)
            edge->point[edge->count++] = traced.found[i];
    edge->support = (double)edge->count / (double)want;
    if (most == SL_EDGE_POINTS && edge->spread_px < ROUGH)
        sl_contact_leave(edge, course, &seen, weight[way]);
}

double sl_edge_blur(const sl_edge *edge)
{
    double blur[SL_EDGE_POINTS];

    for (size_t i = 0; i < edge->count; i++)
        blur[i] = edge->point[i].blur_px;
    qsort(blur, edge->count, sizeof *blur, sl_by_double);
    return edge->count < 24 || !(blur[edge->count / 2] > 0) ? INFINITY : blur[edge->count / 2];
}
