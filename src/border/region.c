/*
 * Which colours are the table's, and the quadrilateral about those that are not.
 */
#include "border/region.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/error.h"

/*
 * Colours by lightness, the mean of the channels, and two differences: red less green, and the
 * mean of these less blue. Differences tell papers, and light changes them less: their bins are
 * narrower.
 */
enum { LIGHT_CODES = 16, HUE_CODES = 8, LIGHT_BINS = 16, HUE_BINS = 32,
       BINS = LIGHT_BINS * HUE_BINS * HUE_BINS };

static const double RIM = 0.03;               /* of the long side: the picture's rim */
/* The table in a shadow is the table: so much lighter is it beside, in coded values. */
static const float LIGHTER[] = { 1, 1.15f, 1.32f, 1.52f };
enum { LIGHTS = sizeof LIGHTER / sizeof LIGHTER[0] };

static const float RARE = 1e-5f;              /* share of the picture: a colour of too few px */

enum { CELL = 4 };                            /* px of the small copy: of the coarse map */
enum { ABOUT = 2 };                           /* cells about one: stripes and checks are finer */
static const float BALANCE = 0.25f;           /* how much off the table is half and half */
static const double LEAST_AREA = 0.03;        /* of the picture: as of all hypotheses */
static const double STEPS[] = { 8, 4, 2, 1, 0.5 }; /* cells */
enum { SWEEPS_MOST = 12, TURNS = 18 };

/* ---- the table's colours --------------------------------------------------------------------- */

/* To a place among so many; plain comparisons, for fminf() is a call. */
static inline float within(float place, int places)
{
    const float last = (float)places - 1;

    return !(place > 0) ? 0 : place < last ? place : last;
}

/* Of a lightness, red less green, and the mean of these less blue. */
static inline unsigned bin_of(float light, float red_green, float yellow_blue)
{
    const int l = (int)within(light * (1.0f / LIGHT_CODES), LIGHT_BINS);
    const int p = (int)within(red_green * (1.0f / HUE_CODES) + HUE_BINS / 2, HUE_BINS);
    const int q = (int)within(yellow_blue * (1.0f / HUE_CODES) + HUE_BINS / 2, HUE_BINS);

    return (unsigned)((l * HUE_BINS + p) * HUE_BINS + q);
}

/* A plain loop, that compilers turn into vector code. */
static void find_bins(uint16_t *restrict bin, const sl_small *small)
{
    const float *restrict r = small->plane[0];
    const float *restrict g = small->plane[1];
    const float *restrict b = small->plane[2];
    const size_t n = small->width * small->height;

    for (size_t i = 0; i < n; i++)
        bin[i] = (uint16_t)bin_of((r[i] + g[i] + b[i]) * (1.0f / 3), r[i] - g[i],
                                  (r[i] + g[i]) * 0.5f - b[i]);
}

/* Spreads the counts along one axis of the bins: a quarter to either neighbour. */
static void spread(float *bin, size_t stride, size_t bins)
{
    for (size_t first = 0; first < BINS; first++) {
        float before;

        if (first / stride % bins != 0)
            continue;
        before = bin[first];
        for (size_t k = 0; k < bins; k++) {
            float *const at = bin + first + k * stride;
            const float here = *at;
            const float after = k + 1 < bins ? at[stride] : here;

            *at = (before + 2 * here + after) / 4;
            before = here;
        }
    }
}

/* Counts the px of rows y0 to y1 and columns x0 to x1 by colour; adds to `count`. */
static void count_colours(float *count, const uint16_t *bin, size_t width, size_t x0, size_t y0,
                          size_t x1, size_t y1)
{
    for (size_t y = y0; y < y1; y++)
        for (size_t x = x0; x < x1; x++)
            count[bin[y * width + x]] += 1;
}

static void as_shares(float *bin)
{
    float sum = 0;

    for (size_t i = 0; i < BINS; i++)
        sum += bin[i];
    for (size_t i = 0; i < BINS; i++)
        bin[i] /= sum;
    spread(bin, 1, HUE_BINS);
    spread(bin, HUE_BINS, HUE_BINS);
    spread(bin, HUE_BINS * HUE_BINS, LIGHT_BINS);
}

