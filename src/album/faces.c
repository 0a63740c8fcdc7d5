/*
 * Likenesses are compared in steps, each for those that the one before lets through, for 8,000
 * pages are 32 million pairs: 64 numbers that do not depend on the way about, the telling ones
 * first; all cells, in each of the four ways, as integers; then block by block, for pages of one
 * layout agree on the whole but not in what is glued into it.
 */
#include "album/faces.h"

#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "album/likeness.h"

enum { SIDE = SL_LIKENESS_SIDE, CELLS = SL_LIKENESS_CELLS, TURNS = 4 };

/* 8 x 8 blocks of 6 x 6 cells. */
enum { BLOCK = 6, ACROSS = SIDE / BLOCK, BLOCKS = ACROSS * ACROSS, IN_BLOCK = BLOCK * BLOCK };

/* The quick step: means of 3 x 3 cells, summed over the four ways about: a quarter of them, as
   waves (a cosine transform), of which the strongest of the album come first. */
enum { MEAN = 3, COARSE = SIDE / MEAN, WAVES = COARSE / 2, QUICK = WAVES * WAVES, FIRST = 32 };

/*
 * Measured on made pages: two shots of one correlate by 0.96 and more, with 0.88 of their blocks
 * and more agreeing; pages of one layout with other pictures in it by up to 0.86, and 0.79.
 */
static const float QUICK_ALIKE = 0.7F;
static const double BLOCKS_ALIKE = 0.85;

/* A block agrees from this correlation on. */
static const double BLOCK_ALIKE = 0.6;

/* A block has something on it from this mean square on, in squared local deviations ... */
static const double TEXTURE = 0.1;

/* ... and with fewer of those, or nothing stronger than this, a page is as good as blank: a
   printed paper reaches 0.28, what is glued to a page 0.7. */
enum { LEAST_TEXTURED = 4 };
static const double STRONG = 0.4;

/* Of so many pages on, what most have in common is the album's, and no page's own. */
enum { COMMON_LEAST = 6 };

/* Levels less the middle one, 0 where there is none; block after block, row by row in each. */
typedef struct cells {
    int8_t level[CELLS];
    int    sum[BLOCKS];
    int    square[BLOCKS];   /* sum of the squares */
} cells;

typedef struct face {
    cells  cells;
    bool   missing;          /* some cells are outside the shot */
    bool   blank;
    double length;           /* root of the sum of all squares */
    float  rest[QUICK - FIRST];
} face;

/* What most pairs are told apart by stands close together. Of unit length with `rest`; in whole
   numbers, which processors multiply and add by the handful. */
enum { UNIT = 1 << 14 };     /* 1: squares of it, 32 of them, stay below 2^31 as the length is 1 */

typedef struct first {
    int16_t wave[FIRST];
    float   rest;            /* length of the face's `rest` */
} first;

/* All pages, as they are or without what most have in common. */
typedef struct gallery {
    face  *face;
    first *first;
} gallery;

struct sl_faces {
    size_t  count;
    size_t  most;
    gallery whole;
    gallery own;             /* without what most have in common */
};

/* ---- cells ----------------------------------------------------------------------------------- */

static int place_of(int x, int y)
{
    return (y / BLOCK * ACROSS + x / BLOCK) * IN_BLOCK + y % BLOCK * BLOCK + x % BLOCK;
}

static void sum_up(cells *c)
{
    for (int b = 0; b < BLOCKS; b++) {
        const int8_t *level = c->level + b * IN_BLOCK;
        int sum = 0;
        int square = 0;

        for (int k = 0; k < IN_BLOCK; k++) {
            sum += level[k];
            square += level[k] * level[k];
        }
        c->sum[b] = sum;
        c->square[b] = square;
    }
}

