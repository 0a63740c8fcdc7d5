/* Where a page, its words and a note stand on a sheet of paper. Points: 1/72 in, y down. */
#ifndef SL_BOOK_LAYOUT_H
#define SL_BOOK_LAYOUT_H

#include "squareleaf.h"

typedef struct sl_box {
    double x;
    double y;
    double width;
    double height;
} sl_box;

typedef struct sl_layout {
    double width;            /* of the sheet */
    double height;
    sl_box page;
    sl_box words;            /* height 0: none */
    sl_box note;             /* one line for the scale; height 0: none */
    double scale;            /* of the page, at most 1: nothing is enlarged */
} sl_layout;

/* Width that the words may take, for their height to be measured. */
double sl_layout_words_width(const double page_mm[2], sl_paper paper);

/* The most height that words may take; longer ones are cut. */
double sl_layout_words_most(const double page_mm[2], sl_paper paper);

/*
 * page_mm  width, height, > 0
 * words    height that the words take; 0: no band
 */
sl_layout sl_layout_of(const double page_mm[2], sl_paper paper, double words);

#endif
