/* Another page of the same paper in the picture. */
#ifndef SL_BORDER_TWIN_H
#define SL_BORDER_TWIN_H

#include "border/search.h"

/*
 * Is there, apart from the page and whole in the picture, a patch of its paper that is as large and
 * as long as the page? Among the lines of a cutting mat the search may miss the sides of a second
 * page, but not its colour. False too when there is no memory for it.
 */
bool sl_has_twin(const sl_quad *page, const sl_small *small);

#endif
