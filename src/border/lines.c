/*
 * Long edges of the small copy.
 *
 * Each segment in turn, those first that have the most to carry on with, takes in the segments that
 * lie on its continuation, with a parabola through all. A page's side is often in pieces: a
 * chequered cloth hides every other part of it, a print glued to the edge another, and stripes on
 * the page cut it into many short ones. Then its support: where along the whole line, across the
 * picture, there is an edge on it.
 */
#include "border/search.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/error.h"
#include "border/segments.h"
#include "border/select.h"
#include "border/sides.h"

enum {
    SEEDS = 140,             /* segments that may start a line */
    SEEDS_COARSE = 30,       /* ... in the coarser copy */
    COARSER = 4,             /* its px in px */
    WAYS = 6,                /* directions told apart, 30 degrees each */
    MANY = 4, OF = 7,        /* so much of the seeds may run one way */
    FEW = 4,                 /* a way with less than one in so many of the seeds has few */
    MORE = 4,                /* one in so many more seeds, for those */
    LINES_MOST = (SEEDS + SEEDS_COARSE) * (MORE + 1) / MORE + 4,
    LINES_MAX = 96           /* the best of them, without the frame's */
};

static const double GAP = 60;                         /* that a short line may bridge, px */
/* A bold page edge and the faint grain of the wood beyond it are two lines, however they run. */
static const double UNLIKE = 3;
static const double LONG = 45;                        /* px; a segment with a direction of its own */
static const double ON_LINE = 1.5;                    /* px */
static const double ALONGSIDE = 4;                    /* px: of one coarse px */
static const double ALONGSIDE_COS = 0.996;            /* 5 degrees */
static const double AS_BOLD = 0.85;
static const double BESIDE = 5;                       /* px to either side of a line */
static const double DRAWN = 0.7;                      /* of its strength: a lesser step is none */
static const double ONE_COLOUR = 0.65;                /* of a side of a line, at least */
static const double PATTERN_WEIGHT = 0.4;
static const double RULED = 0.5;                      /* of the lines are drawn: a ruled table */
static const double CHECKED = 0.2;                    /* ... run between checks: a checked one */
static const float LIKELY_COS = 0.95f;                /* 18 degrees: a bow turns a line */

static sl_point across_of(sl_point along)
{
    return (sl_point){ -along.y, along.x };
}

/* (t, offset) of a point about a line; offset 0 lies on its curve */
static void place_on_line(double *t, double *offset, const sl_line *line, sl_point p)
{
    const sl_point across = across_of(line->along);
    const double dx = p.x - line->origin.x;
    const double dy = p.y - line->origin.y;
    double curve;

    *t = dx * line->along.x + dy * line->along.y;
    if (*t < line->start)
        curve = line->bow * line->start * (2 * *t - line->start);
    else if (*t > line->end)
        curve = line->bow * line->end * (2 * *t - line->end);
    else
        curve = line->bow * *t * *t;
    *offset = dx * across.x + dy * across.y - curve;
}

sl_point sl_line_point(const sl_line *line, double t)
{
    const sl_point across = across_of(line->along);
    double curve;

    if (t < line->start)
        curve = line->bow * line->start * (2 * t - line->start);
    else if (t > line->end)
        curve = line->bow * line->end * (2 * t - line->end);
    else
        curve = line->bow * t * t;
    return (sl_point){ line->origin.x + t * line->along.x + curve * across.x,
                       line->origin.y + t * line->along.y + curve * across.y };
}

