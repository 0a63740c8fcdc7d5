/*
 * The page's outline: coarse search on the small copy, then the fine step on the shot itself.
 */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/error.h"
#include "border/beneath.h"
#include "border/fine.h"
#include "border/search.h"
#include "border/shade.h"

sl_border_params sl_border_defaults(void)
{
    return (sl_border_params){ .page_ratio = 0 };
}

/*
 * Below this quality there is no page: nothing with four sides of its own (or two, of a page that
 * the frame cuts). The worst real pages reach 0.6; what lies below is a pattern. A heuristic.
 */
static const double LEAST_QUALITY = 0.56;
static const double LEAST_QUALITY_CUT = 0.40;

/* Another sheet has sides this good and at least this share of the page's area. */
static const double SHEET_SIDES = 0.85;
static const double SHEET_AREA = 0.25;
static const double SHEET_AS_GOOD = 0.92;     /* as the page's sides */

/* So small on what it lies on that it is no page: of a sheet in the picture, of one cut by it. */
static const double SMALL_ON_WHOLE = 0.2;
static const double SMALL_ON_CUT = 0.1;

/* A print covers less than this share of its page, and the page's own sides are this good. */
static const double PRINT_AREA = 0.5;
static const double SHEET_QUALITY = 0.5;
static const double SHEET_QUALITY_CUT = 0.4; /* prints that the frame cuts too hide its paper */

/* With proportions stated, an outline has them or is far from them; a sheet that has them is taken
   rather than what it lies on with such sides and such a share of its area. */
static const double FITS = 0.3;
static const double FAR_OFF = 0.9;
static const double FITTING_QUALITY = 0.8;
static const double FITTING_AREA = 0.3;
/* ... unless the other is as good as this: then it makes one wonder. */
static const double OTHER_QUALITY = 0.6;

/* How far from a model's outline the edge is sought, px. */
static const double FOLLOW_REACH = 5;

/* Lower sheets peep out this far: px, and at most this share of the side (8 mm of 305). */
static const double PEEP_NEAREST = 8;
static const double PEEP_MOST = 0.026;

/* A line inside a side is a sheet's edge when it is seen along this share of it, from corner to
   corner; along this share it makes one wonder. */
static const double LINE_SUPPORT = 0.8;
static const double LINE_DOUBT = 0.65;
static const double FRAME_SUPPORT = 0.45;
static const double DARK = 60;                /* codes */

/* Depths of a line all round that differ by no more than this factor: a printed frame. */
static const double FRAME_EVEN = 1.3;

/* Codes, root mean square over the channels, within which a colour is one of the paper's; and the
   share of such px that makes it go on. */
static const double SAME_COLOUR = 7;
static const double PAPER_GOES_ON = 0.7;

/* Paper along a side is plain when this share of it is within so many codes of its median. */
static const double PLAIN_WITHIN = 9;
static const double MOSTLY_PLAIN = 0.6;

/* A line this near inside a side (of the page's size) and fainter than this share of the side's
   own edge is looked at on the shot itself: a lower sheet's end, or a stripe of the paper. */
static const double LINE_NEAR = 0.03;
static const double LINE_FAINT = 0.65;

/* A shadow's end is fainter than this share of the page's edge; it leaves this share of the table's
   codes, and its colour within so many codes. */
static const double SHADOW_FAINT = 0.75;
static const double SURE_SHADOW = 0.5;        /* ... where the page is taken for it */
static const double DEEPEST_SHADE = 0.35;
static const double SHADE_WITHIN = 10;
/* How much better-scored than the page an outline with its shadow may be. */
static const double NEARLY = 0.93;

/* Of a side that two outlines share, less must be seen than of one that only the larger has. */
static const double OUTER_BOLDER = 0.75;
static const double BOLD_SUPPORT = 0.9;
static const double SHARED_SUPPORT = 0.75;

/* What a page is at most, of a part of it that was taken for all. */
static const double PART_AREA = 1.8;
static const double REACH_OUT = 0.06;         /* of the page's size, for one side */

/* A rectangle is another one when a corner lies further off than this share of its size. */
static const double ANOTHER = 0.012;
static const double ANOTHER_STACK = 0.045;

/* The side whose direction is nearest to +x. */
static int top_side(const sl_point corner[4])
{
    int top = 0;
    double best = -2;

    for (int k = 0; k < 4; k++) {
        const double dx = corner[(k + 1) % 4].x - corner[k].x;
        const double dy = corner[(k + 1) % 4].y - corner[k].y;
        const double cosine = dx / hypot(dx, dy);

        if (cosine > best) {
            best = cosine;
            top = k;
        }
    }
    return top;
}

/* A straight edge as a person gave it: points known to a tenth of a px. */
static void exact_edge(sl_edge *edge, sl_point a, sl_point b)
{
    enum { POINTS = 32 };

    edge->count = POINTS;
    edge->support = 1;
    edge->paper = 1;
    edge->spread_px = 0;
    for (int k = 0; k < POINTS; k++) {
        const double t = (k + 0.5) / POINTS;

        edge->point[k] = (sl_edge_point){ { a.x + t * (b.x - a.x), a.y + t * (b.y - a.y) },
                                          0.1, 0, 0 };
    }
}