static bool read_face(face *out, const char *text)
{
    unsigned char level[CELLS];

    if (!sl_likeness_read(level, text))
        return false;
    out->missing = false;
    for (int k = 0; k < CELLS; k++) {
        const bool none = level[k] == SL_LIKENESS_NONE;

        out->missing = out->missing || none;
        out->cells.level[place_of(k % SIDE, k / SIDE)] =
            none ? 0 : (int8_t)((int)level[k] - SL_LIKENESS_LEVELS / 2);
    }
    return true;
}

/* A block's cells less the median of all pages in each. */
static void take_away_block(face *of, size_t count, int block)
{
    size_t times[IN_BLOCK][SL_LIKENESS_LEVELS] = { { 0 } };
    int8_t middle[IN_BLOCK];
    const int at = block * IN_BLOCK;

    for (size_t i = 0; i < count; i++)
        for (int k = 0; k < IN_BLOCK; k++)
            times[k][of[i].cells.level[at + k] + SL_LIKENESS_LEVELS / 2]++;
    for (int k = 0; k < IN_BLOCK; k++) {
        size_t seen = 0;
        int level = -1;

        while (2 * seen < count)
            seen += times[k][++level];
        middle[k] = (int8_t)(level - SL_LIKENESS_LEVELS / 2);
    }
    for (size_t i = 0; i < count; i++)
        for (int k = 0; k < IN_BLOCK; k++)
            of[i].cells.level[at + k] = (int8_t)(of[i].cells.level[at + k] - middle[k]);
}

/* Block after block, for the pages are too large to walk through once a cell. */
static void take_away_common(face *of, size_t count)
{
    for (int block = 0; block < BLOCKS && count >= COMMON_LEAST; block++)
        take_away_block(of, count, block);
}

/* Of a block, about its mean; in squared local deviations. */
static double texture(const cells *c, int block)
{
    const int sum = c->sum[block];

    return (c->square[block] - (double)sum * sum / IN_BLOCK)
           / (IN_BLOCK * SL_LIKENESS_SCALE * SL_LIKENESS_SCALE);
}

static bool is_blank(const cells *c)
{
    int textured = 0;
    double most = 0;

    for (int b = 0; b < BLOCKS; b++) {
        const double t = texture(c, b);

        textured += t > TEXTURE;
        most = fmax(most, t);
    }
    return textured < LEAST_TEXTURED || most < STRONG;
}

/* Where each cell comes from when a page is turned by so many quarters. */
typedef struct turning {
    uint16_t from[TURNS][CELLS];
} turning;

static void set_turning(turning *t)
{
    const int n = SIDE - 1;

    for (int y = 0; y < SIDE; y++) {
        for (int x = 0; x < SIDE; x++) {
            const int from[TURNS] = { place_of(x, y), place_of(y, n - x), place_of(n - x, n - y),
                                      place_of(n - y, x) };

            for (int q = 0; q < TURNS; q++)
                t->from[q][place_of(x, y)] = (uint16_t)from[q];
        }
    }
}

static void set_turns(cells turns[TURNS], const cells *of, const turning *t)
{
    for (int q = 0; q < TURNS; q++) {
        for (int k = 0; k < CELLS; k++)
            turns[q].level[k] = of->level[t->from[q][k]];
        sum_up(&turns[q]);
    }
}

static int dot(const int8_t *a, const int8_t *b, int count)
{
    int sum = 0;

    for (int k = 0; k < count; k++)
        sum += a[k] * b[k];
    return sum;
}

/* Correlation; cells that one of them does not have weigh nothing, being 0. */
static double correlate(double ab, double aa, double bb)
{
    return aa > 0 && bb > 0 ? ab / sqrt(aa * bb) : 0;
}

/* Cells of two pages, turned about to agree best. */
typedef struct agreement {
    double alike;            /* correlation over all cells, -1 .. 1 */
    double blocks;           /* share of the blocks with something on them that agree */
    int    textured;         /* such blocks */
} agreement;

