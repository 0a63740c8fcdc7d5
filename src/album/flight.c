#include "album/flight.h"

#include <stdlib.h>
#include <unistd.h>

#include "album/chain.h"
#include "album/result.h"
#include "base/error.h"

/* The decoded shot, a second of it in the decoder for a progressive file, and the rows between.
   Files are compressed about tenfold. A guess, on the safe side. */
static const size_t LEAST = (size_t)150 << 20;
static const size_t PER_BYTE = 40;

size_t sl_flight_bytes(size_t file)
{
    return LEAST + PER_BYTE * file;
}

/* What the threads share. */
typedef struct flying {
    const sl_flight *plan;
    pthread_mutex_t  gate;   /* all below */
    pthread_cond_t   landed;
    size_t           bytes;  /* in flight */
    size_t           most;
    size_t           said;   /* works reported to events, in order */
    size_t           finished;
    volatile int     halt;   /* something ended the run: no further page begins */
    sl_status        status; /* what it was */
    sl_error         error;
} flying;

/* Reports, in order, every work that is done. Under `gate`. */
static void say_what_is_done(flying *f)
{
    const sl_flight *p = f->plan;

    for (; f->said < p->total && (p->work[f->said].done || p->work[f->said].elsewhere); f->said++) {
        const sl_work *w = &p->work[f->said];

        if (!w->elsewhere && p->events != NULL && p->events->item != NULL) {
            char *text = p->events->json ? sl_result_json(w->line, p->run->corrections) : NULL;
            sl_album_item item = sl_result_item(w, !w->keep);

            item.json = text;
            p->events->item(p->events->ctx, &item, f->finished, p->due_count);
            free(text);
        }
    }
}

static void enter(flying *f, size_t memory)
{
    (void)pthread_mutex_lock(&f->gate);
    /* one page is always let through: it may be larger than the memory that was granted */
    while (f->bytes > 0 && f->bytes + memory > f->most)
        (void)pthread_cond_wait(&f->landed, &f->gate);
    f->bytes += memory;
    (void)pthread_mutex_unlock(&f->gate);
}

static void leave(flying *f, size_t memory, sl_status st, const sl_error *error)
{
    (void)pthread_mutex_lock(&f->gate);
    f->bytes -= memory;
    f->finished++;
    if (st != SL_OK && f->status == SL_OK) {
        f->status = st;
        f->error = *error;
        f->halt = 1;
    }
    say_what_is_done(f);
    (void)pthread_cond_broadcast(&f->landed);
    (void)pthread_mutex_unlock(&f->gate);
}

static void do_one(void *ctx, size_t index)
{
    flying *f = ctx;
    const sl_flight *p = f->plan;
    sl_work *work = &p->work[p->due[index]];
    sl_error error = { SL_OK, NULL, "" };
    sl_status st = SL_OK;

    enter(f, work->memory);
    if (p->run->stop != NULL && *p->run->stop != 0)
        st = sl_fail(&error, SL_ERR_CANCELLED, "album", "stopped");
    else if (f->halt == 0)
        st = sl_work_do(work, p->run, &error);
    leave(f, work->memory, st, &error);
}

static size_t half_of_ram(void)
{
    const long pages = sysconf(_SC_PHYS_PAGES);
    const long size = sysconf(_SC_PAGESIZE);

    return pages > 0 && size > 0 ? (size_t)pages / 2 * (size_t)size : (size_t)1 << 30;
}

sl_status sl_flight_pages(const sl_flight *flight, sl_error *err)
{
    const sl_run *run = flight->run;
    flying f = { .plan = flight };

    f.most = run->params->memory > 0 ? run->params->memory : half_of_ram();
    (void)pthread_mutex_init(&f.gate, NULL);
    (void)pthread_cond_init(&f.landed, NULL);
    say_what_is_done(&f);
    sl_pool_run(run->context->pool, do_one, &f, flight->due_count);
    (void)pthread_cond_destroy(&f.landed);
    (void)pthread_mutex_destroy(&f.gate);
    if (f.status != SL_OK && err != NULL)
        *err = f.error;
    return f.status;
}
