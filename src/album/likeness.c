/*
 * Cells are means of coded grey. Each is then measured against its surroundings, in their own
 * standard deviations (local contrast normalisation): a lamp's fall-off, the exposure and the
 * colour of paper and light go away, what is glued to the page or written on it stays.
 */
#include "album/likeness.h"

#include <limits.h>
#include <math.h>
#include <string.h>

enum { SIDE = SL_LIKENESS_SIDE, SAMPLES = 8, AROUND = 6 };

/* Left out along the edges, share of the page: shadows, holes, frays. */
static const double INSET = 0.02;

/* Contrast that counts for none, share of the surroundings' grey: paper fibre, noise. */
static const double FAINT = 0.04;

static const char letters[SL_LIKENESS_LEVELS + 1] =
    "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz+";
static const char NO_CELL = '-';

/* Coded grey 0..1 at the nearest px; negative outside the picture. */
static double grey_at(const sl_image *image, sl_point p)
{
    const double x = floor(p.x + 0.5);
    const double y = floor(p.y + 0.5);
    const unsigned n = image->channels;
    const unsigned char *row;
    double sum = 0;

    if (!(x >= 0 && y >= 0 && x < (double)image->width && y < (double)image->height))
        return -1;
    row = image->data + (size_t)y * image->stride;
    if (image->bits == 16) {
        const uint16_t *px = (const uint16_t *)(const void *)row + (size_t)x * n;

        for (unsigned c = 0; c < n; c++)
            sum += px[c] / 65535.0;
    } else {
        for (unsigned c = 0; c < n; c++)
            sum += row[(size_t)x * n + c] / 255.0;
    }
    return sum / n;
}

static sl_point between(sl_point a, sl_point b, double t)
{
    return (sl_point){ a.x + t * (b.x - a.x), a.y + t * (b.y - a.y) };
}

/* Mean grey of each cell; negative where most of it lies outside the picture. */
static void take_cells(double cell[SL_LIKENESS_CELLS], const sl_page *page)
{
    const sl_page_map *map = &page->rectified.map;
    sl_point node[2][SIDE + 1];

    for (int j = 0; j <= SIDE; j++) {
        sl_point *const below = node[j % 2];
        const sl_point *const above = node[(j + 1) % 2];

        for (int i = 0; i <= SIDE; i++)
            below[i] = sl_page_map_point(map, map->page[0] * (INSET + (1 - 2 * INSET) * i / SIDE),
                                         map->page[1] * (INSET + (1 - 2 * INSET) * j / SIDE));
        for (int i = 0; i < SIDE && j > 0; i++) {
            double sum = 0;
            int seen = 0;

            for (int k = 0; k < SAMPLES * SAMPLES; k++) {
                const double s = (k % SAMPLES + 0.5) / SAMPLES;
                const double t = (k / SAMPLES + 0.5) / SAMPLES;
                const double grey = grey_at(page->shot->image,
                                            between(between(above[i], above[i + 1], s),
                                                    between(below[i], below[i + 1], s), t));

                sum += grey >= 0 ? grey : 0;
                seen += grey >= 0;
            }
            cell[(j - 1) * SIDE + i] = 2 * seen > SAMPLES * SAMPLES ? sum / seen : -1;
        }
    }
}

/* A cell against its surroundings, in their standard deviations. */
static double evened(const double cell[SL_LIKENESS_CELLS], int x, int y)
{
    double n = 0;
    double sum = 0;
    double square = 0;
    double mean;

    for (int j = y - AROUND; j <= y + AROUND; j++)
        for (int i = x - AROUND; i <= x + AROUND; i++)
            if (i >= 0 && j >= 0 && i < SIDE && j < SIDE && cell[j * SIDE + i] >= 0) {
                const double v = cell[j * SIDE + i];

                n++;
                sum += v;
                square += v * v;
            }
    mean = sum / n;
    return (cell[y * SIDE + x] - mean)
           / (sqrt(fmax(0, square / n - mean * mean)) + FAINT * mean + 0.004);
}

void sl_likeness_take(sl_likeness out, const sl_page *page)
{
    const double middle = SL_LIKENESS_LEVELS / 2;
    double cell[SL_LIKENESS_CELLS];

    take_cells(cell, page);
    for (int k = 0; k < SL_LIKENESS_CELLS; k++) {
        if (cell[k] < 0)
            out[k] = NO_CELL;
        else
            out[k] = letters[lround(fmin(fmax(middle + SL_LIKENESS_SCALE
                                                           * evened(cell, k % SIDE, k / SIDE),
                                              0),
                                         SL_LIKENESS_LEVELS - 1))];
    }
    out[SL_LIKENESS_CELLS] = '\0';
}

bool sl_likeness_is(const char *text)
{
    unsigned char level[SL_LIKENESS_CELLS];

    return sl_likeness_read(level, text);
}

bool sl_likeness_read(unsigned char level[SL_LIKENESS_CELLS], const char *text)
{
    enum { NO_LETTER = SL_LIKENESS_NONE - 1 };
    unsigned char level_of[1 << CHAR_BIT];
    bool all = true;

    if (text == NULL || strlen(text) != SL_LIKENESS_CELLS)
        return false;
    memset(level_of, NO_LETTER, sizeof level_of);
    for (int k = 0; k < SL_LIKENESS_LEVELS; k++)
        level_of[(unsigned char)letters[k]] = (unsigned char)k;
    level_of[(unsigned char)NO_CELL] = SL_LIKENESS_NONE;
    for (int k = 0; k < SL_LIKENESS_CELLS; k++) {
        level[k] = level_of[(unsigned char)text[k]];
        all = all && level[k] != NO_LETTER;
    }
    return all;
}
