/* What the program answers to a shot, held against the truth. */
#ifndef SURVEY_JUDGE_H
#define SURVEY_JUDGE_H

#include "survey/cases.h"

typedef enum survey_verdict {
    VERDICT_PASS, VERDICT_LOOK, VERDICT_RESHOOT, VERDICT_FAILED, VERDICTS
} survey_verdict;

enum { ANSWER_EDGE = 400 };

typedef struct survey_answer {
    survey_verdict verdict;
    char     reasons[160];   /* codes with their values, as far as they fit */
    bool     outline;        /* there is one; else the following says nothing */
    sl_point edge[4][ANSWER_EDGE];
    size_t   edge_points[4];
    sl_point grid[SCENE_GRID][SCENE_GRID]; /* [v][u] of the page as the program has it */
    double   confidence;     /* 0..1 */
    double   inside_error_mm; /* as the program states it; NAN: it does not */
} survey_answer;

/* "pass", ... */
const char *survey_verdict_name(survey_verdict verdict);

/*
 * Runs `PROGRAM outline` on a JPEG as a keeper would.
 * json     out: what it printed; the caller frees it; NULL when it printed nothing
 * seconds  out: by the clock
 * False when the program did not end as its manual says, or printed no JSON.
 */
bool survey_ask(survey_answer *out, char **json, double *seconds, const char *program,
                const char *jpeg, const survey_shot *shot);

/*
 * The largest error over the page, mm on the page: where the program's map puts a place of the
 * page against where it is. A page turned by a quarter or more is judged by the rule that its
 * top-left corner is the start of the side, walked clockwise, that points nearest to +x.
 */
double survey_error_mm(const survey_answer *answer, const scene *s, const scene_truth *truth);

#endif
