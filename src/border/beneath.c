/*
 * Along a side, strips of px are averaged at every depth inside it. A dark or light line, or a
 * small step, is evidence at its depth; the course that gathers most of it from corner to corner
 * is found by dynamic programming, as the coarse search traces a side.
 */
#include "border/beneath.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "border/colour_near.h"
#include "border/select.h"

enum { PLACES = 96, NEAR_MOST = 120, DEPTHS_MOST = 2 * NEAR_MOST };
enum { MARGIN = 22, LINE_WIDTH = 5, LINES_MOST = 6 };

/* As far again is looked at: there a pattern goes on, and a pile does not; px at least. */
static const double BEYOND_LEAST = 24;

static const double CORNER_SHARE = 0.02;      /* of the side left out at each end */
enum { HALF = 4, WIDTH = 2 * HALF + 1 };      /* px of a strip: every other one along the side */
static const double LEAST = 2.5;              /* codes: no line is fainter */
static const double OVER_NOISE = 6;           /* a line's evidence over what has none */
static const double MOST_EVIDENCE = 8;        /* a print's bold edge counts no more than this */
static const double SAME_PAPER = 16;          /* codes from one side of the line to the other */
static const double SAME_HUE = 5;             /* codes, in a shade no deeper than this */
static const double DEEPEST_SHADE = 0.75;
enum { FADES_WITHIN = 10, TABLE_AWAY = 14 };  /* px: a shadow on a sheet, the table off the side */
static const double SHADOW_OF_STEP = 0.2;     /* a camera's sharpening makes less of a rim */
static const double DEEPEST_OWN = 0.4;        /* shade of a shadow from the side to the line */
static const double LEAST_OWN = 0.93;
static const double SHADED = 0.5;             /* of a sheet's edge has a shadow */
static const double ALIKE = 0.4;              /* of a line has one paper on both its sides */
static const double SEEN = 0.45;              /* of the side: there is a line */
static const double WHOLE = 0.8;              /* ... from corner to corner, as a sheet's edge is */
static const double POINT_SIGMA = 0.5;        /* px; of a place on a faint line */
static const double POINT_BLUR = 0;           /* not measured */
static const double SIDESTEP = 0.35;          /* cost of a course's step by one px */
static const double COMPARABLE = 0.5;         /* of the boldest line's evidence: another like it */

/* A row of dots: so many runs at least, and so evenly spaced (deviation over mean). */
static const int    DOTS_LEAST = 10;
static const double DOTS_EVEN = 0.35;

enum { STRIPS_MOST = DEPTHS_MOST + 2 * MARGIN };

/* Codes 0..255 of one place's strips, by depth: strip k lies k - MARGIN px inside nearest. */
typedef struct strips {
    float value[3][STRIPS_MOST]; /* of each channel */
    float line[DEPTHS_MOST]; /* how much of a line or step there is at each depth, codes */
    int   side;              /* the strip at the side's own edge; below 0: further out than all */
    bool  seen;
} strips;

typedef struct field {
    strips place[PLACES];
    float  evidence[PLACES][DEPTHS_MOST];
    float  best[PLACES][DEPTHS_MOST];
    signed char from[PLACES][DEPTHS_MOST];
    int    depths;           /* looked at, one px each */
    int    near;             /* the first of them, at which a sheet's edge may lie */
    double nearest;          /* px inside the course */
} field;

static double place_of(int i)
{
    return (1 - 2 * CORNER_SHARE) * ((2.0 * i + 1) / PLACES - 1);
}

static inline void add_codes(unsigned sum[3], const sl_image *shot, size_t x, size_t y)
{
    const unsigned char *row = shot->data + y * shot->stride;
    const size_t first = x * shot->channels;

    for (size_t c = 0; c < 3; c++) {
        const size_t i = first + (shot->channels == 3 ? c : 0);

        sum[c] += shot->bits == 8 ? row[i] : ((const uint16_t *)(const void *)row)[i] / 257u;
    }
}

