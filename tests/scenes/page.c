/* Paper, prints drawn by rule (landscapes and things, nobody's photographs), captions, table. */
#include "scenes/page.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static const double PI = 3.14159265358979323846;

double scene_random(uint64_t *state)
{
    *state = *state * 6364136223846793005u + 1442695040888963407u;
    return (double)(*state >> 11) / 9007199254740992.0;
}

static double lattice(uint64_t seed, int x, int y)
{
    uint64_t h = seed ^ (uint64_t)(uint32_t)x * 0x9E3779B97F4A7C15u
                 ^ (uint64_t)(uint32_t)y * 0xC2B2AE3D27D4EB4Fu;

    h ^= h >> 29;
    h *= 0xBF58476D1CE4E5B9u;
    h ^= h >> 32;
    return (double)(h >> 11) / 9007199254740992.0;
}

double scene_noise(uint64_t seed, double x, double y, int octaves)
{
    double sum = 0;
    double weight = 0.5;

    for (int k = 0; k < octaves; k++) {
        const double fx = floor(x);
        const double fy = floor(y);
        const int ix = (int)fx;
        const int iy = (int)fy;
        const double u = (x - fx) * (x - fx) * (3 - 2 * (x - fx));
        const double v = (y - fy) * (y - fy) * (3 - 2 * (y - fy));
        const double top = lattice(seed, ix, iy) * (1 - u) + lattice(seed, ix + 1, iy) * u;
        const double low = lattice(seed, ix, iy + 1) * (1 - u) + lattice(seed, ix + 1, iy + 1) * u;

        sum += weight * (top * (1 - v) + low * v);
        weight /= 2;
        x = 2 * x + 17;
        y = 2 * y + 31;
        seed += 101;
    }
    return sum / (1 - pow(0.5, octaves));
}

static scene_colour colour(double r, double g, double b)
{
    return (scene_colour){ (float)r, (float)g, (float)b };
}

static scene_colour blend(scene_colour a, scene_colour b, double t)
{
    const float f = (float)fmin(fmax(t, 0), 1);

    return (scene_colour){ a.r + f * (b.r - a.r), a.g + f * (b.g - a.g), a.b + f * (b.b - a.b) };
}

static scene_colour dim(scene_colour c, double f)
{
    return colour(c.r * f, c.g * f, c.b * f);
}

/* ---- paper and table ------------------------------------------------------------------------- */

scene_colour scene_paper_colour(const scene *s, double x, double y)
{
    const double grain = 0.97 + 0.06 * scene_noise(s->seed + 5, x * 1.7, y * 1.7, 3);

    switch (s->paper) {
    case PAPER_CREAM:
        return dim(colour(0.76, 0.69, 0.52), grain);
    case PAPER_KRAFT:
        return dim(colour(0.36, 0.24, 0.13), 0.94 + 0.12 * scene_noise(s->seed, x, y / 3, 4));
    case PAPER_BLACK:
        return dim(colour(0.011, 0.011, 0.012), grain);
    case PAPER_BLUE:
        return dim(colour(0.10, 0.21, 0.42), grain);
    case PAPER_FLORAL: {
        const double gx = x / 24 - floor(x / 24) - 0.5;
        const double gy = y / 24 - floor(y / 24) - 0.5;
        const double petals = 0.17 + 0.06 * cos(5 * atan2(gy, gx));
        const double d = hypot(gx, gy);

        return dim(d < 0.06     ? colour(0.75, 0.55, 0.15)
                   : d < petals ? colour(0.62, 0.36, 0.40)
                                : colour(0.74, 0.71, 0.64),
                   grain);
    }
    case PAPER_WHITE:
    default:
        return dim(colour(0.78, 0.78, 0.76), grain);
    }
}

