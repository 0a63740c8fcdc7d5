/* The survey's findings and what is printed of them. */
#ifndef SURVEY_TABLE_H
#define SURVEY_TABLE_H

#include "survey/judge.h"

typedef enum survey_wrong {
    WRONG_NOT,
    WRONG_MISSED,            /* a good page, not or not well found; and the program said so */
    WRONG_ALARM,             /* a good page, well found, and still not `pass` */
    WRONG_SILENT,            /* `pass`, and it is none */
    WRONG_BROKEN             /* the program ended as it never should */
} survey_wrong;

static const double ERROR_MOST_MM = 1;  /* a `pass` further off is a silent failure */
static const double ERROR_ALARM_MM = 0.5; /* a page nearer than this is well found */

typedef struct survey_finding {
    size_t         index;
    size_t         which;    /* case */
    uint64_t       seed;
    survey_expect  expect;
    survey_verdict verdict;
    survey_wrong   wrong;
    bool           page;     /* there is one */
    bool           outline;  /* the program gave one */
    double         error_mm; /* infinite without both */
    double         confidence;
    double         seconds;  /* of the program */
    double         mpx;
    char           reasons[160];
} survey_finding;

const char *survey_wrong_name(survey_wrong wrong);
const char *survey_expect_name(survey_expect expect);

/* By case; all of it; errors over confidence. To standard output. */
void survey_table_print(const survey_finding *findings, size_t count);

size_t survey_table_silent(const survey_finding *findings, size_t count);

#endif
