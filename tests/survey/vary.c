#include "survey/vary.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define COUNT(array) (sizeof(array) / sizeof(array)[0])

static const double DEGREE = 0.017453292519943295;
static const double RIGHT_ANGLE = 1.5707963267948966;

double survey_angle(scene_chance *chance, double most_deg)
{
    return scene_between(chance, -most_deg, most_deg) * DEGREE;
}

double survey_spread(scene_chance *chance, double most)
{
    return scene_between(chance, -most, most);
}

bool survey_lucky(scene_chance *chance, unsigned one_in)
{
    return scene_below(chance, one_in) == 0;
}

/* ---- camera ---------------------------------------------------------------------------------- */

/* Frames of 3 to 12 Mpx, small ones more often: what is being asked hardly depends on the size,
   and the time does. */
static void choose_frame(scene *s, scene_chance *chance, size_t width)
{
    static const size_t widths[] = { 2016, 2016, 2016, 2048, 2048, 2048, 2176, 2176, 2304, 2304,
                                     2304, 2560, 2560, 2592, 2816, 3264, 4032 };
    static const double shapes[] = { 4.0 / 3, 4.0 / 3, 4.0 / 3, 3.0 / 2 };
    const size_t wanted = widths[scene_below(chance, COUNT(widths))];
    const double shape = shapes[scene_below(chance, COUNT(shapes))];
    const bool upended = survey_lucky(chance, 4);
    size_t across = width != 0 ? width : wanted;
    size_t down = (size_t)((double)across / shape);

    down -= down % 2;
    /* 3:2 frames begin at 2,160 px for their 3 Mpx */
    if (width == 0 && across * down < 3000000) {
        across = 2176;
        down = 1450;
    }
    s->width = upended ? down : across;
    s->height = upended ? across : down;
}

static void choose_camera(survey_shot *shot, scene_chance *chance)
{
    static const double focals[] = { 24, 26, 26, 28, 35, 50, 70 };
    scene *s = &shot->scene;
    const double w = (double)s->width;

    s->focal_35mm = focals[scene_below(chance, COUNT(focals))];
    s->focal_35mm *= scene_between(chance, 0.985, 1.015);
    s->pitch = survey_angle(chance, 1.5);
    s->yaw = survey_angle(chance, 1.5);
    s->roll = survey_angle(chance, 2.5);
    s->shift_mm[0] = survey_spread(chance, 7);
    s->shift_mm[1] = survey_spread(chance, 5);
    s->centre_px[0] = survey_spread(chance, 0.004) * w;
    s->centre_px[1] = survey_spread(chance, 0.004) * w;
    s->k1 = survey_spread(chance, 0.015);
    s->vignetting = scene_between(chance, 0, 0.25);
    s->blur_px = scene_between(chance, 0.5, 1.1);
    s->shot_noise = scene_between(chance, 0.004, 0.014);
    s->read_noise = scene_between(chance, 0.0006, 0.002);

    shot->exif = (scene_exif){
        .focal_35mm = survey_lucky(chance, 8) ? 0 : floor(s->focal_35mm + 0.5),
        .date = "2026:03:14 10:02:11", .make = "Pennock", .model = "Pennock P4",
        .orientation = 1,
        .quality = 84 + (int)scene_below(chance, 13),
        .full_colour = survey_lucky(chance, 6)
    };
    /* phones store the picture lying, and say so */
    if (s->height > s->width)
        shot->exif.orientation = survey_lucky(chance, 2) ? 6 : 8;
    else if (survey_lucky(chance, 8))
        shot->exif.orientation = 3;
}

static void choose_light(scene *s, scene_chance *chance)
{
    s->lamp[0] = scene_between(chance, 0.8, 1.15);
    s->lamp[1] = scene_between(chance, 0.8, 1.15);
    s->lamp_back = scene_between(chance, -0.1, 0.35);
    s->ambient = scene_between(chance, 0.15, 0.55);
    s->exposure = scene_between(chance, 0.62, 1.04);
    s->cast[0] = 1 + survey_spread(chance, 0.05);
    s->cast[2] = 1 + survey_spread(chance, 0.09);
}

/* ---- page and table -------------------------------------------------------------------------- */

