/* The order of the shots, and what their names and times say against it. */
#ifndef SL_ALBUM_ORDER_H
#define SL_ALBUM_ORDER_H

#include "album/folder.h"
#include "base/pool.h"

/* Fills each shot's date from its tags; "" where there is none. Decodes no picture. */
void sl_order_dates(sl_folder *folder, sl_pool *pool);

/*
 * Puts the shots, which are in order by name, into `order`; `reversed` goes with
 * SL_ORDER_RECTOS_VERSOS, which takes the first half for right-hand pages (rectos), the other for
 * left-hand ones (versos), and of an odd number one recto more. States of one page stay together.
 * SL_ORDER_TIME needs the dates.
 */
sl_status sl_order_shots(sl_folder *folder, sl_order order, bool reversed, sl_error *err);

/*
 * Before sl_order_shots(), with the dates: what a person should know of the order, in one
 * sentence without its full stop; false when there is nothing.
 *   by name: shots that come before others by name and were taken later, a counter that began
 *   again; rectos and versos: their numbers
 * room  of text, 400 or more
 */
bool sl_order_doubt(char *text, size_t room, const sl_folder *folder, sl_order order);

#endif
