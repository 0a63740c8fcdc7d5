/* What the driver's parts share of a page's geometry. */
#ifndef SL_ALBUM_CHAIN_H
#define SL_ALBUM_CHAIN_H

#include "base/pool.h"
#include "squareleaf.h"

struct sl_context {
    sl_pool *pool;
};

#endif