/* Marks as cut the edge that faces the given side of the frame. */
static void mark_cut(sl_outline *out, int side)
{
    static const sl_point outward[4] = { { 0, -1 }, { 1, 0 }, { 0, 1 }, { -1, 0 } };
    int facing = 0;
    double best = -2;

    for (int k = 0; k < 4; k++) {
        const double dx = out->corner[(k + 1) % 4].x - out->corner[k].x;
        const double dy = out->corner[(k + 1) % 4].y - out->corner[k].y;
        const double agree = (dy * outward[side].x - dx * outward[side].y) / hypot(dx, dy);

        if (agree > best) {
            best = agree;
            facing = k;
        }
    }
    out->edge[facing].cut = true;
}

/* The coarse side's curve as a course on the shot: Legendre terms by projection. */
static sl_course coarse_course(const sl_quad *quad, int i, const sl_small *small)
{
    sl_course c = { .a = sl_small_to_shot(small, quad->corner[i]),
                    .b = sl_small_to_shot(small, quad->corner[(i + 1) % 4]) };
    const double *b = quad->side[i].bow;
    const double f = (double)small->factor;

    /* s^2 = (P0 + 2 P2) / 3, s^3 = (3 P1 + 2 P3) / 5, s^4 = (7 P0 + 20 P2 + 8 P4) / 35 */
    c.term[0] = f * (b[0] + b[2] / 3 + b[4] / 5);
    c.term[1] = f * (b[1] + 3 * b[3] / 5);
    c.term[2] = f * (2 * b[2] / 3 + 4 * b[4] / 7);
    c.term[3] = f * (2 * b[3] / 5);
    c.term[4] = f * (8 * b[4] / 35);
    return c;
}

static void meet_corners(sl_outline *out, const sl_course course[4])
{
    for (int i = 0; i < 4; i++) {
        sl_point p;

        if (sl_course_meet(&p, &course[(i + 3) % 4], &course[i]))
            out->corner[i] = p;
    }
}

static int by_double(const void *a, const void *b)
{
    const double p = *(const double *)a;
    const double q = *(const double *)b;

    return (p > q) - (p < q);
}

/* Median of the blurs along an edge, px; INFINITY where they were not measured or are too few. */
static double edge_blur(const sl_edge *edge)
{
    double blur[SL_EDGE_POINTS];

    for (size_t i = 0; i < edge->count; i++)
        blur[i] = edge->point[i].blur_px;
    qsort(blur, edge->count, sizeof *blur, by_double);
    return edge->count < 24 || !(blur[edge->count / 2] > 0) ? INFINITY : blur[edge->count / 2];
}

/* Fine step on all sides, three times, each closer about the curves of the one before. */
static void refine(sl_outline *out, sl_course course[4], const sl_image *shot,
                   const sl_tone *tone, double reach, const bool plain[4])
{
    const struct { double reach; size_t points; } pass[] = {
        { reach, SL_EDGE_POINTS / 4 }, { fmax(5, reach / 2), SL_EDGE_POINTS / 2 },
        { 5, SL_EDGE_POINTS },
    };

    for (size_t k = 0; k < sizeof pass / sizeof *pass; k++) {
        for (int i = 0; i < 4; i++)
            if (!out->edge[i].cut)
                sl_edge_fit(&out->edge[i], &course[i], shot, tone, pass[k].reach, pass[k].points,
                            plain[i]);
        meet_corners(out, course);
    }
}

/* Least distance of the outline to the frame, and the sides that run out of the picture. */
static void measure_frame(sl_outline *out, size_t width, size_t height)
{
    const double w = (double)width - 1;
    const double h = (double)height - 1;

    out->frame_px = INFINITY;
    for (int i = 0; i < 4; i++) {
        sl_edge *e = &out->edge[i];

        for (size_t k = 0; k < e->count + 1; k++) {
            const sl_point p = k < e->count ? e->point[k].at : out->corner[i];
            const double room = fmin(fmin(p.x, w - p.x), fmin(p.y, h - p.y));

            out->frame_px = fmin(out->frame_px, room);
            /* the picture ends at the outer side of its last px */
            if (k == e->count && room < -0.5) {
                const double past[4] = { -p.y, p.x - w, p.y - h, -p.x };

                for (int side = 0; side < 4; side++)
                    if (past[side] > 0.5)
                        mark_cut(out, side);
            }
        }
    }
}

/* Points along the frame with a wide sigma, for a side that lies outside the picture. */
static void follow_frame(sl_edge *edge, sl_point a, sl_point b)
{
    enum { POINTS = 24 };

    edge->cut = true;
    edge->count = POINTS;
    edge->support = 0;
    edge->spread_px = 0;
    for (int k = 0; k < POINTS; k++) {
        const double t = (k + 0.5) / POINTS;

        edge->point[k] = (sl_edge_point){ { a.x + t * (b.x - a.x), a.y + t * (b.y - a.y) },
                                          2, 1, 0 };
    }
}

void sl_outline_frame(sl_outline *out, size_t width, size_t height)
{
    const double w = (double)width - 0.5;
    const double h = (double)height - 0.5;
    const sl_point corner[4] = { { -0.5, -0.5 }, { w, -0.5 }, { w, h }, { -0.5, h } };

    memset(out, 0, sizeof *out);
    memcpy(out->corner, corner, sizeof corner);
    for (int i = 0; i < 4; i++)
        exact_edge(&out->edge[i], corner[i], corner[(i + 1) % 4]);
    out->found = true;
    out->by_hand = true;
    out->confidence = 1;
    out->sheets = 1;
}