/* How much a colour is off the table: 0 when it is as frequent along the rim as anywhere, in any
   light, 1 when it is not seen there. */
static void rate_colours(float *off, const float *rim, const float *all)
{
    for (size_t i = 0; i < BINS; i++) {
        const float light = ((float)(i / (HUE_BINS * HUE_BINS)) + 0.5f) * LIGHT_CODES;
        const float p = ((float)(i / HUE_BINS % HUE_BINS) + 0.5f - HUE_BINS / 2) * HUE_CODES;
        const float q = ((float)(i % HUE_BINS) + 0.5f - HUE_BINS / 2) * HUE_CODES;
        float most = 0;

        for (size_t k = 0; k < LIGHTS; k++) {
            const unsigned lit = bin_of(light * LIGHTER[k], p * LIGHTER[k], q * LIGHTER[k]);
            const float ratio = rim[lit] / (all[lit] + RARE);

            most = ratio > most ? ratio : most;
        }
        off[i] = most < 1 ? 1 - most : 0;
    }
}

sl_status sl_region_map(sl_small *small, sl_error *err)
{
    const size_t w = small->width;
    const size_t h = small->height;
    const size_t rim = 2 + (size_t)(RIM * (double)(w > h ? w : h));
    float *const all = calloc(3 * BINS, sizeof *all);
    float *const at_rim = all + BINS;
    float *const off = at_rim + BINS;
    uint16_t *const bin = malloc(w * h * sizeof *bin);

    if (all == NULL || bin == NULL) {
        free(bin);
        free(all);
        return sl_fail(err, SL_ERR_NOMEM, "border", "out of memory");
    }
    find_bins(bin, small);
    count_colours(all, bin, w, 0, 0, w, h);
    count_colours(at_rim, bin, w, 0, 0, w, rim);
    count_colours(at_rim, bin, w, 0, h - rim, w, h);
    count_colours(at_rim, bin, w, 0, rim, rim, h - rim);
    count_colours(at_rim, bin, w, w - rim, rim, w, h - rim);
    as_shares(all);
    as_shares(at_rim);
    rate_colours(off, at_rim, all);
    for (size_t i = 0; i < w * h; i++)
        small->off_table[i] = off[bin[i]];
    free(bin);
    free(all);
    return SL_OK;
}

/* ---- the quadrilateral ----------------------------------------------------------------------- */

/* The map in cells of CELL x CELL px. */
typedef struct cells {
    size_t width;
    size_t height;
    float *sum;              /* [height][width + 1]: of a row up to a cell, less the balance */
    int   *patch;            /* [height][width]: which patch, 0 none */
    int   *queue;            /* [height * width] */
    sl_point *scratch;       /* [2 * height] */
} cells;

static bool make_cells(cells *c, const sl_small *small)
{
    c->width = small->width / CELL;
    c->height = small->height / CELL;
    c->sum = malloc(c->height * (c->width + 1) * sizeof *c->sum);
    c->patch = calloc(c->height * c->width + 1, sizeof *c->patch);
    c->queue = malloc((c->height * c->width + 1) * sizeof *c->queue);
    c->scratch = malloc((2 * c->height + 1) * sizeof *c->scratch);
    if (c->sum == NULL || c->patch == NULL || c->queue == NULL || c->scratch == NULL)
        return false;
    for (size_t y = 0; y < c->height; y++) {
        float *const row = c->sum + y * (c->width + 1);

        row[0] = 0;
        for (size_t x = 0; x < c->width; x++) {
            const float *px = small->off_table + y * CELL * small->width + x * CELL;
            float off = 0;

            for (size_t k = 0; k < CELL; k++, px += small->width)
                for (size_t l = 0; l < CELL; l++)
                    off += px[l];
            row[x + 1] = row[x] + off / (CELL * CELL) - BALANCE;
        }
    }
    return true;
}

static void free_cells(cells *c)
{
    free(c->scratch);
    free(c->queue);
    free(c->patch);
    free(c->sum);
}

