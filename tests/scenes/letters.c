/*
 * A pen's letters: strokes on a grid, smoothed, slanted, a little uneven, as written by hand.
 *
 * A glyph is a text of points, each a column and a row digit: row 0 is a capital's top, 3 the top
 * of small letters, 7 the base line, 9 the descender. A stroke that begins with / is straight from
 * point to point, any other is a smooth curve through its points (Catmull & Rom 1974).
 */
#include <stdlib.h>
#include <string.h>

#include "scenes/canvas.h"
#include "scenes/chance.h"

enum { BASE = 7, LONGEST_STROKE = 16, CURVE_STEPS = 6 };

static const char *const SMALL[26] = {
    "4423052745 /434657", "/0007 0523452706", "4423052746", "4523052745 /4047",
    "05354423052746", "4130211217 /0333", "4523052745 4347391908", "/0007 05234447",
    "/1317 /1111", "23281909 /2121", "/0007 /330547", "101627", "/0307 05233437 35536467",
    "/0307 05234447", "2305274523", "/0309 0523452706", "4523052745 /4349", "/0307 05233343",
    "44230425462706", "11162746 /0333", "03062745 /4347", "/032743", "/0317345763",
    "/0347 /4307", "/0326 /4319", "/03430747"
};

static const char *const CAPITAL[26] = {
    "/073067 /1555", "/0007 0030423303 0333553707", "51301104163756", "/0007 003053543707",
    "/50000757 /0343", "/500007 /0343", "51301104163756 /575434", "/0007 /5057 /0353", "/1017",
    "40452706", "/0007 /500457", "/000757", "/0700346067", "/07005750", "301104163756645130",
    "/0007 0030523404", "301104163756645130 /4568", "/0007 0030523404 /2457",
    "5130111344563706", "/0060 /3037", "000527465450", "/003760", "/0017325760", "/0057 /5007",
    "/003460 /3437", "/00500757"
};

static const char *const DIGIT[10] = {
    "20020527454220", "/022027", "0120422507 /0747", "01204123452706", "/300545 /3237",
    "/400003 0322452706", "40120527452405", "/004017", "230220422305274523", "4224022042 4237"
};

static const char *glyph_of(char c)
{
    if (c >= 'a' && c <= 'z')
        return SMALL[c - 'a'];
    if (c >= 'A' && c <= 'Z')
        return CAPITAL[c - 'A'];
    if (c >= '0' && c <= '9')
        return DIGIT[c - '0'];
    switch (c) {
    case '.': return "/0707";
    case ',': return "/1708";
    case ':': return "/0404 /0707";
    case '!': return "/0005 /0707";
    case '-': return "/0535";
    case '\'': return "/1012";
    default: return "";
    }
}

/* Columns to the next letter. */
static double advance_of(char c)
{
    double most = 0;

    if (c == ' ')
        return 3.5;
    for (const char *g = glyph_of(c); *g != '\0'; g++) {
        if (*g < '0' || *g > '9')
            continue;
        if (g[0] - '0' > most)
            most = g[0] - '0';
        g++;
    }
    return most + 1.8;
}

double scene_text_width(const char *text)
{
    double columns = 0;

    for (; *text != '\0'; text++)
        columns += advance_of(*text);
    return columns / BASE;
}

/* ---- ink ------------------------------------------------------------------------------------- */

static double segment_distance(double x, double y, const double a[2], const double b[2])
{
    const double dx = b[0] - a[0];
    const double dy = b[1] - a[1];
    const double n = dx * dx + dy * dy;
    const double t = n > 0 ? smaller(larger(((x - a[0]) * dx + (y - a[1]) * dy) / n, 0), 1) : 0;

    return length2(x - a[0] - t * dx, y - a[1] - t * dy);
}

static void draw_line(scene_canvas *canvas, const double a[2], const double b[2], double pen,
                      scene_colour ink)
{
    const double reach = length2(b[0] - a[0], b[1] - a[1]) / 2 + pen + 1 / canvas->scale;
    size_t first[2];
    size_t end[2];

    if (!scene_canvas_range(canvas, (a[0] + b[0]) / 2, (a[1] + b[1]) / 2, reach, first, end))
        return;
    for (size_t j = first[1]; j < end[1]; j++)
        for (size_t i = first[0]; i < end[0]; i++) {
            const double d = segment_distance(((double)i + 0.5) / canvas->scale,
                                              ((double)j + 0.5) / canvas->scale, a, b);
            const float cover = scene_clamp((float)((pen / 2 - d) * canvas->scale + 0.5));
            scene_colour *p = &canvas->px[j * canvas->width + i];

            *p = scene_mix(*p, ink, 0.9f * cover);
        }
}