/* ---- choosing -------------------------------------------------------------------------------- */

static double corner_distance(const sl_quad *a, const sl_quad *b)
{
    double best = INFINITY;

    for (int turn = 0; turn < 4; turn++) {
        double worst = 0;

        for (int k = 0; k < 4; k++)
            worst = fmax(worst, hypot(a->corner[k].x - b->corner[(k + turn) % 4].x,
                                      a->corner[k].y - b->corner[(k + turn) % 4].y));
        best = fmin(best, worst);
    }
    return best;
}

static bool inside_quad(sl_point p, const sl_quad *q, double slack)
{
    for (int k = 0; k < 4; k++) {
        const sl_point a = q->corner[k];
        const sl_point b = q->corner[(k + 1) % 4];
        const double length = hypot(b.x - a.x, b.y - a.y);

        if (((b.x - a.x) * (p.y - a.y) - (b.y - a.y) * (p.x - a.x)) / length < -slack)
            return false;
    }
    return true;
}

static bool framed(const sl_quad *q)
{
    for (int k = 0; k < 4; k++)
        if (q->side[k].frame)
            return true;
    return false;
}

/*
 * Does `inner` lie on the sheet that `outer` outlines? A print on a page is the better rectangle
 * of the two; what gives it away is that the page's paper goes on around it.
 */
static bool lies_on(const sl_quad *inner, const sl_quad *outer, const sl_small *small)
{
    if (inner->area > PRINT_AREA * outer->area
        || outer->quality < (framed(outer) ? SHEET_QUALITY_CUT : SHEET_QUALITY))
        return false;
    for (int k = 0; k < 4; k++) {
        const sl_side_fit *s = &outer->side[k];

        if (!inside_quad(inner->corner[k], outer, 4) || s->paper < 0.7)
            return false;
        if (!s->frame
            && (s->support < 0.75 || s->contrast < 0.75 || s->strength < 3 * small->noise))
            return false;
    }
    return sl_same_paper(inner->around, outer->colour, small->noise);
}

static sl_point between(sl_point a, sl_point b, double t)
{
    return (sl_point){ a.x + t * (b.x - a.x), a.y + t * (b.y - a.y) };
}

/* Colours of a page's paper, from strips inside all four sides: a pattern has several. */
enum { PALETTE = 192 };

typedef struct palette {
    float  colour[PALETTE][3];
    size_t count;
} palette;

static void read_colour(float rgb[3], const sl_small *small, double x, double y)
{
    const double right = (double)small->width - 1;
    const double low = (double)small->height - 1;
    const size_t i = (size_t)(fmin(fmax(y, 0), low) + 0.5) * small->width
                     + (size_t)(fmin(fmax(x, 0), right) + 0.5);

    for (int c = 0; c < 3; c++)
        rgb[c] = small->plane[c][i];
}

/* Adds the colours inside side i: DEPTHS at each of SIDE_PLACES. */
enum { DEPTHS = 3, SIDE_PLACES = PALETTE / 4 / DEPTHS };

static void learn_side(palette *out, const sl_quad *q, int i, const sl_small *small)
{
    static const double depth[DEPTHS] = { 5, 11, 17 };
    const sl_point a = q->corner[i];
    const sl_point b = q->corner[(i + 1) % 4];
    const double length = hypot(b.x - a.x, b.y - a.y);
    const sl_point in = { -(b.y - a.y) / length, (b.x - a.x) / length };

    for (int k = 0; k < SIDE_PLACES; k++) {
        const double s = (2.0 * k + 1) / SIDE_PLACES - 1;
        const double t = (s + 1) / 2;

        for (int d = 0; d < DEPTHS; d++) {
            const double away = depth[d] - sl_side_offset(&q->side[i], s);

            read_colour(out->colour[out->count++], small, a.x + t * (b.x - a.x) + away * in.x,
                        a.y + t * (b.y - a.y) + away * in.y);
        }
    }
}

static void learn_paper(palette *out, const sl_quad *q, const sl_small *small)
{
    out->count = 0;
    for (int i = 0; i < 4; i++)
        learn_side(out, q, i, small);
}

/* Has the paper along side i one colour? Most places are as light as the one in the middle. */
static bool is_plain(const sl_quad *q, int i, const sl_small *small)
{
    palette paper = { .count = 0 };
    double light[SIDE_PLACES * DEPTHS];
    size_t like = 0;

    learn_side(&paper, q, i, small);
    for (size_t k = 0; k < paper.count; k++)
        light[k] = (double)(paper.colour[k][0] + paper.colour[k][1] + paper.colour[k][2]) / 3;
    qsort(light, paper.count, sizeof *light, by_double);
    for (size_t k = 0; k < paper.count; k++)
        like += fabs(light[k] - light[paper.count / 2]) < PLAIN_WITHIN;
    return (double)like > MOSTLY_PLAIN * (double)paper.count;
}

static bool is_paper(const float rgb[3], const palette *p)
{
    for (size_t i = 0; i < p->count; i++) {
        const double r = (double)(rgb[0] - p->colour[i][0]);
        const double g = (double)(rgb[1] - p->colour[i][1]);
        const double b = (double)(rgb[2] - p->colour[i][2]);

        if (r * r + g * g + b * b < 3 * SAME_COLOUR * SAME_COLOUR)
            return true;
    }
    return false;
}

/* ---- how two outlines differ ----------------------------------------------------------------- */

