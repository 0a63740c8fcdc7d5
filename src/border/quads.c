/*
 * Quadrilaterals made of long lines, measured along their whole sides and ranked.
 *
 * A page is the outermost outline that still is one sheet: its sides are edges nearly all the
 * way, they end at the corners, the same paper lies just inside all four, and something else
 * lies outside. A print on the page has all this too, but it is smaller and lies inside; a
 * chequered cloth has long lines, but no one paper along them, and they go on past the corners.
 */
#include "border/search.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/error.h"
#include "border/region.h"
#include "border/sides.h"

/* A page that leaves the picture on three sides has no shape to speak of. */
enum { POOL = 1500, MEASURED = 80, POOL_FRAMED = 400, MEASURED_FRAMED = 24,
       MEASURED_WIDE = 14, MEASURED_TWICE = 24, FRAMES_MOST = 2 };

static const double LEAST_AREA = 0.03;        /* of the picture */
static const double OPPOSITE_COS = 0.76;      /* opposite sides within 40 degrees */
static const double OPPOSITE_RATIO = 0.25;    /* their lengths, at least: no page is so aslant */
static const double CROSS_COS = 0.82;         /* neighbours at 35 degrees at least */
static const double LEAST_SUPPORT = 0.25;     /* of a side, for a hypothesis at all */
static const double FAINT = 0.85;             /* what a faint line's support is worth */
static const double DRAWN = 0.6;              /* ... a drawn one's */
static const double CHECKED = 0.35;           /* ... one's between checks */
static const double OVERRUN = 0.4;            /* cost of an edge that goes on past the corners */
static const double FRAME_SUPPORT = 0.45;     /* what a side on the frame counts as */
static const double FRAME_SCORE = 0.62;       /* ... and at most in the ranking */
static const double ONE_TABLE = 5;            /* codes from inside to outside: all one table */
static const double TABLE_QUALITY = 0.6;
static const double PAPER_FLOOR = 0.5;         /* what a side without the paper inside is worth */
static const double OUTSIDE = 0.06;           /* corners may lie this share beyond the frame */
static const float AREA_WORTH = 0.3f;         /* exponent of the area's share in a score */
static const float CHORD_MOST = 1.02f;        /* of a bowed side's places on its line */

static const double A_STEP = 3;               /* codes across a side, over twice the noise */
static const double FEW_STEPS = 0.3;          /* of the places: lines drawn on one table */
static const double NO_STEPS = 0.6;           /* what such a hypothesis is worth */

static const double USUAL_FOCAL = 0.75;       /* of the long side: 27 mm equivalent, a phone's */
static const double SHAPE_WEIGHT = 0.25;      /* of the stated proportions in the score */
static const double SHAPE_SIGMA = 0.03;       /* of the ratio's logarithm: curl, lens, corners */

enum { LINES_MOST = 256 };   /* of them, a candidate's numbers are bytes */

typedef struct candidate {
    unsigned char line[4];   /* top, right, bottom, left in any turn */
    float         score;
} candidate;

/* ---- where lines meet ------------------------------------------------------------------------ */

static void tangent(sl_point *at, sl_point *dir, const sl_line *line, double t)
{
    const double inside = fmin(fmax(t, line->start), line->end);
    const double slope = 2 * line->bow * inside;
    const double norm = sqrt(1 + slope * slope);

    *at = sl_line_point(line, t);
    *dir = (sl_point){ (line->along.x - slope * line->along.y) / norm,
                       (line->along.y + slope * line->along.x) / norm };
}

/* Where two lines meet: the place on `a`; NAN when they do not cross. */
static float meet(const sl_line *a, const sl_line *b)
{
    double s = 0;
    double t = 0;

    if (fabs(a->along.x * b->along.x + a->along.y * b->along.y) > CROSS_COS)
        return NAN;
    for (int k = 0; k < 4; k++) {
        sl_point p;
        sl_point q;
        sl_point d;
        sl_point e;
        double det;

        tangent(&p, &d, a, s);
        tangent(&q, &e, b, t);
        det = d.x * e.y - d.y * e.x;
        s += ((q.x - p.x) * e.y - (q.y - p.y) * e.x) / det;
        t += ((q.x - p.x) * d.y - (q.y - p.y) * d.x) / det;
        if (fabs(s) > 1e4 || fabs(t) > 1e4)
            return NAN;
    }
    return (float)s;
}

/* ---- hypotheses ------------------------------------------------------------------------------ */

