/*
 * Segments: regions of px whose gradient directions agree, grown from the strongest px (region
 * growing after Burns, Hanson & Riseman, PAMI 8(4), 1986; tolerance 22.5 degrees as in von Gioi et
 * al., PAMI 32(4), 2010). No rectangle is demanded of a region, only that it is long and thin: a
 * bowed edge stays one segment.
 *
 * Which of them lie together is told by votes for lines (Duda & Hart, CACM 15(1), 1972): a short
 * segment for all directions that it may have, a long one for its own.
 */
#include "border/segments.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/error.h"

enum {
    STRENGTH_BINS = 512,
    SEGMENTS_MAX = 4000,
    LEAST_BRANCH = 40,       /* px */
    DIRECTIONS = 180         /* of the votes, a degree each */
};

static const double COS_TWICE_TOLERANCE = 0.70710678; /* cos of twice 22.5 degrees */
static const float FLANK = 0.25f;                     /* of a region's boldest px: no part of it */
static const double LEAST_LENGTH = 9;                 /* of a segment, px */
static const double THINNEST = 0.10;                  /* its rms width over its length, at most */
static const double BEND = 2;                         /* px off the chord, to be cut in two */
static const double FORKED = 100;                     /* px: no shorter region is looked at for it */
static const double TWO_WAYS = 0.24;                  /* sine of twice 7 degrees between two ways */
static const double WIDE = 2;                         /* px, rms in a slice: no edge is so wide */
static const double THIN = 1.5;                       /* px, rms about its course: one edge */
static const double PEEL_WIDTH = 4.5;                 /* px to one of its length: several edges */
static const double PEEL_ANGLE = 15;                  /* degrees of a course to its region ... */
static const double PEEL_STEP = 0.75;                 /* ... in steps of so many */
static const double PEEL_FORK = 0.07;                 /* tangent of 4 degrees: two ways */
static const double PEEL_PX = 1.5;                    /* across a course */
static const double PEEL_GAP = 10;                    /* px along it */
static const double VOTE_PX = 3;                      /* across a line */
static const double VOTE_ERROR = 45;                  /* degrees of direction error times length */

static size_t strength_bin(float strength)
{
    const float q = strength * 4;                     /* bins per code */

    return STRENGTH_BINS - 1 - (q < STRENGTH_BINS - 1 ? (size_t)q : STRENGTH_BINS - 1);
}

/* px in order of falling strength, by counting sort; only those over the threshold. The others
   are `used`: no region may take them. */
static uint32_t *strongest_first(const sl_small *small, unsigned char *used, size_t *count)
{
    const size_t n = small->width * small->height;
    const float least = (float)small->threshold;
    size_t start[STRENGTH_BINS] = { 0 };
    uint32_t *order;
    size_t total = 0;

    for (size_t i = 0; i < n; i++) {
        used[i] = !(small->strength[i] >= least);
        if (!used[i])
            start[strength_bin(small->strength[i])]++;
    }
    for (size_t k = 0; k < STRENGTH_BINS; k++) {
        const size_t here = start[k];

        start[k] = total;
        total += here;
    }
    order = malloc((total + 1) * sizeof *order);
    if (order == NULL)
        return NULL;
    for (size_t i = 0; i < n; i++)
        if (!used[i])
            order[start[strength_bin(small->strength[i])]++] = (uint32_t)i;
    *count = total;
    return order;
}

/*
 * Grows one region from `seed` into member[], of px that are not `used`; returns its size. A bold
 * edge takes no part in the faint grain of what it borders on; px too faint for it that touch it
 * are its own flanks, and are used up.
 */
