/* Cases: camera and light; and shots of which no page can be made. */
#include <math.h>

#include "survey/cases_internal.h"
#include "survey/vary.h"

#define COUNT(array) (sizeof(array) / sizeof(array)[0])

static double shorter_side(const scene *s)
{
    return fmin((double)s->width, (double)s->height);
}

/* ---- light ----------------------------------------------------------------------------------- */

/* The far side is dim: to say so is fair. */
void survey_one_lamp(survey_shot *shot, scene_chance *chance)
{
    scene *s = &shot->scene;

    s->lamp[scene_below(chance, 2)] = 0;
    s->ambient = scene_between(chance, 0.08, 0.4);
    s->exposure = scene_between(chance, 1.0, 1.4);
    s->thick_mm = scene_between(chance, 0.5, 8);
    shot->expect = EXPECT_HARD;
}

void survey_dark(survey_shot *shot, scene_chance *chance)
{
    scene *s = &shot->scene;

    s->exposure = exp(scene_between(chance, log(0.015), log(0.2)));
    s->shot_noise *= scene_between(chance, 1, 3);
    s->read_noise *= scene_between(chance, 1, 3);
    shot->expect = EXPECT_HARD;
}

/* A reflection, on one of the page's sides. */
void survey_glare(survey_shot *shot, scene_chance *chance)
{
    scene *s = &shot->scene;
    double out[2];

    survey_side(s, chance, s->glare_mm, out);
    s->glare = scene_between(chance, 0.4, 1.6);
    s->glare_size = scene_between(chance, 8, 45);
    shot->expect = EXPECT_HARD;
}

/* ---- camera ---------------------------------------------------------------------------------- */

void survey_any_angle(survey_shot *shot, scene_chance *chance)
{
    shot->scene.roll = survey_angle(chance, 180);
    shot->scene.shift_mm[0] *= 2;
    shot->scene.shift_mm[1] *= 2;
}

void survey_fills_frame(survey_shot *shot, scene_chance *chance)
{
    scene *s = &shot->scene;
    const scene_sheet *page = &s->sheet[0];

    /* a frame of the page's own shape, as a crop would have: it fills it on all sides */
    if (survey_lucky(chance, 2)) {
        const double px = sqrt((double)s->width * (double)s->height / page->mm[0] / page->mm[1]);

        s->width = (size_t)(px * page->mm[0] / 2) * 2;
        s->height = (size_t)(px * page->mm[1] / 2) * 2;
        s->roll = survey_angle(chance, 0.6);
        s->pitch = survey_angle(chance, 0.6);
        s->yaw = survey_angle(chance, 0.6);
        s->centre_px[0] = s->centre_px[1] = 0;
        s->shift_mm[0] = s->shift_mm[1] = 0;
        shot->exif.focal_35mm = 0;
        shot->exif.orientation = 1;
    }
    shot->clear_px = scene_between(chance, 1, 14);
    if (shot->clear_px < 6)  /* hardly any table to see the edge against */
        shot->expect = EXPECT_HARD;
}

void survey_small_page(survey_shot *shot, scene_chance *chance)
{
    scene *s = &shot->scene;
    const double side = shorter_side(s);

    shot->clear_px = side * scene_between(chance, 0.18, 0.33);
    s->shift_mm[0] = survey_spread(chance, 0.25) * s->sheet[0].mm[0];
    s->shift_mm[1] = survey_spread(chance, 0.15) * s->sheet[0].mm[1];
    if (survey_lucky(chance, 2))
        survey_scatter(s, chance, 3);
}

/* Tall pages and wide ones, in frames that lie and that stand. */
void survey_portrait(survey_shot *shot, scene_chance *chance)
{
    static const double sizes[][2] = { { 210, 297 }, { 297, 210 }, { 215.9, 279.4 }, { 180, 240 },
                                       { 330, 240 }, { 150, 260 } };
    scene *s = &shot->scene;
    scene_sheet *page = &s->sheet[0];
    const size_t n = scene_below(chance, COUNT(sizes));

    for (int k = 0; k < 2; k++) {
        page->mm[k] = sizes[n][k];
        shot->said_mm[k] = sizes[n][k];
    }
    if (survey_lucky(chance, 2)) { /* the keeper may give the lengths in either order */
        shot->said_mm[0] = sizes[n][1];
        shot->said_mm[1] = sizes[n][0];
    }
    scene_lay_out(page, chance, SCENE_PRINTS, false);
    if (survey_lucky(chance, 2)) {
        const size_t w = s->width;

        s->width = s->height;
        s->height = w;
        shot->exif.orientation = s->height > s->width ? 6 : 1;
    }
}

