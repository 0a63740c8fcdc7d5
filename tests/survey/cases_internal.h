/* The makers of cases.c's list. Each gets a fair shot and makes its own trouble. */
#ifndef SURVEY_CASES_INTERNAL_H
#define SURVEY_CASES_INTERNAL_H

#include "survey/cases.h"

typedef void survey_maker(survey_shot *shot, scene_chance *chance);

/* cases_table.c: what the page lies on, what lies beside it and on it */
survey_maker survey_plain, survey_white_on_white, survey_black_on_black, survey_checked_cloth,
    survey_floral_cloth, survey_wood_grain, survey_clutter, survey_board, survey_lower_sheets,
    survey_facing_page, survey_own_shadow, survey_weight, survey_hand, survey_strips, survey_sleeve,
    survey_target, survey_ribbon, survey_letter;

/* cases_page.c: the page itself and what is glued to it */
survey_maker survey_better_prints, survey_edge_print, survey_printed_frame, survey_rounded,
    survey_holes, survey_frayed, survey_scalloped, survey_curled, survey_off_size;

/* cases_shot.c: camera and light */
survey_maker survey_one_lamp, survey_any_angle, survey_fills_frame, survey_small_page,
    survey_portrait, survey_scan_white, survey_scan_black, survey_cropped, survey_no_page,
    survey_two_pages, survey_cut, survey_motion, survey_focus, survey_dark, survey_glare,
    survey_hand_held, survey_wide_lens;

#endif
