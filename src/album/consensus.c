#include "album/consensus.h"

#include <math.h>
#include <stdlib.h>

#include "album/amend.h"
#include "album/work.h"
#include "base/order.h"

/* Neighbours asked, on either side; fewer than so many in all say nothing. */
enum { NEAR = 8, LEAST = 5 };

/* Neighbours that vary by more than this (a camera in the hand) say nothing. */
static const double STEADY = 0.01;

/* Their own spread, so many times, is no doubt. */
static const double SPREADS = 6;

typedef struct spot {
    size_t line;
    double width;            /* of the picture, px */
    double height;
    double size;             /* logarithm of the root of the page's area, px */
    double x;                /* the page's middle, share of the picture's diagonal */
    double y;
} spot;

static double number_at(const json_t *list, size_t i, size_t k)
{
    return json_number_value(json_array_get(json_array_get(list, i), k));
}

static bool spot_of(spot *out, const json_t *line, size_t index)
{
    const json_t *report = json_object_get(line, "report");
    const json_t *corners = json_object_get(report, "corners");
    double twice_area = 0;
    double diagonal;

    *out = (spot){ .line = index };
    out->width = json_number_value(json_object_get(report, "width"));
    out->height = json_number_value(json_object_get(report, "height"));
    diagonal = hypot(out->width, out->height);
    if (json_array_size(corners) != 4 || !(diagonal > 0)
        || sl_line_outcome(line) > SL_OUTCOME_LOOK
        || sl_line_reason(line, SL_CODE_HAND_CORRECTED) != NULL)
        return false;
    for (size_t k = 0; k < 4; k++) {
        const size_t next = (k + 1) % 4;

        twice_area += number_at(corners, k, 0) * number_at(corners, next, 1)
                      - number_at(corners, next, 0) * number_at(corners, k, 1);
        out->x += number_at(corners, k, 0) / (4 * diagonal);
        out->y += number_at(corners, k, 1) / (4 * diagonal);
    }
    out->size = 0.5 * log(fmax(fabs(twice_area) / 2, 1));
    return true;
}

/* How far `own` is from the middle of the others, and their robust spread. */
static double away(double *spread, double own, double *others, size_t count)
{
    const double middle = sl_median(others, count);

    for (size_t i = 0; i < count; i++)
        others[i] = fabs(others[i] - middle);
    *spread = 1.4826 * sl_median(others, count);
    return own - middle;
}

/* The pages of one kind of picture next to `of[at]`. */
static size_t neighbours(size_t out[2 * NEAR], const spot *of, size_t count, size_t at)
{
    size_t n = 0;

    for (int way = -1; way <= 1; way += 2) {
        size_t taken = 0;

        for (size_t k = 1; taken < NEAR && (way < 0 ? k <= at : at + k < count); k++) {
            const size_t i = way < 0 ? at - k : at + k;

            if (fabs(of[i].width - of[at].width) < 0.5
                && fabs(of[i].height - of[at].height) < 0.5) {
                out[n++] = i;
                taken++;
            }
        }
    }
    return n;
}

static void doubt_one(json_t *lines, const spot *of, size_t count, size_t at, double limit)
{
    size_t near[2 * NEAR];
    const size_t n = neighbours(near, of, count, at);
    double value[3][2 * NEAR];
    double spread[3];
    double size;
    double place;

    if (n < LEAST)
        return;
    for (size_t i = 0; i < n; i++) {
        value[0][i] = of[near[i]].size;
        value[1][i] = of[near[i]].x;
        value[2][i] = of[near[i]].y;
    }
    size = away(&spread[0], of[at].size, value[0], n);
    place = hypot(away(&spread[1], of[at].x, value[1], n), away(&spread[2], of[at].y, value[2], n));
    spread[1] = hypot(spread[1], spread[2]);
    if (spread[0] < STEADY && fabs(size) > fmax(limit, SPREADS * spread[0]))
        sl_amend_add(lines, of[at].line, SL_CODE_ODD_PLACE, 100 * fabs(size), 100 * limit, "%",
                     SL_LOOK,
                     "The page is %.0f %% %s in its picture than the pages before and after it. "
                     "Check that this is the whole page and nothing else; if the camera was moved, "
                     "all is well.",
                     100 * fabs(expm1(size)), size < 0 ? "smaller" : "larger");
    else if (spread[0] < STEADY && spread[1] < STEADY
             && place > fmax(1.5 * limit, SPREADS * spread[1]))
        sl_amend_add(lines, of[at].line, SL_CODE_ODD_PLACE, 100 * place, 150 * limit, "%", SL_LOOK,
                     "The page lies elsewhere in its picture than the pages before and after it. "
                     "Check that this is the page that was meant; if it or the camera was moved, "
                     "all is well.");
}

bool sl_consensus_doubt(json_t *lines, double limit)
{
    const size_t all = json_array_size(lines);
    spot *of = calloc(all + 1, sizeof *of);
    size_t count = 0;

    if (of == NULL)
        return false;
    for (size_t i = 0; i < all; i++)
        count += spot_of(&of[count], json_array_get(lines, i), i);
    for (size_t i = 0; i < count; i++)
        doubt_one(lines, of, count, i, limit);
    free(of);
    return true;
}
