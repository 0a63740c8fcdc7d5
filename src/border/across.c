/*
 * Profiles across a side, and where in one of them the edge is. No interpolation: each px enters at
 * its own centre, so that a slanted edge is sampled at all phases.
 */
#include "border/across.h"

#include <math.h>
#include <string.h>

static const double STEP_ODDS = 2.5;          /* log odds that a profile's greatest step has */
static const double STRAY = 5;                /* px from where the colours meet to a bolder step */
static const double NEAR_RATHER = 0.4;        /* ... less this share of it at the profile's ends */

static inline void colour_at(double rgb[3], const sl_linear_shot *v, const unsigned char *row,
                             size_t x)
{
    const size_t first = x * v->shot->channels;

    for (size_t c = 0; c < 3; c++) {
        const size_t i = first + (v->shot->channels == 3 ? c : 0);

        rgb[c] = v->shot->bits == 8
                     ? (double)v->linear[row[i]]
                     : (double)v->linear[((const uint16_t *)(const void *)row)[i]];
    }
}

bool sl_across_gather(sl_across *out, const sl_linear_shot *seen, sl_point at, sl_point normal,
                       double half, double reach)
{
    const sl_point along = { -normal.y, normal.x };
    const double dx = reach * fabs(normal.x) + half * fabs(along.x);
    const double dy = reach * fabs(normal.y) + half * fabs(along.y);
    const double x0 = fmax(0, ceil(at.x - dx));
    const double y0 = fmax(0, ceil(at.y - dy));
    const double x1 = fmin((double)seen->shot->width - 1, floor(at.x + dx));
    const double y1 = fmin((double)seen->shot->height - 1, floor(at.y + dy));
    const int bins = (int)(2 * reach * SL_BINS_PER_PX);

    for (int k = 0; k < bins; k++)
        out->t[k] = out->rgb[k][0] = out->rgb[k][1] = out->rgb[k][2] = out->weight[k] = 0;
    out->count = 0;
    for (double y = y0; y <= y1; y++) {
        const unsigned char *row = seen->shot->data + (size_t)y * seen->shot->stride;
        const double ty = (y - at.y) * normal.y;
        const double ay = (y - at.y) * along.y;

        for (double x = x0; x <= x1; x++) {
            const double t = (x - at.x) * normal.x + ty;
            const double a = (x - at.x) * along.x + ay;
            const double bin = (t + reach) * SL_BINS_PER_PX;
            const int k = (int)bin;
            double rgb[3];

            if (fabs(a) > half || bin < 0 || k >= bins)
                continue;
            out->t[k] += t;
            colour_at(rgb, seen, row, (size_t)x);
            for (int c = 0; c < 3; c++)
                out->rgb[k][c] += rgb[c];
            out->weight[k] += 1;
        }
    }
    for (int k = 0; k < bins; k++) {
        if (out->weight[k] > 0) {
            const size_t i = out->count++;
            const double w = out->weight[k];

            out->t[i] = out->t[k] / w;
            for (int c = 0; c < 3; c++)
                out->rgb[i][c] = out->rgb[k][c] / w;
            out->weight[i] = w;
        }
    }
    return out->count >= 6;
}

void sl_across_weigh(sl_across *p, const double weight[3])
{
    for (size_t i = 0; i < p->count; i++)
        p->value[i] = weight[0] * p->rgb[i][0] + weight[1] * p->rgb[i][1]
                      + weight[2] * p->rgb[i][2];
}

void sl_across_coarsen(sl_across_px *out, const sl_across *p, double reach)
{
    out->count = (int)floor(2 * reach);
    memset(out->rgb, 0, (size_t)out->count * sizeof out->rgb[0]);
    memset(out->weight, 0, (size_t)out->count * sizeof out->weight[0]);
    for (size_t i = 0; i < p->count; i++) {
        const double px = p->t[i] + reach;
        const int k = (int)px;

        if (px >= 0 && k < out->count) {
            for (int c = 0; c < 3; c++)
                out->rgb[k][c] += p->weight[i] * p->rgb[i][c];
            out->weight[k] += p->weight[i];
        }
    }
}

bool sl_across_mean(double rgb[3], const sl_across_px *p, int first, int end)
{
    double weight = 0;

    rgb[0] = rgb[1] = rgb[2] = 0;
    for (int k = first < 0 ? 0 : first; k < end && k < p->count; k++) {
        for (int c = 0; c < 3; c++)
            rgb[c] += p->rgb[k][c];
        weight += p->weight[k];
    }
    for (int c = 0; c < 3; c++)
        rgb[c] /= weight > 0 ? weight : 1;
    return weight > 0;
}

/*
 * Changes from the 3 px before k to the 3 px from it on, for all 2 <= k <= count - 2, in square
 * roots of linear light: a step in the dark counts as the eye sees it.
 */
static void changes_of(double change[2 * SL_REACH_MOST + 1], const sl_across_px *p)
{
    double root[2 * SL_REACH_MOST + 1][3]; /* of the mean of px k - 1 .. k + 1 */
    bool some[2 * SL_REACH_MOST + 1];

    for (int k = 0; k < p->count; k++) {
        some[k] = sl_across_mean(root[k], p, k - 1, k + 2);
        for (int c = 0; c < 3; c++)
            root[k][c] = root[k][c] > 0 ? sqrt(root[k][c]) : 0;
    }
    for (int k = 2; k <= p->count - 2; k++) {
        double sum = 0;

        for (int c = 0; c < 3; c++) {
            const double d = root[k - 2][c] - root[k + 1][c];

            sum += d * d;
        }
        change[k] = some[k - 2] && some[k + 1] ? sqrt(sum) : 0;
    }
}

double sl_across_edge(const sl_across_px *p, double reach, sl_surfaces *surfaces, int side)
{
    double change[2 * SL_REACH_MOST + 1];
    double greatest = 1e-9;
    double odds = 0;
    double best = -INFINITY;
    double place = 0;

    changes_of(change, p);
    for (int k = 2; k <= p->count - 2; k++)
        greatest = change[k] > greatest ? change[k] : greatest;
    for (int k = 0; k <= p->count - 2; k++) {
        double rgb[3];

        if (k >= 2) {
            const double t = k - reach;
            const double near = 1 - NEAR_RATHER * fabs(t) / reach;
            const double good = odds + STEP_ODDS * change[k] / greatest * near;

            if (good > best) {
                best = good;
                place = t;
            }
        }
        if (surfaces != NULL && sl_across_mean(rgb, p, k, k + 1))
            odds += sl_surfaces_odds(surfaces, side, rgb);
    }
    return place;
}

double sl_across_bold_step(const sl_across_px *p, double reach, double near)
{
    double change[2 * SL_REACH_MOST + 1];
    double greatest = 0;
    double place = near;

    changes_of(change, p);
    for (int k = 2; k <= p->count - 2; k++) {
        if (fabs(k - reach - near) <= STRAY && change[k] > greatest) {
            greatest = change[k];
            place = k - reach;
        }
    }
    return place;
}
