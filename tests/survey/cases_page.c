/* Cases: the page itself, and what is glued to it. */
#include <math.h>

#include "survey/cases_internal.h"
#include "survey/vary.h"

#define COUNT(array) (sizeof(array) / sizeof(array)[0])

/* One print on the page, white-rimmed: where, how large. */
static void glue_one(scene_sheet *page, scene_chance *chance, const double centre[2],
                     const double size[2], double turn)
{
    page->captions = 0;
    page->prints = 1;
    page->print[0] = (scene_print){ .centre = { centre[0], centre[1] },
                                    .size = { size[0], size[1] }, .turn = turn,
                                    .border = scene_between(chance, 3, 7),
                                    .motif = scene_below(chance, SCENE_MOTIFS),
                                    .seed = scene_below(chance, 100000),
                                    .colour = survey_lucky(chance, 2) ? 0.95 : 0.05 };
}

/* A large print with a clean white rim, on a page that hardly differs from the table. */
void survey_better_prints(survey_shot *shot, scene_chance *chance)
{
    static const struct { scene_paper paper; scene_table table; } pairs[] = {
        { PAPER_KRAFT, TABLE_WOOD }, { PAPER_GREY, TABLE_GREY }, { PAPER_BLACK, TABLE_WALNUT },
        { PAPER_BLACK, TABLE_FELT }, { PAPER_KRAFT, TABLE_STONE }, { PAPER_CREAM, TABLE_LINEN },
        { PAPER_BLUE, TABLE_GREY }
    };
    scene *s = &shot->scene;
    scene_sheet *page = &s->sheet[0];
    const size_t n = scene_below(chance, COUNT(pairs));
    const double share = scene_between(chance, 0.55, 0.88);
    const bool own_ratio = survey_lucky(chance, 2);
    const double size[2] = { share * page->mm[0],
                             share * page->mm[1] * (own_ratio ? 1 : scene_between(chance, 0.7, 1)) };
    const double centre[2] = { page->mm[0] / 2 + survey_spread(chance, 0.04) * page->mm[0],
                               page->mm[1] / 2 + survey_spread(chance, 0.04) * page->mm[1] };

    page->paper = pairs[n].paper;
    s->table = pairs[n].table;
    s->thick_mm = scene_between(chance, 0.8, 5);
    glue_one(page, chance, centre, size, survey_angle(chance, 2));
}

/* A print's side is the page's side over a good part of it. */
void survey_edge_print(survey_shot *shot, scene_chance *chance)
{
    scene_sheet *page = &shot->scene.sheet[0];
    const double size[2] = { page->mm[0] * scene_between(chance, 0.4, 0.8),
                             page->mm[1] * scene_between(chance, 0.4, 0.8) };
    double centre[2] = { page->mm[0] * 0.5, page->mm[1] * 0.5 };
    const int axis = (int)scene_below(chance, 2);

    centre[axis] = survey_lucky(chance, 2) ? size[axis] / 2 : page->mm[axis] - size[axis] / 2;
    if (survey_lucky(chance, 3)) /* and in the corner */
        centre[1 - axis] = size[1 - axis] / 2;
    glue_one(page, chance, centre, size, 0);
    if (survey_lucky(chance, 2))
        page->print[0].border = 0;
}

void survey_printed_frame(survey_shot *shot, scene_chance *chance)
{
    scene_sheet *page = &shot->scene.sheet[0];

    page->frame_mm = scene_between(chance, 5, 20);
    scene_lay_out(page, chance, 6, false);
}

void survey_rounded(survey_shot *shot, scene_chance *chance)
{
    shot->scene.sheet[0].rounded_mm = scene_between(chance, 3, 15);
}

void survey_holes(survey_shot *shot, scene_chance *chance)
{
    scene_sheet *page = &shot->scene.sheet[0];

    page->holes = 2 + scene_below(chance, page->mm[1] > 250 ? 2 : 1);
    scene_lay_out(page, chance, SCENE_PRINTS, false);
}

void survey_frayed(survey_shot *shot, scene_chance *chance)
{
    scene_sheet *page = &shot->scene.sheet[0];

    page->fray_mm = scene_between(chance, 0.3, 1.2);
    page->aged = scene_between(chance, 0.2, 0.7);
    shot->slack_mm = page->fray_mm / 2;
}

void survey_scalloped(survey_shot *shot, scene_chance *chance)
{
    scene_sheet *page = &shot->scene.sheet[0];

    page->scallop_mm = scene_between(chance, 0.5, 2);
    page->scallop_pitch_mm = page->mm[0] / floor(page->mm[0] / scene_between(chance, 4, 12) + 0.5);
    shot->slack_mm = page->scallop_mm / 2;
    if (page->scallop_mm > 1.2)
        shot->expect = EXPECT_HARD;
}

void survey_curled(survey_shot *shot, scene_chance *chance)
{
    scene_sheet *page = &shot->scene.sheet[0];

    survey_bend(page, chance, 0.4);
    if (page->bend == BEND_CORNER || fabs(page->bend_rad) > 0.3)
        shot->expect = EXPECT_HARD;
}

/* Paper is seldom cut to its name: 1 % off in one side or both. */
void survey_off_size(survey_shot *shot, scene_chance *chance)
{
    scene_sheet *page = &shot->scene.sheet[0];

    for (int k = 0; k < 2; k++)
        page->mm[k] *= 1 + survey_spread(chance, 0.01);
    page->mm[scene_below(chance, 2)] *= survey_lucky(chance, 2) ? 0.995 : 1.005;
    scene_lay_out(page, chance, SCENE_PRINTS, false);
    if (fabs(page->mm[0] / page->mm[1] * shot->said_mm[1] / shot->said_mm[0] - 1) > 0.013)
        shot->expect = EXPECT_HARD; /* more than is usual: to say so is right */
}