static size_t grow(uint32_t *member, const sl_small *small, unsigned char *used, uint32_t seed)
{
    const ptrdiff_t w = (ptrdiff_t)small->width;
    const float least = FLANK * small->strength[seed];
    double cos2 = small->twice[2 * seed];
    double sin2 = small->twice[2 * seed + 1];
    size_t count = 1;

    member[0] = seed;
    used[seed] = 1;
    for (size_t k = 0; k < count; k++) {
        const uint32_t p = member[k];
        const double norm = sqrt(cos2 * cos2 + sin2 * sin2);

        for (int dy = -1; dy <= 1; dy++) {
            for (int dx = -1; dx <= 1; dx++) {
                /* strength is 0 on the frame, so that it is used and p never on it */
                const size_t q = (size_t)((ptrdiff_t)p + w * dy + dx);

                if (used[q])
                    continue;
                if (small->twice[2 * q] * cos2 + small->twice[2 * q + 1] * sin2
                    < COS_TWICE_TOLERANCE * norm)
                    continue;
                used[q] = 1;
                if (small->strength[q] < least)
                    continue;
                cos2 += small->twice[2 * q];
                sin2 += small->twice[2 * q + 1];
                member[count++] = (uint32_t)q;
            }
        }
    }
    return count;
}

double sl_boldness(double strength, const sl_small *small)
{
    return fmin(fmax(sqrt(strength / small->threshold), 1), SL_BOLDEST);
}

/* Principal axis of a region, weighted by strength; false when it is no long thin thing. */
static bool measure(sl_segment *seg, const sl_small *small, const uint32_t *member, size_t count)
{
    const uint32_t w = (uint32_t)small->width;
    double sum = 0;
    double mx = 0;
    double my = 0;
    double cxx = 0;
    double cxy = 0;
    double cyy = 0;
    double t0 = 1e30;
    double t1 = -1e30;
    double weight[SL_KNOTS_MAX] = { 0 };

    for (size_t k = 0; k < count; k++) {
        const double s = small->strength[member[k]];

        sum += s;
        mx += s * (double)(member[k] % w);
        my += s * (double)(member[k] / w);
    }
    mx /= sum;
    my /= sum;
    seg->strength = sum / (double)count;
    for (size_t k = 0; k < count; k++) {
        const double s = small->strength[member[k]];
        const double dx = (double)(member[k] % w) - mx;
        const double dy = (double)(member[k] / w) - my;

        cxx += s * dx * dx;
        cxy += s * dx * dy;
        cyy += s * dy * dy;
    }
    {
        const double angle = 0.5 * atan2(2 * cxy, cxx - cyy);
        const double root = sqrt((cxx - cyy) * (cxx - cyy) + 4 * cxy * cxy);

        seg->along = (sl_point){ cos(angle), sin(angle) };
        seg->length = sqrt(fmax(0, (cxx + cyy - root) / (2 * sum))); /* width for now */
    }
    for (size_t k = 0; k < count; k++) {
        const double t = ((double)(member[k] % w) - mx) * seg->along.x
                         + ((double)(member[k] / w) - my) * seg->along.y;

        t0 = fmin(t0, t);
        t1 = fmax(t1, t);
    }
    if (t1 - t0 < LEAST_LENGTH || seg->length > THINNEST * (t1 - t0) + 0.5)
        return false;
    seg->length = t1 - t0;
    seg->worth = seg->length * sl_boldness(seg->strength, small);
    seg->knots = (size_t)fmin(fmax(2, seg->length / 12), SL_KNOTS_MAX);
    seg->taken = false;
    memset(seg->knot, 0, sizeof seg->knot);
    for (size_t k = 0; k < count; k++) {
        const double s = small->strength[member[k]];
        const double x = (double)(member[k] % w);
        const double y = (double)(member[k] / w);
        const double t = (x - mx) * seg->along.x + (y - my) * seg->along.y;
        size_t i = (size_t)((t - t0) / seg->length * (double)seg->knots);

        if (i >= seg->knots)
            i = seg->knots - 1;
        seg->knot[i].x += s * x;
        seg->knot[i].y += s * y;
        weight[i] += s;
    }
    {
        size_t kept = 0;

        for (size_t i = 0; i < seg->knots; i++)
            if (weight[i] > 0)
                seg->knot[kept++] = (sl_point){ seg->knot[i].x / weight[i],
                                                seg->knot[i].y / weight[i] };
        seg->knots = kept;
    }
    return seg->knots >= 2;
}

/* What is whole counts for more than what would have to be put together. */
static int by_promise(const void *a, const void *b)
{
    const sl_segment *s = a;
    const sl_segment *t = b;

    const double p = s->together + 2 * s->worth;
    const double q = t->together + 2 * t->worth;

    if (p != q)
        return p < q ? 1 : -1;
    /* equals: by place, so that the order never depends on the sort */
    if (s->knot[0].y != t->knot[0].y)
        return s->knot[0].y < t->knot[0].y ? -1 : 1;
    return (s->knot[0].x > t->knot[0].x) - (s->knot[0].x < t->knot[0].x);
}