static agreement compare_cells(const cells *a, const cells *b)
{
    const double scale = IN_BLOCK * SL_LIKENESS_SCALE * SL_LIKENESS_SCALE;
    agreement score = { 0, 0, 0 };
    double ab = 0;
    double aa = 0;
    double bb = 0;
    int agree = 0;

    for (int k = 0; k < BLOCKS; k++) {
        const int at = k * IN_BLOCK;
        const double both = dot(a->level + at, b->level + at, IN_BLOCK);
        const double in_a = texture(a, k);
        const double in_b = texture(b, k);

        ab += both;
        aa += a->square[k];
        bb += b->square[k];
        if (fmax(in_a, in_b) > TEXTURE) {
            const double shared = (both - (double)a->sum[k] * b->sum[k] / IN_BLOCK) / scale;

            score.textured++;
            agree += correlate(shared, in_a, in_b) > BLOCK_ALIKE;
        }
    }
    score.alike = correlate(ab, aa, bb);
    score.blocks = score.textured > 0 ? (double)agree / score.textured : 0;
    return score;
}

/* Both without the cells that one of them lacks. */
static agreement compare_seen(const face *a, const face *b, const cells *turned_b)
{
    cells p = a->cells;
    cells q = *turned_b;

    if (!a->missing && !b->missing)
        return compare_cells(&a->cells, turned_b);
    for (int k = 0; k < CELLS; k++)
        if (p.level[k] == 0 || q.level[k] == 0)
            p.level[k] = q.level[k] = 0;
    sum_up(&p);
    sum_up(&q);
    return compare_cells(&p, &q);
}

/*
 * The way about in which `a` agrees best with a page whose cells, turned in all four ways, are
 * `turns`; -1 when none comes near the limit.
 */
static int best_turn(const face *a, const face *b, const cells turns[TURNS], double limit)
{
    /* cells that one of them lacks are in the length of the other: no more can be said then */
    const double least = a->missing || b->missing ? 0 : 0.98 * limit * a->length * b->length;
    double most = least;
    int best = -1;

    for (int q = 0; q < TURNS; q++) {
        const double d = dot(a->cells.level, turns[q].level, CELLS);

        if (d > most) {
            most = d;
            best = q;
        }
    }
    return best;
}

/* ---- the quick step -------------------------------------------------------------------------- */

/* Rows of an orthonormal cosine transform (DCT-II). */
static void set_cosines(double cosine[WAVES][WAVES])
{
    const double pi = acos(-1);

    for (int u = 0; u < WAVES; u++)
        for (int x = 0; x < WAVES; x++)
            cosine[u][x] = sqrt((u == 0 ? 1.0 : 2.0) / WAVES) * cos(pi * u * (x + 0.5) / WAVES);
}

/* Quarter turns change nothing in it. Of unit length. */
static void set_waves(float out[QUICK], const cells *c, const double cosine[WAVES][WAVES])
{
    const int n = COARSE - 1;
    double coarse[COARSE][COARSE] = { { 0 } };
    double rows[WAVES][WAVES] = { { 0 } };
    double length = 0;

    for (int y = 0; y < SIDE; y++)
        for (int x = 0; x < SIDE; x++)
            coarse[y / MEAN][x / MEAN] += c->level[place_of(x, y)];
    for (int y = 0; y < WAVES; y++) {
        for (int x = 0; x < WAVES; x++) {
            const double sum = coarse[y][x] + coarse[x][n - y] + coarse[n - y][n - x]
                               + coarse[n - x][y];

            length += sum * sum;
            for (int u = 0; u < WAVES; u++)
                rows[y][u] += sum * cosine[u][x];
        }
    }
    for (int v = 0; v < WAVES; v++) {
        for (int u = 0; u < WAVES; u++) {
            double wave = 0;

            for (int y = 0; y < WAVES; y++)
                wave += rows[y][u] * cosine[v][y];
            out[v * WAVES + u] = (float)(wave / sqrt(fmax(length, 1)));
        }
    }
}

