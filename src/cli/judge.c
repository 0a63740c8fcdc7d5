/* Options that are right each by itself: do they go together? */
#include <string.h>

#include "cli/cli.h"

/* Do four corners go clockwise round a page, in a picture whose y grows downward? */
static bool go_round(const sl_point c[4])
{
    for (int i = 0; i < 4; i++) {
        const sl_point a = c[i];
        const sl_point b = c[(i + 1) % 4];
        const sl_point d = c[(i + 2) % 4];

        if (!((b.x - a.x) * (d.y - b.y) - (b.y - a.y) * (d.x - b.x) > 0))
            return false;
    }
    return true;
}

bool judge_settings(const arguments *a)
{
    const sl_settings *s = &a->settings;

    if (s->has_corners && was_given(a, "--corners") && !go_round(s->corners))
        return refuse("cannot use", "--corners", "these corners do not go round a page: give them "
                                                 "clockwise, from its top left");
    if (s->margin_mm > 0 && !(s->page_mm[0] > 0))
        return refuse("--margin needs", "--page-size", "without a size nobody knows its px");
    if (s->no_upsample && !(s->page_mm[0] > 0))
        return refuse("--no-upsample needs", "--page-size", "");
    if (s->exact && !s->has_corners)
        return refuse("--exact needs", "--corners x,y,...", "");
    return true;
}

/* What is said of one album goes to no other, and what does all again goes on for no time. */
static bool judge_ways(const arguments *a)
{
    static const char *const not_each[] = { "--follow", "--share", "--corrections", "--captions",
                                            "--expect", "--corners", "--json" };
    static const char *const not_follow[] = { "--share", "--dry-run", "--redo", "--rehash",
                                              "--renumber", "--recalibrate" };

    for (size_t i = 0; a->each && i < sizeof not_each / sizeof *not_each; i++)
        if (was_given(a, not_each[i]))
            return refuse("--each does not go with", not_each[i], "that is for one album");
    for (size_t i = 0; a->follow && i < sizeof not_follow / sizeof *not_follow; i++)
        if (was_given(a, not_follow[i]))
            return refuse("--follow does not go with", not_follow[i],
                          "do that in a run of its own");
    return true;
}

/* An album's settings are judged when those of its last run are known. */
bool judge_arguments(const arguments *a)
{
    if (a->quiet && a->verbose)
        return refuse("--quiet does not go with", "--verbose", "");
    if (a->shots != NULL && a->without_shots)
        return refuse("--shots does not go with", "--without-shots", "");
    return a->command == ALBUM ? judge_ways(a) : judge_settings(a);
}