static void choose_page(scene_sheet *page, scene_chance *chance)
{
    static const double sizes[][2] = { { 304.8, 304.8 }, { 304.8, 304.8 }, { 203.2, 203.2 },
                                       { 215.9, 279.4 }, { 210, 297 }, { 300, 300 },
                                       { 240, 180 }, { 297, 210 }, { 330, 280 } };
    const size_t n = scene_below(chance, COUNT(sizes));

    *page = scene_sheet_default();
    memcpy(page->mm, sizes[n], sizeof page->mm);
    page->seed = scene_below(chance, 100000);
    page->aged = survey_lucky(chance, 3) ? scene_between(chance, 0.05, 0.5) : 0;
}

void survey_contrast(scene *s, scene_chance *chance)
{
    static const scene_table tables[] = { TABLE_GREY, TABLE_GREY, TABLE_WOOD, TABLE_WALNUT,
                                          TABLE_FELT, TABLE_BLACK, TABLE_WHITE, TABLE_LINEN,
                                          TABLE_STONE, TABLE_CUTTING_MAT };
    /* lightness of each, 0 to 100, by eye */
    static const int table_light[TABLE_COUNT] = {
        [TABLE_GREY] = 53, [TABLE_WOOD] = 58, [TABLE_WALNUT] = 26, [TABLE_FELT] = 27,
        [TABLE_BLACK] = 12, [TABLE_WHITE] = 92, [TABLE_LINEN] = 78, [TABLE_STONE] = 58,
        [TABLE_CUTTING_MAT] = 41
    };
    static const int paper_light[PAPER_COUNT] = {
        [PAPER_WHITE] = 94, [PAPER_CREAM] = 90, [PAPER_KRAFT] = 62, [PAPER_BLACK] = 16,
        [PAPER_BLUE] = 51, [PAPER_FLORAL] = 88, [PAPER_GREY] = 59, [PAPER_ROSE] = 77,
        [PAPER_STRIPED] = 84, [PAPER_DOTTED] = 86, [PAPER_CHECKED] = 82
    };
    scene_paper *paper = &s->sheet[0].paper;

    s->table = tables[scene_below(chance, COUNT(tables))];
    do {
        *paper = (scene_paper)scene_below(chance, PAPER_COUNT);
    } while (abs(paper_light[*paper] - table_light[s->table]) < 18);
}

void survey_bend(scene_sheet *sheet, scene_chance *chance, double most)
{
    static const scene_bend kinds[] = { BEND_BOW, BEND_BOW, BEND_S, BEND_SPINE, BEND_WAVE,
                                        BEND_CORNER };

    sheet->bend = kinds[scene_below(chance, COUNT(kinds))];
    sheet->bend_rad = most * scene_between(chance, 0.25, 1);
    sheet->across = (survey_lucky(chance, 2) ? 0 : RIGHT_ANGLE) + survey_angle(chance, 10);
    if (sheet->bend == BEND_BOW && survey_lucky(chance, 3))
        sheet->bend_rad *= -1;
    if (sheet->bend == BEND_WAVE)
        sheet->bend_rad *= 0.4;
    if (sheet->bend == BEND_SPINE && survey_lucky(chance, 2))
        sheet->across += 2 * RIGHT_ANGLE;
    if (sheet->bend == BEND_CORNER) {
        sheet->across = (0.5 + scene_below(chance, 4)) * RIGHT_ANGLE + survey_angle(chance, 15);
        sheet->lift_mm = fmin(sheet->mm[0], sheet->mm[1]) * scene_between(chance, 0.2, 0.45);
        sheet->bend_rad *= 1.4;
    }
}

/* Half the width and height of each thing, mm. */
static const double THING_HALF[][2] = {
    [THING_RULER] = { 155, 15 }, [THING_PENCIL] = { 95, 5 }, [THING_COIN] = { 12, 12 },
    [THING_PAPER] = { 105, 149 }, [THING_PRINT] = { 64, 45 }, [THING_CUP] = { 62, 46 }
};

/* Whether a thing keeps clear of the page: a paper that looks out from under it would be a part
   of the page, not of the table. */
static bool lies_clear(const scene_clutter *c, const scene_sheet *page)
{
    const double air = 6;
    const double half_w = page->mm[0] / 2 + air;
    const double half_h = page->mm[1] / 2 + air;
    const double cosine = cos(c->turn) * c->size;
    const double sine = sin(c->turn) * c->size;

    for (int i = -16; i <= 16; i++)
        for (int j = -16; j <= 16; j++) {
            const double x = THING_HALF[c->kind][0] * i / 16;
            const double y = THING_HALF[c->kind][1] * j / 16;

            if (fabs(c->place[0] + cosine * x - sine * y) < half_w
                && fabs(c->place[1] + sine * x + cosine * y) < half_h)
                return false;
        }
    return true;
}

