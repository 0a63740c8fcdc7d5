/*
 * Likenesses are compared in three steps, each for those that the one before lets through, for
 * 8,000 pages are 32 million pairs: 64 numbers that do not depend on the way about; all cells, in
 * each of the four ways, as integers; then block by block, for pages of one layout agree on the
 * whole but not in what is glued into it.
 */
#include "album/twins.h"

#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "album/amend.h"
#include "album/likeness.h"
#include "album/naming.h"
#include "album/work.h"

enum { SIDE = SL_LIKENESS_SIDE, CELLS = SL_LIKENESS_CELLS, TURNS = 4 };

/* 8 x 8 blocks of 6 x 6 cells. */
enum { BLOCK = 6, BLOCKS = SIDE / BLOCK };

/* The quick step: means of 3 x 3 cells, summed over the four ways about: a quarter of them. */
enum { MEAN = 3, COARSE = SIDE / MEAN, QUICK = (COARSE / 2) * (COARSE / 2) };

/*
 * Measured on made pages: two shots of one correlate by 0.96 and more, with 0.88 of their blocks
 * and more agreeing; pages of one layout with other pictures in it by up to 0.86, and 0.79.
 */
static const double QUICK_ALIKE = 0.7;
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

typedef struct face {
    size_t line;
    bool   blank;
    int8_t cell[CELLS];      /* level less the middle one; 0 where there is none */
    bool   missing;          /* some cells are outside the shot */
    double length;           /* root of the sum of the cells' squares */
    float  quick[QUICK];     /* of unit length */
} face;

/* ---- cells ----------------------------------------------------------------------------------- */

static bool read_face(face *out, const char *text)
{
    unsigned char level[CELLS];

    if (!sl_likeness_read(level, text))
        return false;
    out->missing = false;
    for (int k = 0; k < CELLS; k++) {
        out->missing = out->missing || level[k] == SL_LIKENESS_NONE;
        out->cell[k] = level[k] == SL_LIKENESS_NONE
                           ? 0
                           : (int8_t)((int)level[k] - SL_LIKENESS_LEVELS / 2);
    }
    return true;
}

/* Takes away from every page the median of all in each cell. */
static void take_away_common(face *of, size_t count)
{
    if (count < COMMON_LEAST)
        return;
    for (int k = 0; k < CELLS; k++) {
        size_t times[SL_LIKENESS_LEVELS] = { 0 };
        size_t seen = 0;
        int middle = -1;

        for (size_t i = 0; i < count; i++)
            times[of[i].cell[k] + SL_LIKENESS_LEVELS / 2]++;
        while (2 * seen < count)
            seen += times[++middle];
        middle -= SL_LIKENESS_LEVELS / 2;
        for (size_t i = 0; i < count; i++)
            of[i].cell[k] = (int8_t)(of[i].cell[k] - middle);
    }
}

/* Sums over one block of two pages, about the block's own means. */
typedef struct block_sums {
    double ab;
    double aa;
    double bb;
} block_sums;

static block_sums sum_block(const int8_t a[CELLS], const int8_t b[CELLS], int block)
{
    const int at = block / BLOCKS * BLOCK * SIDE + block % BLOCKS * BLOCK;
    const double n = BLOCK * BLOCK;
    block_sums s = { 0, 0, 0 };
    double mean_a = 0;
    double mean_b = 0;

    for (int k = 0; k < BLOCK * BLOCK; k++) {
        const double p = a[at + k / BLOCK * SIDE + k % BLOCK];
        const double q = b[at + k / BLOCK * SIDE + k % BLOCK];

        mean_a += p / n;
        mean_b += q / n;
        s.ab += p * q;
        s.aa += p * p;
        s.bb += q * q;
    }
    s.ab -= n * mean_a * mean_b;
    s.aa -= n * mean_a * mean_a;
    s.bb -= n * mean_b * mean_b;
    return s;
}

/* In squared local deviations. */
static double texture(double sum)
{
    return sum / (BLOCK * BLOCK * SL_LIKENESS_SCALE * SL_LIKENESS_SCALE);
}

static bool is_blank(const int8_t cell[CELLS])
{
    int textured = 0;
    double most = 0;

    for (int b = 0; b < BLOCKS * BLOCKS; b++) {
        const double t = texture(sum_block(cell, cell, b).aa);

        textured += t > TEXTURE;
        most = fmax(most, t);
    }
    return textured < LEAST_TEXTURED || most < STRONG;
}

