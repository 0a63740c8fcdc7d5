#include "inspect/figures.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/error.h"

enum { PPI_GRID = 33, LIGHT_GRID = 192, MAP_CELLS = 32 };

static const double RING = 0.012;    /* of the page: how far inside its edges bare paper is sought */
static const double ONE_PAPER = 0.15;         /* of the logarithm: light on one paper */
static const double MOSTLY_PAPER = 0.58;      /* of the ring */

/* ---- geometry -------------------------------------------------------------------------------- */

/* Smaller singular value of a 2x2 matrix: px per page unit in the worse direction. */
static double least_stretch(const double j[4])
{
    const double sum = j[0] * j[0] + j[1] * j[1] + j[2] * j[2] + j[3] * j[3];
    const double det = j[0] * j[3] - j[1] * j[2];

    return sqrt(fmax(0, (sum - sqrt(fmax(0, sum * sum - 4 * det * det))) / 2));
}

sl_ppi sl_figure_ppi(const sl_page_map *map)
{
    double ppi[PPI_GRID * PPI_GRID];
    const size_t n = PPI_GRID * PPI_GRID;

    for (int v = 0; v < PPI_GRID; v++) {
        for (int u = 0; u < PPI_GRID; u++) {
            double j[4];

            sl_page_map_jacobian(j, map, map->page[0] * u / (PPI_GRID - 1),
                                 map->page[1] * v / (PPI_GRID - 1));
            ppi[v * PPI_GRID + u] = 25.4 * least_stretch(j);
        }
    }
    qsort(ppi, n, sizeof *ppi, sl_by_double);
    return (sl_ppi){ ppi[0], ppi[n / 20], ppi[n / 2] };
}

double sl_figure_tilt(const sl_page_map *map)
{
    const double *r = map->rotation;
    const double angle = sqrt(r[0] * r[0] + r[1] * r[1] + r[2] * r[2]);
    double cosine;

    if (angle < 1e-12)
        return 0;
    /* the last element of Rodrigues' rotation matrix: the normal's share along the axis */
    cosine = cos(angle) + (1 - cos(angle)) * (r[2] / angle) * (r[2] / angle);
    return acos(fmin(fmax(cosine, -1), 1)) * 57.29577951308232;
}

double sl_figure_frame_share(const sl_outline *outline, const sl_image *shot)
{
    double twice = 0;

    for (int k = 0; k < 4; k++) {
        const sl_point a = outline->corner[k];
        const sl_point b = outline->corner[(k + 1) % 4];

        twice += a.x * b.y - b.x * a.y;
    }
    return fmin(1, fabs(twice) / 2 / ((double)shot->width * (double)shot->height));
}

double sl_figure_blur(const sl_outline *outline)
{
    double worst = 0;

    for (int side = 0; side < 4; side++) {
        const sl_edge *e = &outline->edge[side];
        double blur[SL_EDGE_POINTS];

        for (size_t i = 0; i < e->count; i++)
            blur[i] = e->point[i].blur_px;
        qsort(blur, e->count, sizeof *blur, sl_by_double);
        if (e->count > 0 && !e->cut)
            worst = fmax(worst, blur[e->count / 2]);
    }
    return worst;
}

/* ---- light ----------------------------------------------------------------------------------- */

typedef struct sample {
    float         linear;    /* luminance */
    unsigned char least;     /* smallest channel, coded 0..255 */
    bool          seen;      /* lies in the shot */
} sample;

static sample look(const sl_image *shot, const float *linear, sl_point p)
{
    const double x = floor(p.x + 0.5);
    const double y = floor(p.y + 0.5);
    unsigned code[3];
    sample s = { 0, 0, false };

    if (!(x >= 0 && y >= 0 && x < (double)shot->width && y < (double)shot->height))
        return s;
    for (unsigned c = 0; c < 3; c++) {
        const size_t i = (size_t)x * shot->channels + (shot->channels == 3 ? c : 0);
        const unsigned char *row = shot->data + (size_t)y * shot->stride;

        code[c] = shot->bits == 8 ? row[i] : ((const uint16_t *)(const void *)row)[i];
    }
    s.linear = 0.2126f * linear[code[0]] + 0.7152f * linear[code[1]] + 0.0722f * linear[code[2]];
    for (int c = 0; c < 3; c++)
        if (shot->bits == 16)
            code[c] /= 257;
    s.least = (unsigned char)(code[0] < code[1] ? (code[0] < code[2] ? code[0] : code[2])
                                                : (code[1] < code[2] ? code[1] : code[2]));
    s.seen = true;
    return s;
}