/* The album's waves by their strength, strongest first. */
static void rank_waves(int rank[QUICK], const float *wave, size_t count)
{
    double strength[QUICK] = { 0 };

    for (size_t i = 0; i < count; i++)
        for (int k = 0; k < QUICK; k++)
            strength[k] += (double)wave[i * QUICK + (size_t)k] * wave[i * QUICK + (size_t)k];
    for (int k = 0; k < QUICK; k++) {
        int at = k;

        for (; at > 0 && strength[rank[at - 1]] < strength[k]; at--)
            rank[at] = rank[at - 1];
        rank[at] = k;
    }
}

static bool prepare(gallery *g, size_t count)
{
    float *wave = calloc(count + 1, QUICK * sizeof *wave);
    double cosine[WAVES][WAVES];
    int rank[QUICK];

    if (wave == NULL)
        return false;
    set_cosines(cosine);
    for (size_t i = 0; i < count; i++) {
        face *f = &g->face[i];
        double length = 0;

        sum_up(&f->cells);
        for (int b = 0; b < BLOCKS; b++)
            length += f->cells.square[b];
        f->length = sqrt(length);
        f->blank = is_blank(&f->cells);
        set_waves(wave + i * QUICK, &f->cells, (const double(*)[WAVES])cosine);
    }
    rank_waves(rank, wave, count);
    for (size_t i = 0; i < count; i++) {
        float rest = 0;

        for (int k = 0; k < QUICK; k++) {
            const float w = wave[i * QUICK + (size_t)rank[k]];

            if (k < FIRST) {
                g->first[i].wave[k] = (int16_t)lrintf(UNIT * w);
            } else {
                g->face[i].rest[k - FIRST] = w;
                rest += w * w;
            }
        }
        g->first[i].rest = sqrtf(rest);
    }
    free(wave);
    return true;
}

static float product(const float *a, const float *b, int count)
{
    float sum[4] = { 0, 0, 0, 0 };

    for (int k = 0; k < count; k += 4)
        for (int lane = 0; lane < 4; lane++)
            sum[lane] += a[k + lane] * b[k + lane];
    return sum[0] + sum[1] + sum[2] + sum[3];
}

static float first_product(const first *a, const first *b)
{
    int32_t sum = 0;

    for (int k = 0; k < FIRST; k++)
        sum += a->wave[k] * b->wave[k];
    return (float)sum / ((float)UNIT * UNIT);
}

/* Of each page those before it that may be alike; the bulk of all pairs ends here. */
typedef struct candidates {
    size_t *index;
    size_t  count;
    bool    lost;            /* no memory for one */
} candidates;

typedef struct quick_search {
    const sl_faces *faces;
    candidates     *of;
} quick_search;

static bool add_candidate(candidates *c, size_t index)
{
    if ((c->count & (c->count - 1)) == 0) { /* full: it grows to the next power of two */
        size_t *grown = realloc(c->index, (c->count > 0 ? 2 * c->count : 1) * sizeof *grown);

        if (grown == NULL)
            return false;
        c->index = grown;
    }
    c->index[c->count++] = index;
    return true;
}

static bool rest_alike(const gallery *g, size_t a, size_t b, float some)
{
    return some + product(g->face[a].rest, g->face[b].rest, QUICK - FIRST) >= QUICK_ALIKE;
}

static bool quick_alike(const gallery *g, size_t a, size_t b)
{
    return rest_alike(g, a, b, first_product(&g->first[a], &g->first[b]));
}

/* The rest cannot add more than the product of its lengths (the Cauchy-Schwarz inequality). */
static void seek(void *ctx, size_t i)
{
    const quick_search *s = ctx;
    const gallery *own = &s->faces->own;
    const first *p = &own->first[i];
    const float least = QUICK_ALIKE - 1e-3F; /* less what rounding may take */

    for (size_t k = 0; k < i && !own->face[i].blank; k++) {
        const first *q = &own->first[k];
        const float some = first_product(p, q);

        if (some + p->rest * q->rest >= least && rest_alike(own, k, i, some)
            && quick_alike(&s->faces->whole, k, i) && !add_candidate(&s->of[i], k))
            s->of[i].lost = true;
    }
}

