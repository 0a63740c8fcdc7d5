/* Cases: what the page lies on, what lies under it, beside it and on it. */
#include <math.h>

#include "survey/cases_internal.h"
#include "survey/vary.h"

#define COUNT(array) (sizeof(array) / sizeof(array)[0])

static const double RIGHT_ANGLE = 1.5707963267948966;

/* ---- tables ---------------------------------------------------------------------------------- */

void survey_plain(survey_shot *shot, scene_chance *chance)
{
    (void)shot;
    (void)chance;
}

/* Page and table nearly alike are told apart by the page's thickness and its shadow alone. */
static void set_apart(survey_shot *shot, scene_chance *chance)
{
    scene *s = &shot->scene;

    if (survey_lucky(chance, 2)) {
        s->thick_mm = scene_between(chance, 2, 8);
        s->ambient = scene_between(chance, 0.1, 0.3);
    } else {
        shot->expect = EXPECT_HARD;
        s->thick_mm = scene_between(chance, 0.25, 1);
        s->ambient = scene_between(chance, 0.3, 0.7);
    }
}

void survey_white_on_white(survey_shot *shot, scene_chance *chance)
{
    static const scene_paper papers[] = { PAPER_WHITE, PAPER_WHITE, PAPER_CREAM, PAPER_DOTTED };

    shot->scene.sheet[0].paper = papers[scene_below(chance, COUNT(papers))];
    shot->scene.table = TABLE_WHITE;
    set_apart(shot, chance);
}

void survey_black_on_black(survey_shot *shot, scene_chance *chance)
{
    static const scene_table tables[] = { TABLE_BLACK, TABLE_BLACK, TABLE_FELT, TABLE_WALNUT };

    shot->scene.sheet[0].paper = PAPER_BLACK;
    shot->scene.table = tables[scene_below(chance, COUNT(tables))];
    set_apart(shot, chance);
    /* a shadow on black is hardly seen */
    if (shot->scene.table == TABLE_BLACK)
        shot->expect = EXPECT_HARD;
}

void survey_checked_cloth(survey_shot *shot, scene_chance *chance)
{
    scene *s = &shot->scene;

    s->table = survey_lucky(chance, 3) ? TABLE_STRIPED : TABLE_CHECKED;
    s->sheet[0].paper = (scene_paper)scene_below(chance, PAPER_COUNT);
    s->table_turn = survey_lucky(chance, 4) ? 0 : survey_angle(chance, 45);
}

void survey_floral_cloth(survey_shot *shot, scene_chance *chance)
{
    shot->scene.table = TABLE_FLORAL;
    shot->scene.sheet[0].paper = (scene_paper)scene_below(chance, PAPER_COUNT);
    shot->scene.table_turn = survey_angle(chance, 180);
}

/* The grain, and the joints between the boards, run along the page's sides. */
void survey_wood_grain(survey_shot *shot, scene_chance *chance)
{
    scene *s = &shot->scene;
    const bool dark = survey_lucky(chance, 2);
    static const scene_paper on_dark[] = { PAPER_WHITE, PAPER_CREAM, PAPER_KRAFT, PAPER_FLORAL,
                                           PAPER_BLUE };
    static const scene_paper on_light[] = { PAPER_WHITE, PAPER_CREAM, PAPER_BLACK, PAPER_BLUE,
                                            PAPER_ROSE };

    s->table = dark ? TABLE_WALNUT : TABLE_WOOD;
    s->sheet[0].paper = dark ? on_dark[scene_below(chance, COUNT(on_dark))]
                             : on_light[scene_below(chance, COUNT(on_light))];
    s->table_turn = (survey_lucky(chance, 2) ? 0 : RIGHT_ANGLE) + survey_angle(chance, 0.4);
}

/* ---- beside and under ------------------------------------------------------------------------ */

void survey_clutter(survey_shot *shot, scene_chance *chance)
{
    scene *s = &shot->scene;

    shot->clear_px *= 2;
    if (survey_lucky(chance, 2)) {
        /* a sheet larger than the page, half under it and leaving the frame: whether it belongs
           to the page only the keeper knows */
        const double angle = survey_angle(chance, 180);
        const double far = fmax(s->sheet[0].mm[0], s->sheet[0].mm[1])
                           * scene_between(chance, 0.5, 0.8);

        s->clutter[0] = (scene_clutter){ .kind = THING_PAPER,
                                         .place = { far * cos(angle), far * sin(angle) },
                                         .turn = survey_angle(chance, 180),
                                         .size = scene_between(chance, 1.2, 1.6),
                                         .seed = scene_below(chance, 1000) };
        s->clutters = 1;
        shot->expect = EXPECT_HARD;
    }
    survey_scatter(s, chance, SCENE_CLUTTER);
}

