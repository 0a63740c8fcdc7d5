/*
 * A hypothesis measured along its whole sides: is there an edge, does its step stay beyond it, is
 * one paper just inside, something else outside.
 */
#include "border/sides.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "border/select.h"

enum {
    LANES = 4,               /* floats that are compared at a time */
    OFFSETS_MAX = 61,        /* places across a side, at most */
    ROW = OFFSETS_MAX + LANES - 1
};

static const double AWAY = 4;                 /* px from the edge: past its blur */
static const double AWAY_LEAST = 2;           /* ... where the picture ends before that */

static bool inside_picture(const sl_small *small, double x, double y)
{
    return x >= 1 && y >= 1 && x <= (double)small->width - 2 && y <= (double)small->height - 2;
}

/*
 * Strengths of the edges across a line of places p + d step, d = 0 .. count - 1, each at the
 * nearest px; 0 where an edge runs another way or there is none, and beyond the places.
 * cos2, sin2  of twice the angle of `step`, a unit vector
 */
static void edge_strengths(float out[ROW], const sl_small *small, sl_point p, sl_point step,
                           int count, float cos2, float sin2)
{
    const sl_point end = { p.x + (count - 1) * step.x, p.y + (count - 1) * step.y };
    const bool inside = inside_picture(small, p.x, p.y) && inside_picture(small, end.x, end.y);
    const float least = (float)(small->threshold * 0.7);
    const int w = (int)small->width;
    int at[OFFSETS_MAX];

    for (int d = 0; d < count && !inside; d++) {
        const double x = p.x + d * step.x;
        const double y = p.y + d * step.y;

        at[d] = inside_picture(small, x, y) ? (int)(y + 0.5) * w + (int)(x + 0.5) : 0;
    }
    for (int d = 0; d < count && inside; d++)
        at[d] = (int)(p.y + d * step.y + 0.5) * w + (int)(p.x + d * step.x + 0.5);
    /* across the rows every px is a cache line of its own: no branch waits for one (px 0, on the
       frame, has no strength) */
    for (int d = 0; d < count; d++) {
        const float strength = small->strength[at[d]];
        const float agree = small->twice[2 * at[d]] * cos2 + small->twice[2 * at[d] + 1] * sin2;

        out[d] = (strength >= least) & (agree >= 0.5f) ? strength : 0;
    }
    for (int d = count; d < ROW && d < count + LANES - 1; d++)
        out[d] = 0;
}

/* The px nearest to p; beyond the picture its outermost one. */
static size_t nearest_px(const sl_small *small, sl_point p)
{
    const double right = (double)small->width - 1;
    const double low = (double)small->height - 1;
    const double x = !(p.x > 0) ? 0 : p.x > right ? right : p.x;
    const double y = !(p.y > 0) ? 0 : p.y > low ? low : p.y;

    return (size_t)(int)(y + 0.5) * small->width + (size_t)(int)(x + 0.5);
}

void sl_small_colour(float rgb[3], const sl_small *small, sl_point p)
{
    const size_t i = nearest_px(small, p);

    for (int k = 0; k < 3; k++)
        rgb[k] = small->plane[k][i];
}

/*
 * The edge's course along one side by dynamic programming over `offsets` places across: the
 * strongest edge that moves by at most one place from sample to sample.
 * course out: offset index of each sample, strength out: its edge strength (0: none there)
 */
/* Of two equal edges the one nearer to the hypothesis is taken. */
static const float NEARER = 0.25f;
/* Share of the boldest edges about from which an edge is as good as any: shadows are fainter. */
static const float BOLD_ENOUGH = 0.25f;
/* What a course pays for a step aside. */
static const float SIDESTEP = 0.12f;

/* One sample further: the best sum of each place, and the step by which it was reached. `before`
   and `now` have one place more at either end, that no course takes: no bounds are asked. */
static void advance(float *restrict now, int *restrict from, const float *restrict before,
                    const float *restrict edge, const float *restrict away, float cap, int offsets)
{
    for (int d = 0; d < offsets; d++) {
        const float stay = before[d + 1];
        const float less = before[d] - SIDESTEP;
        const float more = before[d + 2] - SIDESTEP;
        const float left = less > stay ? less : stay;
        const float share = edge[d] / cap;
        const float best = more > left ? more : left;

        /* -1: less, 1: more; comparisons as numbers leave no branch */
        from[d] = (more > left) - ((less > stay) & !(more > left));
        now[d + 1] = best + (share < 1 ? share : 1) - away[d];
    }
}