void survey_hand_held(survey_shot *shot, scene_chance *chance)
{
    scene *s = &shot->scene;

    s->pitch = survey_angle(chance, 14);
    s->yaw = survey_angle(chance, 14);
    s->roll = survey_angle(chance, 8);
    s->shot_noise *= 1.6;
    s->read_noise *= 1.6;
    s->blur_px += 0.2;
    s->cast[0] = scene_between(chance, 0.95, 1.12);
    s->cast[2] = scene_between(chance, 0.7, 1.05);
    s->lamp[0] *= scene_between(chance, 0.6, 1.2);
    if (survey_lucky(chance, 2))
        survey_bend(&s->sheet[0], chance, 0.25);
    if (s->sheet[0].bend == BEND_CORNER)
        shot->expect = EXPECT_HARD;
}

void survey_wide_lens(survey_shot *shot, scene_chance *chance)
{
    scene *s = &shot->scene;

    s->k1 = survey_lucky(chance, 3) ? scene_between(chance, 0.01, 0.05)
                                    : scene_between(chance, -0.10, -0.03);
    s->k2 = -0.2 * s->k1;
    s->focal_35mm = scene_between(chance, 22, 30);
    if (shot->exif.focal_35mm > 0)
        shot->exif.focal_35mm = floor(s->focal_35mm + 0.5);
}

void survey_motion(survey_shot *shot, scene_chance *chance)
{
    scene *s = &shot->scene;

    s->motion_px = exp(scene_between(chance, log(0.8), log(12)));
    s->motion_turn = survey_angle(chance, 90);
    if (s->motion_px > 3)
        shot->expect = EXPECT_HARD;
}

void survey_focus(survey_shot *shot, scene_chance *chance)
{
    shot->scene.blur_px = exp(scene_between(chance, log(1.8), log(11)));
    shot->expect = EXPECT_HARD;
}

/* ---- scans ----------------------------------------------------------------------------------- */

/*
 * A flatbed scan: no perspective, one light that travels along, no camera to tell of. The lid
 * leaves a little room round the page.
 */
static void scan(survey_shot *shot, scene_chance *chance, const double room_mm[2])
{
    static const double ppi[] = { 300, 200, 150 };
    scene *s = &shot->scene;
    const double *mm = s->sheet[0].mm;
    double px_mm = 0;

    for (size_t k = 0; k < COUNT(ppi); k++) {
        px_mm = ppi[k] / 25.4;
        s->width = (size_t)((mm[0] + room_mm[0]) * px_mm + 0.5);
        s->height = (size_t)((mm[1] + room_mm[1]) * px_mm + 0.5);
        if (s->width * s->height < 6000000)
            break;
    }
    /* so far away that nothing of a perspective is left */
    s->focal_35mm = 50000;
    s->k1 = s->k2 = s->pitch = s->yaw = s->vignetting = 0;
    s->centre_px[0] = s->centre_px[1] = 0;
    s->roll = survey_angle(chance, 1);
    for (int k = 0; k < 2; k++) { /* laid anywhere, but not beyond the glass */
        const double swing = mm[1 - k] / 2 * sin(fabs(s->roll)) + 2;

        s->shift_mm[k] = survey_spread(chance, fmax(room_mm[k] / 2 - swing, 0));
    }
    s->fill = fmax(mm[0], mm[1]) * px_mm / shorter_side(s);
    s->blur_px = scene_between(chance, 0.5, 0.8);
    s->lamp[0] = scene_between(chance, 0.8, 1.2);
    s->lamp[1] = 0.1;
    s->ambient = 0.85;
    s->exposure = scene_between(chance, 0.95, 1.1);
    s->cast[0] = s->cast[2] = 1;
    s->shot_noise = 0.003;
    s->thick_mm = scene_between(chance, 0.3, 2);
    shot->exif = (scene_exif){ .quality = 92 };
    shot->clear_px = NAN;
}