/* Distance of a segment's knot from the chord of its first and last. */
static double off_chord(const sl_segment *seg, size_t k)
{
    const sl_point a = seg->knot[0];
    const sl_point b = seg->knot[seg->knots - 1];

    return fabs((b.x - a.x) * (seg->knot[k].y - a.y) - (b.y - a.y) * (seg->knot[k].x - a.x))
           / hypot(b.x - a.x, b.y - a.y);
}

static sl_segment part_of(const sl_segment *seg, size_t first, size_t last,
                          const sl_small *small)
{
    sl_segment part = { .knots = last - first + 1, .strength = seg->strength };
    const double dx = seg->knot[last].x - seg->knot[first].x;
    const double dy = seg->knot[last].y - seg->knot[first].y;

    memcpy(part.knot, seg->knot + first, part.knots * sizeof *part.knot);
    part.length = hypot(dx, dy);
    part.along = (sl_point){ dx / part.length, dy / part.length };
    part.worth = part.length * sl_boldness(part.strength, small);
    return part;
}

/*
 * A region may turn a corner of a few degrees: where a page's side meets a seam of the table. Its
 * two parts become segments too, beside the whole, for a bowed side looks much the same.
 */
static void add_parts(sl_segments *out, size_t whole, const sl_small *small)
{
    const sl_segment seg = out->item[whole];
    size_t at = 0;

    for (size_t k = 1; k + 1 < seg.knots; k++)
        if (off_chord(&seg, k) > fmax(BEND, at > 0 ? off_chord(&seg, at) : 0))
            at = k;
    if (at == 0 || out->count + 2 > SEGMENTS_MAX)
        return;
    if (at >= 2)
        out->item[out->count++] = part_of(&seg, 0, at - 1, small);
    if (at + 3 <= seg.knots)
        out->item[out->count++] = part_of(&seg, at + 1, seg.knots - 1, small);
}

/*
 * Parts a region's px by their directions into two (two means, on the doubled angle); returns how
 * many come first, or 0 when the directions are of one kind.
 */
static size_t part_ways(uint32_t *member, const sl_small *small, size_t count)
{
    double x = 0;
    double y = 0;
    double low = -0.1;
    double high = 0.1;
    size_t first = 0;

    for (size_t k = 0; k < count; k++) {
        x += (double)small->twice[2 * member[k]];
        y += (double)small->twice[2 * member[k] + 1];
    }
    {
        const double norm = sqrt(x * x + y * y);

        if (!(norm > 0))
            return 0;
        x /= norm;
        y /= norm;
    }
    for (int pass = 0; pass < 6; pass++) {
        const double between = (low + high) / 2;
        double sum[2] = { 0, 0 };
        size_t part[2] = { 0, 0 };

        for (size_t k = 0; k < count; k++) {
            const double c = (double)small->twice[2 * member[k]];
            const double d = (double)small->twice[2 * member[k] + 1];
            /* sine of the doubled angle from the region's own: small angles */
            const double off = x * d - y * c;
            const int which = off > between;

            sum[which] += off;
            part[which]++;
        }
        if (part[0] < LEAST_BRANCH || part[1] < LEAST_BRANCH)
            return 0;
        low = sum[0] / (double)part[0];
        high = sum[1] / (double)part[1];
    }
    if (high - low < TWO_WAYS)
        return 0;
    for (size_t k = 0; k < count; k++) {
        const double off = x * (double)small->twice[2 * member[k] + 1]
                           - y * (double)small->twice[2 * member[k]];

        if (off <= (low + high) / 2) {
            const uint32_t swap = member[first];

            member[first++] = member[k];
            member[k] = swap;
        }
    }
    return first;
}

/* Where px `p` lies about a segment: along it from its first knot, and across. */
static void place_on_segment(double *t, double *offset, const sl_segment *seg, uint32_t p,
                             uint32_t width)
{
    const double dx = (double)(p % width) - seg->knot[0].x;
    const double dy = (double)(p / width) - seg->knot[0].y;

    *t = dx * seg->along.x + dy * seg->along.y;
    *offset = dy * seg->along.x - dx * seg->along.y;
}

