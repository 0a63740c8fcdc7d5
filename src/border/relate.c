/*
 * How two outlines differ, side by side. Of a striped page, a page with its shadow, a pile of
 * sheets there are many outlines that share most of their sides: what lies between the others tells
 * which of them is the page.
 */
#include "border/relate.h"

#include <math.h>
#include <stdlib.h>

#include "border/colour_near.h"

/* Codes, root mean square over the channels, within which a colour is one of the paper's; and the
   share of such px that makes it go on. */
static const double SAME_COLOUR = 7;
static const double PAPER_GOES_ON = 0.7;

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

/* Of a side that two outlines share, less must be seen than of one that only the larger has. */
static const double OUTER_BOLDER = 0.75;
static const double BOLD_SUPPORT = 0.9;
static const double SHARED_SUPPORT = 0.75;

/* A print covers no more of its page, whose sides are seen along more than it may share of them:
   a board's sides and the page's on it make outlines too. */
static const double GLUED_AREA = 0.85;
static const double GLUED_SUPPORT = 0.965;

/* ---- paper ----------------------------------------------------------------------------------- */

static sl_point between(sl_point a, sl_point b, double t)
{
    return (sl_point){ a.x + t * (b.x - a.x), a.y + t * (b.y - a.y) };
}

/* Colours of a page's paper, from strips inside all four sides: a pattern has several. */
enum { PALETTE = 192 };

typedef struct palette {
    float  colour[PALETTE][3];
    size_t count;
    size_t last;             /* of the colours, the one that was asked for last */
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

static int by_green(const void *a, const void *b)
{
    const float p = ((const float *)a)[1];
    const float q = ((const float *)b)[1];

    return (p > q) - (p < q);
}

/* In order of green, as is_paper() expects them. */
static void learn_paper(palette *out, const sl_quad *q, const sl_small *small)
{
    out->count = 0;
    out->last = 0;
    for (int i = 0; i < 4; i++)
        learn_side(out, q, i, small);
    qsort(out->colour, out->count, sizeof out->colour[0], by_green);
}

static bool same_colour(const float a[3], const float b[3])
{
    const double r = (double)(a[0] - b[0]);
    const double g = (double)(a[1] - b[1]);
    const double c = (double)(a[2] - b[2]);

    return r * r + g * g + c * c < 3 * SAME_COLOUR * SAME_COLOUR;
}

/* The px beside one of the paper is most often of the same colour: that is tried first. Then those
   that are about as green. */
static bool is_paper(const float rgb[3], palette *p)
{
    const float most = (float)(SAME_COLOUR * 1.7321) + 0.01f; /* in one channel, of all three */
    size_t first = 0;
    size_t end = p->count;

    if (same_colour(rgb, p->colour[p->last]))
        return true;
    while (first < end) {
        const size_t middle = (first + end) / 2;

        if (p->colour[middle][1] < rgb[1] - most)
            first = middle + 1;
        else
            end = middle;
    }
    for (size_t i = first; i < p->count && p->colour[i][1] < rgb[1] + most; i++) {
        if (same_colour(rgb, p->colour[i])) {
            p->last = i;
            return true;
        }
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
                          palette *paper, const sl_small *small)
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
    const double shade = sl_colour_shade(rgb, table);
    double off = 0;

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
bool sl_quad_part_of(const sl_quad *q, const sl_quad *whole, const sl_small *small)
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
bool sl_quad_no_rival(const sl_quad *q, const sl_quad *chosen, const sl_small *small)
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
bool sl_quad_with_shadow(const sl_quad *outer, const sl_quad *inner, const sl_small *small)
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

/* A print's sides that lie along the page's hide the paper there, but not the table. */
bool sl_quad_glued_to_edge(const sl_quad *print, const sl_quad *page, const sl_small *small)
{
    const double near = near_enough(page, small);
    const int turn = turn_to(print, page);
    int same = 0;

    if (print->area > GLUED_AREA * page->area
        || !sl_same_paper(print->around, page->colour, small->noise))
        return false;
    for (int i = 0; i < 4; i++) {
        const int k = (i + turn) % 4;
        const sl_side_fit *side = &page->side[k];
        const relation is = relation_of(print, i, page, k, near);

        if (side->frame || side->support < GLUED_SUPPORT || side->contrast < GLUED_SUPPORT
            || side->solid < BOLD_SUPPORT || (is != SAME && is != INSIDE)
            || (is == INSIDE && side->paper < BOLD_SUPPORT))
            return false;
        same += is == SAME;
    }
    return same > 0 && same < 4;
}