/*
 * What the search asks of every two lines, in the order in which it asks: of line `on` where it
 * meets line `with`, at [on][with].
 */
typedef struct crossing {
    float at;                /* place on the line; NAN when they do not meet */
    float sum;               /* edge px carried up to there */
} crossing;

typedef struct table {
    const sl_line *line;
    size_t         count;
    crossing      *on;       /* [on][with] */
    crossing      *with;     /* the same, [with][on] */
    bool          *opposite; /* [count][count]: may be opposite sides of a page */
} table;

static double place(const table *tab, size_t on, size_t with)
{
    return (double)tab->on[on * tab->count + with].at;
}

/* Share of the side of `line` between two meetings that carries an edge; a frame's is a constant. */
static float side_support(const sl_line *line, crossing a, crossing b)
{
    const float length = fabsf(b.at - a.at);

    if (!(length >= 20))     /* NAN too */
        return 0;
    return line->frame ? (float)FRAME_SUPPORT : fabsf(b.sum - a.sum) / length;
}

/* Share of edge just beyond both ends of a side: a page's side ends at its corners. */
static float side_overrun(const sl_line *line, crossing a, crossing b)
{
    const double s = (double)fminf(a.at, b.at);
    const double t = (double)fmaxf(a.at, b.at);
    const double more = 0.07 * (t - s) + 4;

    if (line->frame)
        return 0;
    return (float)((sl_line_support(line, s - more, s - 4)
                    + sl_line_support(line, t + 4, t + more))
                   / (2 * (more - 4)));
}

static bool opposite(const sl_line *a, const sl_line *b, const sl_small *small)
{
    const double least = 0.10 * (double)(small->width < small->height ? small->width
                                                                      : small->height);
    const double dx = b->origin.x - a->origin.x;
    const double dy = b->origin.y - a->origin.y;

    return fabs(a->along.x * b->along.x + a->along.y * b->along.y) > OPPOSITE_COS
           && fabs(dx * a->along.y - dy * a->along.x) > least;
}

static sl_status make_table(table *tab, const sl_lines *lines, const sl_small *small,
                            sl_error *err)
{
    const size_t n = lines->count;

    *tab = (table){ lines->line, n, malloc((n * n + 1) * sizeof *tab->on),
                    malloc((n * n + 1) * sizeof *tab->with),
                    malloc((n * n + 1) * sizeof *tab->opposite) };
    if (tab->on == NULL || tab->with == NULL || tab->opposite == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "border", "out of memory");
    for (size_t i = 0; i < n; i++) {
        for (size_t j = 0; j < n; j++) {
            crossing c = { meet(&lines->line[i], &lines->line[j]), 0 };

            if (!isnan(c.at))
                c.sum = (float)sl_line_support(&lines->line[i], -1e6, (double)c.at);
            tab->on[i * n + j] = c;
            tab->with[j * n + i] = c;
            tab->opposite[i * n + j] = opposite(&lines->line[i], &lines->line[j], small);
        }
    }
    return SL_OK;
}

static void free_table(table *tab)
{
    free(tab->opposite);
    free(tab->with);
    free(tab->on);
}

static bool corners_of(sl_point corner[4], const table *tab, const unsigned char line[4],
                       const sl_small *small)
{
    const double w = (double)small->width;
    const double h = (double)small->height;
    double twice_area = 0;
    double square[4];        /* of the sides' lengths */
    bool framed = false;

    for (int k = 0; k < 4; k++) {
        const size_t a = line[(k + 3) % 4];
        const size_t b = line[k];

        framed = framed || tab->line[b].frame;
        corner[k] = sl_line_point(&tab->line[a], place(tab, a, b));
        if (corner[k].x < -OUTSIDE * w || corner[k].x > (1 + OUTSIDE) * w
            || corner[k].y < -OUTSIDE * h || corner[k].y > (1 + OUTSIDE) * h)
            return false;
    }
    for (int k = 0; k < 4; k++) {
        const sl_point p = corner[k];
        const sl_point q = corner[(k + 1) % 4];

        twice_area += p.x * q.y - q.x * p.y;
    }
    if (twice_area < 0) {
        const sl_point swap = corner[1];

        corner[1] = corner[3];
        corner[3] = swap;
        twice_area = -twice_area;
    }
    for (int k = 0; k < 4; k++) {
        const sl_point p = corner[k];
        const sl_point q = corner[(k + 1) % 4];

        square[k] = (q.x - p.x) * (q.x - p.x) + (q.y - p.y) * (q.y - p.y);
    }
    for (int k = 0; k < 2 && !framed; k++)
        if (fmin(square[k], square[k + 2])
            < OPPOSITE_RATIO * OPPOSITE_RATIO * fmax(square[k], square[k + 2]))
            return false;
    for (int k = 0; k < 4; k++) {
        const sl_point p = corner[k];
        const sl_point q = corner[(k + 1) % 4];
        const sl_point r = corner[(k + 2) % 4];
        const double turn = (q.x - p.x) * (r.y - q.y) - (q.y - p.y) * (r.x - q.x);
        const double lengths = square[k] * square[(k + 1) % 4];

        /* corners between 25 and 155 degrees, all turning the same way: sine >= 0.42 */
        if (turn < 0 || turn * turn < 0.42 * 0.42 * lengths)
            return false;
    }
    return twice_area >= 2 * LEAST_AREA * w * h;
}