/* Straight course, offset = at[0] + at[1] t, of the px so marked; false when they have none. */
static bool fit_course(double at[2], const sl_segment *seg, const uint32_t *member,
                       const unsigned char *mark, unsigned char which, size_t count, uint32_t width)
{
    double m[3] = { 0, 0, 0 };
    double v[2] = { 0, 0 };
    double det;

    for (size_t k = 0; k < count; k++) {
        double t;
        double offset;

        if (mark[k] != which)
            continue;
        place_on_segment(&t, &offset, seg, member[k], width);
        m[0] += 1;
        m[1] += t;
        m[2] += t * t;
        v[0] += offset;
        v[1] += t * offset;
    }
    det = m[0] * m[2] - m[1] * m[1];
    if (m[0] < LEAST_BRANCH || !(det > 1e-6 * m[0] * m[2]))
        return false;
    at[0] = (v[0] * m[2] - v[1] * m[1]) / det;
    at[1] = (v[1] * m[0] - v[0] * m[1]) / det;
    return true;
}

/*
 * Parts a region's px into two courses that touch or run together for a while, at an angle too
 * small for their directions to tell; returns how many come first, or 0 when the region is no wider
 * than one edge. A bowed side is none: it is as thin as any in every slice along it.
 * mark  scratch, of `count`
 */
static size_t part_courses(uint32_t *member, unsigned char *mark, const sl_small *small,
                           const sl_segment *seg, size_t count)
{
    enum { SLICES = 16, PASSES = 5 };
    const uint32_t width = (uint32_t)small->width;
    double mean[SLICES] = { 0 };
    double n[SLICES] = { 0 };
    double at[2][2];
    double variance = 0;
    double left = 0;
    size_t first = 0;

    for (int pass = 0; pass < 2; pass++) {
        for (size_t k = 0; k < count; k++) {
            double t;
            double offset;
            int i;

            place_on_segment(&t, &offset, seg, member[k], width);
            i = (int)fmin(fmax(t / seg->length * SLICES, 0), SLICES - 1);
            if (pass == 0) {
                mean[i] += offset;
                n[i]++;
                continue;
            }
            variance += (offset - mean[i] / n[i]) * (offset - mean[i] / n[i]);
            mark[k] = offset > mean[i] / n[i];
        }
    }
    if (variance < WIDE * WIDE * (double)count)
        return 0;
    for (int pass = 0; pass < PASSES; pass++) {
        left = 0;
        if (!fit_course(at[0], seg, member, mark, 0, count, width)
            || !fit_course(at[1], seg, member, mark, 1, count, width))
            return 0;
        for (size_t k = 0; k < count; k++) {
            double t;
            double offset;
            double off[2];

            place_on_segment(&t, &offset, seg, member[k], width);
            off[0] = fabs(offset - at[0][0] - at[0][1] * t);
            off[1] = fabs(offset - at[1][0] - at[1][1] * t);
            mark[k] = off[1] < off[0];
            left += off[mark[k]] * off[mark[k]];
        }
    }
    if (left > THIN * THIN * (double)count)
        return 0;            /* more than two */
    for (size_t k = 0; k < count; k++) {
        if (mark[k] == 0) {
            const uint32_t swap = member[first];

            member[first] = member[k];
            member[k] = swap;
            mark[k] = mark[first];
            mark[first++] = 0;
        }
    }
    return first;
}

/* The line that most of a region's px lie on, as offset = at[0] + at[1] t about `seg`; returns how
   many lie near it. */