static void trace(int course[SL_SIDE_SAMPLES], float strength[SL_SIDE_SAMPLES],
                  float edge[SL_SIDE_SAMPLES][ROW], int offsets, float cap)
{
    float row[2][OFFSETS_MAX + 2];
    float away[OFFSETS_MAX];
    int from[SL_SIDE_SAMPLES][OFFSETS_MAX];
    float *before = row[0];
    float *now = row[1];
    int at = 0;

    for (int d = 0; d < OFFSETS_MAX + 2; d++)
        row[0][d] = row[1][d] = d >= 1 && d <= offsets ? 0 : -1e9f;
    for (int d = 0; d < offsets; d++)
        away[d] = NEARER * fabsf((float)(2 * d - offsets + 1) / (float)offsets);
    for (int k = 0; k < SL_SIDE_SAMPLES; k++) {
        float *const swap = before;

        advance(now, from[k], before, edge[k], away, cap, offsets);
        before = now;
        now = swap;
    }
    for (int d = 1; d < offsets; d++)
        if (before[d + 1] > before[at + 1])
            at = d;
    for (int k = SL_SIDE_SAMPLES - 1; k >= 0; k--) {
        course[k] = at;
        strength[k] = edge[k][at];
        at += from[k][at];
    }
}

static double sample_place(int k)
{
    return (2.0 * k + 1) / SL_SIDE_SAMPLES - 1;       /* s in -1..1 */
}

/*
 * Robust curve through the traced course, a polynomial whose higher terms must earn their
 * place; false when hardly anything is there.
 */
static bool fit_course(sl_side_fit *side, const double course[SL_SIDE_SAMPLES],
                       const float strength[SL_SIDE_SAMPLES])
{
    enum { N = SL_BOW_TERMS };
    static const double ridge[N] = { 0, 0, 0.01, 0.02, 0.03 };
    double row[SL_SIDE_SAMPLES][N + 1]; /* where an edge is seen: powers of s, and the course */
    double weight[SL_SIDE_SAMPLES];
    int seen = 0;

    for (int k = 0; k < SL_SIDE_SAMPLES; k++) {
        if (!(strength[k] > 0))
            continue;
        row[seen][0] = 1;
        for (int i = 1; i < N; i++)
            row[seen][i] = row[seen][i - 1] * sample_place(k);
        row[seen][N] = course[k];
        weight[seen++] = 1;
    }
    if (seen < 8)
        return false;
    for (int pass = 0; pass < 4; pass++) {
        double m[N][N + 1] = { { 0 } };

        for (int k = 0; k < seen; k++)
            for (int i = 0; i < N; i++) {
                const double part = weight[k] * row[k][i];

                for (int j = 0; j <= N; j++)
                    m[i][j] += part * row[k][j];
            }
        for (int i = 0; i < N; i++) {
            m[i][i] += ridge[i] * seen;
            for (int r = i + 1; r < N; r++) {
                const double f = m[r][i] / m[i][i];

                for (int j = i; j <= N; j++)
                    m[r][j] -= f * m[i][j];
            }
        }
        for (int i = N - 1; i >= 0; i--) {
            side->bow[i] = m[i][N];
            for (int j = i + 1; j < N; j++)
                side->bow[i] -= m[i][j] * side->bow[j];
            side->bow[i] /= m[i][i];
        }
        for (int k = 0; k < seen; k++) {
            const double r = row[k][N] - sl_side_offset(side, row[k][1]);

            weight[k] = 1 / (1 + r * r);
        }
    }
    return true;
}

float sl_median_code(const float *value, size_t count)
{
    unsigned short bin[256] = { 0 };
    size_t sum = 0;

    for (size_t i = 0; i < count; i++) {
        /* fminf() and fmaxf() are calls */
        const float v = !(value[i] > 0) ? 0 : value[i] < 255 ? value[i] : 255;

        bin[(size_t)(v + 0.5f)]++;
    }
    for (size_t k = 0; k < 256; k++) {
        sum += bin[k];
        if (sum > count / 2)
            return (float)k;
    }
    return 0;
}

double sl_colour_distance(const float a[3], const float b[3])
{
    const double r = a[0] - b[0];
    const double g = a[1] - b[1];
    const double c = a[2] - b[2];

    return sqrt((r * r + g * g + c * c) / 3);
}