/* Averages strips along `along` about points from `first` inward. */
static void read_strips(strips *out, int count, const sl_image *shot, sl_point first,
                        sl_point along, sl_point in)
{
    sl_point aside[WIDTH];

    for (int j = 0; j < WIDTH; j++)
        aside[j] = (sl_point){ 2 * (j - HALF) * along.x, 2 * (j - HALF) * along.y };
    out->seen = true;
    for (int k = 0; k < count && out->seen; k += count - 1)
        for (int j = 0; j < WIDTH; j += WIDTH - 1) {
            const double x = first.x + k * in.x + aside[j].x;
            const double y = first.y + k * in.y + aside[j].y;

            if (x < 0 || y < 0 || x > (double)shot->width - 1 || y > (double)shot->height - 1)
                out->seen = false;
        }
    for (int k = 0; k < count && out->seen; k++) {
        const sl_point middle = { first.x + k * in.x, first.y + k * in.y };
        unsigned sum[3] = { 0, 0, 0 };

        for (int j = 0; j < WIDTH; j++)
            add_codes(sum, shot, (size_t)(middle.x + aside[j].x + 0.5),
                      (size_t)(middle.y + aside[j].y + 0.5));
        for (int c = 0; c < 3; c++)
            out->value[c][k] = (float)sum[c] / (float)WIDTH;
    }
}

/* Mean of a channel over strips first .. last. */
static float mean_of(const strips *s, int first, int last, int c)
{
    float sum = 0;

    for (int k = first; k <= last; k++)
        sum += s->value[c][k];
    return sum / (float)(last - first + 1);
}

/*
 * How much of a line or step there is at each depth: codes, over the three channels' mean. Plain
 * loops, that compilers turn into vector code.
 */
static void see_lines(strips *s, int depths)
{
    float line[DEPTHS_MOST] = { 0 };
    float step[DEPTHS_MOST] = { 0 };

    for (int c = 0; c < 3; c++) {
        const float *const v = s->value[c];
        float two[STRIPS_MOST];      /* means of the strip and the one after it ... */
        float three[STRIPS_MOST];    /* ... and the two after it */

        for (int k = MARGIN - 4; k < depths + MARGIN + 4; k++) {
            two[k] = (v[k] + v[k + 1]) / 2;
            three[k] = (v[k] + v[k + 1] + v[k + 2]) / 3;
        }
        for (int d = 0; d < depths; d++) {
            const float before = two[d + MARGIN - 4];
            const float after = three[d + MARGIN + 3];
            const float here = three[d + MARGIN - 1];
            const float low = before < after ? before : after;
            const float high = before < after ? after : before;
            const float dark = low - here > 0 ? low - here : 0;

            line[d] += here - high > 0 ? here - high : dark;
            step[d] += fabsf(three[d + MARGIN + 1] - three[d + MARGIN - 3]);
        }
    }
    for (int d = 0; d < depths; d++)
        s->line[d] = (line[d] > step[d] ? line[d] : step[d]) / 3;
}

/* Mean code of a strip over the channels. */
static float light_of(const strips *s, int k)
{
    return (s->value[0][k] + s->value[1][k] + s->value[2][k]) / 3;
}

static int darkest_near(const strips *s, int k)
{
    int darkest = k;

    for (int j = k - 3; j <= k + 2; j++)
        if (light_of(s, j) < light_of(s, darkest))
            darkest = j;
    return darkest;
}

/* Does a shadow lie at strip k, darker than what is on either side of it? A step from one colour to
   another has none. */
static bool shadow_at(const strips *s, int k)
{
    const int darkest = darkest_near(s, k);
    float outer;
    float inner;
    float depth;

    outer = inner = light_of(s, darkest);
    /* which fades slowly on the table's side, when the lamp is large */
    for (int j = 1; j <= FADES_WITHIN && darkest >= j; j++)
        outer = fmaxf(outer, light_of(s, darkest - j));
    for (int j = 1; j <= 4; j++)
        inner = fmaxf(inner, light_of(s, darkest + j));
    depth = fminf(outer, inner) - light_of(s, darkest);
    return depth > fmaxf((float)LEAST, (float)SHADOW_OF_STEP * fabsf(outer - inner));
}

/*
 * Is the band from the side to strip k the page's own shadow on the table: lighter paper inside it,
 * and lighter table outside the side, of the band's hue?
 */
static bool own_shadow(const strips *s, int k)
{
    float table[3];
    float band[3];
    double shade;

    if (s->side < TABLE_AWAY || k - 4 < s->side + 3)
        return false;
    for (int c = 0; c < 3; c++) {
        table[c] = mean_of(s, s->side - TABLE_AWAY, s->side - TABLE_AWAY + 3, c);
        band[c] = mean_of(s, k - 4, k - 3, c);
    }
    shade = sl_colour_shade(band, table);
    for (int c = 0; c < 3; c++)
        if (fabs((double)band[c] - shade * (double)table[c]) > SAME_HUE)
            return false;
    return shade > DEEPEST_OWN && shade < LEAST_OWN
           && mean_of(s, k + 4, k + 8, 1) > band[1] + (float)LEAST;
}