/* Quarter turns change nothing in it. */
static void set_quick(face *f)
{
    double coarse[COARSE][COARSE] = { { 0 } };
    double length = 0;

    for (int k = 0; k < CELLS; k++)
        coarse[k / SIDE / MEAN][k % SIDE / MEAN] += f->cell[k];
    for (int k = 0; k < QUICK; k++) {
        const int y = k / (COARSE / 2);
        const int x = k % (COARSE / 2);
        const int n = COARSE - 1;
        const double sum = coarse[y][x] + coarse[x][n - y] + coarse[n - y][n - x]
                           + coarse[n - x][y];

        f->quick[k] = (float)sum;
        length += sum * sum;
    }
    for (int k = 0; k < QUICK; k++)
        f->quick[k] = (float)(f->quick[k] / sqrt(fmax(length, 1)));
}

static double quick_alike(const face *a, const face *b)
{
    float sum[4] = { 0, 0, 0, 0 };

    for (int k = 0; k < QUICK; k += 4)
        for (int lane = 0; lane < 4; lane++)
            sum[lane] += a->quick[k + lane] * b->quick[k + lane];
    return (double)(sum[0] + sum[1] + sum[2] + sum[3]);
}

/* Where cell k of a page lies when it is turned by so many quarters. */
static int turned(int k, int quarters)
{
    const int x = k % SIDE;
    const int y = k / SIDE;
    const int n = SIDE - 1;

    switch (quarters) {
    case 1:
        return (n - x) * SIDE + y;
    case 2:
        return (n - y) * SIDE + n - x;
    case 3:
        return x * SIDE + n - y;
    default:
        return k;
    }
}

/* Correlation; cells that one of them does not have weigh nothing, being 0. */
static double correlate(double ab, double aa, double bb)
{
    return aa > 0 && bb > 0 ? ab / sqrt(aa * bb) : 0;
}

static sl_twin_score compare_cells(const int8_t a[CELLS], const int8_t b[CELLS])
{
    sl_twin_score score = { 0, 0, 0 };
    double ab = 0;
    double aa = 0;
    double bb = 0;
    int agree = 0;

    for (int k = 0; k < CELLS; k++) {
        ab += (double)a[k] * b[k];
        aa += (double)a[k] * a[k];
        bb += (double)b[k] * b[k];
    }
    for (int block = 0; block < BLOCKS * BLOCKS; block++) {
        const block_sums s = sum_block(a, b, block);

        if (texture(fmax(s.aa, s.bb)) > TEXTURE) {
            score.textured++;
            agree += correlate(s.ab, s.aa, s.bb) > BLOCK_ALIKE;
        }
    }
    score.alike = correlate(ab, aa, bb);
    score.blocks = score.textured > 0 ? (double)agree / score.textured : 0;
    return score;
}

static void turn(int8_t out[CELLS], const int8_t cell[CELLS], int quarters)
{
    for (int k = 0; k < CELLS; k++)
        out[k] = cell[turned(k, quarters)];
}

static int dot(const int8_t a[CELLS], const int8_t b[CELLS])
{
    int sum = 0;

    for (int k = 0; k < CELLS; k++)
        sum += a[k] * b[k];
    return sum;
}

/*
 * The way about in which `a` agrees best with a page whose cells, turned in all four ways, are
 * `turns`; -1 when none comes near the limit.
 */
static int best_turn(const face *a, const face *b, const int8_t turns[TURNS][CELLS], double limit)
{
    /* cells that one of them lacks are in the length of the other: no more can be said then */
    const double least = a->missing || b->missing ? 0 : 0.98 * limit * a->length * b->length;
    double most = least;
    int best = -1;

    for (int q = 0; q < TURNS; q++) {
        const double d = dot(a->cell, turns[q]);

        if (d > most) {
            most = d;
            best = q;
        }
    }
    return best;
}

/* Both without the cells that one of them lacks. */
static sl_twin_score compare_seen(const face *a, const face *b, const int8_t turned_b[CELLS])
{
    int8_t p[CELLS];
    int8_t q[CELLS];

    memcpy(p, a->cell, sizeof p);
    memcpy(q, turned_b, sizeof q);
    for (int k = 0; k < CELLS && (a->missing || b->missing); k++)
        if (p[k] == 0 || q[k] == 0)
            p[k] = q[k] = 0;
    return compare_cells(p, q);
}