/* How much more than the balance the cells about one are off the table, in the mean. */
static float value_about(const cells *c, size_t i)
{
    const size_t x = i % c->width;
    const size_t y = i / c->width;
    const size_t x0 = x < ABOUT ? 0 : x - ABOUT;
    const size_t y0 = y < ABOUT ? 0 : y - ABOUT;
    const size_t x1 = x + ABOUT < c->width ? x + ABOUT + 1 : c->width;
    const size_t y1 = y + ABOUT < c->height ? y + ABOUT + 1 : c->height;
    float sum = 0;

    for (size_t v = y0; v < y1; v++)
        sum += c->sum[v * (c->width + 1) + x1] - c->sum[v * (c->width + 1) + x0];
    return sum / (float)((x1 - x0) * (y1 - y0));
}

/* Marks the patch of cells about one; returns how much it is off the table. */
static float fill_patch(cells *c, size_t from, int mark)
{
    size_t done = 0;
    size_t count = 1;
    float sum = 0;

    c->queue[0] = (int)from;
    c->patch[from] = mark;
    while (done < count) {
        const size_t i = (size_t)c->queue[done++];
        const size_t x = i % c->width;
        const size_t y = i / c->width;

        sum += value_about(c, i) + BALANCE;
        for (size_t v = y > 0 ? y - 1 : 0; v <= y + 1 && v < c->height; v++)
            for (size_t u = x > 0 ? x - 1 : 0; u <= x + 1 && u < c->width; u++) {
                const size_t k = v * c->width + u;

                if (c->patch[k] == 0 && value_about(c, k) > 0) {
                    c->patch[k] = mark;
                    c->queue[count++] = (int)k;
                }
            }
    }
    return sum;
}

/* The patch that is most off the table; 0 when there is none. */
static int largest_patch(cells *c)
{
    int mark = 0;
    int best = 0;
    float most = 0;

    for (size_t i = 0; i < c->width * c->height; i++) {
        float off;

        if (c->patch[i] != 0 || value_about(c, i) <= 0)
            continue;
        off = fill_patch(c, i, ++mark);
        if (off > most) {
            most = off;
            best = mark;
        }
    }
    return best;
}

/* The first and the last cell of each row of a patch, by their middles; returns how many. */
static size_t outermost(sl_point *out, const cells *c, int patch)
{
    size_t count = 0;

    for (size_t y = 0; y < c->height; y++) {
        const int *const row = c->patch + y * c->width;
        size_t first = 0;
        size_t last = c->width;

        while (first < c->width && row[first] != patch)
            first++;
        if (first == c->width)
            continue;
        while (row[last - 1] != patch)
            last--;
        out[count++] = (sl_point){ (double)first + 0.5, (double)y + 0.5 };
        out[count++] = (sl_point){ (double)last - 0.5, (double)y + 0.5 };
    }
    return count;
}

/* The rectangle of least area about a patch, of those at TURNS angles, less the cells that only its
   surroundings put there: what is sought grows from within. Returns its area, cells.
   scratch  two points a row */
static double rectangle_about(sl_point corner[4], const cells *c, int patch, sl_point *scratch)
{
    const size_t count = outermost(scratch, c, patch);
    double least = INFINITY;

    for (int turn = 0; turn < TURNS; turn++) {
        const double angle = turn * 1.5707963267948966 / TURNS;
        const sl_point u = { cos(angle), sin(angle) };
        double low[2] = { INFINITY, INFINITY };
        double high[2] = { -INFINITY, -INFINITY };
        double area;

        for (size_t i = 0; i < count; i++) {
            const double p[2] = { scratch[i].x * u.x + scratch[i].y * u.y,
                                  scratch[i].y * u.x - scratch[i].x * u.y };

            for (int k = 0; k < 2; k++) {
                low[k] = fmin(low[k], p[k] + ABOUT);
                high[k] = fmax(high[k], p[k] - ABOUT);
            }
        }
        area = fmax(0, high[0] - low[0]) * fmax(0, high[1] - low[1]);
        if (area < least) {
            const double at[4][2] = { { low[0], low[1] }, { high[0], low[1] },
                                      { high[0], high[1] }, { low[0], high[1] } };

            least = area;
            for (int k = 0; k < 4; k++)
                corner[k] = (sl_point){ at[k][0] * u.x - at[k][1] * u.y,
                                        at[k][0] * u.y + at[k][1] * u.x };
        }
    }
    return least;
}