/* Where side i of one outline lies beside side k of another. */
typedef enum relation { SAME, INSIDE, OUTSIDE, ACROSS } relation;

/* Px of the small copy that corner i of `q` lies outside the line of side k of `other`. */
static double off_side(const sl_quad *q, int i, const sl_quad *other, int k)
{
    const sl_point a = other->corner[k % 4];
    const sl_point b = other->corner[(k + 1) % 4];
    const sl_point p = q->corner[i % 4];

    return ((b.y - a.y) * (p.x - a.x) - (b.x - a.x) * (p.y - a.y)) / hypot(b.x - a.x, b.y - a.y);
}

static relation relation_of(const sl_quad *q, int i, const sl_quad *other, int k, double near)
{
    const double first = off_side(q, i, other, k);
    const double last = off_side(q, i + 1, other, k);

    if (fabs(first) < near && fabs(last) < near)
        return SAME;
    if (first < near && last < near)
        return INSIDE;
    return first > -near && last > -near ? OUTSIDE : ACROSS;
}

/* Within this many px of the small copy two sides are one. */
static double near_enough(const sl_quad *q, const sl_small *small)
{
    return fmax(3, 0.006 * sqrt(q->area * (double)(small->width * small->height)));
}

/* The turn that brings the corners of `q` nearest to those of `other`: k to k + turn. */
static int turn_to(const sl_quad *q, const sl_quad *other)
{
    double nearest = INFINITY;
    int turn = 0;

    for (int k = 0; k < 4; k++) {
        double sum = 0;

        for (int i = 0; i < 4; i++)
            sum += hypot(q->corner[i].x - other->corner[(i + k) % 4].x,
                         q->corner[i].y - other->corner[(i + k) % 4].y);
        if (sum < nearest) {
            nearest = sum;
            turn = k;
        }
    }
    return turn;
}

/* Seen along such a share of it, with a step that stays beyond it, and paper inside. */
static bool is_bold(const sl_side_fit *side, double support)
{
    return !side->frame && side->support >= support && side->contrast >= 0.9
           && side->solid >= 0.6 && side->paper >= 0.5;
}

/* Does the paper of `inner` go on from its side i to side k of `outer`? */
static bool paper_goes_on(const sl_quad *inner, int i, const sl_quad *outer, int k,
                          const palette *paper, const sl_small *small)
{
    enum { PLACES = 24 };
    size_t asked = 0;
    size_t like = 0;

    for (int j = 0; j < PLACES; j++) {
        const double t = (j + 0.5) / PLACES;
        const sl_point p = between(inner->corner[i], inner->corner[(i + 1) % 4], t);
        const sl_point q = between(outer->corner[k], outer->corner[(k + 1) % 4], t);
        const double gap = hypot(q.x - p.x, q.y - p.y);

        if (gap < 4)
            continue;
        for (double f = 2 / gap; f < 1 - 2 / gap + 1e-9; f += 1.5 / gap) {
            const sl_point at = between(p, q, f);
            float rgb[3];

            read_colour(rgb, small, at.x, at.y);
            asked++;
            like += is_paper(rgb, paper);
        }
    }
    return asked > 0 && (double)like > PAPER_GOES_ON * (double)asked;
}

/* Is side i of `inner` a faint line near the bold side k of `outer`? */
static bool is_faint_line(const sl_quad *inner, int i, const sl_quad *outer, int k,
                          const sl_small *small)
{
    const double most = LINE_NEAR * sqrt(outer->area * (double)(small->width * small->height));

    return -off_side(inner, i, outer, k) < most && -off_side(inner, i + 1, outer, k) < most
           && inner->side[i].strength < LINE_FAINT * outer->side[k].strength;
}

/* Is a colour the table's, in a shadow? */
static bool in_shade(const float rgb[3], const float table[3])
{
    double both = 0;
    double square = 1e-9;
    double shade;
    double off = 0;

    for (int c = 0; c < 3; c++) {
        both += (double)(rgb[c] * table[c]);
        square += (double)(table[c] * table[c]);
    }
    shade = both / square;
    for (int c = 0; c < 3; c++) {
        const double d = (double)rgb[c] - shade * (double)table[c];

        off += d * d / 3;
    }
    return shade > DEEPEST_SHADE && shade < 1 && off < SHADE_WITHIN * SHADE_WITHIN;
}

/* Is side k of `outer` the end of a shadow beside side i of `inner`: below a share `faint` of its
   strength, with the table in a shade between them? */
static bool is_shadow(const sl_quad *outer, int k, const sl_quad *inner, int i, double faint,
                      const sl_small *small)
{
    enum { PLACES = 24 };
    const sl_point c = outer->corner[k];
    const sl_point d = outer->corner[(k + 1) % 4];
    const double length = hypot(d.x - c.x, d.y - c.y);
    size_t shaded = 0;

    if (outer->side[k].strength > faint * inner->side[i].strength)
        return false;
    for (int j = 0; j < PLACES; j++) {
        const double t = (j + 0.5) / PLACES;
        const sl_point q = between(c, d, t);
        const sl_point p = between(inner->corner[i], inner->corner[(i + 1) % 4], t);
        const sl_point middle = between(p, q, 0.5);
        float rgb[3];
        float table[3];

        read_colour(rgb, small, middle.x, middle.y);
        read_colour(table, small, q.x + 5 * (d.y - c.y) / length,
                    q.y - 5 * (d.x - c.x) / length);
        shaded += in_shade(rgb, table);
    }
    return (double)shaded > PAPER_GOES_ON * PLACES;
}

