/*
 * The survey's cases: photographs of album pages, good ones and every trap that we know of by
 * name. Each case makes as many scenes as wanted, each from a seed of its own.
 *
 * Nothing here knows how the page is found. A case only says what lies there, how it was
 * photographed, what the keeper told of it, and what a careful person would expect of the answer.
 */
#ifndef SURVEY_CASES_H
#define SURVEY_CASES_H

#include "scenes/scene.h"

/* What a careful person expects of the answer. */
typedef enum survey_expect {
    EXPECT_GOOD,             /* a fair shot: `pass` is wanted, `look` is a false alarm */
    EXPECT_HARD,             /* `pass` only if it is right; `look` and `reshoot` are fair */
    EXPECT_NEVER             /* `pass` is a silent failure: no page, two, cut, something hidden */
} survey_expect;

typedef struct survey_shot {
    scene         scene;
    scene_exif    exif;
    double        said_mm[2]; /* the page size that the keeper gives; 0: none */
    double        slack_mm;  /* by which the paper itself is no straight line: of frays and scallops
                                any line between tips and hollows is right */
    double        clear_px;  /* table that the outline keeps inside the frame; NAN: the case placed
                                the camera itself */
    survey_expect expect;
} survey_shot;

size_t survey_case_count(void);

/* "plain", "white-on-white", ... */
const char *survey_case_name(size_t which);

/* The case of that name; survey_case_count(): there is none. */
size_t survey_case_named(const char *name);

/*
 * A shot of a case. Equal seeds give equal shots.
 * width  of the frame's longer side, px; 0: by lot, 3 to 12 Mpx
 */
survey_shot survey_shot_of(size_t which, uint64_t seed, size_t width);

#endif