static size_t richest_course(double at[2], const sl_segment *seg, const uint32_t *member,
                             size_t count, uint32_t width)
{
    enum { OFFSETS = 128 };
    size_t most = 0;

    for (double degrees = -PEEL_ANGLE; degrees <= PEEL_ANGLE; degrees += PEEL_STEP) {
        const double slope = tan(degrees / 57.29577951308232);
        size_t cell[OFFSETS + 1] = { 0 };

        for (size_t k = 0; k < count; k++) {
            double t;
            double offset;
            double bin;

            place_on_segment(&t, &offset, seg, member[k], width);
            bin = (offset - slope * (t - seg->length / 2)) / PEEL_PX + OFFSETS / 2;
            if (bin >= 0 && bin < OFFSETS)
                cell[(size_t)bin]++;
        }
        for (size_t i = 0; i < OFFSETS; i++) {
            if (cell[i] + cell[i + 1] > most) {
                most = cell[i] + cell[i + 1];
                at[1] = slope;
                at[0] = ((double)i + 1 - OFFSETS / 2) * PEEL_PX - slope * seg->length / 2;
            }
        }
    }
    return most;
}

/* Moves the px of a course's longest stretch to the front; returns how many they are. */
static size_t take_course(uint32_t *member, const double at[2], const sl_segment *seg, size_t count,
                          uint32_t width)
{
    enum { PLACES = 2048 };
    unsigned char seen[PLACES] = { 0 };
    int from = 0;
    int end = -1;
    int begin = -1;
    int last = -1;
    size_t first = 0;

    for (size_t k = 0; k < count; k++) {
        double t;
        double offset;

        place_on_segment(&t, &offset, seg, member[k], width);
        if (fabs(offset - at[0] - at[1] * t) <= PEEL_PX)
            seen[(size_t)fmin(fmax(t, 0), PLACES - 1)] = 1;
    }
    for (int i = 0; i < PLACES; i++) {
        if (!seen[i])
            continue;
        if (begin < 0 || i - last > PEEL_GAP)
            begin = i;
        last = i;
        if (last - begin > end - from) {
            from = begin;
            end = last;
        }
    }
    for (size_t k = 0; k < count; k++) {
        double t;
        double offset;

        place_on_segment(&t, &offset, seg, member[k], width);
        if (fabs(offset - at[0] - at[1] * t) <= PEEL_PX && fmax(t, 0) >= from
            && fmax(t, 0) < end + 1) {
            const uint32_t swap = member[first];

            member[first++] = member[k];
            member[k] = swap;
        }
    }
    return first;
}

/*
 * Takes the courses out of a region one after the other, the richest first: a page's side and the
 * stripes of the cloth that meet it at a small angle. Nothing is added when they all run one way.
 */
static void peel(sl_segments *out, const sl_segment *whole, const sl_small *small,
                 uint32_t *member, size_t count)
{
    enum { COURSES = 6 };
    const size_t before = out->count;
    const uint32_t width = (uint32_t)small->width;
    double way = 0;
    bool fork = false;

    for (int course = 0; course < COURSES && out->count < SEGMENTS_MAX; course++) {
        double at[2];
        size_t taken;

        if (richest_course(at, whole, member, count, width) < LEAST_BRANCH)
            break;
        taken = take_course(member, at, whole, count, width);
        if (taken < LEAST_BRANCH)
            break;
        if (measure(&out->item[out->count], small, member, taken)) {
            if (course == 0)
                way = at[1];
            fork = fork || fabs(at[1] - way) > PEEL_FORK;
            out->count++;
        }
        member += taken;
        count -= taken;
    }
    if (!fork)
        out->count = before;
}

/* A seam of the table that meets a page's side at a small angle grows into one region with it:
   each way of such a fork is a segment too. */
static void add_branches(sl_segments *out, const sl_segment *whole, const sl_small *small,
                         uint32_t *member, unsigned char *mark, size_t count)
{
    size_t first = part_ways(member, small, count);

    if (first == 0)
        first = part_courses(member, mark, small, whole, count);
    if (first > 0 && out->count + 2 <= SEGMENTS_MAX) {
        out->count += measure(&out->item[out->count], small, member, first);
        out->count += measure(&out->item[out->count], small, member + first, count - first);
    }
    if ((double)count > PEEL_WIDTH * whole->length)
        peel(out, whole, small, member, count);
}

/* Votes for lines by their direction and distance from the picture's corner. */
typedef struct votes {
    float   *cell;           /* [DIRECTIONS][distances] */
    size_t   distances;
    double   zero;           /* distance of the first cell, px */
    sl_point along[DIRECTIONS]; /* unit vectors */
} votes;

