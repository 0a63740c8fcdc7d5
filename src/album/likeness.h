/*
 * A page's likeness: 48 x 48 cells of the flat page, evened out so that light, exposure and paper
 * hardly matter. Short enough to stay in the journal, so that every later shot is compared with it.
 */
#ifndef SL_ALBUM_LIKENESS_H
#define SL_ALBUM_LIKENESS_H

#include "squareleaf.h"

enum {
    SL_LIKENESS_SIDE = 48,
    SL_LIKENESS_CELLS = SL_LIKENESS_SIDE * SL_LIKENESS_SIDE,
    SL_LIKENESS_LEVELS = 63, /* the middle one, 31, is the grey of the surroundings */
    SL_LIKENESS_SCALE = 10,  /* levels for one local standard deviation */
    SL_LIKENESS_NONE = 255   /* a cell that lies outside the shot */
};

/* As text: a letter for each cell, row by row, and a final NUL. */
typedef char sl_likeness[SL_LIKENESS_CELLS + 1];

/* Of a page with a map and a picture. */
void sl_likeness_take(sl_likeness out, const sl_page *page);

/* Is it a likeness? */
bool sl_likeness_is(const char *text);

/* Levels 0 .. 62 or SL_LIKENESS_NONE; false for text that is no likeness. */
bool sl_likeness_read(unsigned char level[SL_LIKENESS_CELLS], const char *text);

#endif