/*
 * The page map for looking up light: exact at the nodes of a grid, bilinear between. A page that
 * is bowed by 50 px comes out within 0.05 px, and samples are whole px.
 */
typedef struct rough_map {
    sl_point node[MAP_CELLS + 1][MAP_CELLS + 1]; /* [v][u] */
} rough_map;

static void make_rough(rough_map *rough, const sl_page_map *map)
{
    for (int v = 0; v <= MAP_CELLS; v++)
        for (int u = 0; u <= MAP_CELLS; u++)
            rough->node[v][u] = sl_page_map_point(map, map->page[0] * u / MAP_CELLS,
                                                  map->page[1] * v / MAP_CELLS);
}

/* p, q in 0..1 over the page. */
static sl_point rough_point(const rough_map *rough, double p, double q)
{
    const double x = fmin(p * MAP_CELLS, MAP_CELLS - 1e-9);
    const double y = fmin(q * MAP_CELLS, MAP_CELLS - 1e-9);
    const size_t i = (size_t)x;
    const size_t j = (size_t)y;
    const double a = x - (double)i;
    const double b = y - (double)j;
    const sl_point *up = &rough->node[j][i];
    const sl_point *down = &rough->node[j + 1][i];

    return (sl_point){
        (1 - b) * ((1 - a) * up[0].x + a * up[1].x) + b * ((1 - a) * down[0].x + a * down[1].x),
        (1 - b) * ((1 - a) * up[0].y + a * up[1].y) + b * ((1 - a) * down[0].y + a * down[1].y),
    };
}

/* The 99.5th percentile of the samples' luminance, 0..1, to a thousandth. */
static double bright_level(const sample *grid, size_t n)
{
    enum { BINS = 1024 };
    size_t bin[BINS] = { 0 };
    size_t above = 0;

    for (size_t i = 0; i < n; i++)
        bin[(size_t)(fminf(fmaxf(grid[i].linear, 0), 1) * (BINS - 1))]++;
    for (size_t k = BINS; k-- > 0;) {
        above += bin[k];
        if (above > n / 200)
            return ((double)k + 0.5) / BINS;
    }
    return 0;
}

/* Largest 4-connected patch of blown samples; `mark` is scratch of the grid's size. */
static size_t largest_spot(const sample *grid, int *mark, int *stack)
{
    const int n = LIGHT_GRID;
    size_t best = 0;

    memset(mark, 0, (size_t)LIGHT_GRID * LIGHT_GRID * sizeof *mark);
    for (int start = 0; start < n * n; start++) {
        size_t size = 0;
        size_t soft = 0;
        size_t rim = 0;
        int top = 0;

        if (mark[start] || grid[start].least < 252)
            continue;
        stack[top++] = start;
        mark[start] = 1;
        while (top > 0) {
            const int p = stack[--top];
            const int step[4] = { -1, 1, -n, n };

            size++;
            for (int k = 0; k < 4; k++) {
                const int q = p + step[k];

                if ((p % n == 0 && k == 0) || (p % n == n - 1 && k == 1) || q < 0 || q >= n * n)
                    continue;
                if (grid[q].least >= 252) {
                    if (!mark[q]) {
                        mark[q] = 1;
                        stack[top++] = q;
                    }
                } else {
                    rim++;
                    /* light that fades: a print's white border or a label ends at once */
                    soft += grid[q].least >= 225;
                }
            }
        }
        if (size > best && rim > 0 && soft * 2 > rim)
            best = size;
    }
    return best;
}

/*
 * Evenness: a plane is fitted to the logarithm of the brightness on a ring just inside the
 * page's edges, where most pages show bare paper; least over greatest value of the plane over
 * the page. Robustly, for prints reach into the ring here and there; where they cover much of it
 * they, and not a lamp, make the plane: then 1, nothing is known. A heuristic: without a grey card
 * nothing tells a lamp's fall-off from paper that is darker on one side.
 */