scene_colour scene_table_colour(const scene *s, double x, double y)
{
    switch (s->table) {
    case TABLE_WOOD: {
        const double ring = scene_noise(s->seed + 1, x / 260, y / 19, 5);
        const double fine = scene_noise(s->seed + 2, x / 60, y / 1.3, 3);
        const double plank = floor(y / 118);
        const double joint = fabs(y / 118 - plank - 0.004) < 0.008 ? 0.35 : 1;

        return dim(blend(colour(0.24, 0.12, 0.05), colour(0.46, 0.27, 0.12), 1.6 * ring - 0.3),
                   joint * (0.86 + 0.2 * fine)
                       * (0.9 + 0.2 * lattice(s->seed, (int)plank, 3)));
    }
    case TABLE_CHECKED: {
        const int odd = ((int)floor(x / 34) + (int)floor(y / 34)) & 1;
        const double weave = 0.9 + 0.1 * sin(x * 2 * PI / 1.1) * sin(y * 2 * PI / 1.1);

        return dim(odd ? colour(0.42, 0.07, 0.08) : colour(0.62, 0.60, 0.54), weave);
    }
    case TABLE_FELT:
        return dim(colour(0.022, 0.035, 0.030), 0.6 + 0.8 * scene_noise(s->seed + 3, x / 2, y / 2, 4));
    case TABLE_WHITE:
        return dim(colour(0.60, 0.60, 0.585), 0.98 + 0.04 * scene_noise(s->seed + 4, x / 9, y / 9, 3));
    case TABLE_GREY:
    default:
        return dim(colour(0.135, 0.138, 0.14), 0.95 + 0.1 * scene_noise(s->seed + 6, x / 4, y / 4, 4));
    }
}

/* ---- prints ---------------------------------------------------------------------------------- */

static double hills(unsigned seed, double x, double rough)
{
    return 0.5 * sin(3.1 * x + seed) + 0.3 * sin(7.3 * x + 2.0 * seed)
           + rough * (scene_noise(seed, 9 * x, 0.5, 4) - 0.5);
}

static scene_colour sky(double y, unsigned seed, double x)
{
    const double cloud = scene_noise(seed + 7, 3 * x, 6 * y, 5);

    return blend(blend(colour(0.22, 0.42, 0.72), colour(0.72, 0.76, 0.78), 1.4 * y),
                 colour(0.85, 0.85, 0.84), 3 * (cloud - 0.55));
}

static bool in_box(double x, double y, double x0, double y0, double x1, double y1)
{
    return x >= x0 && x <= x1 && y >= y0 && y <= y1;
}

/* x to the right, y down, both 0..1 over the picture. */
static scene_colour lake(double x, double y, unsigned seed)
{
    const double shore = 0.52 + 0.05 * hills(seed, x, 0.5);
    const double sail = (x - 0.58) * 5;

    if (y < shore)
        return y > 0.30 + 0.10 * hills(seed + 3, x, 1)
                   ? dim(colour(0.07, 0.17, 0.08), 0.7 + scene_noise(seed, 40 * x, 40 * y, 3))
                   : sky(y, seed, x);
    if (sail > 0 && sail < 1 && y > 0.40 + 0.3 * sail && y < 0.71)
        return colour(0.8, 0.77, 0.7);
    if (in_box(x, y, 0.50, 0.72, 0.80, 0.76))
        return colour(0.30, 0.07, 0.05);
    return blend(colour(0.09, 0.20, 0.30), colour(0.45, 0.55, 0.6),
                 1.5 * scene_noise(seed, 6 * x, 60 * y, 3) - 0.5);
}

static scene_colour house(double x, double y, unsigned seed)
{
    const double roof = 0.30 + fabs(x - 0.45) * 0.75;

    if (in_box(x, y, 0.22, 0.50, 0.68, 0.84)) {
        for (int k = 0; k < 3; k++)
            if (in_box(x, y, 0.27 + 0.14 * k, 0.57, 0.35 + 0.14 * k, 0.69))
                return dim(colour(0.05, 0.07, 0.09), 1 + y);
        if (in_box(x, y, 0.41, 0.72, 0.49, 0.84))
            return colour(0.14, 0.22, 0.16);
        return dim(colour(0.60, 0.52, 0.40), 0.85 + 0.3 * scene_noise(seed, 50 * x, 90 * y, 2));
    }
    if (y > roof && y < 0.5 && x > 0.18 && x < 0.72)
        return dim(colour(0.32, 0.09, 0.06), 0.8 + 0.2 * sin(120 * y));
    if (hypot((x - 0.86) * 1.2, y - 0.50) < 0.15 + 0.04 * scene_noise(seed, 20 * x, 20 * y, 3))
        return dim(colour(0.08, 0.22, 0.06), 0.5 + scene_noise(seed, 50 * x, 50 * y, 3));
    if (in_box(x, y, 0.845, 0.6, 0.87, 0.84))
        return colour(0.10, 0.06, 0.03);
    if (y > 0.82)
        return dim(colour(0.14, 0.30, 0.08), 0.6 + 0.8 * scene_noise(seed, 30 * x, 70 * y, 4));
    return sky(y, seed, x);
}