/* Is what lies on either side of strip k one paper: by its codes, or by its hue, the outer side in
   some shade of the inner one's edge? */
static bool paper_both_sides(const strips *s, int k)
{
    float outer[3];
    float inner[3];
    double shade;
    double most = 0;
    double off_hue = 0;

    for (int c = 0; c < 3; c++) {
        outer[c] = mean_of(s, k - 4, k - 3, c);
        inner[c] = mean_of(s, k + 4, k + 8, c);
    }
    shade = sl_colour_shade(outer, inner);
    for (int c = 0; c < 3; c++) {
        most = fmax(most, fabs((double)(outer[c] - inner[c])));
        off_hue = fmax(off_hue, fabs((double)outer[c] - shade * (double)inner[c]));
    }
    return most < SAME_PAPER || own_shadow(s, k)
           || (off_hue < SAME_HUE && shade > DEEPEST_SHADE && shade < 1 && shadow_at(s, k));
}

/*
 * Evidence in units of what must be exceeded; 0 below, and where the paper is not the same on both
 * sides of it, unless `stripes`: a pattern ends at a page's edge as well as its paper does.
 */
static void weigh(field *f, bool stripes)
{
    float usual[PLACES];
    float grain;

    for (int i = 0; i < PLACES; i++) {
        float level[DEPTHS_MOST];

        for (int d = 0; d < f->depths; d++)
            level[d] = f->evidence[i][d] = f->place[i].seen ? f->place[i].line[d] : 0;
        /* a fifth of the depths at least has no line: what they show is grain */
        usual[i] = sl_select(level, f->depths, f->depths / 5);
    }
    grain = sl_select(usual, PLACES, PLACES / 2);
    for (int i = 0; i < PLACES; i++) {
        const float unit = fmaxf((float)LEAST, (float)OVER_NOISE * grain);

        for (int d = 0; d < f->depths; d++) {
            const float e = f->evidence[i][d] / unit;

            f->evidence[i][d] = e < 1 || (!stripes && !paper_both_sides(&f->place[i], d + MARGIN))
                                    ? 0
                                    : fminf(e, (float)MOST_EVIDENCE);
        }
    }
}

/* The course with most evidence at depth indices first <= d < last: that of each place. */
static void trace(int course[PLACES], field *f, int first, int last)
{
    int at = first;

    for (int i = 0; i < PLACES; i++) {
        for (int d = first; d < last; d++) {
            /* seen at all counts for more than boldness */
            const float gain = f->evidence[i][d] > 0 ? 3 + f->evidence[i][d] / 2 : 0;
            float before = 0;

            f->from[i][d] = 0;
            if (i > 0) {
                before = f->best[i - 1][d];
                for (int m = -1; m <= 1; m += 2) {
                    const int e = d + m;

                    if (e >= first && e < last
                        && f->best[i - 1][e] - (float)SIDESTEP > before) {
                        before = f->best[i - 1][e] - (float)SIDESTEP;
                        f->from[i][d] = (signed char)m;
                    }
                }
            }
            f->best[i][d] = before + gain;
        }
    }
    for (int d = first + 1; d < last; d++)
        if (f->best[PLACES - 1][d] > f->best[PLACES - 1][at])
            at = d;
    for (int i = PLACES - 1; i >= 0; i--) {
        course[i] = at;
        at += f->from[i][at];
    }
}

/* Step from one strip to the next about strip k, inward: codes over the three channels' mean. */
static float slope_at(const strips *s, int k)
{
    float sum = 0;

    for (int c = 0; c < 3; c++)
        sum += fabsf(mean_of(s, k + 1, k + 2, c) - mean_of(s, k - 2, k - 1, c));
    return sum / 3;
}

/* How much lighter it grows about strip k, inward: codes. */
static float rise_at(const strips *s, int k)
{
    return (light_of(s, k + 1) + light_of(s, k + 2) - light_of(s, k - 1) - light_of(s, k - 2)) / 2;
}

/*
 * Where the upper sheet ends, px inward of strip k's middle. Outward of it lies its shadow, darkest
 * at the sheet and fading away: so it ends where the light rises most from the darkest strip
 * inward. Where there is no shadow the steepest place of the line's inner side is taken. The top by
 * a parabola.
 */