static double quad_area(const sl_point c[4])
{
    double twice = 0;

    for (int k = 0; k < 4; k++)
        twice += c[k].x * c[(k + 1) % 4].y - c[(k + 1) % 4].x * c[k].y;
    return fabs(twice) / 2;
}

/* The best of many candidates: a heap whose root is the worst kept. */
typedef struct pool {
    candidate item[POOL];
    size_t    count;
    size_t    most;
    float     worst;         /* what a candidate must score more than to be kept */
} pool;

static pool *pool_new(size_t most)
{
    pool *p = malloc(sizeof *p);

    if (p != NULL) {
        p->count = 0;
        p->most = most;
        p->worst = -INFINITY;
    }
    return p;
}

static void keep(pool *p, candidate c)
{
    candidate *heap = p->item;
    size_t i;

    if (c.score <= p->worst)
        return;
    if (p->count == p->most) {
        i = 0;
        for (;;) {
            size_t child = 2 * i + 1;

            if (child >= p->most)
                break;
            if (child + 1 < p->most && heap[child + 1].score < heap[child].score)
                child++;
            if (heap[child].score >= c.score)
                break;
            heap[i] = heap[child];
            i = child;
        }
        heap[i] = c;
        p->worst = heap[0].score;
        return;
    }
    i = p->count++;
    while (i > 0 && heap[(i - 1) / 2].score > c.score) {
        heap[i] = heap[(i - 1) / 2];
        i = (i - 1) / 2;
    }
    heap[i] = c;
    if (p->count == p->most)
        p->worst = heap[0].score;
}

static int by_candidate_score(const void *a, const void *b)
{
    const candidate *p = a;
    const candidate *q = b;

    if (p->score != q->score)
        return p->score < q->score ? 1 : -1;
    return memcmp(p->line, q->line, sizeof p->line);
}

/* Of two edges along a side the bolder one is rather the page's: the fainter may be its shadow. */
static float bold(float support, const sl_line *line)
{
    return support * (float)((FAINT + (1 - FAINT) * line->boldness / SL_BOLDEST)
                             * (line->drawn ? DRAWN : 1) * (line->checked ? CHECKED : 1));
}

static float lesser_of(float a, float b)
{
    return a < b ? a : b;    /* fminf() is a call */
}

/*
 * The lines that cross both lines of a pair, best first: what their sides between the two are worth,
 * and where they cross. None comes before the pair's first: of a quadrilateral's two pairs of
 * opposite sides the one with its first line leads, or each would be made twice. In arrays: what
 * two of them may score is told for many at once.
 */
typedef struct rungs {
    size_t        count;
    unsigned char line[LINES_MOST];
    unsigned char frames[LINES_MOST]; /* 1: the line is the frame's, else 0 */
    float         worth[LINES_MOST];
    float         length[LINES_MOST]; /* between the two, px */
    float         at[2][LINES_MOST];  /* place on each line of the pair ... */
    float         sum[2][LINES_MOST]; /* ... and the edge px that it carries up to there */
} rungs;