/* Parabola through knots by least squares, about `line`'s present frame, which it then moves. */
static void refit(sl_line *line, const sl_point *knot, size_t count)
{
    double m[5] = { 0 };     /* sums of t^k */
    double v[3] = { 0 };     /* sums of offset t^k */
    double t0 = 1e30;
    double t1 = -1e30;
    const sl_point across = across_of(line->along);
    double c0;
    double c1;
    double c2 = 0;

    for (size_t i = 0; i < count; i++) {
        const double dx = knot[i].x - line->origin.x;
        const double dy = knot[i].y - line->origin.y;
        const double t = dx * line->along.x + dy * line->along.y;
        const double o = dx * across.x + dy * across.y;
        double power = 1;

        for (int k = 0; k < 5; k++) {
            m[k] += power;
            if (k < 3)
                v[k] += o * power;
            power *= t;
        }
        t0 = fmin(t0, t);
        t1 = fmax(t1, t);
    }
    {
        const double det = m[0] * m[2] - m[1] * m[1];

        if (count < 2 || det < 1e-9 * m[0] * m[2] + 1e-12)
            return;
        c1 = (m[0] * v[1] - m[1] * v[0]) / det;
        c0 = (v[0] - c1 * m[1]) / m[0];
    }
    if (t1 - t0 > 60 && count >= 5) {
        /* normal equations of the parabola by Cramer's rule */
        const double d = m[0] * (m[2] * m[4] - m[3] * m[3]) - m[1] * (m[1] * m[4] - m[2] * m[3])
                         + m[2] * (m[1] * m[3] - m[2] * m[2]);

        if (d > 1e-9 * m[0] * m[2] * m[4]) {
            const double q2 = (m[0] * (m[2] * v[2] - m[3] * v[1])
                               - m[1] * (m[1] * v[2] - m[2] * v[1])
                               + v[0] * (m[1] * m[3] - m[2] * m[2]))
                              / d;
            const double half = (t1 - t0) / 2;

            /* more bow than 5 % of the length is no page edge but an arc */
            if (fabs(q2) * half * half <= 0.05 * (t1 - t0)) {
                const double det2 = m[0] * m[2] - m[1] * m[1];
                const double w0 = v[0] - q2 * m[2];
                const double w1 = v[1] - q2 * m[3];

                c2 = q2;
                c1 = (m[0] * w1 - m[1] * w0) / det2;
                c0 = (w0 - c1 * m[1]) / m[0];
            }
        }
    }
    {
        const double mid = (t0 + t1) / 2;
        const double offset = c0 + c1 * mid + c2 * mid * mid;
        const double slope = c1 + 2 * c2 * mid;
        const double norm = sqrt(1 + slope * slope);
        const double stretch = norm;

        line->origin.x += mid * line->along.x + offset * across.x;
        line->origin.y += mid * line->along.y + offset * across.y;
        line->along = (sl_point){ (line->along.x + slope * across.x) / norm,
                                  (line->along.y + slope * across.y) / norm };
        line->bow = c2 / (stretch * stretch * stretch);
        line->start = (t0 - mid) * stretch;
        line->end = (t1 - mid) * stretch;
    }
}

/*
 * Does the segment lie on the line's continuation? The gap between may be as long as a check of
 * a cloth or a print glued to the edge, but not so long that chance would fill it.
 */
static bool joins(const sl_line *line, double strength, double bridge, const sl_segment *seg)
{
    const double agree = fabs(seg->along.x * line->along.x + seg->along.y * line->along.y);
    const double reach = fmax(bridge, 0.35 * (line->end - line->start));
    double gap = 1e30;

    if (agree < 0.985)       /* 10 degrees */
        return false;
    if (seg->strength > UNLIKE * strength || strength > UNLIKE * seg->strength)
        return false;
    for (size_t i = 0; i < seg->knots; i++) {
        double t;
        double offset;
        double beyond;

        place_on_line(&t, &offset, line, seg->knot[i]);
        beyond = fmax(0, fmax(line->start - t, t - line->end));
        gap = fmin(gap, beyond);
        if (fabs(offset) > 1.7 + 0.006 * beyond)
            return false;
    }
    return gap <= reach;
}

/* Scratch of the making of one line after another. */
typedef struct workshop {
    float    (*along)[2];    /* of every segment, close together: most are ruled out by them */
    uint32_t *likely;        /* segments that run about the line's way */
    unsigned char *member;   /* of `likely`: the pass that it joined in; 0: none */
    sl_point *knot;
    double   bridge;         /* gap that a short line may bridge */
} workshop;