/*
 * Is `q` a part of `whole`: two or more of its sides are those of `whole`, and from the others its
 * paper goes on to bold edges of `whole`? A pattern of the paper or a print along an edge makes
 * such parts. A page ends where its paper ends.
 */
static bool part_of(const sl_quad *q, const sl_quad *whole, const sl_small *small)
{
    const double near = near_enough(whole, small);
    const int turn = turn_to(q, whole);
    palette paper;
    int same = 0;

    learn_paper(&paper, q, small);
    for (int i = 0; i < 4; i++) {
        const int k = (i + turn) % 4;

        switch (relation_of(q, i, whole, k, near)) {
        case SAME:
            same++;
            if (!is_bold(&whole->side[k], SHARED_SUPPORT))
                return false;
            break;
        case INSIDE:
            /* from a bold edge out to a fainter one it is no part, but the page itself */
            if (!is_bold(&whole->side[k], BOLD_SUPPORT)
                || whole->side[k].strength < OUTER_BOLDER * q->side[i].strength
                || !paper_goes_on(q, i, whole, k, &paper, small))
                return false;
            break;
        default:
            return false;
        }
    }
    return same >= 2 && same < 4;
}

/*
 * No rival of the chosen outline: where the two differ, `q` ends where the paper goes on, at a line
 * that the fine step looks at, or at the end of the page's shadow.
 */
static bool no_rival(const sl_quad *q, const sl_quad *chosen, const sl_small *small)
{
    const double near = near_enough(chosen, small);
    const int turn = turn_to(q, chosen);
    palette paper;
    int same = 0;

    learn_paper(&paper, q, small);
    for (int i = 0; i < 4; i++) {
        const int k = (i + turn) % 4;

        if (chosen->side[k].frame || q->side[i].frame)
            return false;
        switch (relation_of(q, i, chosen, k, near)) {
        case SAME:
            same++;
            break;
        case INSIDE:
            if (!is_bold(&chosen->side[k], BOLD_SUPPORT)
                || !(paper_goes_on(q, i, chosen, k, &paper, small)
                     || is_faint_line(q, i, chosen, k, small)))
                return false;
            break;
        case OUTSIDE:
            if (!is_shadow(q, i, chosen, k, SHADOW_FAINT, small))
                return false;
            break;
        default:
            return false;
        }
    }
    return same >= 2;
}

/* Is `outer` the page `inner` with its shadow on one side or two? */
static bool is_with_shadow(const sl_quad *outer, const sl_quad *inner, const sl_small *small)
{
    const double near = near_enough(outer, small);
    const int turn = turn_to(inner, outer);
    int same = 0;

    for (int i = 0; i < 4; i++) {
        const int k = (i + turn) % 4;
        const relation is = relation_of(inner, i, outer, k, near);

        if (inner->side[i].frame || is == ACROSS || is == OUTSIDE
            || !is_bold(&outer->side[k], is == SAME ? SHARED_SUPPORT : BOLD_SUPPORT)
            || (is == INSIDE && !is_shadow(outer, k, inner, i, SURE_SHADOW, small)))
            return false;
        same += is == SAME;
    }
    return same >= 2 && same < 4;
}

/* Without its shadow, when the outline with it was taken: the innermost of those within. */
static const sl_quad *without_shadow(const sl_quads *quads, const sl_quad *chosen,
                                     const sl_small *small)
{
    const sl_quad *best = chosen;

    for (size_t i = 0; i < quads->count; i++) {
        const sl_quad *q = &quads->quad[i];

        if (q->score > NEARLY * chosen->score && q->area < best->area
            && is_with_shadow(chosen, q, small))
            best = q;
    }
    return best;
}

/* The best-scored quadrilateral whose corners lie over `another` of the size off those of `chosen`;
   NULL when there is none. */
static const sl_quad *best_rival(const sl_quads *quads, const sl_quad *chosen,
                                 const sl_small *small, double another)
{
    const double size = sqrt(chosen->area * (double)(small->width * small->height));

    for (size_t i = 0; i < quads->count; i++) {
        const sl_quad *q = &quads->quad[i];

        if (q != chosen && corner_distance(q, chosen) > another * size
            && !no_rival(q, chosen, small))
            return q;
    }
    return NULL;
}

static sl_point centre_of(const sl_quad *q)
{
    sl_point c = { 0, 0 };

    for (int k = 0; k < 4; k++) {
        c.x += q->corner[k].x / 4;
        c.y += q->corner[k].y / 4;
    }
    return c;
}

/* Neither lies on the other. */
static bool apart(const sl_quad *a, const sl_quad *b)
{
    for (int k = 0; k < 4; k++)
        if (inside_quad(a->corner[k], b, -2) || inside_quad(b->corner[k], a, -2))
            return false;
    return !inside_quad(centre_of(a), b, 0) && !inside_quad(centre_of(b), a, 0);
}

/* Another sheet-like thing, apart from `inner`, that lies on `outer` too. */
static bool holds_another(const sl_quads *quads, const sl_quad *inner, const sl_quad *outer,
                          const sl_small *small)
{
    for (size_t i = 0; i < quads->count; i++) {
        const sl_quad *q = &quads->quad[i];

        if (q->quality >= SHEET_SIDES && q->area >= SHEET_AREA * inner->area && apart(q, inner)
            && lies_on(q, outer, small))
            return true;
    }
    return false;
}