static void find_rungs(rungs *out, const table *tab, size_t i, size_t j)
{
    const crossing *const at_i = tab->with + i * tab->count;
    const crossing *const at_j = tab->with + j * tab->count;

    out->count = 0;
    for (size_t k = i + 1; k < tab->count; k++) {
        const sl_line *line = &tab->line[k];
        const float s = side_support(line, at_i[k], at_j[k]);
        float worth;
        size_t at;

        if (s < (float)LEAST_SUPPORT)
            continue;
        worth = bold(s, line) - (float)OVERRUN * side_overrun(line, at_i[k], at_j[k]);
        /* after its equals: they stay in the lines' order */
        for (at = out->count++; at > 0 && out->worth[at - 1] < worth; at--) {
            out->line[at] = out->line[at - 1];
            out->worth[at] = out->worth[at - 1];
        }
        out->line[at] = (unsigned char)k;
        out->worth[at] = worth;
    }
    for (size_t n = 0; n < out->count; n++) {
        const size_t k = out->line[n];
        const crossing on[2] = { tab->on[i * tab->count + k], tab->on[j * tab->count + k] };

        out->frames[n] = tab->line[k].frame;
        out->length[n] = fabsf(at_j[k].at - at_i[k].at);
        for (int which = 0; which < 2; which++) {
            out->at[which][n] = on[which].at;
            out->sum[which][n] = on[which].sum;
        }
    }
}

/* No less than share^AREA_WORTH, which lies below its tangents: those at 1, 1/4 and 1/16. */
static float area_worth_most(float share)
{
    const float large = 1 - AREA_WORTH + AREA_WORTH * share;
    const float middle = 0.6598f * (1 - AREA_WORTH + AREA_WORTH * 4 * share);
    const float small = 0.4353f * (1 - AREA_WORTH + AREA_WORTH * 16 * share);

    const float lesser = lesser_of(middle, small);

    return lesser_of(large, lesser);
}

/*
 * What the hypotheses of a pair of lines, rung `a` and each of the later ones score at most: by
 * their sides' supports, and by their lengths, for no quadrilateral is larger than the product of
 * the means of its opposite sides. Plain loops, that compilers turn into vector code.
 */
static void scores_most(float most[LINES_MOST], const rungs *r, size_t a, const bool framed[2],
                        float frame)
{
    const float least = (float)LEAST_SUPPORT;
    float support[2][LINES_MOST];
    float length[2][LINES_MOST];

    for (int which = 0; which < 2; which++) {
        const float at = r->at[which][a];
        const float sum = r->sum[which][a];

        for (size_t b = a + 1; b < r->count; b++) {
            const float px = fabsf(r->at[which][b] - at);
            const float share = framed[which] ? (float)FRAME_SUPPORT
                                              : fabsf(r->sum[which][b] - sum) / px;

            length[which][b] = px;
            support[which][b] = px >= 20 ? share : 0; /* as side_support() has it */
        }
    }
    for (size_t b = a + 1; b < r->count; b++) {
        const float worth = r->worth[a] + r->worth[b];
        const float weaker = lesser_of(support[0][b], support[1][b]);
        const float sides = (support[0][b] + support[1][b] + worth) / 4
                            + lesser_of(weaker, r->worth[b]);
        const float area = CHORD_MOST * CHORD_MOST / 4 * (r->length[a] + r->length[b])
                           * (length[0][b] + length[1][b]);
        const float scaled = (sides > 0 ? sides : 0) * area_worth_most(area / frame);
        /* whatever its area */
        const float any = lesser_of(sides, (worth + 2) / 4 + r->worth[b]);
        const float both = lesser_of(any, scaled);

        most[b] = weaker < least ? -INFINITY : both;
    }
}

/* Scores the hypothesis of a pair of lines and two of its rungs; keeps it if it is good enough. */
static void consider(pool *kept, const rungs *r, const size_t pair[2], size_t a, size_t b,
                     const table *tab, const sl_small *small)
{
    const double frame = (double)(small->width * small->height);
    candidate c = { { (unsigned char)pair[0], r->line[a], (unsigned char)pair[1], r->line[b] }, 0 };
    sl_point corner[4];
    float worth[2];

    if (!corners_of(corner, tab, c.line, small))
        return;
    for (int which = 0; which < 2; which++) {
        const sl_line *line = &tab->line[pair[which]];
        const crossing at[2] = { { r->at[which][a], r->sum[which][a] },
                                 { r->at[which][b], r->sum[which][b] } };

        worth[which] = bold(side_support(line, at[0], at[1]), line)
                       - (float)OVERRUN * side_overrun(line, at[0], at[1]);
    }
    c.score = ((worth[0] + worth[1] + (r->worth[a] + r->worth[b])) / 4
               + lesser_of(lesser_of(worth[0], worth[1]), r->worth[b]))
              * powf((float)(quad_area(corner) / frame), AREA_WORTH);
    keep(kept, c);
}