static scene_colour harbour(double x, double y, unsigned seed)
{
    for (int k = 0; k < 4; k++) {
        const double mast = 0.14 + 0.22 * k + 0.03 * lattice(seed, k, 1);
        const double top = 0.14 + 0.12 * lattice(seed, k, 2);

        if (fabs(x - mast) < 0.004 && y > top && y < 0.62)
            return colour(0.06, 0.05, 0.04);
        if (x > mast && x < mast + 0.5 * (y - top) && y > top + 0.05 && y < 0.54 && x < mast + 0.13)
            return dim(colour(0.78, 0.74, 0.64), 0.8 + 0.2 * lattice(seed, k, 3));
        if (y > 0.60 && y < 0.67 && fabs(x - mast) < 0.09 - 0.5 * (y - 0.60))
            return colour(0.08 + 0.3 * lattice(seed, k, 4), 0.10, 0.12);
    }
    if (y < 0.46)
        return sky(y, seed, x);
    if (y < 0.52 + 0.02 * hills(seed, x, 1))
        return colour(0.20, 0.22, 0.22);
    return blend(colour(0.06, 0.14, 0.18), colour(0.40, 0.46, 0.46),
                 1.6 * scene_noise(seed + 1, 8 * x, 70 * y, 3) - 0.6);
}

static scene_colour kite(double x, double y, unsigned seed)
{
    const double dx = x - 0.62;
    const double dy = y - 0.30;
    const double tail = 0.62 - 0.05 * sin(22 * (y - 0.4)) - 0.25 * (y - 0.4);

    if (fabs(dx) * 1.5 + fabs(dy) < 0.17)
        return dx * dy > 0 ? colour(0.62, 0.10, 0.08) : colour(0.75, 0.60, 0.12);
    if (y > 0.45 && y < 0.78 && fabs(x - tail) < 0.005)
        return colour(0.15, 0.10, 0.10);
    if (y > 0.80 + 0.05 * hills(seed, x, 0.6))
        return dim(colour(0.24, 0.34, 0.10), 0.6 + 0.8 * scene_noise(seed, 60 * x, 30 * y, 4));
    return sky(y, seed, x);
}

static scene_colour orchard(double x, double y, unsigned seed)
{
    for (int row = 3; row >= 0; row--) {
        const double depth = 0.9 - 0.12 * row;
        const double size = 0.17 - 0.03 * row;

        for (int k = 0; k < 5; k++) {
            const double cx = 0.1 + 0.2 * k + 0.05 * lattice(seed, row, k);
            const double leaf = scene_noise(seed + 9, 26 * x, 26 * y, 3);

            if (hypot(x - cx, (y - depth + 1.3 * size) * 1.1) < size * (0.8 + 0.35 * leaf))
                return lattice(seed, (int)(90 * x), (int)(70 * y)) > 0.93
                           ? colour(0.55, 0.08, 0.05)
                           : dim(colour(0.10, 0.24, 0.06), 0.4 + 1.1 * leaf);
            if (fabs(x - cx) < 0.012 && y < depth && y > depth - 0.12)
                return colour(0.12, 0.08, 0.04);
        }
    }
    return y > 0.5 ? dim(colour(0.26, 0.32, 0.10), 0.7 + 0.6 * scene_noise(seed, 40 * x, 90 * y, 3))
                   : sky(y, seed, x);
}

static scene_colour cake(double x, double y, unsigned seed)
{
    for (int k = 0; k < 3; k++) {
        const double half = 0.34 - 0.09 * k;
        const double top = 0.62 - 0.16 * k;

        if (y > top && y < top + 0.17 && fabs(x - 0.5) < half)
            return y < top + 0.035 + 0.02 * sin(50 * x) ? colour(0.80, 0.78, 0.74)
                                                       : colour(0.52, 0.30 + 0.05 * k, 0.24);
    }
    for (int k = 0; k < 5; k++) {
        const double cx = 0.38 + 0.06 * k;

        if (fabs(x - cx) < 0.008 && y > 0.20 && y < 0.30)
            return colour(0.35, 0.45, 0.65);
        if (hypot(x - cx, (y - 0.175) * 0.7) < 0.014)
            return colour(0.95, 0.75, 0.25);
    }
    if (y > 0.78)
        return dim(colour(0.55, 0.52, 0.48), 0.9 + 0.1 * sin(40 * x));
    return dim(colour(0.16, 0.11, 0.08), 0.8 + 0.5 * scene_noise(seed, 5 * x, 5 * y, 4));
}