void survey_scatter(scene *s, scene_chance *chance, unsigned most)
{
    const double reach = hypot(s->sheet[0].mm[0], s->sheet[0].mm[1]) / 2;
    const unsigned count = 1 + scene_below(chance, most);

    for (unsigned i = 0; i < count && s->clutters < SCENE_CLUTTER; i++) {
        scene_clutter c = { .kind = (scene_thing)scene_below(chance, THING_CUP + 1), .size = 1,
                            .seed = scene_below(chance, 1000) };

        if (c.kind == THING_PAPER) /* a note, not another page */
            c.size = scene_between(chance, 0.5, 0.72);
        for (int k = 0; k < 40; k++) {
            const double angle = survey_angle(chance, 180);
            const double far = reach * scene_between(chance, 0.8, 1.5);

            c.place[0] = far * cos(angle);
            c.place[1] = 0.8 * far * sin(angle);
            c.turn = survey_angle(chance, 180);
            if (lies_clear(&c, &s->sheet[0])) {
                s->clutter[s->clutters++] = c;
                break;
            }
        }
    }
}

void survey_side(const scene *s, scene_chance *chance, double at[2], double out[2])
{
    const double w = s->sheet[0].mm[0];
    const double h = s->sheet[0].mm[1];
    const double f = scene_between(chance, 0.2, 0.8);

    switch (scene_below(chance, 4)) {
    case 0:
        at[0] = f * w, at[1] = 0, out[0] = 0, out[1] = -1;
        break;
    case 1:
        at[0] = w, at[1] = f * h, out[0] = 1, out[1] = 0;
        break;
    case 2:
        at[0] = f * w, at[1] = h, out[0] = 0, out[1] = 1;
        break;
    default:
        at[0] = 0, at[1] = f * h, out[0] = -1, out[1] = 0;
        break;
    }
}

void survey_start(survey_shot *shot, scene_chance *chance, size_t width)
{
    scene *s = &shot->scene;
    scene_sheet *page = &s->sheet[0];

    *shot = (survey_shot){ .scene = scene_default(), .expect = EXPECT_GOOD };
    s->seed = scene_bits(chance) >> 20;
    choose_frame(s, chance, width);
    choose_page(page, chance);
    choose_camera(shot, chance);
    choose_light(s, chance);
    survey_contrast(s, chance);
    s->thick_mm = survey_lucky(chance, 2) ? scene_between(chance, 0.2, 1.2)
                                          : scene_between(chance, 1.2, 5);
    s->table_turn = (survey_lucky(chance, 2) ? 0 : RIGHT_ANGLE) + survey_angle(chance, 14);
    s->table_at[0] = survey_spread(chance, 400);
    s->table_at[1] = survey_spread(chance, 400);
    scene_lay_out(page, chance, SCENE_PRINTS, false);
    shot->said_mm[0] = page->mm[0];
    shot->said_mm[1] = page->mm[1];
    shot->clear_px = fmin((double)s->width, (double)s->height) * scene_between(chance, 0.02, 0.11);
}

/* ---- framing --------------------------------------------------------------------------------- */

/* How far inside the frame the outline stays, px. Very far out when a part faces away. */
static double clearance(const scene *s, scene_truth *t)
{
    double least = 1e9;

    if (scene_truth_of(t, s, NULL) != SL_OK)
        return -1e9;
    for (int e = 0; e < 4; e++)
        for (int i = 0; i < SCENE_EDGE; i++) {
            const sl_point p = t->edge[e][i];

            least = fmin(least, fmin(fmin(p.x, p.y), fmin((double)s->width - 1 - p.x,
                                                          (double)s->height - 1 - p.y)));
        }
    return least;
}

bool survey_frame(scene *s, double clear)
{
    scene_truth *t = malloc(sizeof *t);
    double near = 2.5;       /* fills: at `near` too little room is left, at `far` too much */
    double far = 0.1;
    bool found = false;

    if (t == NULL)
        return false;
    s->fill = far;
    found = clearance(s, t) >= clear;
    for (int k = 0; k < 26 && found; k++) {
        s->fill = (near + far) / 2;
        if (clearance(s, t) >= clear)
            far = s->fill;
        else
            near = s->fill;
    }
    s->fill = found ? far : 0.5;
    free(t);
    return found;
}