/*
 * All quadrilaterals of a pair of opposite lines and two that cross both. Those with sides on the
 * frame are kept apart: of a page that the frame cuts, with prints on it, there are few, and of the
 * prints' borders thousands.
 */
static void hypothesise(pool *whole, pool *framed, rungs *r, const size_t pair[2],
                        const table *tab, const sl_small *small)
{
    const bool of_frame[2] = { tab->line[pair[0]].frame, tab->line[pair[1]].frame };

    find_rungs(r, tab, pair[0], pair[1]);
    for (size_t a = 0; a + 1 < r->count; a++) {
        const bool *const opposite_a = tab->opposite + r->line[a] * tab->count;
        const int frames = of_frame[0] + of_frame[1] + r->frames[a];
        float most[LINES_MOST];

        scores_most(most, r, a, of_frame, (float)(small->width * small->height));
        for (size_t b = a + 1; b < r->count; b++) {
            pool *kept = frames + r->frames[b] > 0 ? framed : whole;

            if (most[b] > kept->worst && frames + r->frames[b] <= FRAMES_MOST
                && opposite_a[r->line[b]])
                consider(kept, r, pair, a, b, tab, small);
        }
    }
}

static void hypothesise_all(pool *whole, pool *framed, rungs *r, const table *tab,
                            const sl_small *small)
{
    for (size_t i = 0; i < tab->count; i++)
        for (size_t j = i + 1; j < tab->count; j++)
            if (tab->opposite[i * tab->count + j])
                hypothesise(whole, framed, r, (size_t[2]){ i, j }, tab, small);
}

/* ---- ranking --------------------------------------------------------------------------------- */

/* The side's first curve: the bow of the line that runs from a to b, if this is it. */
static void start_curve(sl_side_fit *side, const sl_line *line, sl_point a, sl_point b)
{
    const double length = hypot(b.x - a.x, b.y - a.y);
    const sl_point out = { (b.y - a.y) / length, -(b.x - a.x) / length };
    double t[2];
    sl_point end[2] = { a, b };
    sl_point middle;
    double sag;

    for (int k = 0; k < 2; k++) {
        t[k] = (end[k].x - line->origin.x) * line->along.x
               + (end[k].y - line->origin.y) * line->along.y;
        middle = sl_line_point(line, t[k]);
        if (hypot(middle.x - end[k].x, middle.y - end[k].y) > 1)
            return;
    }
    middle = sl_line_point(line, (t[0] + t[1]) / 2);
    sag = (middle.x - (a.x + b.x) / 2) * out.x + (middle.y - (a.y + b.y) / 2) * out.y;
    side->bow[0] = sag;
    side->bow[2] = -sag;
}

static void rate(sl_quad *quad, double noise)
{
    double sum = 0;
    double least = 1;
    double paper = 1;
    bool framed = false;

    for (int i = 0; i < 4; i++) {
        const sl_side_fit *s = &quad->side[i];
        const double q = s->frame ? FRAME_SCORE * s->paper * s->paper
                                  : (0.7 * s->support * (0.5 + 0.5 * s->solid)
                                     + 0.3 * s->contrast)
                                        * (PAPER_FLOOR + (1 - PAPER_FLOOR) * s->paper);

        sum += q;
        least = fmin(least, q);
        framed = framed || s->frame;
        paper = fmin(paper, s->paper);
    }
    /* the frame cuts any picture into something with four sides: there the paper must show it */
    quad->quality = (sum / 4 + least) / 2 * (framed ? sqrt(paper) : 1);
    /* two lines of the table's grain and the frame */
    if (framed && sl_colour_distance(quad->colour, quad->around) < ONE_TABLE + noise)
        quad->quality *= TABLE_QUALITY;
    quad->score = pow(quad->quality, 1.4) * pow(quad->area, 0.2);
}

/* A point of side i's fitted curve at s in -1..1 and the curve's direction there. */
static void side_tangent(sl_point *at, sl_point *dir, const sl_quad *quad, int i, double s)
{
    const sl_point a = quad->corner[i];
    const sl_point b = quad->corner[(i + 1) % 4];
    const double length = hypot(b.x - a.x, b.y - a.y);
    const sl_point along = { (b.x - a.x) / length, (b.y - a.y) / length };
    const sl_point out = { along.y, -along.x };
    const double h = 0.02;
    const double offset = sl_side_offset(&quad->side[i], s);
    const double slope = (sl_side_offset(&quad->side[i], s + h)
                          - sl_side_offset(&quad->side[i], s - h))
                         / (h * length);
    const double t = (s + 1) / 2 * length;

    *at = (sl_point){ a.x + t * along.x + offset * out.x, a.y + t * along.y + offset * out.y };
    *dir = (sl_point){ along.x + slope * out.x, along.y + slope * out.y };
}