static double end_of_sheet(const strips *s, int k)
{
    const bool shadow = shadow_at(s, k);
    const int first = shadow ? darkest_near(s, k) : k - 1;
    const int last = shadow ? first + 3 : k + 4;
    float (*const step)(const strips *, int) = shadow ? rise_at : slope_at;
    int best = first;
    float before;
    float here;
    float after;

    for (int j = first; j <= last; j++)
        if (step(s, j) > step(s, best))
            best = j;
    before = step(s, best - 1);
    here = step(s, best);
    after = step(s, best + 1);
    if (here > before && here >= after)
        return best - k + 0.5 * (double)((before - after) / (before - 2 * here + after));
    return best - k;
}

/* The traced places as edge points and a course of the shot. */
static void make_edge(sl_inner *out, const sl_course *outer, const int course[PLACES],
                      const field *f)
{
    sl_point point[PLACES];
    size_t count = 0;
    size_t alike = 0;
    size_t shaded = 0;
    double sum = 0;

    memset(out, 0, sizeof *out);
    for (int i = 0; i < PLACES; i++) {
        const sl_point p = sl_course_point(outer, place_of(i));
        const sl_point in = sl_course_inward(outer, place_of(i));
        const int k = course[i] + MARGIN;

        if (f->evidence[i][course[i]] > 0) {
            const double depth = f->nearest + course[i] + end_of_sheet(&f->place[i], k);

            point[count] = (sl_point){ p.x + depth * in.x, p.y + depth * in.y };
            out->edge.point[count] = (sl_edge_point){
                point[count], POINT_SIGMA, POINT_BLUR,
                (double)(slope_at(&f->place[i], k) / 255)
            };
            count++;
            alike += paper_both_sides(&f->place[i], k);
            shaded += shadow_at(&f->place[i], k) || own_shadow(&f->place[i], k);
            sum += depth;
        }
    }
    out->edge.count = count;
    out->edge.support = (double)count / PLACES;
    out->edge.paper = 1;
    out->depth = count > 0 ? sum / (double)count : 0;
    /* not all of a side is stripes */
    out->alike = (double)alike >= ALIKE * (double)count;
    out->shaded = (double)shaded >= SHADED * (double)count;
    if (!sl_course_near(&out->course, outer, point, count))
        out->edge.support = 0;
}

/* The stretches of places at which a line is seen. */
typedef struct runs {
    int    count;
    bool   even;             /* they begin as evenly as a pattern's */
} runs;

static runs runs_of(const field *f, const int course[PLACES])
{
    runs r = { 0, false };
    int before = -1;
    int apart = 0;
    double sum = 0;
    double squares = 0;

    for (int i = 0; i < PLACES; i++) {
        if (!(f->evidence[i][course[i]] > 0)
            || (i > 0 && f->evidence[i - 1][course[i - 1]] > 0))
            continue;
        r.count++;
        if (i == 0)
            continue;
        if (before >= 0) {
            sum += i - before;
            squares += (i - before) * (i - before);
            apart++;
        }
        before = i;
    }
    if (apart >= DOTS_LEAST) {
        const double mean = sum / apart;

        r.even = sqrt(fmax(0, squares / apart - mean * mean)) < DOTS_EVEN * mean;
    }
    return r;
}

/* Mean evidence of a line. */
static double evidence_of(const field *f, const int course[PLACES])
{
    double sum = 0;

    for (int i = 0; i < PLACES; i++)
        sum += (double)f->evidence[i][course[i]];
    return sum / PLACES;
}

/* Takes a line's evidence away, so that the next one can be seen. */
static void erase(field *f, const int course[PLACES])
{
    for (int i = 0; i < PLACES; i++)
        for (int d = course[i] - LINE_WIDTH; d <= course[i] + LINE_WIDTH; d++)
            if (d >= 0 && d < f->depths)
                f->evidence[i][d] = 0;
}

static void read_field(field *f, const sl_course *outer, const sl_image *shot)
{
    for (int i = 0; i < PLACES; i++) {
        const sl_point p = sl_course_point(outer, place_of(i));
        const sl_point in = sl_course_inward(outer, place_of(i));
        const double depth = f->nearest - MARGIN;

        f->place[i].side = (int)(MARGIN - f->nearest);
        read_strips(&f->place[i], f->depths + 2 * MARGIN, shot,
                    (sl_point){ p.x + depth * in.x, p.y + depth * in.y },
                    (sl_point){ -in.y, in.x }, in);
        if (f->place[i].seen)
            see_lines(&f->place[i], f->depths);
    }
}

