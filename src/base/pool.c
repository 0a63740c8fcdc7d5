/*
 * Open loops form a stack, the newest on top. Whoever starts a loop works on it until no turn is
 * left to take, then waits for the turns that others have taken. Free threads take from the
 * newest loop, so that the rows of a page that is under way come before another page.
 *
 * A thread that waits does no other work: it waits only for turns that some thread is running,
 * and those wait, if at all, only for loops newer than themselves. So there is no circle to
 * lock up in, and no more pages are in flight than there are threads.
 */
#include "base/pool.h"

#include <pthread.h>
#include <stdlib.h>
#include <unistd.h>

#include "base/error.h"

typedef struct loop {
    sl_pool_fn   fn;
    void        *ctx;
    size_t       count;
    size_t       next;       /* the first turn that nobody has taken */
    size_t       done;
    struct loop *older;
} loop;

struct sl_pool {
    pthread_mutex_t lock;    /* guards all that follows, and every open loop */
    pthread_cond_t  work;    /* a loop was opened, or the pool closes */
    pthread_cond_t  finished; /* a loop's last turn is done */
    loop           *newest;
    bool            closing;
    unsigned        started;
    pthread_t       thread[];
};

/* Takes and runs one turn; called and returns with the lock held. */
static void run_turn(sl_pool *pool, loop *from)
{
    const size_t index = from->next++;

    if (from->next == from->count) {
        loop **link = &pool->newest;

        /* Nothing is left to take: off the stack. Newer loops may lie on top of it. */
        while (*link != from)
            link = &(*link)->older;
        *link = from->older;
    }
    pthread_mutex_unlock(&pool->lock);
    from->fn(from->ctx, index);
    pthread_mutex_lock(&pool->lock);
    if (++from->done == from->count)
        pthread_cond_broadcast(&pool->finished);
}

static void *work(void *arg)
{
    sl_pool *pool = arg;

    pthread_mutex_lock(&pool->lock);
    for (;;) {
        if (pool->newest != NULL)
            run_turn(pool, pool->newest);
        else if (pool->closing)
            break;
        else
            pthread_cond_wait(&pool->work, &pool->lock);
    }
    pthread_mutex_unlock(&pool->lock);
    return NULL;
}

sl_status sl_pool_new(sl_pool **out, unsigned threads, sl_error *err)
{
    sl_pool *pool;

    if (threads == 0) {
        const long online = sysconf(_SC_NPROCESSORS_ONLN);

        threads = online < 1 ? 1 : online > 1024 ? 1024 : (unsigned)online;
    }
    pool = calloc(1, sizeof *pool + (threads - 1) * sizeof pool->thread[0]);
    if (pool == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "pool", "no memory for %u threads", threads);
    pthread_mutex_init(&pool->lock, NULL);
    pthread_cond_init(&pool->work, NULL);
    pthread_cond_init(&pool->finished, NULL);
    while (pool->started < threads - 1) {
        if (pthread_create(&pool->thread[pool->started], NULL, work, pool) != 0) {
            const unsigned got = pool->started + 1;

            sl_pool_free(pool);
            return sl_fail(err, SL_ERR_NOMEM, "pool", "the system gives %u of %u threads", got,
                           threads);
        }
        pool->started++;
    }
    *out = pool;
    return SL_OK;
}

void sl_pool_free(sl_pool *pool)
{
    if (pool == NULL)
        return;
    pthread_mutex_lock(&pool->lock);
    pool->closing = true;
    pthread_cond_broadcast(&pool->work);
    pthread_mutex_unlock(&pool->lock);
    for (unsigned t = 0; t < pool->started; t++)
        pthread_join(pool->thread[t], NULL);
    pthread_cond_destroy(&pool->finished);
    pthread_cond_destroy(&pool->work);
    pthread_mutex_destroy(&pool->lock);
    free(pool);
}

unsigned sl_pool_threads(const sl_pool *pool)
{
    return pool == NULL ? 1 : pool->started + 1;
}

void sl_pool_run(sl_pool *pool, sl_pool_fn fn, void *ctx, size_t count)
{
    loop mine = { fn, ctx, count, 0, 0, NULL };

    if (pool == NULL || pool->started == 0 || count <= 1) {
        for (size_t index = 0; index < count; index++)
            fn(ctx, index);
        return;
    }
    pthread_mutex_lock(&pool->lock);
    mine.older = pool->newest;
    pool->newest = &mine;
    pthread_cond_broadcast(&pool->work);
    while (mine.next < mine.count)
        run_turn(pool, &mine);
    while (mine.done < mine.count)
        pthread_cond_wait(&pool->finished, &pool->lock);
    pthread_mutex_unlock(&pool->lock);
}