/* The sheet of the stated proportions that lies within `outer`, which has others; or `outer`. */
static const sl_quad *fitting_within(const sl_quads *quads, const sl_quad *outer)
{
    for (size_t i = 0; i < quads->count && outer->misfit > FAR_OFF; i++) {
        const sl_quad *q = &quads->quad[i];
        bool inside = q->misfit < FITS && q->quality >= FITTING_QUALITY && !framed(q)
                      && q->area >= FITTING_AREA * outer->area && q->area < outer->area;

        for (int k = 0; k < 4 && inside; k++)
            inside = inside_quad(q->corner[k], outer, 4);
        if (inside)
            return q;
    }
    return outer;
}

/*
 * The best-scored one, unless it lies on a larger sheet. A page on a table looks the same as a
 * print on a page: so the larger one is taken only when it holds several such things, as pages
 * do and tables do not, or when the thing is too small on it to be a page, or has not the stated
 * proportions, which the larger one may have. What has them is not left for something that has
 * not, or is cut.
 * doubt  out: the other may be the page all the same
 */
static const sl_quad *choose(bool *doubt, const sl_quads *quads, const sl_small *small,
                             bool stated)
{
    const sl_quad *first = fitting_within(quads, &quads->quad[0]);
    const sl_quad *chosen = first;

    *doubt = first != &quads->quad[0] && first->area < PRINT_AREA * quads->quad[0].area;
    for (size_t i = 1; i < quads->count; i++) {
        const sl_quad *outer = &quads->quad[i];

        if (lies_on(chosen, outer, small)
            && (holds_another(quads, chosen, outer, small)
                || (chosen->misfit > FAR_OFF && outer->misfit < 0.5)
                || chosen->area
                       < (framed(outer) ? SMALL_ON_CUT : SMALL_ON_WHOLE) * outer->area)) {
            if (stated && chosen->misfit < FITS && (framed(outer) || outer->misfit > FAR_OFF))
                *doubt = *doubt || outer->quality > OTHER_QUALITY;
            else
                chosen = outer;
        }
    }
    return chosen;
}

/* A sheet that the chosen one lies on: it may be a print on a page. NULL when there is none. */
static const sl_quad *lain_on(const sl_quads *quads, const sl_quad *chosen, const sl_small *small)
{
    for (size_t i = 0; i < quads->count; i++)
        if (lies_on(chosen, &quads->quad[i], small))
            return &quads->quad[i];
    return NULL;
}

/* Page-like sheets that lie apart from each other, the chosen one included. */
static unsigned count_sheets(const sl_quads *quads, const sl_quad *chosen)
{
    const sl_quad *sheet[8] = { chosen };
    unsigned count = 1;

    for (size_t i = 0; i < quads->count && count < 8; i++) {
        const sl_quad *q = &quads->quad[i];
        bool another = q->quality >= fmin(SHEET_SIDES, SHEET_AS_GOOD * chosen->quality)
                       && q->area >= SHEET_AREA * chosen->area;

        for (unsigned k = 0; k < count && another; k++)
            another = apart(q, sheet[k]);
        if (another)
            sheet[count++] = q;
    }
    return count;
}

/* Is the chosen outline a part of `q`, and q no worse a page? */
static bool grows_into(const sl_quad *chosen, const sl_quad *q, const sl_small *small)
{
    return q->area > 1.002 * chosen->area && q->area < PART_AREA * chosen->area
           && q->misfit < chosen->misfit + 0.5 && part_of(chosen, q, small);
}

/*
 * The outermost outline that the chosen one is a part of: among the hypotheses, and with one side
 * after the other moved out to the lines there. Not every page is among the hypotheses: of a
 * striped one there are too many.
 */
static sl_quad outermost(const sl_quads *quads, const sl_quad *first, const sl_lines *lines,
                         const sl_small *small, const sl_border_params *params)
{
    const double reach = REACH_OUT * sqrt(first->area * (double)(small->width * small->height));
    sl_quad chosen = *first;
    bool grown = true;

    for (size_t i = 0; i < quads->count; i++)
        if (grows_into(&chosen, &quads->quad[i], small))
            chosen = quads->quad[i];
    for (int round = 0; round < 4 && grown; round++) {
        grown = false;
        for (int side = 0; side < 4; side++) {
            for (size_t i = 0; i < lines->count && !framed(&chosen); i++) {
                sl_quad moved;

                if (!lines->line[i].frame
                    && sl_quad_move_out(&moved, &chosen, side, &lines->line[i], reach, small,
                                        params)
                    && grows_into(&chosen, &moved, small)) {
                    chosen = moved;
                    grown = true;
                }
            }
        }
    }
    return chosen;
}

static bool good_enough(const sl_quad *q)
{
    return q->quality >= (framed(q) ? LEAST_QUALITY_CUT : LEAST_QUALITY);
}

static bool is_dark(const sl_quad *q)
{
    return (q->colour[0] + q->colour[1] + q->colour[2]) / 3 < (float)DARK;
}

/*
 * Sides of a lower sheet that peeps out from under the page: moved in to the page's own edges.
 * A line at one depth all round is a frame printed on the page, and stays. Returns how many sides
 * moved.
 * dark    the paper is nearly black
 * doubt   out: a line is there, but not from corner to corner, or it goes all round unevenly
 */