/* Moves the corners to where the neighbouring sides' fitted curves meet. */
static void move_corners(sl_quad *quad)
{
    sl_point moved[4];

    for (int i = 0; i < 4; i++) {
        sl_point p;
        sl_point q;
        sl_point d;
        sl_point e;
        double det;

        side_tangent(&p, &d, quad, (i + 3) % 4, 0.98);
        side_tangent(&q, &e, quad, i, -0.98);
        det = d.x * e.y - d.y * e.x;
        moved[i] = quad->corner[i];
        if (fabs(det) > 0.2) {
            const double t = ((q.x - p.x) * e.y - (q.y - p.y) * e.x) / det;

            moved[i] = (sl_point){ p.x + t * d.x, p.y + t * d.y };
        }
    }
    for (int i = 0; i < 4; i++) {
        /* the curve's offsets are from the chord: take the new chord's tilt out of them */
        const sl_point a = quad->corner[i];
        const sl_point b = quad->corner[(i + 1) % 4];
        const double length = hypot(b.x - a.x, b.y - a.y);
        const sl_point out = { (b.y - a.y) / length, -(b.x - a.x) / length };
        const double da = (moved[i].x - a.x) * out.x + (moved[i].y - a.y) * out.y;
        const double db = (moved[(i + 1) % 4].x - b.x) * out.x
                          + (moved[(i + 1) % 4].y - b.y) * out.y;

        quad->side[i].bow[0] -= (da + db) / 2;
        quad->side[i].bow[1] -= (db - da) / 2;
    }
    memcpy(quad->corner, moved, sizeof moved);
}

/*
 * How far the quadrilateral is from the stated proportions: 0 to 1. What the frame cuts on one side
 * may be of any length up to the page's, but no longer: a page and a part of the one beside it are.
 */
static double misfit(const sl_quad *q, const sl_small *small, const sl_border_params *params)
{
    const double longest = (double)(small->width > small->height ? small->width : small->height);
    double focal = params->focal_px > 0 ? params->focal_px / (double)small->factor
                                        : USUAL_FOCAL * longest;
    int frames = 0;
    int cut = 0;
    double ratio;
    double off;

    for (int k = 0; k < 4; k++) {
        frames += q->side[k].frame;
        cut = q->side[k].frame ? k : cut;
    }
    if (frames > 1 || !(params->page_ratio > 0))
        return 0;
    if (sl_rectangle_from_view(&focal, &ratio, q->corner,
                               (sl_point){ (double)small->width / 2, (double)small->height / 2 },
                               NULL)
        != SL_OK)
        return frames == 0;
    if (frames == 1)
        off = fmax(0, log((cut % 2 == 0 ? 1 / ratio : ratio) / params->page_ratio)) / SHAPE_SIGMA;
    else
        off = log(fmax(ratio, 1 / ratio) / params->page_ratio) / SHAPE_SIGMA;
    return 1 - exp(-off * off / 2);
}

/*
 * Of two good outlines the one of the stated proportions is the page; but a wrong size must not
 * hide a page, so that they never weigh much.
 */
static void measure_and_rate(sl_quad *q, const sl_small *small, const sl_border_params *params,
                             double reach)
{
    sl_quad_measure(q, small, reach);
    move_corners(q);
    q->area = quad_area(q->corner) / (double)(small->width * small->height);
    rate(q, small->noise);
    q->misfit = misfit(q, small, params);
    q->score *= 1 - SHAPE_WEIGHT * q->misfit;
}

/* Where the straight lines a-b and c-d meet. */
static sl_point crossing_of(sl_point a, sl_point b, sl_point c, sl_point d)
{
    const double det = (b.x - a.x) * (d.y - c.y) - (b.y - a.y) * (d.x - c.x);
    const double t = ((c.x - a.x) * (d.y - c.y) - (c.y - a.y) * (d.x - c.x)) / det;

    return (sl_point){ a.x + t * (b.x - a.x), a.y + t * (b.y - a.y) };
}