/* Directions that a segment votes for: first .. first + count - 1, wrapped round. */
static void ballot(int *first, int *count, double *error, const sl_segment *seg)
{
    const double degrees = atan2(seg->along.y, seg->along.x) * 57.29577951308232;

    *error = fmin(fmax(VOTE_ERROR / seg->length, 0.5), 6);
    *first = (int)lround(degrees - *error);
    *count = (int)lround(degrees + *error) - *first + 1;
}

static float *cell_of(const votes *v, const sl_segment *seg, int direction)
{
    const int wrapped = ((direction % DIRECTIONS) + DIRECTIONS) % DIRECTIONS;
    const sl_point along = v->along[wrapped];
    const sl_point middle = seg->knot[seg->knots / 2];
    const double distance = middle.y * along.x - middle.x * along.y;
    const size_t k = (size_t)((distance - v->zero) / VOTE_PX);

    return &v->cell[(size_t)wrapped * v->distances + k];
}

/* Gives each segment the worth of the richest line that it may lie on, and that line's way. */
static bool vote(sl_segments *segs, const sl_small *small)
{
    const double most = (double)(small->width + small->height);
    votes v = { .distances = (size_t)(2 * most / VOTE_PX) + 3, .zero = -most - VOTE_PX };

    v.cell = calloc(DIRECTIONS * v.distances, sizeof *v.cell);
    if (v.cell == NULL)
        return false;
    for (int d = 0; d < DIRECTIONS; d++)
        v.along[d] = (sl_point){ cos(d / 57.29577951308232), sin(d / 57.29577951308232) };
    for (size_t i = 0; i < segs->count; i++) {
        const sl_segment *seg = &segs->item[i];
        int first;
        int count;
        double error;

        ballot(&first, &count, &error, seg);
        for (int k = 0; k < count; k++)
            *cell_of(&v, seg, first + k) += (float)seg->worth;
    }
    for (size_t i = 0; i < segs->count; i++) {
        sl_segment *seg = &segs->item[i];
        int first;
        int count;
        int best = 0;
        double error;

        ballot(&first, &count, &error, seg);
        seg->together = 0;
        for (int k = 0; k < count; k++) {
            const float *cell = cell_of(&v, seg, first + k);
            /* a line's votes fall into two neighbours as often as into one */
            const double here = (double)(*cell + fmaxf(cell[-1], cell[1]));

            if (here > seg->together) {
                seg->together = here;
                best = first + k;
            }
        }
        if (error > 1) {
            const double angle = best / 57.29577951308232;

            seg->along = (sl_point){ cos(angle), sin(angle) };
        }
    }
    free(v.cell);
    return true;
}

void sl_segments_clear(sl_segments *segs)
{
    free(segs->item);
    *segs = (sl_segments){ NULL, 0 };
}

sl_status sl_segments_find(sl_segments *out, const sl_small *small, sl_error *err)
{
    const size_t n = small->width * small->height;
    size_t total = 0;
    unsigned char *used = malloc(n);
    uint32_t *order = used != NULL ? strongest_first(small, used, &total) : NULL;
    uint32_t *member = malloc((total + 1) * sizeof *member);
    unsigned char *mark = malloc(total + 1);
    sl_status st = SL_OK;

    out->count = 0;
    out->item = malloc(SEGMENTS_MAX * sizeof *out->item);
    if (order == NULL || member == NULL || mark == NULL || used == NULL
        || out->item == NULL) {
        st = sl_fail(err, SL_ERR_NOMEM, "border", "out of memory");
        goto done;
    }
    for (size_t k = 0; k < total && out->count < SEGMENTS_MAX; k++) {
        if (!used[order[k]]) {
            const size_t count = grow(member, small, used, order[k]);

            if (count >= (size_t)LEAST_LENGTH
                && measure(&out->item[out->count], small, member, count)) {
                const size_t whole = out->count++;

                add_parts(out, whole, small);
                if (out->item[whole].length >= FORKED)
                    add_branches(out, &out->item[whole], small, member, mark, count);
            }
        }
    }
    if (!vote(out, small))
        st = sl_fail(err, SL_ERR_NOMEM, "border", "out of memory");
    else
        qsort(out->item, out->count, sizeof *out->item, by_promise);
done:
    free(used);
    free(mark);
    free(member);
    free(order);
    return st;
}