static void set_turns(int8_t turns[TURNS][CELLS], const face *f)
{
    for (int q = 0; q < TURNS; q++)
        turn(turns[q], f->cell, q);
}

sl_twin_score sl_twins_compare(const char *a, const char *b)
{
    sl_twin_score score = { 0, 0, 0 };
    face *of = calloc(2, sizeof *of);

    if (of != NULL && read_face(&of[0], a) && read_face(&of[1], b)) {
        int8_t turns[TURNS][CELLS];
        int q;

        set_turns(turns, &of[1]);
        q = best_turn(&of[0], &of[1], (const int8_t(*)[CELLS])turns, 0);
        if (q >= 0)
            score = compare_seen(&of[0], &of[1], turns[q]);
    }
    free(of);
    return score;
}

/* ---- the album ------------------------------------------------------------------------------- */

enum { NAMED = 2 };          /* of many twins so many are named */

/* What was found of one line. */
typedef struct twins {
    size_t count;
    size_t of[NAMED];        /* the first ones' lines */
    double alike[NAMED];     /* 2: the very same file */
} twins;

static const char *text_of(const json_t *line, const char *key)
{
    const char *text = json_string_value(json_object_get(line, key));

    return text != NULL ? text : "";
}

static void note_one(twins *t, size_t other, double alike)
{
    for (size_t i = 0; i < t->count && i < NAMED; i++)
        if (t->of[i] == other)
            return;
    if (t->count < NAMED) {
        t->of[t->count] = other;
        t->alike[t->count] = alike;
    }
    t->count++;
}

static void note_pair(twins *all, const json_t *lines, const char *out_dir, size_t a, size_t b,
                      double alike)
{
    const char *shot_a = text_of(json_array_get(lines, a), "shot");
    const char *shot_b = text_of(json_array_get(lines, b), "shot");

    /* a flap open and a flap closed: two shots of one page that were meant */
    if (strcmp(shot_a, shot_b) != 0 && sl_shot_same_page(shot_a, shot_b))
        return;
    if (!sl_line_still_there(json_array_get(lines, a), out_dir)
        || !sl_line_still_there(json_array_get(lines, b), out_dir))
        return;
    note_one(&all[a], b, alike);
    note_one(&all[b], a, alike);
}

static void find_equal_files(twins *all, const json_t *lines, const char *out_dir)
{
    json_t *seen = json_object();
    size_t i;
    const json_t *line;

    json_array_foreach(lines, i, line) {
        const char *sha256 = text_of(line, "sha256");
        const json_t *first = json_object_get(seen, sha256);

        if (sha256[0] == '\0' || sl_line_outcome(line) == SL_OUTCOME_FAILED)
            continue;
        if (first != NULL)
            note_pair(all, lines, out_dir, (size_t)json_integer_value(first), i, 2);
        else
            json_object_set_new(seen, sha256, json_integer((json_int_t)i));
    }
    json_decref(seen);
}

/* `turns`: b's cells in all ways about. */
static bool are_twins(const face *a, const face *b, const int8_t turns[TURNS][CELLS],
                      double limit, double *alike)
{
    sl_twin_score s;
    int q;

    if (a->blank || b->blank || quick_alike(a, b) < QUICK_ALIKE)
        return false;
    q = best_turn(a, b, turns, limit);
    if (q < 0)
        return false;
    s = compare_seen(a, b, turns[q]);
    *alike = s.alike;
    return s.alike >= limit && s.blocks >= BLOCKS_ALIKE && s.textured >= LEAST_TEXTURED;
}

static void prepare(face *of, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        of[i].blank = is_blank(of[i].cell);
        of[i].length = sqrt(dot(of[i].cell, of[i].cell));
        set_quick(&of[i]);
    }
}