static bool workshop_new(workshop *w, const sl_segments *segs, double bridge)
{
    const size_t n = segs->count + 1;

    *w = (workshop){ malloc(n * sizeof *w->along), malloc(n * sizeof *w->likely),
                     malloc(n * sizeof *w->member), malloc(n * SL_KNOTS_MAX * sizeof *w->knot),
                     bridge };
    if (w->along == NULL || w->likely == NULL || w->member == NULL || w->knot == NULL)
        return false;
    for (size_t i = 0; i < segs->count; i++) {
        w->along[i][0] = (float)segs->item[i].along.x;
        w->along[i][1] = (float)segs->item[i].along.y;
    }
    return true;
}

static void workshop_clear(workshop *w)
{
    free(w->knot);
    free(w->member);
    free(w->likely);
    free(w->along);
}

/* Do all of a segment's knots lie on the line? */
static bool holds(const sl_line *line, const sl_segment *seg)
{
    for (size_t k = 0; k < seg->knots; k++) {
        double t;
        double offset;

        place_on_line(&t, &offset, line, seg->knot[k]);
        if (fabs(offset) > ON_LINE)
            return false;
    }
    return true;
}

/* Segments that run about the line's way; none is a member yet. */
static size_t find_likely(workshop *w, const sl_line *line, const sl_segments *segs)
{
    const float x = (float)line->along.x;
    const float y = (float)line->along.y;
    size_t likely = 0;

    for (size_t i = 0; i < segs->count; i++)
        if (fabsf(w->along[i][0] * x + w->along[i][1] * y) > LIKELY_COS)
            w->likely[likely++] = (uint32_t)i;
    memset(w->member, 0, likely * sizeof *w->member);
    return likely;
}

/*
 * Takes in the segments on the continuation of the line, which begins with segment `seed`. A page's
 * side and the grain of the wood beyond it may touch at a small angle: newcomers that would draw
 * the line away from what it had are left alone. Members that lie on the line in the end are
 * taken: they begin no line of their own.
 */
static void extend(sl_line *line, const sl_segment *seed, sl_segments *segs, workshop *w)
{
    const size_t likely = find_likely(w, line, segs);
    size_t had = 0;

    for (int pass = 0; pass < 4; pass++) {
        const sl_line last = *line;
        size_t joined = 0;
        size_t stay = 0;
        size_t knots = 0;

        for (size_t i = 0; i < likely; i++) {
            const sl_segment *seg = &segs->item[w->likely[i]];

            if (w->member[i] == 0 && joins(line, seed->strength, w->bridge, seg))
                w->member[i] = (unsigned char)(pass + 1);
            if (w->member[i] != 0) {
                joined++;
                for (size_t k = 0; k < seg->knots; k++)
                    w->knot[knots++] = seg->knot[k];
            }
        }
        if (joined == had)
            break;
        refit(line, w->knot, knots);
        for (size_t i = 0; i < likely; i++)
            stay += w->member[i] != 0 && w->member[i] <= pass
                    && holds(line, &segs->item[w->likely[i]]);
        if (stay * 10 < had * 9 || !holds(line, seed)) {
            *line = last;
            break;
        }
        had = joined;
    }
    for (size_t i = 0; i < likely; i++)
        if (w->member[i] != 0 && holds(line, &segs->item[w->likely[i]]))
            segs->item[w->likely[i]].taken = true;
}

static bool same_line(const sl_line *a, const sl_line *b)
{
    const double ends[2] = { b->start, b->end };

    for (int k = 0; k < 2; k++) {
        double t;
        double offset;

        place_on_line(&t, &offset, a, sl_line_point(b, ends[k]));
        if (fabs(offset) > 1.5 || t < a->start - 8 || t > a->end + 8)
            return false;
    }
    return true;
}

/*
 * Does a finer line, as bold, run along most of the line? Then it tells better where the
 * edge is: what a coarse copy adds beside it is a mean of two edges that lie close together.
 */
