/* The map of a page whose outline is known. */
#ifndef SL_ALBUM_FIT_H
#define SL_ALBUM_FIT_H

#include "squareleaf.h"

/*
 * Fits the page's map to its outline, from its optics and settings; with a picture the outline is
 * followed once more where its points leave doubts. Degenerate geometry is a finding about the page
 * (has_map false), not an error of the run.
 */
sl_status sl_page_fit(sl_page *page, sl_error *err);

#endif