static bool find_alike(twins *all, const json_t *lines, const char *out_dir, double limit)
{
    const size_t total = json_array_size(lines);
    face *of = calloc(total + 1, sizeof *of);
    face *own = calloc(total + 1, sizeof *own); /* without what most pages have */
    size_t count = 0;

    if (of == NULL || own == NULL) {
        free(own);
        free(of);
        return false;
    }
    for (size_t i = 0; i < total; i++) {
        const json_t *line = json_array_get(lines, i);

        of[count].line = i;
        if (sl_line_outcome(line) != SL_OUTCOME_FAILED
            && read_face(&of[count], json_string_value(json_object_get(line, "likeness"))))
            count++;
    }
    if (count > 0)
        memcpy(own, of, count * sizeof *own);
    take_away_common(own, count);
    prepare(of, count);
    prepare(own, count);
    for (size_t i = 0; i < count; i++) {
        int8_t own_turns[TURNS][CELLS];
        int8_t turns[TURNS][CELLS];

        set_turns(own_turns, &own[i]);
        set_turns(turns, &of[i]);
        for (size_t k = 0; k < i && !own[i].blank; k++) {
            double alike;
            double whole;

            /* what is common makes pages alike, and so does its lack once it is taken away */
            if (are_twins(&own[k], &own[i], (const int8_t(*)[CELLS])own_turns, limit, &alike)
                && are_twins(&of[k], &of[i], (const int8_t(*)[CELLS])turns, limit, &whole))
                note_pair(all, lines, out_dir, of[k].line, of[i].line, fmin(alike, whole));
        }
    }
    free(own);
    free(of);
    return true;
}

/* "page 13 (b.jpg)", "page 13 (b.jpg), page 14 (c.jpg) and 2 more" */
static void print_names(char *out, size_t size, const twins *t, const json_t *lines)
{
    size_t length = 0;

    out[0] = '\0';
    for (size_t i = 0; i < t->count && i < NAMED; i++) {
        const json_t *line = json_array_get(lines, t->of[i]);
        const char *before = i == 0 ? "" : t->count == NAMED ? " and " : ", ";
        char page[64];

        sl_line_short_page(page, sizeof page, line);
        length += (size_t)snprintf(out + length, size - length, "%s%s (%.60s)", before, page,
                                   text_of(line, "shot"));
    }
    if (t->count > NAMED)
        (void)snprintf(out + length, size - length, " and %zu more", t->count - NAMED);
}

/* The first twin that is a good page; SIZE_MAX when none is. */
static size_t good_one(const twins *t, const json_t *lines)
{
    for (size_t i = 0; i < t->count && i < NAMED; i++)
        if (sl_line_outcome(json_array_get(lines, t->of[i])) <= SL_OUTCOME_LOOK)
            return t->of[i];
    return SIZE_MAX;
}

static void tell(json_t *lines, const json_t *before, size_t index, const twins *t, double limit)
{
    const bool bad = sl_line_outcome(json_array_get(before, index)) == SL_OUTCOME_RESHOOT;
    const size_t good = good_one(t, before);
    const bool same_file = t->alike[0] > 1;
    const char *advice;
    char names[300];

    print_names(names, sizeof names, t, before);
    if (bad && good != SIZE_MAX)
        advice = "That shot can take this one's place.";
    else if (!bad && good == SIZE_MAX)
        advice = "That one is to be photographed again; this one can take its place.";
    else if (same_file)
        advice = "Leave one of the two out in review.html, or take the shot and its page away.";
    else
        advice = "Keep the better one and leave the other out in review.html, or take that shot "
                 "and its page away. If they are two pages, accept both.";
    sl_amend_add(lines, index, SL_CODE_SAME_PAGE, same_file ? 100 : 100 * t->alike[0],
                 100 * limit, "%", SL_LOOK,
                 same_file ? "This is the same file as %s. %s"
                           : "This seems to be the same page as %s. %s",
                 names, advice);
    if (bad && good != SIZE_MAX)
        json_object_set(json_array_get(lines, index), "replacement",
                        json_object_get(json_array_get(before, good), "page"));
}

bool sl_twins_find(json_t *lines, const char *out_dir, double limit)
{
    const size_t count = json_array_size(lines);
    json_t *before = json_copy(lines);
    twins *all = calloc(count + 1, sizeof *all);
    bool found = all != NULL && before != NULL;

    if (found) {
        find_equal_files(all, before, out_dir);
        found = find_alike(all, before, out_dir, limit);
        for (size_t i = 0; found && i < count; i++)
            if (all[i].count > 0)
                tell(lines, before, i, &all[i], limit);
    }
    free(all);
    json_decref(before);
    return found;
}
