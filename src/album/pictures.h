/*
 * Small pictures for the review page, made while the shot is decoded: browsers show neither TIFF
 * nor HEIC, and a hundred masters would be too much for them.
 *
 *   review/page-0001.jpg        the flat page, 640 px
 *   review/page-0001.shot.jpg   the upright shot, at most 1400 px, by a whole factor
 *   review/page-0001.edges.jpg  at the shot's own px: four windows about the corners, two above
 *                               two, then four strips along the edges, one below another: top,
 *                               right, bottom, left, each as it is walked clockwise, the page
 *                               below its middle line
 */
#ifndef SL_ALBUM_PICTURES_H
#define SL_ALBUM_PICTURES_H

#include "album/work.h"

/*
 * Writes them. Those of an earlier run are replaced; a file that we did not make is not, and the
 * page is then without small pictures.
 * out  {"files": [...], "scale": shot px for one of the small shot, "window": px a side,
 *      "corner_at": the top-left px of each window, "strip": px high, "outline": [[x, y], ...]
 *      per side as it bows}, owned by the caller; NULL when there are none
 * name of the page
 * Errors are the disk's or the memory's.
 */
sl_status sl_pictures_write(json_t **out, const sl_page *page, const char *name,
                            const sl_run *run, sl_error *err);

#endif