/* Are there such lines further in too, where no sheet ends: a pattern? */
static bool goes_on(sl_inner *line, const sl_course *outer, field *f)
{
    int course[PLACES];

    trace(course, f, f->near + LINE_WIDTH, f->depths);
    make_edge(line, outer, course, f);
    return line->alike && line->edge.support >= WHOLE;
}

/* Is a traced course the top of its line, not its flank: is there less evidence one px on? */
static bool is_top(const field *f, const int course[PLACES])
{
    double here = 0;
    double on = 0;

    for (int i = 0; i < PLACES; i++) {
        here += (double)f->evidence[i][course[i]];
        if (course[i] + 1 < f->depths)
            on += (double)f->evidence[i][course[i] + 1];
    }
    return here >= on;
}

/*
 * In a pile the page on top may be of a pattern, which ends at its edge: the first whole line
 * in a shadow further in than `out`, whatever lies on its two sides.
 */
static void go_deeper(sl_inner *out, sl_inner *line, const sl_course *outer, field *f)
{
    const int from = (int)(out->depth - f->nearest) + LINE_WIDTH;
    int last = f->near;

    weigh(f, true);
    while (from < last) {
        int course[PLACES];
        int deepest = 0;
        runs seen;

        trace(course, f, from, last);
        make_edge(line, outer, course, f);
        if (line->edge.support < WHOLE)
            return;
        seen = runs_of(f, course);
        line->pieces = seen.count;
        line->evidence = evidence_of(f, course);
        if (line->shaded && !seen.even && is_top(f, course))
            *out = *line;
        for (int i = 0; i < PLACES; i++)
            deepest = course[i] > deepest ? course[i] : deepest;
        last = deepest - 2;  /* nearer ones */
    }
}

/* The innermost of the lines along a side; support 0 when there is none, or a pattern of them. */
static void find_line(sl_inner *out, sl_inner *line, const sl_course *outer, field *f,
                      bool stripes)
{
    double boldest = 0;
    int lines = 0;

    memset(out, 0, sizeof *out);
    weigh(f, stripes);
    for (int k = 0; k < LINES_MOST; k++) {
        int course[PLACES];
        double evidence;
        bool whole;
        runs seen;

        trace(course, f, 0, f->near);
        make_edge(line, outer, course, f);
        evidence = evidence_of(f, course);
        whole = line->edge.support >= WHOLE;
        if (!line->alike || line->edge.support < SEEN
            || (evidence < COMPARABLE * boldest && !whole))
            break;
        /* a pattern's rows are seen and not seen in turn, evenly; a sheet's edge all along, or with
           gaps wherever something covers it */
        seen = runs_of(f, course);
        line->pieces = seen.count;
        line->evidence = evidence;
        if (seen.even) {
            erase(f, course);
            continue;
        }
        /* several faint ones are a pattern printed on the page */
        if (!(whole || (lines == 0 && !stripes)) || (lines > 0 && out->edge.support < WHOLE)) {
            memset(out, 0, sizeof *out);
            return;
        }
        boldest = fmax(boldest, evidence);
        lines++;
        if (line->depth > out->depth)
            *out = *line;        /* of a pile the page is the sheet on top */
        erase(f, course);
    }
    if (lines > 0 && goes_on(line, outer, f))
        memset(out, 0, sizeof *out);
    else if (out->edge.support >= WHOLE)
        go_deeper(out, line, outer, f);
}

void sl_inner_find(sl_inner *out, const sl_course *outer, const sl_image *shot, double nearest,
                   double farthest)
{
    field *f = calloc(1, sizeof *f);
    sl_inner *line = calloc(1, sizeof *line);

    memset(out, 0, sizeof *out);
    if (f != NULL) {
        f->near = (int)fmin(farthest - nearest, NEAR_MOST);
        f->depths = f->near + (int)fmin(fmax(farthest, BEYOND_LEAST), NEAR_MOST);
    }
    /* without memory no line is found: the outline stays as it is */
    if (f != NULL && line != NULL && f->near > 0) {
        f->nearest = nearest;
        read_field(f, outer, shot);
        find_line(out, line, outer, f, false);
        if (out->edge.support < SEEN)
            find_line(out, line, outer, f, true);
    }
    free(line);
    free(f);
}