static double evenness(const sl_image *shot, const float *linear, const rough_map *map)
{
    enum { SIDE = 64, N = 4 * SIDE };
    double at[N][2];
    double level[N];
    double weight[N];
    double plane[3] = { 0, 0, 0 };
    double low = INFINITY;
    double high = -INFINITY;
    int paper = 0;

    for (int i = 0; i < N; i++) {
        const double along = 0.03 + 0.94 * (i % SIDE + 0.5) / SIDE;
        const double in = i / SIDE < 2 ? RING : 1 - RING;
        sl_point centre;
        double sum = 0;

        at[i][0] = i / SIDE % 2 == 0 ? along : in;
        at[i][1] = i / SIDE % 2 == 0 ? in : along;
        centre = rough_point(map, at[i][0], at[i][1]);
        for (int k = 0; k < 25; k++)
            sum += (double)look(shot, linear,
                                (sl_point){ centre.x + k % 5 - 2, centre.y + k / 5 - 2 })
                       .linear;
        level[i] = log(fmax(sum / 25, 1e-4));
        weight[i] = 1;
    }
    for (int pass = 0; pass < 20; pass++) {
        /* from wide to narrow, so that the start cannot settle on a print */
        const double scale = fmax(0.04, 0.6 * pow(0.8, pass));
        double m[3][4] = { { 0 } };

        for (int t = 0; t < N; t++) {
            const double b[3] = { 1, at[t][0] - 0.5, at[t][1] - 0.5 };

            for (int i = 0; i < 3; i++) {
                for (int j = 0; j < 3; j++)
                    m[i][j] += weight[t] * b[i] * b[j];
                m[i][3] += weight[t] * b[i] * level[t];
            }
        }
        for (int i = 0; i < 3; i++) {
            if (!(m[i][i] > 1e-12))
                return 1;
            for (int r = i + 1; r < 3; r++) {
                const double f = m[r][i] / m[i][i];

                for (int j = i; j < 4; j++)
                    m[r][j] -= f * m[i][j];
            }
        }
        for (int i = 2; i >= 0; i--) {
            plane[i] = m[i][3];
            for (int j = i + 1; j < 3; j++)
                plane[i] -= m[i][j] * plane[j];
            plane[i] /= m[i][i];
        }
        for (int t = 0; t < N; t++) {
            const double r = (level[t] - plane[0] - plane[1] * (at[t][0] - 0.5)
                              - plane[2] * (at[t][1] - 0.5))
                             / scale;

            weight[t] = 1 / ((1 + r * r) * (1 + r * r));
        }
    }
    for (int t = 0; t < N; t++)
        paper += fabs(level[t] - plane[0] - plane[1] * (at[t][0] - 0.5)
                      - plane[2] * (at[t][1] - 0.5))
                 < ONE_PAPER;
    if (paper < MOSTLY_PAPER * N)
        return 1;
    for (int k = 0; k < 4; k++) {
        const double corner = plane[0] + plane[1] * (k % 2 - 0.5) + plane[2] * (k / 2 - 0.5);

        low = fmin(low, corner);
        high = fmax(high, corner);
    }
    return exp(low - high);
}

sl_status sl_figure_light(sl_light *out, const sl_image *shot, const sl_tone *tone,
                          const sl_page_map *map, sl_error *err)
{
    const size_t n = LIGHT_GRID * LIGHT_GRID;
    const float *linear = shot->bits == 8 ? sl_tone_linear8(tone) : sl_tone_linear16(tone);
    sample *grid = malloc(n * sizeof *grid);
    int *mark = malloc(n * sizeof *mark);
    int *stack = malloc(n * sizeof *stack);
    rough_map *rough = malloc(sizeof *rough);
    size_t clipped = 0;
    size_t seen = 0;
    sl_status st = SL_OK;

    if (grid == NULL || mark == NULL || stack == NULL || rough == NULL) {
        st = sl_fail(err, SL_ERR_NOMEM, "inspect", "out of memory");
        goto done;
    }
    make_rough(rough, map);
    for (int v = 0; v < LIGHT_GRID; v++) {
        for (int u = 0; u < LIGHT_GRID; u++) {
            sample *s = &grid[v * LIGHT_GRID + u];

            *s = look(shot, linear,
                      rough_point(rough, (u + 0.5) / LIGHT_GRID, (v + 0.5) / LIGHT_GRID));
            seen += s->seen;
            clipped += s->least >= 254;
        }
    }
    out->brightness = bright_level(grid, n);
    out->clipped = (double)clipped / (double)(seen > 0 ? seen : 1);
    out->glare = (double)largest_spot(grid, mark, stack) / (double)n;
    out->evenness = evenness(shot, linear, rough);
done:
    free(rough);
    free(stack);
    free(mark);
    free(grid);
    return st;
}
