/*
 * Where the album's pages lie in their pictures. On a tripod that is nearly one place: it helps a
 * weak shot, and tells of an orientation tag that was only guessed. It is found once, with the
 * optics, and frozen with them: a later shot does not change earlier pages.
 */
#ifndef SL_ALBUM_PLACE_H
#define SL_ALBUM_PLACE_H

#include <jansson.h>

#include "squareleaf.h"

typedef struct sl_place {
    bool     known;          /* false: the pages lie here and there, or too few were seen */
    size_t   width;          /* px of the pictures as stored, not turned */
    size_t   height;
    unsigned orientation;    /* the commonest tag: 1, 3, 6 or 8 */
    sl_point corner[4];      /* as stored: clockwise, the one nearest the picture's top left first */
    size_t   pages;          /* that agree */
} sl_place;

/* From pages whose outlines were found; entries may be NULL. Their pictures are not needed. */
void sl_place_find(sl_place *out, sl_page *const *page, size_t count);

/* As optics.json holds it: null when it is not known. */
json_t *sl_place_write(const sl_place *place);
void sl_place_read(sl_place *out, const json_t *from);

/*
 * Does the page lie in the album's place while its orientation tag is another one? A phone that
 * looks straight down guesses.
 */
bool sl_place_wrong_way_up(const sl_place *place, const sl_page *page);

/*
 * Tries a weak outline once more from the album's place, and takes what is found there when its
 * own edges are the better supported. page->from_place tells.
 */
sl_status sl_place_help(const sl_place *place, sl_page *page, sl_error *err);

#endif