/* Up to place x of a row, cells. */
static double sum_up_to(const cells *c, size_t y, double x)
{
    const float *const row = c->sum + y * (c->width + 1);
    const double at = fmin(fmax(x, 0), (double)c->width - 1e-9);
    const size_t i = (size_t)at;

    return (double)row[i] + (at - (double)i) * (double)(row[i + 1] - row[i]);
}

/* How much more than the balance all that a quadrilateral holds is off the table; -INFINITY when it
   is not convex and clockwise. */
static double gain(const cells *c, const sl_point corner[4])
{
    double top = INFINITY;
    double low = -INFINITY;
    double sum = 0;

    for (int k = 0; k < 4; k++) {
        const sl_point a = corner[k];
        const sl_point b = corner[(k + 1) % 4];
        const sl_point d = corner[(k + 2) % 4];

        if (!((b.x - a.x) * (d.y - b.y) - (b.y - a.y) * (d.x - b.x) > 0))
            return -INFINITY;
        top = fmin(top, a.y);
        low = fmax(low, a.y);
    }
    for (size_t y = (size_t)fmax(0, top); y < c->height && (double)y < low; y++) {
        const double at = (double)y + 0.5;
        double left = INFINITY;
        double right = -INFINITY;

        for (int k = 0; k < 4; k++) {
            const sl_point a = corner[k];
            const sl_point b = corner[(k + 1) % 4];

            if ((a.y <= at) != (b.y <= at)) {
                const double x = a.x + (at - a.y) / (b.y - a.y) * (b.x - a.x);

                left = fmin(left, x);
                right = fmax(right, x);
            }
        }
        if (left < right)
            sum += sum_up_to(c, y, right) - sum_up_to(c, y, left);
    }
    return sum;
}

/* Moves both ends of a side, or one, along the neighbouring sides, where that gains. */
static bool improve(sl_point corner[4], double *best, const cells *c, double step)
{
    enum { MOVES = 6 };
    static const double moves[MOVES][2] = { { 1, 1 },  { -1, -1 }, { 1, 0 },
                                            { -1, 0 }, { 0, 1 },   { 0, -1 } };
    bool better = false;

    for (int side = 0; side < 4; side++) {
        for (int move = 0; move < MOVES; move++) {
            sl_point moved[4];
            double now;

            memcpy(moved, corner, sizeof moved);
            for (int end = 0; end < 2; end++) {
                const sl_point at = corner[(side + end) % 4];
                const sl_point back = corner[(side + (end == 0 ? 3 : 2)) % 4];
                const double length = hypot(at.x - back.x, at.y - back.y) + 1e-9;
                const double by = step * moves[move][end] / length;

                moved[(side + end) % 4] = (sl_point){ at.x + by * (at.x - back.x),
                                                      at.y + by * (at.y - back.y) };
            }
            now = gain(c, moved);
            if (now > *best + 1e-6) {
                memcpy(corner, moved, sizeof moved);
                *best = now;
                better = true;
            }
        }
    }
    return better;
}

sl_status sl_region_quad(bool *found, sl_point corner[4], const sl_small *small, sl_error *err)
{
    cells c;
    sl_status st = SL_OK;
    int patch = 0;

    *found = false;
    if (!make_cells(&c, small))
        st = sl_fail(err, SL_ERR_NOMEM, "border", "out of memory");
    else
        patch = largest_patch(&c);
    if (patch != 0
        && rectangle_about(corner, &c, patch, c.scratch)
               > LEAST_AREA * (double)(c.width * c.height)) {
        double best = gain(&c, corner);

        for (size_t k = 0; k < sizeof STEPS / sizeof STEPS[0]; k++)
            for (int sweep = 0; sweep < SWEEPS_MOST; sweep++)
                if (!improve(corner, &best, &c, STEPS[k]))
                    break;
        for (int k = 0; k < 4; k++)
            corner[k] = (sl_point){ corner[k].x * CELL - 0.5, corner[k].y * CELL - 0.5 };
        *found = true;
    }
    free_cells(&c);
    return st;
}