static scene_colour picture(const scene_print *p, double x, double y)
{
    static scene_colour (*const motif[])(double, double, unsigned) = { lake, house, harbour,
                                                                       kite, orchard, cake };
    const scene_colour c = motif[p->motif % 6](x, y, p->seed);
    const float grey = 0.2126f * c.r + 0.7152f * c.g + 0.0722f * c.b;

    /* old prints are a warm black and white */
    return blend(colour(1.02 * grey, 0.95 * grey, 0.80 * grey), c, p->colour);
}

/* ---- captions -------------------------------------------------------------------------------- */

/* Strokes on a grid of 5 x 9, digits for places x, y; a blank lifts the pen. Drawn for this. */
static const char *glyph(char c)
{
    static const char *const letters[26] = {
        "4246 4332120305163645", "0006 0312324345361605", "4332120305163645",
        "4046 4332120305163645", "04444332120305163645", "40302126 0242",
        "4247381807 4332120305163645", "0006 0312324346", "2226 2021", "32372808 3031",
        "0006 4204 1446", "202536", "0206 03122326 23324346", "0206 0312324346",
        "120305163645433212", "0208 0312324345361605", "4248 4332120305163645",
        "0206 03123243", "43321203143445361605", "202536 0242", "0205163645 4246", "022642",
        "0216233642", "0246 4206", "0226 4218", "02420646"
    };
    static const char *const digits[10] = {
        "100105163645413010", "112026", "01103041420646", "0110304142334445361605", "36300444",
        "4000033344453606", "30100105163645443303", "004026", "100102133342413010 1304051636454433",
        "43130201103041453616"
    };

    if (c >= 'a' && c <= 'z')
        return letters[c - 'a'];
    if (c >= '0' && c <= '9')
        return digits[c - '0'];
    return c == ',' ? "2617" : c == '-' ? "1434" : "";
}

static double segment_distance(double x, double y, const double a[2], const double b[2])
{
    const double dx = b[0] - a[0];
    const double dy = b[1] - a[1];
    const double n = dx * dx + dy * dy;
    const double t = n > 0 ? fmin(fmax(((x - a[0]) * dx + (y - a[1]) * dy) / n, 0), 1) : 0;

    return hypot(x - a[0] - t * dx, y - a[1] - t * dy);
}

typedef struct canvas {
    float *data;
    size_t width;
    size_t height;
    double scale;            /* px per mm */
} canvas;

static void ink(canvas *c, const double a[2], const double b[2], double pen, scene_colour with)
{
    const double s = c->scale;
    const long x0 = lround(floor((fmin(a[0], b[0]) - pen) * s));
    const long x1 = lround(ceil((fmax(a[0], b[0]) + pen) * s));
    const long y0 = lround(floor((fmin(a[1], b[1]) - pen) * s));
    const long y1 = lround(ceil((fmax(a[1], b[1]) + pen) * s));

    for (long y = y0 < 0 ? 0 : y0; y <= y1 && y < (long)c->height; y++)
        for (long x = x0 < 0 ? 0 : x0; x <= x1 && x < (long)c->width; x++) {
            const double d = segment_distance(((double)x + 0.5) / s, ((double)y + 0.5) / s, a, b);
            const float cover = (float)fmin(fmax((pen / 2 - d) * s + 0.5, 0), 1);
            float *p = c->data + 3 * ((size_t)y * c->width + (size_t)x);

            p[0] += cover * 0.9f * (with.r - p[0]);
            p[1] += cover * 0.9f * (with.g - p[1]);
            p[2] += cover * 0.9f * (with.b - p[2]);
        }
}