static bool is_known(const sl_line *line, const sl_line *finer, size_t count)
{
    enum { PLACES = 16 };

    for (size_t k = 0; k < count; k++) {
        const sl_line *f = &finer[k];
        int near = 0;

        if (f->boldness < AS_BOLD * line->boldness
            || fabs(f->along.x * line->along.x + f->along.y * line->along.y) < ALONGSIDE_COS)
            continue;
        for (int i = 0; i < PLACES; i++) {
            const double at = line->start + (i + 0.5) / PLACES * (line->end - line->start);
            double t;
            double offset;

            place_on_line(&t, &offset, f, sl_line_point(line, at));
            near += fabs(offset) < ALONGSIDE && t > f->start - 8 && t < f->end + 8;
        }
        if (near >= PLACES * 3 / 4)
            return true;
    }
    return false;
}

/* Strength of the edge of the line's direction within 3 px of the place; 0 when there is none.
   cos2, sin2: of twice the angle of `across` */
static float edge_near(const sl_small *small, sl_point p, sl_point across, float cos2, float sin2)
{
    const double right = (double)small->width - 1;
    const double low = (double)small->height - 1;
    const bool inside = p.x >= 3 && p.y >= 3 && p.x <= right - 3 && p.y <= low - 3;
    float best = 0;

    for (int d = -3; d <= 3; d++) {
        const double x = p.x + d * across.x;
        const double y = p.y + d * across.y;
        size_t i;
        float agree;

        if (!inside && (x < 0 || y < 0 || x > right || y > low))
            continue;
        i = (size_t)(int)(y + 0.5) * small->width + (size_t)(int)(x + 0.5);
        agree = small->twice[2 * i] * cos2 + small->twice[2 * i + 1] * sin2;
        /* no branch: it would wait for memory */
        best = (small->strength[i] > best) & (agree > 0.6f) ? small->strength[i] : best;
    }
    return best >= (float)small->threshold ? best : 0;
}

enum { PLACES = 24 };

/* Share of the colours that are one paper. */
static double one_paper(float colour[PLACES][3], const sl_small *small)
{
    float channel[PLACES];
    float paper[3];
    int like = 0;

    for (int c = 0; c < 3; c++) {
        for (int i = 0; i < PLACES; i++)
            channel[i] = colour[i][c];
        paper[c] = sl_median_code(channel, PLACES);
    }
    for (int i = 0; i < PLACES; i++)
        like += sl_same_paper(colour[i], paper, small->noise);
    return (double)like / PLACES;
}

/*
 * Is the line one of a pattern? What lies on both sides of a cutting mat's rule is the same,
 * however bold it is; on neither side of a line of checks is there one colour.
 * usual  its strength, codes per px
 */
static void see_pattern(sl_line *line, double usual, const sl_small *small)
{
    const sl_point across = across_of(line->along);
    float side[2][PLACES][3];
    int same = 0;

    for (int i = 0; i < PLACES; i++) {
        const double t = line->start + (i + 0.5) / PLACES * (line->end - line->start);
        const sl_point p = sl_line_point(line, t);

        for (int k = 0; k < 2; k++) {
            const double d = k == 0 ? -BESIDE : BESIDE;

            sl_small_colour(side[k][i], small,
                            (sl_point){ p.x + d * across.x, p.y + d * across.y });
        }
        same += sl_colour_distance(side[0][i], side[1][i]) < DRAWN * usual;
    }
    line->drawn = same > PLACES * 2 / 3;
    line->checked = fmax(one_paper(side[0], small), one_paper(side[1], small)) < ONE_COLOUR;
}

/*
 * Support along the whole line. An edge weaker than the line's own counts for little: on rough
 * ground there is some edge everywhere, and a page's side would never seem to end.
 */