/* The page lies on a board, itself a clean rectangle and larger. */
void survey_board(survey_shot *shot, scene_chance *chance)
{
    scene *s = &shot->scene;
    const double *mm = s->sheet[0].mm;
    const double wide = scene_between(chance, 1.12, 1.5);
    const double high = scene_between(chance, 1.12, 1.5);

    s->clutter[0] = (scene_clutter){ .kind = THING_BOARD,
                                     .place = { survey_spread(chance, 0.04) * mm[0],
                                                survey_spread(chance, 0.04) * mm[1] },
                                     .turn = survey_angle(chance, 4), .size = 1,
                                     .seed = scene_below(chance, 1000),
                                     .mm = { wide * mm[0], high * mm[1] } };
    s->clutters = 1;
    shot->clear_px *= scene_between(chance, 1, 2.5);
    /* of the page's own proportions, only what lies on it tells which one is the page */
    if (fabs(wide / high - 1) < 0.05 || s->sheet[0].paper == PAPER_KRAFT
        || s->sheet[0].paper == PAPER_GREY)
        shot->expect = EXPECT_HARD;
}

void survey_lower_sheets(survey_shot *shot, scene_chance *chance)
{
    scene *s = &shot->scene;
    const double step = scene_between(chance, 0.5, 2);
    double px_per_mm;

    s->lower = 1 + scene_below(chance, 3);
    s->lower_mm[0] = survey_spread(chance, 1) * step;
    s->lower_mm[1] = (survey_lucky(chance, 2) ? 1 : -1) * step;
    if (survey_lucky(chance, 3))
        s->lower_mm[0] = 0;
    if (survey_lucky(chance, 3)) /* wider, so that they show on three sides */
        s->lower_grow_mm = scene_between(chance, 0.5, 2);
    s->thick_mm = scene_between(chance, 2, 12);
    /* finer than the picture shows, nobody can tell them from the page */
    px_per_mm = 0.85 * fmin((double)s->width, (double)s->height)
                / fmax(s->sheet[0].mm[0], s->sheet[0].mm[1]);
    if (step * px_per_mm < 5)
        shot->expect = EXPECT_HARD;
}

/* The album lies open: the other page leaves the frame. */
void survey_facing_page(survey_shot *shot, scene_chance *chance)
{
    scene *s = &shot->scene;
    const bool right = survey_lucky(chance, 2);
    const double gap = scene_between(chance, 0.6, 2.5);
    scene_sheet *page = &s->sheet[0];
    scene_sheet *facing = &s->sheet[1];

    *facing = *page;
    facing->place[0] = (right ? 1 : -1) * (page->mm[0] + gap);
    facing->seed++;
    scene_lay_out(facing, chance, SCENE_PRINTS, false);
    s->sheets = 2;
    s->thick_mm = scene_between(chance, 1, 12);
    if (survey_lucky(chance, 2)) {
        /* both rise towards the binding */
        page->bend = facing->bend = BEND_SPINE;
        page->bend_rad = facing->bend_rad = -scene_between(chance, 0.05, 0.3);
        page->across = right ? 2 * RIGHT_ANGLE : 0;
        facing->across = right ? 0 : 2 * RIGHT_ANGLE;
    }
    s->shift_mm[0] = (right ? 1 : -1) * scene_between(chance, 0, 20);
    shot->clear_px *= 0.6;
}

void survey_own_shadow(survey_shot *shot, scene_chance *chance)
{
    scene *s = &shot->scene;

    s->thick_mm = scene_between(chance, 6, 25);
    s->ambient = scene_between(chance, 0.12, 0.35);
    s->lamp[scene_below(chance, 2)] *= scene_between(chance, 0.35, 0.7);
    s->lamp_size = scene_between(chance, 0.02, 0.2);
    s->lamp_back = scene_between(chance, -0.2, 0.7);
}

/* ---- on the page and beyond it --------------------------------------------------------------- */

/* Near one of the corners. */
static void hold_corner(scene *s, scene_chance *chance)
{
    const double *mm = s->sheet[0].mm;

    for (int k = 0; k < 2; k++)
        s->weight_at[k] = survey_lucky(chance, 2) ? 0.06 * mm[k] : 0.94 * mm[k];
}

