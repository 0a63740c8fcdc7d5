#include "border/twin.h"

#include <math.h>
#include <stdlib.h>

#include "border/quad.h"
#include "border/sides.h"

enum { CELL = 4 };                            /* px of the small copy, both ways */

static const double BESIDE = 8;               /* px off the page's sides: no part of it */
static const double MOST_OF_FRAME = 0.45;     /* a larger page leaves no room for another */
static const double LEAST_AREA = 0.6;         /* of the page's; prints on it leave holes ... */
static const double MOST_AREA = 1.6;
static const double LEAST_FILLED = 0.4;       /* ... but not in most of it */
static const double AS_LONG = 0.25;           /* |ln| of its length over its width, less the page's */

/* Cells of one colour that touch: how many, their sums and products of places, in cells. */
typedef struct patch {
    double n;
    double x, y;
    double xx, xy, yy;
    bool   at_frame;
} patch;

/* Cells of the page's paper that are no part of the page: 1, others 0. */
static void find_paper(unsigned char *paper, size_t w, size_t h, const sl_quad *page,
                       const sl_small *small)
{
    for (size_t y = 0; y < h; y++) {
        for (size_t x = 0; x < w; x++) {
            const sl_point p = { (double)(CELL * x) + CELL / 2.0, (double)(CELL * y) + CELL / 2.0 };
            float colour[3];

            sl_small_colour(colour, small, p);
            paper[y * w + x] = !sl_quad_has_point(page, p, BESIDE)
                               && sl_same_paper(colour, page->colour, small->noise);
        }
    }
}

/* Takes the patch that a cell belongs to off the paper. `stack` has room for all cells. */
static patch take_patch(unsigned char *paper, size_t w, size_t h, size_t first, size_t *stack)
{
    patch p = { .at_frame = false };
    size_t count = 1;

    stack[0] = first;
    paper[first] = 0;
    while (count > 0) {
        const size_t at = stack[--count];
        const size_t x = at % w;
        const size_t y = at / w;
        const bool edge[4] = { x == 0, x == w - 1, y == 0, y == h - 1 };
        const size_t next[4] = { at - 1, at + 1, at - w, at + w };

        p.n++;
        p.x += (double)x;
        p.y += (double)y;
        p.xx += (double)(x * x);
        p.xy += (double)(x * y);
        p.yy += (double)(y * y);
        for (int k = 0; k < 4; k++) {
            p.at_frame = p.at_frame || edge[k];
            if (!edge[k] && paper[next[k]]) {
                paper[next[k]] = 0;
                stack[count++] = next[k];
            }
        }
    }
    return p;
}

/*
 * Is a patch as large and as long as the page? A filled rectangle of sides a and b has the second
 * moments a^2 / 12 and b^2 / 12 about its centre, however it is turned.
 */
static bool is_like(const patch *p, const sl_quad *page, const sl_small *small)
{
    const sl_point *c = page->corner;
    const double long_side[2] = { hypot(c[1].x - c[0].x, c[1].y - c[0].y)
                                      + hypot(c[3].x - c[2].x, c[3].y - c[2].y),
                                  hypot(c[2].x - c[1].x, c[2].y - c[1].y)
                                      + hypot(c[0].x - c[3].x, c[0].y - c[3].y) };
    const double size = page->area * (double)(small->width * small->height) / (CELL * CELL);
    const double xx = p->xx / p->n - p->x * p->x / (p->n * p->n);
    const double xy = p->xy / p->n - p->x * p->y / (p->n * p->n);
    const double yy = p->yy / p->n - p->y * p->y / (p->n * p->n);
    const double mean = (xx + yy) / 2;
    const double spread = hypot((xx - yy) / 2, xy);
    const double area = 12 * sqrt(fmax(xx * yy - xy * xy, 0));
    const double longer = 0.5 * log((mean + spread) / fmax(mean - spread, 1e-6));

    return !p->at_frame && area > LEAST_AREA * size && area < MOST_AREA * size
           && p->n > LEAST_FILLED * area
           && fabs(longer - fabs(log(long_side[0] / long_side[1]))) < AS_LONG;
}

bool sl_has_twin(const sl_quad *page, const sl_small *small)
{
    const size_t w = small->width / CELL;
    const size_t h = small->height / CELL;
    unsigned char *paper = malloc(w * h + 1);
    size_t *stack = malloc((w * h + 1) * sizeof *stack);
    bool found = false;

    if (paper != NULL && stack != NULL && page->area < MOST_OF_FRAME) {
        find_paper(paper, w, h, page, small);
        for (size_t i = 0; i < w * h && !found; i++)
            if (paper[i]) {
                const patch p = take_patch(paper, w, h, i, stack);

                found = is_like(&p, page, small);
            }
    }
    free(stack);
    free(paper);
    return found;
}