static sl_status add_support(sl_line *line, const sl_small *small, sl_error *err)
{
    const size_t entries = 2 * (small->width + small->height) + 1;
    float *seen = malloc(entries * sizeof *seen);
    const sl_point across = across_of(line->along);
    const float cos2 = (float)(across.x * across.x - across.y * across.y);
    const float sin2 = (float)(2 * across.x * across.y);
    size_t count = 0;
    float usual = 0;
    float sum = 0;

    line->reach = (int)(small->width + small->height);
    line->support = calloc(entries, sizeof *line->support);
    if (line->support == NULL || seen == NULL) {
        free(seen);
        free(line->support);
        line->support = NULL;
        return sl_fail(err, SL_ERR_NOMEM, "border", "out of memory");
    }
    /* every other px: edges that matter are hundreds of px long */
    for (int t = -line->reach; t < line->reach && !line->frame; t += 2) {
        const sl_point p = sl_line_point(line, t + 0.5);
        float s;

        if (p.x < -3 || p.y < -3 || p.x > (double)small->width + 2
            || p.y > (double)small->height + 2)
            continue;
        s = edge_near(small, p, across, cos2, sin2);
        line->support[t + line->reach] = line->support[t + line->reach + 1] = s;
        if (s > 0 && t >= line->start && t <= line->end)
            seen[count++] = s;
    }
    if (count > 0)
        usual = sl_select(seen, (ptrdiff_t)count, (ptrdiff_t)count / 2);
    for (size_t i = 0; i < entries; i++) {
        const float s = line->support[i];

        sum += s >= usual ? (s > 0 ? 1 : 0) : s * s / (usual * usual);
        line->support[i] = sum;
    }
    free(seen);
    line->weight = sl_line_support(line, line->start, line->end);
    line->boldness = line->frame ? SL_BOLDEST : sl_boldness((double)usual, small);
    line->weight *= line->weight / (line->end - line->start) * line->boldness;
    if (!line->frame)
        see_pattern(line, (double)usual, small);
    return SL_OK;
}

double sl_line_support(const sl_line *line, double t0, double t1)
{
    const int most = 2 * line->reach;
    const int first = (int)(t0 + line->reach + 0.5);
    const int last = (int)(t1 + line->reach + 0.5);
    const int a = first < 0 ? 0 : first > most ? most : first;
    const int b = last < 0 ? 0 : last > most ? most : last;

    return b > a ? line->support[b] - line->support[a] : 0;
}

static sl_line frame_line(const sl_small *small, sl_side side)
{
    const double w = (double)small->width - 1;
    const double h = (double)small->height - 1;
    const bool level = side == SL_TOP || side == SL_BOTTOM;
    const double half = (level ? w : h) / 2;

    return (sl_line){ .origin = { side == SL_RIGHT ? w : side == SL_LEFT ? 0 : w / 2,
                                  side == SL_BOTTOM ? h : side == SL_TOP ? 0 : h / 2 },
                      .along = { level ? 1 : 0, level ? 0 : 1 },
                      .start = -half, .end = half, .frame = true };
}

static int by_weight(const void *a, const void *b)
{
    const sl_line *l = a;
    const sl_line *m = b;

    if (l->weight != m->weight)
        return l->weight < m->weight ? 1 : -1;
    if (l->origin.y != m->origin.y)
        return l->origin.y < m->origin.y ? -1 : 1;
    return (l->origin.x > m->origin.x) - (l->origin.x < m->origin.x);
}

void sl_lines_clear(sl_lines *lines)
{
    for (size_t i = 0; i < lines->count; i++)
        free(lines->line[i].support);
    free(lines->line);
    *lines = (sl_lines){ NULL, 0 };
}

/* A line of one segment; a short one says too little of its direction itself. */
static sl_line first_line(const sl_segment *seg)
{
    sl_line line = { .origin = seg->knot[seg->knots / 2], .along = seg->along,
                     .start = -seg->length / 2, .end = seg->length / 2 };

    if (seg->length >= LONG)
        refit(&line, seg->knot, seg->knots);
    return line;
}

/*
 * On a ruled table most lines are drawn, on a checked one many run between checks, and they leave
 * no room for the page's own: there they count for less. Elsewhere a few are, and one may be a
 * white page's side on a white table, told by its shadow.
 */
