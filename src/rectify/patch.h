/* What no sheet explains: a corner lifted so strongly that only its edges tell where it is. */
#ifndef SL_RECTIFY_PATCH_H
#define SL_RECTIFY_PATCH_H

#include "rectify/fit.h"

/*
 * Fills map->patch so that the map's edges follow the marked blocks where those reach a corner,
 * and sets SL_MODEL_PATCH. Other marked runs are left: behind a tab, a shadow or a torn edge
 * the sheet is the better guess of where the page would be; so it is for a corner off by more
 * than 3 % of its side, which may have been torn off.
 * False when nothing was to be patched; the map is then unchanged.
 */
bool sl_patch_fit(sl_page_map *map, const sl_fit_point *block, const bool *marked,
                  size_t count);

#endif
