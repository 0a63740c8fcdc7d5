/* Clear strips that hold the page down. */
#ifndef SL_INSPECT_FILMS_H
#define SL_INSPECT_FILMS_H

#include "inspect/beside.h"

enum { SL_FILMS_MOST = 64 };

/* Their colours on the table. They come in pairs, and not every end of one shows what it is. */
typedef struct sl_films {
    sl_tint seen[SL_FILMS_MOST];
    int     count;
} sl_films;

void sl_films_learn(sl_films *out, sl_place all[4][SL_PLACES], sl_tint usual);

/* Is a colour beside the page the end of one of them: as light as another, or lighter than the
   table by a lamp's light, which proves nothing alone where all is grey? */
bool sl_is_films(sl_tint c, const sl_films *f, sl_tint usual);

/* Does the page lie under a film along places first .. last, or is it lighter than beside them? */
bool sl_page_is_veiled(const sl_place edge[SL_PLACES], int first, int last, sl_tint usual);

/* Has the colour most of the light of the one without and a little of its own, the same in all
   channels: under a film, without a lamp? */
bool sl_is_veiled(sl_tint with, sl_tint without);

/* Has the colour the same light more in all channels than the one without, or than most of that? On
   grey, which does not tell, only when `grey_too`. */
bool sl_adds_light(sl_tint with, sl_tint without, bool grey_too);

#endif