static int leave_lower_sheets(sl_outline *out, sl_course course[4], bool *doubt,
                              const sl_image *shot, bool dark)
{
    sl_inner inner[4];
    int lines = 0;
    int traces = 0;
    bool pile = false;
    double shallowest = INFINITY;
    double deepest = 0;

    *doubt = false;
    for (int i = 0; i < 4; i++) {
        const double length = hypot(course[i].b.x - course[i].a.x, course[i].b.y - course[i].a.y);

        memset(&inner[i], 0, sizeof inner[i]);
        if (!out->edge[i].cut && out->edge[i].count > 8)
            sl_inner_find(&inner[i], &course[i], shot, PEEP_NEAREST,
                          fmax(PEEP_NEAREST, PEEP_MOST * length));
        lines += inner[i].edge.support >= LINE_SUPPORT;
        traces += inner[i].edge.support >= FRAME_SUPPORT;
        pile = pile || (inner[i].edge.support >= LINE_SUPPORT && inner[i].lines > 1);
        shallowest = fmin(shallowest, inner[i].depth);
        deepest = fmax(deepest, inner[i].depth);
        *doubt = *doubt || inner[i].edge.support >= LINE_DOUBT;
    }
    if (traces == 4 && deepest < FRAME_EVEN * shallowest) {
        *doubt = false;
        return 0;
    }
    if (lines == 0)
        return 0;
    for (int i = 0; i < 4; i++) {
        if (inner[i].edge.support >= LINE_SUPPORT) {
            course[i] = inner[i].course;
            out->edge[i] = inner[i].edge;
        }
    }
    meet_corners(out, course);
    /* all round it may be a printed line; of a pile of sheets, and on black paper, the topmost may
       show no line at all */
    *doubt = lines == 4 || pile || dark;
    return lines;
}

/*
 * The camera's blur across sides 0 and 2, and across 1 and 3: that of the sharpest side, more where
 * the prints are blurred that way (the camera moved).
 */
static void camera_blurs(double camera[2], const sl_outline *out, const sl_image *shot)
{
    double prints[2];
    double side[2];

    sl_camera_blur(prints, shot, out->corner);
    for (int k = 0; k < 2; k++)
        side[k] = fmin(edge_blur(&out->edge[k]), edge_blur(&out->edge[k + 2]));
    for (int k = 0; k < 2; k++) {
        const double moved = isfinite(prints[0]) && isfinite(prints[1])
                                 ? fmax(1, prints[k] / prints[1 - k])
                                 : INFINITY;

        camera[k] = fmin(fmin(prints[k], side[k]), side[1 - k] * moved);
    }
}

/* Sides whose edge the page's own shadow hides. */
static void leave_own_shadow(sl_outline *out, sl_course course[4], const sl_image *shot,
                             const sl_tone *tone)
{
    double camera[2];
    bool possible = false;
    bool moved = false;

    /* the camera's blur takes a look at the whole page: not for a light one */
    for (int i = 0; i < 4; i++)
        possible = possible || sl_shade_possible(&out->edge[i]);
    if (!possible)
        return;
    camera_blurs(camera, out, shot);
    for (int i = 0; i < 4; i++) {
        if (isfinite(camera[i % 2]))
            moved = sl_shade_fit(&out->edge[i], &course[i], shot, tone, camera[i % 2]) || moved;
    }
    if (moved)
        meet_corners(out, course);
}

/* Fine step about the chosen quadrilateral; returns whether sides moved in from a lower sheet.
   doubt   out: a lower sheet may be mistaken for the page */
static bool trace_quad(sl_outline *out, bool *doubt, const sl_quad *q, const sl_small *small,
                       const sl_image *shot, const sl_tone *tone)
{
    sl_course course[4];
    bool plain[4];
    bool moved;
    const int top = top_side(q->corner);

    for (int i = 0; i < 4; i++) {
        course[i] = coarse_course(q, (i + top) % 4, small);
        out->corner[i] = course[i].a;
        out->edge[i].cut = q->side[(i + top) % 4].frame;
        out->edge[i].paper = q->side[(i + top) % 4].paper;
        plain[i] = is_plain(q, (i + top) % 4, small);
    }
    refine(out, course, shot, tone, 4 * (double)small->factor + 4, plain);
    moved = leave_lower_sheets(out, course, doubt, shot, is_dark(q)) > 0;
    leave_own_shadow(out, course, shot, tone);
    for (int i = 0; i < 4; i++)
        if (out->edge[i].cut)
            follow_frame(&out->edge[i], out->corner[i], out->corner[(i + 1) % 4]);
    out->found = true;
    measure_frame(out, shot->width, shot->height);
    return moved;
}

/* ---- a person's corners ---------------------------------------------------------------------- */

