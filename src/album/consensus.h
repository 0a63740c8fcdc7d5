/* A page that is another size in its picture, or lies elsewhere, than those before and after it. */
#ifndef SL_ALBUM_CONSENSUS_H
#define SL_ALBUM_CONSENSUS_H

#include <stdbool.h>

#include <jansson.h>

/*
 * Where camera and table stay put, as on a stand, neighbours tell more than proportions can: a
 * frame printed on the page may have the page's own. Such a page is `look`, odd-place.
 * limit  size against the neighbours', share; places are given half as much again
 * Returns false when out of memory.
 */
bool sl_consensus_doubt(json_t *lines, double limit);

#endif
