#include "base/blur.h"

#include <math.h>

enum { HALF = 14, LINES = 4, REACH = 8 };

static const double LEAST_CHANGE = 30;        /* codes: grain and noise have less */
static const double ROOT_TWO_PI = 2.5066282746310002;

/* Mean of the channels at a px, codes 0..255. */
static double code_at(const sl_image *shot, size_t x, size_t y)
{
    const unsigned char *row = shot->data + y * shot->stride;
    double sum = 0;

    if (shot->bits == 8 && shot->channels == 3) {
        const unsigned char *px = row + 3 * x;

        return (double)(px[0] + px[1] + px[2]) / 3;
    }
    for (size_t c = 0; c < shot->channels; c++) {
        const size_t i = x * shot->channels + c;

        sum += shot->bits == 8 ? row[i] : ((const uint16_t *)(const void *)row)[i] / 257.0;
    }
    return sum / shot->channels;
}

/* Between px, linearly. */
static double code_between(const sl_image *shot, double x, double y)
{
    const size_t i = (size_t)x;
    const size_t j = (size_t)y;
    const double fx = x - (double)i;
    const double fy = y - (double)j;
    const double here = code_at(shot, i, j);
    const double upper = fx > 0 ? here + fx * (code_at(shot, i + 1, j) - here) : here;
    double lower = upper;

    if (fy > 0) {
        const double below = code_at(shot, i, j + 1);

        lower = fx > 0 ? below + fx * (code_at(shot, i + 1, j + 1) - below) : below;
    }
    return upper + fy * (lower - upper);
}

/* Blur of the steepest place on a line of px through `at`; 0 when there is no step on it. */
static double line_blur(const sl_image *shot, sl_point at, sl_point step)
{
    double value[2 * HALF + 1];
    double steepest = 0;
    double low = INFINITY;
    double high = -INFINITY;
    int place = 0;

    for (int k = -HALF; k <= HALF; k++)
        value[k + HALF] = code_between(shot, at.x + k * step.x, at.y + k * step.y);
    for (int k = REACH; k <= 2 * HALF - REACH; k++) {
        const double slope = fabs(value[k + 1] - value[k - 1]) / 2;

        if (slope > steepest) {
            steepest = slope;
            place = k;
        }
    }
    for (int k = place - REACH; k <= place + REACH && steepest > 0; k++) {
        /* fmin() and fmax() are calls */
        low = value[k] < low ? value[k] : low;
        high = value[k] > high ? value[k] : high;
    }
    return high - low >= LEAST_CHANGE ? (high - low) / (steepest * ROOT_TWO_PI) : 0;
}

double sl_window_blur(const sl_image *shot, sl_point at, sl_point step)
{
    double best = 0;

    for (int k = -LINES; k <= LINES; k += 2) {
        const double b = line_blur(shot, (sl_point){ at.x - k * step.y, at.y + k * step.x },
                                   step);

        if (b > 0 && (best <= 0 || b < best))
            best = b;
    }
    return best;
}