bool sl_same_paper(const float sample[3], const float paper[3], double noise)
{
    const float l = sample[0] + sample[1] + sample[2] + 1;
    const float m = paper[0] + paper[1] + paper[2] + 1;
    const float ratio = l / m;
    const float light = !(ratio > 0.62f) ? 0.62f : ratio < 1.5f ? ratio : 1.5f;
    const float lit[3] = { paper[0] * light, paper[1] * light, paper[2] * light };

    return sl_colour_distance(sample, lit) < 7 + 0.03 * l / 3 + noise;
}

/* Colours of one side's strips, px of the small copy from the edge. */
typedef struct strips {
    float inside[SL_SIDE_SAMPLES][3];
    float outside[SL_SIDE_SAMPLES][3];
    float off_in[SL_SIDE_SAMPLES];     /* how much either is off the table */
    float off_out[SL_SIDE_SAMPLES];
    bool  seen[SL_SIDE_SAMPLES];       /* the outside lies in the picture */
} strips;

/* The strongest edge of each sample: the value that three samples in four do not exceed. */
static float usual_boldest(float edge[SL_SIDE_SAMPLES][ROW], int offsets)
{
    float most[SL_SIDE_SAMPLES];

    for (int k = 0; k < SL_SIDE_SAMPLES; k++) {
        float lane[LANES] = { 0 };

        for (int d = 0; d < offsets; d += LANES)
            for (int l = 0; l < LANES; l++)
                lane[l] = edge[k][d + l] > lane[l] ? edge[k][d + l] : lane[l];
        most[k] = 0;
        for (int l = 0; l < LANES; l++)
            most[k] = lane[l] > most[k] ? lane[l] : most[k];
    }
    return sl_select(most, SL_SIDE_SAMPLES, SL_SIDE_SAMPLES * 3 / 4);
}

/* lround() is a call. */
static int nearest_int(double v)
{
    return (int)(v < 0 ? v - 0.5 : v + 0.5);
}

static void measure_side(sl_side_fit *side, strips *strip, const sl_small *small, sl_point a,
                         sl_point b, double reach)
{
    float edge[SL_SIDE_SAMPLES][ROW];
    float strength[SL_SIDE_SAMPLES];
    int course[SL_SIDE_SAMPLES];
    const double length = hypot(b.x - a.x, b.y - a.y);
    const sl_point along = { (b.x - a.x) / length, (b.y - a.y) / length };
    const sl_point out = { along.y, -along.x };
    const float cos2 = (float)(out.x * out.x - out.y * out.y);
    const float sin2 = (float)(2 * out.x * out.y);
    const int half = (int)fmin(ceil(reach), (OFFSETS_MAX - 1) / 2);
    int first[SL_SIDE_SAMPLES];
    double place[SL_SIDE_SAMPLES] = { 0 };
    float found[SL_SIDE_SAMPLES];
    size_t n = 0;

    for (int k = 0; k < SL_SIDE_SAMPLES && !side->frame; k++) {
        const double s = sample_place(k);
        const double t = (s + 1) / 2 * length;

        first[k] = nearest_int(sl_side_offset(side, s)) - half;
        edge_strengths(edge[k], small,
                       (sl_point){ a.x + t * along.x + first[k] * out.x,
                                   a.y + t * along.y + first[k] * out.y },
                       out, 2 * half + 1, cos2, sin2);
    }
    if (!side->frame) {
        trace(course, strength, edge, 2 * half + 1,
              fmaxf((float)(3 * small->threshold), BOLD_ENOUGH * usual_boldest(edge, 2 * half + 1)));
        for (int k = 0; k < SL_SIDE_SAMPLES; k++)
            place[k] = first[k] + course[k];
        if (!fit_course(side, place, strength))
            memset(strength, 0, sizeof strength);
    }
    for (int k = 0; k < SL_SIDE_SAMPLES; k++) {
        const double s = sample_place(k);
        const double t = (s + 1) / 2 * length;
        const double offset = sl_side_offset(side, s);
        const double in = offset - AWAY;
        double beyond = offset + AWAY;
        sl_point p = { a.x + t * along.x + beyond * out.x, a.y + t * along.y + beyond * out.y };

        /* a page may fill the picture to a few px */
        while (beyond > offset + AWAY_LEAST && !inside_picture(small, p.x, p.y)) {
            beyond--;
            p = (sl_point){ p.x - out.x, p.y - out.y };
        }

        if (!side->frame && strength[k] > 0 && fabs(place[k] - offset) < 1.6)
            found[n++] = strength[k];
        strip->seen[k] = inside_picture(small, p.x, p.y);
        sl_small_colour(strip->outside[k], small, p);
        strip->off_out[k] = small->off_table[nearest_px(small, p)];
        p = (sl_point){ a.x + t * along.x + in * out.x, a.y + t * along.y + in * out.y };
        sl_small_colour(strip->inside[k], small, p);
        strip->off_in[k] = small->off_table[nearest_px(small, p)];
    }
    side->support = (double)n / SL_SIDE_SAMPLES;
    side->strength = n > 0 ? sl_median_code(found, n) : 0;
}