bool sl_quad_move_out(sl_quad *out, const sl_quad *quad, int side, const sl_line *line, double most,
                      const sl_small *small, const sl_border_params *params)
{
    const int next = (side + 1) % 4;
    const sl_point a = quad->corner[side];
    const sl_point b = quad->corner[next];
    const double length = hypot(b.x - a.x, b.y - a.y);
    const sl_point normal = { (b.y - a.y) / length, -(b.x - a.x) / length };
    const sl_point end[2] = { a, b };
    sl_point on[2];

    for (int k = 0; k < 2; k++) {
        const double t = (end[k].x - line->origin.x) * line->along.x
                         + (end[k].y - line->origin.y) * line->along.y;
        double away;

        on[k] = sl_line_point(line, t);
        away = (on[k].x - end[k].x) * normal.x + (on[k].y - end[k].y) * normal.y;
        if (away < 2 || away > most || hypot(on[k].x - end[k].x, on[k].y - end[k].y) > 2 * most)
            return false;
    }
    *out = *quad;
    out->corner[side] = crossing_of(on[0], on[1], quad->corner[(side + 3) % 4], a);
    out->corner[next] = crossing_of(on[0], on[1], quad->corner[(side + 2) % 4], b);
    measure_and_rate(out, small, params, 5);
    return true;
}

static bool same_quad(const sl_quad *a, const sl_quad *b, double tolerance)
{
    for (int turn = 0; turn < 4; turn++) {
        bool same = true;

        for (int k = 0; k < 4 && same; k++) {
            const double dx = a->corner[k].x - b->corner[(k + turn) % 4].x;
            const double dy = a->corner[k].y - b->corner[(k + turn) % 4].y;

            same = dx * dx + dy * dy < tolerance * tolerance;
        }
        if (same)
            return true;
    }
    return false;
}

static int by_score(const void *a, const void *b)
{
    const sl_quad *p = a;
    const sl_quad *q = b;

    if (p->score != q->score)
        return p->score < q->score ? 1 : -1;
    if (p->corner[0].y != q->corner[0].y)
        return p->corner[0].y < q->corner[0].y ? -1 : 1;
    return (p->corner[0].x > q->corner[0].x) - (p->corner[0].x < q->corner[0].x);
}

/* The page's corners and first curves of a candidate; false when they make no page. */
static bool make_quad(sl_quad *q, const candidate *c, const table *tab, const sl_small *small)
{
    const double w = (double)small->width - 1;
    const double h = (double)small->height - 1;

    memset(q, 0, sizeof *q);
    if (!corners_of(q->corner, tab, c->line, small))
        return false;
    for (int k = 0; k < 4; k++) {
        const sl_point a = q->corner[k];
        const sl_point b = q->corner[(k + 1) % 4];

        for (int l = 0; l < 4; l++)
            start_curve(&q->side[k], &tab->line[c->line[l]], a, b);
        q->side[k].frame = (a.x < 1 && b.x < 1) || (a.y < 1 && b.y < 1)
                           || (a.x > w - 1 && b.x > w - 1) || (a.y > h - 1 && b.y > h - 1);
    }
    return true;
}

/*
 * What a glance at a few places along the sides tells of a hypothesis, bows left out of account:
 * the share inside that has one colour, less where nothing differs from the other side of the line.
 * Of a chequered cloth or a ruled mat there are as many quadrilaterals as anyone likes, but no one
 * colour inside the one and the same table on both sides of the other.
 */
static float glance(const sl_point corner[4], const sl_small *small)
{
    enum { PLACES = 7 };
    float rgb[4 * PLACES][3];
    float channel[4 * PLACES];
    float paper[3];
    size_t like = 0;
    size_t steps = 0;

    for (int i = 0; i < 4; i++) {
        const sl_point a = corner[i];
        const sl_point b = corner[(i + 1) % 4];
        const double length = hypot(b.x - a.x, b.y - a.y);
        const double in = 0.02 * length + 4;
        const sl_point normal = { -(b.y - a.y) / length, (b.x - a.x) / length };

        for (int k = 0; k < PLACES; k++) {
            const double t = (k + 0.5) / PLACES;
            const sl_point on = { a.x + t * (b.x - a.x), a.y + t * (b.y - a.y) };
            float outside[3];

            sl_small_colour(rgb[i * PLACES + k], small,
                            (sl_point){ on.x + in * normal.x, on.y + in * normal.y });
            sl_small_colour(outside, small,
                            (sl_point){ on.x - in * normal.x, on.y - in * normal.y });
            steps += sl_colour_distance(rgb[i * PLACES + k], outside) > A_STEP + 2 * small->noise;
        }
    }
    for (int c = 0; c < 3; c++) {
        for (int k = 0; k < 4 * PLACES; k++)
            channel[k] = rgb[k][c];
        paper[c] = sl_median_code(channel, 4 * PLACES);
    }
    for (int k = 0; k < 4 * PLACES; k++)
        like += sl_same_paper(rgb[k], paper, small->noise);
    return (0.5f + 0.5f * (float)like / (4 * PLACES))
           * ((double)steps < FEW_STEPS * 4 * PLACES ? (float)NO_STEPS : 1);
}

