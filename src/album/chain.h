/* What the driver's parts share of a page's geometry. */
#ifndef SL_ALBUM_CHAIN_H
#define SL_ALBUM_CHAIN_H

#include "album/place.h"
#include "base/pool.h"
#include "squareleaf.h"

struct sl_context {
    sl_pool *pool;
};

/*
 * The first half of sl_page_find(): the shot decoded and its outline found, which depends on the
 * shot and the settings alone; optics are those that its tags tell. No map, no verdict.
 * known  the outline that this function found before, or NULL: the search is not done twice
 */
sl_status sl_page_seek(sl_page **out, const void *bytes, size_t size, const char *name,
                       const sl_settings *settings, const sl_outline *known, sl_error *err);

/*
 * sl_page_find() with a known outline, as above: the same bytes with it and without; and with the
 * place where the album's pages lie, or NULL.
 */
sl_status sl_page_chain(sl_page **out, const void *bytes, size_t size, const char *name,
                        const sl_settings *settings, const sl_optics *optics,
                        const sl_place *place, const sl_outline *known, sl_error *err);

/*
 * The second half: map, verdict and size of the output from page's outline, optics and settings.
 * Without a picture (image data NULL) the outline stays as it is and light is not judged.
 */
sl_status sl_page_judge(sl_page *page, sl_error *err);

#endif