/* ---- pairs ----------------------------------------------------------------------------------- */

/* `turns`: b's cells in all ways about. */
static bool are_alike(const gallery *g, size_t a, size_t b, const cells turns[TURNS], double limit,
                      double *alike)
{
    const face *p = &g->face[a];
    const face *q = &g->face[b];
    agreement s;
    int best;

    if (p->blank || q->blank)
        return false;
    best = best_turn(p, q, turns, limit);
    if (best < 0)
        return false;
    s = compare_seen(p, q, &turns[best]);
    *alike = s.alike;
    return s.alike >= limit && s.blocks >= BLOCKS_ALIKE && s.textured >= LEAST_TEXTURED;
}

/* The candidates of page i, cell by cell. */
static void compare(const sl_faces *f, size_t i, const candidates *c, double limit,
                    const turning *t, sl_face_pair found, void *ctx)
{
    cells own_turns[TURNS];
    cells turns[TURNS];

    if (c->count == 0)
        return;
    set_turns(own_turns, &f->own.face[i].cells, t);
    set_turns(turns, &f->whole.face[i].cells, t);
    for (size_t n = 0; n < c->count; n++) {
        const size_t k = c->index[n];
        double alike;
        double whole;

        /* what is common makes pages alike, and so does its lack once it is taken away */
        if (are_alike(&f->own, k, i, own_turns, limit, &alike)
            && are_alike(&f->whole, k, i, turns, limit, &whole))
            found(ctx, k, i, fmin(alike, whole));
    }
}

bool sl_faces_pairs(sl_faces *f, double limit, sl_pool *pool, sl_face_pair found, void *ctx)
{
    candidates *of = calloc(f->count + 1, sizeof *of);
    quick_search quick = { f, of };
    turning turning_of;
    bool done = of != NULL;

    set_turning(&turning_of);
    if (f->count > 0)
        memcpy(f->own.face, f->whole.face, f->count * sizeof *f->own.face);
    take_away_common(f->own.face, f->count);
    done = done && prepare(&f->whole, f->count) && prepare(&f->own, f->count);
    if (done)
        sl_pool_run(pool, seek, &quick, f->count);
    for (size_t i = 0; of != NULL && i < f->count; i++) {
        done = done && !of[i].lost;
        if (done)
            compare(f, i, &of[i], limit, &turning_of, found, ctx);
        free(of[i].index);
    }
    free(of);
    return done;
}

/* ---- the set --------------------------------------------------------------------------------- */

sl_faces *sl_faces_new(size_t most)
{
    sl_faces *f = calloc(1, sizeof *f);

    if (f == NULL)
        return NULL;
    f->most = most;
    f->whole.face = calloc(most + 1, sizeof *f->whole.face);
    f->whole.first = calloc(most + 1, sizeof *f->whole.first);
    f->own.face = calloc(most + 1, sizeof *f->own.face);
    f->own.first = calloc(most + 1, sizeof *f->own.first);
    if (f->whole.face == NULL || f->whole.first == NULL || f->own.face == NULL
        || f->own.first == NULL) {
        sl_faces_free(f);
        return NULL;
    }
    return f;
}

void sl_faces_free(sl_faces *f)
{
    if (f == NULL)
        return;
    free(f->own.first);
    free(f->own.face);
    free(f->whole.first);
    free(f->whole.face);
    free(f);
}

bool sl_faces_add(sl_faces *f, const char *likeness)
{
    if (f->count == f->most || !read_face(&f->whole.face[f->count], likeness))
        return false;
    f->count++;
    return true;
}