/* Adds the best of a pool that differ: at most `most`. Returns the new count. */
static size_t take_best(sl_quad *quad, size_t count, size_t most, pool *p, const table *tab,
                        const sl_small *small)
{
    const size_t first = count;

    for (size_t i = 0; i < p->count; i++) {
        sl_point corner[4];

        if (corners_of(corner, tab, p->item[i].line, small))
            p->item[i].score *= glance(corner, small);
    }
    qsort(p->item, p->count, sizeof *p->item, by_candidate_score);
    for (size_t i = 0; i < p->count && count < first + most; i++) {
        bool fresh = make_quad(&quad[count], &p->item[i], tab, small);

        for (size_t k = first; k < count && fresh; k++)
            fresh = !same_quad(&quad[count], &quad[k], 4);
        count += fresh;
    }
    return count;
}

/* Adds the quadrilateral about what is off the table, if there is one. */
static sl_status take_region(sl_quad *quad, size_t *count, const sl_small *small, sl_error *err)
{
    sl_quad *const q = &quad[*count];
    bool found;
    sl_status st;

    memset(q, 0, sizeof *q);
    st = sl_region_quad(&found, q->corner, small, err);
    *count += st == SL_OK && found;
    return st;
}

/* Measures and ranks: all, then the best more widely, for sides that bow as no parabola does, and
   more closely. */
static void rank(sl_quad *quad, size_t count, const sl_small *small,
                 const sl_border_params *params)
{
    for (size_t i = 0; i < count; i++)
        measure_and_rate(&quad[i], small, params, 5 + 0.012 * sqrt(quad_area(quad[i].corner)));
    qsort(quad, count, sizeof *quad, by_score);
    for (size_t i = 0; i < count && i < MEASURED_WIDE; i++) {
        sl_quad wide = quad[i];

        measure_and_rate(&wide, small, params, 5 + 0.03 * sqrt(quad_area(wide.corner)));
        if (wide.score > quad[i].score)
            quad[i] = wide;
    }
    for (size_t i = 0; i < count && i < MEASURED_TWICE; i++)
        measure_and_rate(&quad[i], small, params, 5);
    qsort(quad, count, sizeof *quad, by_score);
}

sl_status sl_quads_find(sl_quads *out, const sl_small *small, const sl_lines *lines,
                        const sl_border_params *params, sl_error *err)
{
    table tab;
    pool *whole = pool_new(POOL);
    pool *framed = pool_new(POOL_FRAMED);
    sl_quad *quad = malloc((SL_QUADS_MAX + 1) * sizeof *quad);
    rungs *rung = malloc(sizeof *rung);
    size_t count = 0;
    sl_status st = make_table(&tab, lines, small, err);

    out->count = 0;
    if (st == SL_OK && (whole == NULL || framed == NULL || quad == NULL || rung == NULL))
        st = sl_fail(err, SL_ERR_NOMEM, "border", "out of memory");
    if (st == SL_OK) {
        hypothesise_all(whole, framed, rung, &tab, small);
        count = take_best(quad, 0, MEASURED, whole, &tab, small);
        count = take_best(quad, count, MEASURED_FRAMED, framed, &tab, small);
        st = take_region(quad, &count, small, err);
        rank(quad, count, small, params);
    }
    for (size_t i = 0; i < count; i++) {
        bool fresh = true;

        for (size_t k = 0; k < out->count && fresh; k++)
            fresh = !same_quad(&quad[i], &out->quad[k], 4);
        if (fresh)
            out->quad[out->count++] = quad[i];
    }
    free_table(&tab);
    free(rung);
    free(quad);
    free(framed);
    free(whole);
    return st;
}
