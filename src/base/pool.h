/*
 * One pool of threads for everything: pages, and rows inside a page. A loop may be run from
 * inside a task of another loop.
 */
#ifndef SL_BASE_POOL_H
#define SL_BASE_POOL_H

#include <stddef.h>

#include "squareleaf.h"

typedef struct sl_pool sl_pool;

/* One turn of a loop; tells its own failures through ctx. */
typedef void (*sl_pool_fn)(void *ctx, size_t index);

/*
 * threads  that work at once, the one that calls sl_pool_run() included; 1 starts none,
 *          0 is one for each online processor
 * SL_ERR_NOMEM when the system gives no memory or no thread.
 */
sl_status sl_pool_new(sl_pool **out, unsigned threads, sl_error *err);

/* All loops must have returned. */
void sl_pool_free(sl_pool *pool);

unsigned sl_pool_threads(const sl_pool *pool);

/*
 * Calls fn(ctx, 0) .. fn(ctx, count - 1), each once, in about this order, on any threads of the
 * pool; returns when all have returned. pool may be NULL: the caller does all of it.
 */
void sl_pool_run(sl_pool *pool, sl_pool_fn fn, void *ctx, size_t count);

#endif
