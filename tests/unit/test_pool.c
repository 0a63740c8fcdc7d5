/* The pool: each turn once, loops inside loops, more threads than turns and the other way round. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdatomic.h>

#include <cmocka.h>

#include "base/pool.h"

enum { OUTER = 37, INNER = 53 };

typedef struct nest {
    sl_pool   *pool;
    atomic_int seen[OUTER][INNER];
    size_t     outer;
} nest;

typedef struct inner_ctx {
    nest  *all;
    size_t outer;
} inner_ctx;

static void inner(void *ctx, size_t index)
{
    const inner_ctx *c = ctx;

    atomic_fetch_add(&c->all->seen[c->outer][index], 1);
}

static void outer(void *ctx, size_t index)
{
    nest *all = ctx;
    inner_ctx c = { all, index };

    sl_pool_run(all->pool, inner, &c, INNER);
    /* The inner loop has returned: all its turns are done. */
    for (size_t i = 0; i < INNER; i++)
        atomic_fetch_add(&all->seen[index][i], atomic_load(&all->seen[index][i]) == 1 ? 1 : 100);
}

static void check(unsigned threads)
{
    static nest all;         /* too large for a stack under the sanitizers */
    sl_error err = { 0 };

    for (size_t i = 0; i < OUTER; i++) {
        for (size_t j = 0; j < INNER; j++)
            atomic_store(&all.seen[i][j], 0);
    }
    all.pool = NULL;
    if (threads > 0 && sl_pool_new(&all.pool, threads, &err) != SL_OK)
        fail_msg("%u threads: %s", threads, err.detail);
    assert_int_equal(sl_pool_threads(all.pool), threads > 0 ? threads : 1);
    for (int again = 0; again < 20; again++) {
        for (size_t i = 0; i < OUTER; i++) {
            for (size_t j = 0; j < INNER; j++)
                atomic_store(&all.seen[i][j], 0);
        }
        sl_pool_run(all.pool, outer, &all, OUTER);
        for (size_t i = 0; i < OUTER; i++) {
            for (size_t j = 0; j < INNER; j++) {
                if (atomic_load(&all.seen[i][j]) != 2)
                    fail_msg("%u threads: turn %zu,%zu was seen %d times", threads, i, j,
                             atomic_load(&all.seen[i][j]));
            }
        }
    }
    sl_pool_free(all.pool);
}

static void each_turn_runs_once_in_nested_loops(void **state)
{
    (void)state;
    check(0);                /* no pool: the caller alone */
    check(1);
    check(2);
    check(7);
    check(64);
}

static void counted(void *ctx, size_t index)
{
    (void)index;
    atomic_fetch_add((atomic_int *)ctx, 1);
}

static void small_loops_and_empty_ones_return(void **state)
{
    sl_pool *pool = NULL;
    atomic_int turns;

    (void)state;
    atomic_init(&turns, 0);
    assert_int_equal(sl_pool_new(&pool, 4, NULL), SL_OK);
    sl_pool_run(pool, counted, &turns, 0);
    assert_int_equal(atomic_load(&turns), 0);
    for (size_t n = 1; n < 2000; n++)
        sl_pool_run(pool, counted, &turns, n % 4);
    assert_int_equal(atomic_load(&turns), 1999 / 4 * 6 + 1 + 2 + 3);
    sl_pool_free(pool);
    sl_pool_free(NULL);
}

static void zero_threads_is_one_a_processor(void **state)
{
    sl_pool *pool = NULL;

    (void)state;
    assert_int_equal(sl_pool_new(&pool, 0, NULL), SL_OK);
    assert_true(sl_pool_threads(pool) >= 1);
    sl_pool_free(pool);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(each_turn_runs_once_in_nested_loops),
        cmocka_unit_test(small_loops_and_empty_ones_return),
        cmocka_unit_test(zero_threads_is_one_a_processor),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