static sl_status trace_by_hand(sl_outline *out, const sl_image *shot, const sl_tone *tone,
                               const sl_border_params *params, sl_error *err)
{
    sl_point corner[4];
    double twice_area = 0;
    double shortest = INFINITY;
    int top;

    for (int k = 0; k < 4; k++) {
        const sl_point a = params->corners[k];
        const sl_point b = params->corners[(k + 1) % 4];

        twice_area += a.x * b.y - b.x * a.y;
        shortest = fmin(shortest, hypot(b.x - a.x, b.y - a.y));
    }
    for (int k = 0; k < 4; k++)
        corner[k] = params->corners[twice_area > 0 ? k : 3 - k];
    for (int k = 0; k < 4; k++) {
        const sl_point a = corner[k];
        const sl_point b = corner[(k + 1) % 4];
        const sl_point c = corner[(k + 2) % 4];

        if (!((b.x - a.x) * (c.y - b.y) - (b.y - a.y) * (c.x - b.x) > 0) || shortest < 8)
            return sl_fail(err, SL_ERR_DEGENERATE, "border",
                           "the four corners do not go round a page: give them clockwise, in px "
                           "of the upright picture");
    }
    top = top_side(corner);
    memset(out, 0, sizeof *out);
    for (int i = 0; i < 4; i++)
        out->corner[i] = corner[(i + top) % 4];
    if (!params->exact) {
        static const bool plain[4] = { true, true, true, true };
        sl_course course[4];

        for (int i = 0; i < 4; i++)
            course[i] = (sl_course){ .a = out->corner[i], .b = out->corner[(i + 1) % 4] };
        refine(out, course, shot, tone, fmax(8, 0.006 * shortest), plain);
    }
    for (int i = 0; i < 4; i++)
        if (out->edge[i].count < 8)
            exact_edge(&out->edge[i], out->corner[i], out->corner[(i + 1) % 4]);
    out->found = true;
    out->by_hand = true;
    out->confidence = 1;
    out->sheets = 1;
    measure_frame(out, shot->width, shot->height);
    return SL_OK;
}

/* ---- a model's outline ----------------------------------------------------------------------- */

sl_status sl_outline_follow(sl_outline *outline, const sl_image *shot, const sl_tone *tone,
                            const sl_point predicted[4][SL_PREDICTED], sl_error *err)
{
    sl_edge *before = NULL;

    if (!outline->found)
        return sl_fail(err, SL_ERR_ARG, "border", "there is no outline to follow");
    before = malloc(sizeof *before);
    if (before == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "border", "out of memory");
    for (int i = 0; i < 4; i++) {
        sl_edge *edge = &outline->edge[i];
        sl_course course;

        if (edge->cut || !sl_course_through(&course, predicted[i], SL_PREDICTED))
            continue;
        *before = *edge;
        sl_edge_fit(edge, &course, shot, tone, FOLLOW_REACH, SL_EDGE_POINTS, true);
        if (edge->support < 0.6 * before->support
            || (before->camera_px > 0
                && !sl_shade_fit(edge, &course, shot, tone, before->camera_px)))
            *edge = *before; /* the model leads away from the edge that was seen */
    }
    for (int i = 0; i < 4; i++)
        if (!outline->edge[i].cut)
            outline->corner[i] = predicted[i][0];
    free(before);
    measure_frame(outline, shot->width, shot->height);
    return SL_OK;
}

/* ---- the stage ------------------------------------------------------------------------------- */

static sl_status search(sl_outline *out, const sl_image *shot, const sl_tone *tone,
                        const sl_border_params *params, sl_error *err)
{
    sl_small *small = NULL;
    sl_lines lines = { NULL, 0 };
    sl_quads *quads = NULL;
    const sl_quad *chosen = NULL;
    sl_quad grown;
    bool several = false;
    sl_status st;

    st = sl_small_new(&small, shot, err);
    if (st == SL_OK)
        st = sl_lines_find(&lines, small, err);
    if (st == SL_OK && (quads = malloc(sizeof *quads)) == NULL)
        st = sl_fail(err, SL_ERR_NOMEM, "border", "out of memory");
    if (st == SL_OK)
        st = sl_quads_find(quads, small, &lines, params, err);
    if (st == SL_OK && quads->count > 0) {
        grown = outermost(quads, choose(&several, quads, small, params->page_ratio > 0), &lines,
                          small, params);
        chosen = without_shadow(quads, &grown, small);
    }
    if (chosen != NULL && good_enough(chosen)) {
        /* with the proportions stated, those of a print would tell it */
        const sl_quad *beneath = params->page_ratio > 0 ? NULL : lain_on(quads, chosen, small);
        bool doubt;
        const bool moved = trace_quad(out, &doubt, chosen, small, shot, tone);
        /* of sheets on one another the edges of each are found, and any mixture of them */
        const sl_quad *rival = best_rival(quads, chosen, small, moved ? ANOTHER_STACK : ANOTHER);

        out->sheets = count_sheets(quads, chosen);
        out->confidence = 1;
        if (beneath != NULL)
            rival = beneath;
        if (beneath != NULL || doubt || several)
            out->confidence = 0;
        else if (rival != NULL)
            out->confidence = fmax(0, 1 - rival->score / chosen->score);
        for (int k = 0; k < 4 && rival != NULL; k++)
            out->rival[k] = sl_small_to_shot(small, rival->corner[k]);
    }
    free(quads);
    sl_lines_clear(&lines);
    sl_small_free(small);
    return st;
}

sl_status sl_outline_find(sl_outline *out, const sl_image *shot, const sl_tone *tone,
                          const sl_border_params *params, sl_error *err)
{
    sl_outline *found = calloc(1, sizeof *found);
    sl_status st;

    if (found == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "border", "out of memory");
    st = params->has_corners ? trace_by_hand(found, shot, tone, params, err)
                             : search(found, shot, tone, params, err);
    if (st == SL_OK)
        *out = *found;
    free(found);
    return st;
}