static void write_caption(canvas *c, const char *text, double left, double top, double height,
                          scene_colour with)
{
    const double unit = height / 6;
    double x = left;

    for (; *text != '\0'; text++) {
        const char *g = glyph(*text);
        double last[2] = { 0, 0 };
        bool down = false;

        for (; *g != '\0'; g++) {
            double next[2];

            if (*g == ' ') {
                down = false;
                continue;
            }
            /* a hand's slant */
            next[1] = top + unit * (g[1] - '0');
            next[0] = x + unit * (g[0] - '0') + 0.22 * (top + 6 * unit - next[1]);
            if (down)
                ink(c, last, next, 0.12 * height, with);
            last[0] = next[0];
            last[1] = next[1];
            down = true;
            g++;
        }
        x += unit * (*text == ' ' ? 3.4 : *text == 'i' || *text == 'l' ? 4.2 : 5.6);
    }
}

/* ---- the page -------------------------------------------------------------------------------- */

static void glue(canvas *c, const scene_print *p)
{
    const double half_w = p->size[0] / 2;
    const double half_h = p->size[1] / 2;
    const double ct = cos(p->turn);
    const double st = sin(p->turn);
    const double reach = hypot(half_w, half_h) + 2;
    const long y0 = lround((p->centre[1] - reach) * c->scale);
    const long y1 = lround((p->centre[1] + reach) * c->scale);
    const long x0 = lround((p->centre[0] - reach) * c->scale);
    const long x1 = lround((p->centre[0] + reach) * c->scale);

    for (long y = y0 < 0 ? 0 : y0; y < y1 && y < (long)c->height; y++)
        for (long x = x0 < 0 ? 0 : x0; x < x1 && x < (long)c->width; x++) {
            const double dx = ((double)x + 0.5) / c->scale - p->centre[0];
            const double dy = ((double)y + 0.5) / c->scale - p->centre[1];
            const double px = dx * ct + dy * st;
            const double py = -dx * st + dy * ct;
            const double out = fmax(fabs(px) - half_w, fabs(py) - half_h);
            const double cover = fmin(fmax(0.5 - out * c->scale, 0), 1);
            /* a print has a thickness: its shadow falls a little to the lower right */
            const double shade = 1 - 0.35 * exp(-fmax(0, fmax(fabs(px - 0.4) - half_w,
                                                              fabs(py - 0.5) - half_h))
                                                / 0.5);
            float *to = c->data + 3 * ((size_t)y * c->width + (size_t)x);
            scene_colour with = colour(0.80, 0.79, 0.75);

            if (cover <= 0) {
                if (out < 3)
                    for (int k = 0; k < 3; k++)
                        to[k] *= (float)shade;
                continue;
            }
            if (out < -p->border)
                with = picture(p, (px + half_w - p->border) / (2 * (half_w - p->border)),
                               (py + half_h - p->border) / (2 * (half_h - p->border)));
            to[0] += (float)cover * (with.r - to[0]);
            to[1] += (float)cover * (with.g - to[1]);
            to[2] += (float)cover * (with.b - to[2]);
        }
}

float *scene_draw_page(const scene *s, double scale, size_t *width, size_t *height)
{
    canvas c = { NULL, (size_t)ceil(s->page_mm[0] * scale), (size_t)ceil(s->page_mm[1] * scale),
                 scale };

    c.data = malloc(c.width * c.height * 3 * sizeof *c.data);
    if (c.data == NULL)
        return NULL;
    for (size_t y = 0; y < c.height; y++)
        for (size_t x = 0; x < c.width; x++) {
            const scene_colour p = scene_paper_colour(s, ((double)x + 0.5) / scale,
                                                      ((double)y + 0.5) / scale);

            memcpy(c.data + 3 * (y * c.width + x), &p, sizeof p);
        }
    for (size_t i = 0; i < s->prints; i++)
        glue(&c, &s->print[i]);
    for (int i = 0; i < 2; i++)
        if (s->caption[i] != NULL)
            write_caption(&c, s->caption[i], 0.09 * s->page_mm[0] + 6 * i,
                          (i == 0 ? 0.49 : 0.945) * s->page_mm[1], 5.2,
                          s->paper == PAPER_BLACK ? colour(0.70, 0.69, 0.66)
                                                  : colour(0.03, 0.03, 0.05));
    *width = c.width;
    *height = c.height;
    return c.data;
}