static void weigh_pattern(sl_lines *lines)
{
    size_t drawn = 0;
    size_t checked = 0;

    for (size_t i = 0; i < lines->count; i++) {
        drawn += lines->line[i].drawn;
        checked += lines->line[i].checked;
    }
    for (size_t i = 0; i < lines->count; i++) {
        sl_line *line = &lines->line[i];

        line->drawn = line->drawn && (double)drawn > RULED * (double)lines->count;
        line->checked = line->checked && (double)checked > CHECKED * (double)lines->count;
        line->weight *= line->drawn || line->checked ? PATTERN_WEIGHT : 1;
    }
}

static void scale_line(sl_line *line, double factor)
{
    line->origin.x = (line->origin.x + 0.5) * factor - 0.5;
    line->origin.y = (line->origin.y + 0.5) * factor - 0.5;
    line->bow /= factor;
    line->start *= factor;
    line->end *= factor;
}

/* One of the WAYS in which a line or segment may run. */
static size_t way_of(sl_point along)
{
    const double turn = atan2(along.y, along.x) / 3.14159265358979 + 1;     /* 0..2 */

    return (size_t)(turn * WAYS) % WAYS;
}

/*
 * Lines of a copy `factor` coarser than the small one, in px of that: `seeds` are begun. The
 * stripes of a cloth or the grain of wood may take all of them, and a page has sides of two
 * directions: a few more are begun for the others.
 */
static sl_status add_lines(sl_lines *out, const sl_small *copy, size_t factor, size_t seeds,
                           const sl_small *small, sl_error *err)
{
    sl_segments segs = { NULL, 0 };
    workshop shop = { NULL, NULL, NULL, NULL, 0 };
    const size_t finer = factor > 1 ? out->count : 0;
    size_t begun[WAYS] = { 0 };
    size_t all = 0;
    sl_status st = sl_segments_find(&segs, copy, err);

    if (st == SL_OK && !workshop_new(&shop, &segs, GAP / (double)factor))
        st = sl_fail(err, SL_ERR_NOMEM, "border", "out of memory");
    for (size_t i = 0; st == SL_OK && i < segs.count && all < seeds + seeds / MORE; i++) {
        const size_t way = way_of(segs.item[i].along);
        sl_line line;
        bool fresh = true;

        if (segs.item[i].taken || begun[way] >= seeds * MANY / OF
            || (all >= seeds && begun[way] >= seeds / FEW))
            continue;
        all++;
        begun[way]++;
        line = first_line(&segs.item[i]);
        extend(&line, &segs.item[i], &segs, &shop);
        scale_line(&line, (double)factor);
        for (size_t k = 0; k < out->count && fresh; k++)
            fresh = !same_line(&out->line[k], &line);
        if (!fresh)
            continue;
        st = add_support(&line, small, err);
        if (st == SL_OK && !is_known(&line, out->line, finer))
            out->line[out->count++] = line;
        else
            free(line.support);
    }
    workshop_clear(&shop);
    sl_segments_clear(&segs);
    return st;
}

sl_status sl_lines_find(sl_lines *out, const sl_small *small, sl_error *err)
{
    sl_small *coarse = NULL;
    sl_status st = sl_small_coarser(&coarse, small, COARSER, err);

    *out = (sl_lines){ calloc(LINES_MOST, sizeof *out->line), 0 };
    if (st == SL_OK && out->line == NULL)
        st = sl_fail(err, SL_ERR_NOMEM, "border", "out of memory");
    if (st == SL_OK)
        st = add_lines(out, small, 1, SEEDS, small, err);
    if (st == SL_OK && coarse != NULL)
        st = add_lines(out, coarse, COARSER, SEEDS_COARSE, small, err);
    sl_small_free(coarse);
    if (st == SL_OK) {
        weigh_pattern(out);
        qsort(out->line, out->count, sizeof *out->line, by_weight);
        while (out->count > LINES_MAX)
            free(out->line[--out->count].support);
        for (int side = 0; side < 4 && st == SL_OK; side++) {
            sl_line line = frame_line(small, (sl_side)side);

            st = add_support(&line, small, err);
            if (st == SL_OK)
                out->line[out->count++] = line;
        }
    }
    if (st != SL_OK)
        sl_lines_clear(out);
    return st;
}
