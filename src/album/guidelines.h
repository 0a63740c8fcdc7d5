/* A page's figures in the words of published guidelines, as far as a page tells them itself. */
#ifndef SL_ALBUM_GUIDELINES_H
#define SL_ALBUM_GUIDELINES_H

#include <jansson.h>

#include "squareleaf.h"

/*
 * {"resolution_ppi", "reaches_300_ppi", "reaches_400_ppi", "resolution_stars",
 *  "illuminance_non_uniformity_percent", "non_uniformity_stars", "clipped_percent"}; null for what
 * is not known. Stars: FADGI, Technical Guidelines for Digitizing Cultural Heritage Materials,
 * 2nd ed. 2016, prints and photographs; 0 is below one star. The light is judged on the page's
 * own paper, where the guideline has an even target.
 */
json_t *sl_guidelines(const sl_inspection *inspection);

#endif
