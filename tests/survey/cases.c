#include "survey/cases.h"

#include <math.h>
#include <string.h>

#include "survey/cases_internal.h"
#include "survey/vary.h"

static const struct {
    const char   *name;
    survey_maker *make;
} cases[] = {
    { "plain", survey_plain },
    { "white-on-white", survey_white_on_white },
    { "black-on-black", survey_black_on_black },
    { "checked-cloth", survey_checked_cloth },
    { "floral-cloth", survey_floral_cloth },
    { "wood-grain", survey_wood_grain },
    { "clutter", survey_clutter },
    { "board", survey_board },
    { "lower-sheets", survey_lower_sheets },
    { "facing-page", survey_facing_page },
    { "own-shadow", survey_own_shadow },
    { "weight", survey_weight },
    { "hand", survey_hand },
    { "strips", survey_strips },
    { "sleeve", survey_sleeve },
    { "target", survey_target },
    { "ribbon", survey_ribbon },
    { "letter", survey_letter },
    { "better-prints", survey_better_prints },
    { "edge-print", survey_edge_print },
    { "printed-frame", survey_printed_frame },
    { "rounded", survey_rounded },
    { "holes", survey_holes },
    { "frayed", survey_frayed },
    { "scalloped", survey_scalloped },
    { "curled", survey_curled },
    { "off-size", survey_off_size },
    { "one-lamp", survey_one_lamp },
    { "any-angle", survey_any_angle },
    { "fills-frame", survey_fills_frame },
    { "small-page", survey_small_page },
    { "portrait", survey_portrait },
    { "scan-white-lid", survey_scan_white },
    { "scan-black-lid", survey_scan_black },
    { "cropped", survey_cropped },
    { "no-page", survey_no_page },
    { "two-pages", survey_two_pages },
    { "cut", survey_cut },
    { "motion", survey_motion },
    { "focus", survey_focus },
    { "dark", survey_dark },
    { "glare", survey_glare },
    { "hand-held", survey_hand_held },
    { "wide-lens", survey_wide_lens }
};

size_t survey_case_count(void)
{
    return sizeof cases / sizeof cases[0];
}

const char *survey_case_name(size_t which)
{
    return which < survey_case_count() ? cases[which].name : "";
}

size_t survey_case_named(const char *name)
{
    size_t n = 0;

    while (n < survey_case_count() && strcmp(cases[n].name, name) != 0)
        n++;
    return n;
}

/* A case's chance depends on its name, so that the list can grow without moving the others. */
static uint64_t salt(const char *name)
{
    uint64_t h = 0xcbf29ce484222325u; /* FNV-1a (Fowler, Noll, Vo; RFC 9923) */

    for (; *name != '\0'; name++)
        h = (h ^ (unsigned char)*name) * 0x100000001b3u;
    return h;
}

survey_shot survey_shot_of(size_t which, uint64_t seed, size_t width)
{
    scene_chance chance = { seed * 0x9e3779b97f4a7c15u ^ salt(survey_case_name(which)) };
    const bool silent = survey_lucky(&chance, 10); /* she did not measure the page */
    survey_shot shot;

    survey_start(&shot, &chance, width);
    cases[which].make(&shot, &chance);
    /* black paper on a thick album ends somewhere in its own black shadow */
    if (shot.scene.sheet[0].paper == PAPER_BLACK && shot.scene.thick_mm > 1.2
        && shot.expect == EXPECT_GOOD)
        shot.expect = EXPECT_HARD;
    if (silent) {
        /* without a size the shape hangs on the camera alone */
        shot.said_mm[0] = shot.said_mm[1] = 0;
        if (shot.expect == EXPECT_GOOD)
            shot.expect = EXPECT_HARD;
    }
    if (!isnan(shot.clear_px))
        (void)survey_frame(&shot.scene, shot.clear_px);
    return shot;
}