/* So much more off the table is what lies inside than what lies outside, over so many samples to
   either side, where a page ends; and it ends along so much of each side of one that need not be of
   one paper. */
static const float TABLE_ENDS = 0.3f;
enum { ABOUT = 4 };
static const double ALL_ROUND = 0.85;

/* Where along a side the table ends: about each sample, what lies inside is off it and what lies
   outside is not. */
static void measure_table(sl_side_fit *side, const strips *strip)
{
    size_t ends = 0;
    size_t seen = 0;
    float beyond = 0;

    for (int k = 0; k < SL_SIDE_SAMPLES; k++) {
        float more = 0;
        int n = 0;

        for (int i = k - ABOUT; i <= k + ABOUT; i++) {
            if (i < 0 || i >= SL_SIDE_SAMPLES || !strip->seen[i])
                continue;
            more += strip->off_in[i] - strip->off_out[i];
            n++;
        }
        ends += more > TABLE_ENDS * (float)n;
        seen += strip->seen[k];
        beyond += strip->seen[k] ? strip->off_out[k] : 0;
    }
    side->ends = (double)ends / SL_SIDE_SAMPLES;
    side->beyond = seen > 0 ? (double)beyond / (double)seen : 0;
}

void sl_quad_measure(sl_quad *quad, const sl_small *small, double reach)
{
    strips strip[4];
    float channel[4 * SL_SIDE_SAMPLES];
    double all_round = 1;    /* share of the side along which the table ends the least */

    quad->plain = 0;
    for (int i = 0; i < 4; i++)
        measure_side(&quad->side[i], &strip[i], small, quad->corner[i], quad->corner[(i + 1) % 4],
                     reach);
    for (int c = 0; c < 3; c++) {
        for (int i = 0; i < 4; i++)
            for (int k = 0; k < SL_SIDE_SAMPLES; k++)
                channel[i * SL_SIDE_SAMPLES + k] = strip[i].inside[k][c];
        quad->colour[c] = sl_median_code(channel, 4 * SL_SIDE_SAMPLES);
        for (int i = 0; i < 4; i++)
            for (int k = 0; k < SL_SIDE_SAMPLES; k++)
                channel[i * SL_SIDE_SAMPLES + k] = strip[i].outside[k][c];
        quad->around[c] = sl_median_code(channel, 4 * SL_SIDE_SAMPLES);
    }
    for (int i = 0; i < 4; i++) {
        measure_table(&quad->side[i], &strip[i]);
        all_round = fmin(all_round, quad->side[i].ends);
    }
    for (int i = 0; i < 4; i++) {
        size_t paper = 0;
        size_t differs = 0;
        size_t seen = 0;
        const double least = fmax(2.5, 1.5 * small->noise);
        float step[SL_SIDE_SAMPLES];

        for (int k = 0; k < SL_SIDE_SAMPLES; k++) {
            if (sl_same_paper(strip[i].inside[k], quad->colour, small->noise))
                paper++;
            if (strip[i].seen[k]) {
                const double d = sl_colour_distance(strip[i].outside[k], strip[i].inside[k]);

                step[seen++] = (float)d;
                if (d > least)
                    differs++;
            }
        }
        quad->side[i].paper = (double)paper / SL_SIDE_SAMPLES;
        quad->plain += quad->side[i].paper / 4;
        if (all_round > ALL_ROUND)
            quad->side[i].paper = fmax(quad->side[i].paper, quad->side[i].ends);
        quad->side[i].contrast = seen > 0 ? (double)differs / (double)seen : 0;
        /* a step of height h has a gradient of about h / 2 a px on the small copy */
        quad->side[i].solid = fmin(1, sl_median_code(step, seen) / fmax(quad->side[i].strength, 1));
    }
}