void survey_weight(survey_shot *shot, scene_chance *chance)
{
    shot->scene.weight = survey_lucky(chance, 2) ? WEIGHT_BAG : WEIGHT_STONE;
    hold_corner(&shot->scene, chance);
}

/* A hand hides what lies under it: to ask is fair. */
void survey_hand(survey_shot *shot, scene_chance *chance)
{
    static const scene_weight hands[] = { WEIGHT_FINGER, WEIGHT_HAND, WEIGHT_GLOVE };

    shot->scene.weight = hands[scene_below(chance, COUNT(hands))];
    hold_corner(&shot->scene, chance);
    shot->expect = EXPECT_HARD;
}

void survey_strips(survey_shot *shot, scene_chance *chance)
{
    scene *s = &shot->scene;

    s->strips = 2 + 2 * scene_below(chance, 2);
    s->strip_mm[0] = scene_between(chance, 8, 22);
    s->strip_mm[1] = scene_between(chance, 15, 40);
    s->gloss = scene_between(chance, 0.02, 0.25);
}

void survey_sleeve(survey_shot *shot, scene_chance *chance)
{
    scene *s = &shot->scene;

    s->sleeve_mm = scene_between(chance, 1.5, 6);
    s->sleeve_turn = survey_angle(chance, 0.5);
    s->gloss = scene_between(chance, 0.02, 0.3);
    s->thick_mm = scene_between(chance, 0.3, 1);
    if (s->gloss > 0.15)     /* what it reflects may hide what lies in it */
        shot->expect = EXPECT_HARD;
}

/* A colour target or a ruler along one of the sides, or touching it. */
void survey_target(survey_shot *shot, scene_chance *chance)
{
    scene *s = &shot->scene;
    const bool ruler = survey_lucky(chance, 2);
    const bool touching = survey_lucky(chance, 3);
    const double off = (ruler ? 15 : 30) + (touching ? 0 : scene_between(chance, 1, 15));
    double at[2];
    double out[2];

    survey_side(s, chance, at, out);
    s->clutter[0] = (scene_clutter){
        .kind = ruler ? THING_RULER : THING_TARGET,
        .place = { at[0] - s->sheet[0].mm[0] / 2 + off * out[0],
                   at[1] - s->sheet[0].mm[1] / 2 + off * out[1] },
        .turn = atan2(out[0], -out[1]) + (touching ? 0 : survey_angle(chance, 2)), .size = 1,
        .seed = scene_below(chance, 1000)
    };
    s->clutters = 1;
    /* its own edge and the page's are one line there */
    if (touching && s->sheet[0].paper != PAPER_WHITE)
        shot->expect = EXPECT_HARD;
    shot->clear_px *= 2;
}

/* A ribbon hangs out: who crops it away has lost it. */
void survey_ribbon(survey_shot *shot, scene_chance *chance)
{
    scene *s = &shot->scene;
    double out[2];

    s->tab_mm = scene_between(chance, 8, 30);
    survey_side(s, chance, s->tab_at, out);
    shot->clear_px *= 1.6;
    shot->expect = EXPECT_NEVER;
}

/* A letter was pulled out from behind the page. */
void survey_letter(survey_shot *shot, scene_chance *chance)
{
    static const double sizes[][2] = { { 148, 210 }, { 110, 190 }, { 105, 148 }, { 90, 140 } };
    scene *s = &shot->scene;
    scene_sheet *letter = &s->sheet[1];
    const size_t n = scene_below(chance, COUNT(sizes));
    const double beyond = scene_between(chance, 8, 45);
    double at[2];
    double out[2];

    survey_side(s, chance, at, out);
    *letter = scene_sheet_default();
    letter->mm[0] = sizes[n][0];
    letter->mm[1] = sizes[n][1];
    letter->paper = s->table == TABLE_WHITE || s->table == TABLE_LINEN ? PAPER_KRAFT
                    : survey_lucky(chance, 2)                          ? PAPER_WHITE
                                                                       : PAPER_CREAM;
    letter->seed = scene_below(chance, 100000);
    letter->turn = survey_angle(chance, 8);
    for (int k = 0; k < 2; k++)
        letter->place[k] = at[k] - s->sheet[0].mm[k] / 2
                           + out[k] * (beyond - letter->mm[k] / 2);
    s->sheets = 2;
    shot->clear_px *= 2;
    shot->expect = EXPECT_NEVER;
}