static double smooth(double a, double b, double c, double d, double t)
{
    const double square = 2 * a - 5 * b + 4 * c - d;
    const double cube = 3 * (b - c) + d - a;

    return 0.5 * (2 * b + t * (c - a + t * (square + t * cube)));
}

/* A strip of paper under the words, with its own narrow shadow. */
static void glue_label(scene_canvas *canvas, const scene_caption *caption, double half)
{
    const double c = cos(caption->turn);
    const double s = sin(caption->turn);
    const double tall = 0.95 * caption->height;
    size_t first[2];
    size_t end[2];

    if (!scene_canvas_range(canvas, caption->at[0], caption->at[1], half + tall + 3, first, end))
        return;
    for (size_t j = first[1]; j < end[1]; j++)
        for (size_t i = first[0]; i < end[0]; i++) {
            const double du = ((double)i + 0.5) / canvas->scale - caption->at[0];
            const double dv = ((double)j + 0.5) / canvas->scale - caption->at[1];
            const double x = c * du + s * dv;
            const double y = -s * du + c * dv + 0.4 * caption->height;
            const double d = larger(fabs(x) - half - 2.5, fabs(y) - tall);
            const double shade = larger(fabs(x - 0.2) - half - 2.5, fabs(y - 0.25) - tall);
            scene_colour *p = &canvas->px[j * canvas->width + i];

            if (d > 2)
                continue;
            *p = scene_dim(*p, 1 - 0.3f * expf(-(float)larger(shade, 0) / 0.3f));
            *p = scene_mix(*p, scene_coded(0xf1eee4),
                           scene_clamp((float)(0.5 - d * canvas->scale)));
        }
}

void scene_draw_caption(scene_canvas *canvas, const scene_caption *caption, scene_colour ink,
                        unsigned seed)
{
    const double unit = caption->height / BASE;
    const double pen = larger(0.105 * caption->height, 0.3);
    const double c = cos(caption->turn);
    const double s = sin(caption->turn);
    double x = -scene_text_width(caption->text) * caption->height / 2;

    if (caption->label)
        glue_label(canvas, caption, -x);

    for (const char *text = caption->text; *text != '\0'; text++) {
        const float at = (float)(text - caption->text);
        const double rise = 0.10 * caption->height * (scene_noise(seed, 0.7f * at, 0) - 0.5);
        const char *g = glyph_of(*text);

        while (*g != '\0') {
            double point[LONGEST_STROKE][2];
            double last[2] = { 0, 0 };
            const bool straight = *g == '/';
            size_t n = 0;

            g += straight;
            for (; g[0] != '\0' && g[0] != ' ' && n < LONGEST_STROKE; g += 2, n++) {
                const double py = unit * (g[1] - '0' - BASE) + rise;
                const double px = x + unit * (g[0] - '0') - 0.2 * py; /* a hand's slant */

                point[n][0] = caption->at[0] + c * px - s * py;
                point[n][1] = caption->at[1] + s * px + c * py;
            }
            g += *g == ' ';
            for (size_t i = 0; i + 1 < n; i++)
                for (int k = 0; k <= CURVE_STEPS; k++) {
                    const double t = (double)k / CURVE_STEPS;
                    double next[2];

                    for (int axis = 0; axis < 2; axis++) {
                        const double p1 = point[i][axis];
                        const double p2 = point[i + 1][axis];

                        next[axis] = straight ? p1 + t * (p2 - p1)
                                              : smooth(i > 0 ? point[i - 1][axis] : p1, p1, p2,
                                                       i + 2 < n ? point[i + 2][axis] : p2, t);
                    }
                    if (k > 0 && (!straight || k == CURVE_STEPS))
                        draw_line(canvas, straight ? point[i] : last, next, pen, ink);
                    memcpy(last, next, sizeof last);
                }
        }
        x += unit * advance_of(*text);
    }
}