static void scan_on(survey_shot *shot, scene_chance *chance, scene_table lid)
{
    static const scene_paper dark[] = { PAPER_KRAFT, PAPER_BLACK, PAPER_BLUE, PAPER_GREY,
                                        PAPER_ROSE };
    static const scene_paper light[] = { PAPER_WHITE, PAPER_CREAM, PAPER_KRAFT, PAPER_BLUE,
                                         PAPER_DOTTED, PAPER_FLORAL };
    const double room[2] = { scene_between(chance, 14, 50), scene_between(chance, 14, 50) };
    scene *s = &shot->scene;

    s->table = lid;
    s->sheet[0].paper = lid == TABLE_LID_BLACK ? light[scene_below(chance, COUNT(light))]
                                               : dark[scene_below(chance, COUNT(dark))];
    if (lid == TABLE_LID_WHITE && survey_lucky(chance, 3)) {
        s->sheet[0].paper = survey_lucky(chance, 2) ? PAPER_WHITE : PAPER_CREAM;
        shot->expect = EXPECT_HARD;
    }
    scan(shot, chance, room);
}

void survey_scan_white(survey_shot *shot, scene_chance *chance)
{
    scan_on(shot, chance, TABLE_LID_WHITE);
}

void survey_scan_black(survey_shot *shot, scene_chance *chance)
{
    scan_on(shot, chance, TABLE_LID_BLACK);
}

/* Somebody cropped it before: nothing of a table is left. */
void survey_cropped(survey_shot *shot, scene_chance *chance)
{
    const double room[2] = { -scene_between(chance, 0.05, 0.4), -scene_between(chance, 0.05, 0.4) };

    scan(shot, chance, room);
    shot->scene.roll = survey_angle(chance, 0.02);
    shot->scene.shift_mm[0] = shot->scene.shift_mm[1] = 0;
    shot->expect = EXPECT_HARD;
}

/* ---- no page, two, cut ----------------------------------------------------------------------- */

void survey_no_page(survey_shot *shot, scene_chance *chance)
{
    scene *s = &shot->scene;

    s->fill = scene_between(chance, 0.6, 0.95);
    if (survey_lucky(chance, 3))
        s->table = (scene_table)scene_below(chance, TABLE_FLORAL + 1);
    if (!survey_lucky(chance, 3))
        survey_scatter(s, chance, SCENE_CLUTTER);
    /* no paper: it might be taken for a page, and rightly */
    for (size_t i = 0; i < s->clutters; i++) {
        s->clutter[i].place[0] *= 0.6;
        s->clutter[i].place[1] *= 0.6;
        if (s->clutter[i].kind == THING_PAPER || s->clutter[i].kind == THING_PRINT)
            s->clutter[i].kind = THING_CUP;
    }
    s->sheets = 0;
    shot->clear_px = NAN;
    shot->expect = EXPECT_NEVER;
}

void survey_two_pages(survey_shot *shot, scene_chance *chance)
{
    scene *s = &shot->scene;
    const scene_sheet *page = &s->sheet[0];
    scene_sheet *other = &s->sheet[1];
    const double gap = scene_between(chance, 5, 40);
    const int axis = s->width >= s->height ? 0 : 1;
    const double *mm = page->mm;
    const double along = (axis == 0 ? (double)s->width : (double)s->height) / shorter_side(s);

    *other = *page;
    other->seed++;
    other->place[axis] = mm[axis] + gap;
    other->place[1 - axis] = survey_spread(chance, 12);
    other->turn = survey_angle(chance, 4);
    scene_lay_out(other, chance, SCENE_PRINTS, false);
    s->sheets = 2;
    s->shift_mm[axis] = -other->place[axis] / 2;
    /* both of them within the frame */
    s->fill = scene_between(chance, 0.8, 0.93)
              * fmin(fmax(mm[0], mm[1]) / (mm[1 - axis] + 16),
                     along * fmax(mm[0], mm[1]) / (2 * mm[axis] + gap + 12));
    shot->clear_px = NAN;
    shot->expect = EXPECT_NEVER;
}

/* The page runs out of the picture, by a hair or by much. */
void survey_cut(survey_shot *shot, scene_chance *chance)
{
    scene *s = &shot->scene;
    const int axis = (int)scene_below(chance, 2);

    s->shift_mm[axis] = (survey_lucky(chance, 2) ? 1 : -1) * scene_between(chance, 25, 60);
    s->shift_mm[1 - axis] = survey_spread(chance, 10);
    if (survey_lucky(chance, 4)) /* out at two sides */
        s->shift_mm[1 - axis] = s->shift_mm[axis] * scene_between(chance, 0.8, 1.2);
    shot->clear_px = -shorter_side(s) * exp(scene_between(chance, log(0.006), log(0.1)));
    shot->expect = EXPECT_NEVER;
}
