/*
 * A ring of bands stands between resampling and the sinks. Every thread takes, again and again,
 * the next job that can be done: a band for a sink whose turn it is, else the resampling of the
 * next band where the ring has room, else it waits until another thread has done a job. So while
 * one thread encodes, which goes row after row, the others resample ahead of it.
 *
 * One thread alone never waits: a band that is resampled can be encoded, and where none is, the
 * ring has room.
 */
#include "album/bands.h"

#include <pthread.h>
#include <stdlib.h>

#include "base/error.h"

enum { BAND_ROWS = 64, RING_MOST = 66 };

typedef enum job_kind { RESAMPLE, ENCODE, WAIT, LEAVE } job_kind;

typedef struct job {
    job_kind kind;
    size_t   band;
    size_t   sink;           /* ENCODE */
} job;

typedef struct flow {
    const sl_resampler *resampler;
    const sl_sink      *sink;
    size_t              sinks;
    sl_bands_params     params;
    const volatile int *stop;
    size_t              bands;
    size_t              ring; /* bands that are held */
    size_t              stride; /* bytes of a row */
    unsigned char      *data;   /* ring * BAND_ROWS rows */
    unsigned char      *row[SL_SINKS_MOST]; /* one, for what a sink does before it writes */

    pthread_mutex_t     lock;   /* guards all that follows */
    pthread_cond_t      change; /* a job was done */
    size_t              started; /* bands that some thread has taken to resample */
    bool                ready[RING_MOST]; /* the band in this place is resampled */
    size_t              next[SL_SINKS_MOST]; /* the band that a sink takes next */
    bool                busy[SL_SINKS_MOST];
    sl_status           status;
    sl_error            error;
} flow;

/* ---- the jobs -------------------------------------------------------------------------------- */

static size_t rows_of(const flow *f, size_t band)
{
    const size_t left = f->params.height - band * BAND_ROWS;

    return left < BAND_ROWS ? left : BAND_ROWS;
}

static unsigned char *data_of(const flow *f, size_t band)
{
    return f->data + band % f->ring * BAND_ROWS * f->stride;
}

/* 16-bit samples to 8 by rounding; `out` may not overlap. */
static void narrow(unsigned char *out, const void *in, size_t count)
{
    const uint16_t *wide = in;

    for (size_t i = 0; i < count; i++)
        out[i] = (unsigned char)((wide[i] * 255u + 32767u) / 65535u);
}

/* Hands a band's rows to a sink. */
static sl_status encode(const flow *f, size_t band, size_t sink, sl_error *err)
{
    const sl_sink *s = &f->sink[sink];
    const unsigned channels = f->params.channels;
    const size_t pixel = (size_t)channels * (f->params.bits / 8);
    const size_t top = band * BAND_ROWS;
    size_t first = top > s->skip ? top : s->skip;
    size_t end = top + rows_of(f, band);
    unsigned char *work = f->row[sink];
    const unsigned char *rows;

    if (end > s->skip + s->height)
        end = s->skip + s->height;
    if (first >= end)
        return SL_OK;
    rows = data_of(f, band) + (first - top) * f->stride + s->skip * pixel;
    if (s->bits == f->params.bits && s->colour == NULL)
        return sl_writer_rows(s->writer, rows, end - first, f->stride, err);
    for (; first < end; first++, rows += f->stride) {
        const unsigned char *row = rows;
        sl_status st;

        if (s->bits != f->params.bits) {
            narrow(work, rows, s->width * channels);
            row = work;
        }
        if (s->colour != NULL)
            sl_colour_rows(s->colour, work, 0, row, 0, s->width, 1);
        st = sl_writer_rows(s->writer, work, 1, s->width * channels * (s->bits / 8), err);
        if (st != SL_OK)
            return st;
    }
    return SL_OK;
}

/* ---- who does what --------------------------------------------------------------------------- */

/* Bands before this one have left the ring. */
static size_t first_held(const flow *f)
{
    size_t least = f->bands;

    for (size_t i = 0; i < f->sinks; i++)
        least = f->next[i] < least ? f->next[i] : least;
    return least;
}

/* Takes a job; with the lock held. */
static job take(flow *f)
{
    const size_t held = first_held(f);

    if (f->status == SL_OK && f->stop != NULL && *f->stop != 0)
        f->status = sl_fail(&f->error, SL_ERR_CANCELLED, "album", "stopped");
    if (f->status != SL_OK || held == f->bands)
        return (job){ LEAVE, 0, 0 };
    for (size_t i = 0; i < f->sinks; i++) {
        const size_t band = f->next[i];

        if (!f->busy[i] && band < f->started && f->ready[band % f->ring]) {
            f->busy[i] = true;
            return (job){ ENCODE, band, i };
        }
    }
    if (f->started < f->bands && f->started < held + f->ring) {
        f->ready[f->started % f->ring] = false;
        return (job){ RESAMPLE, f->started++, 0 };
    }
    return (job){ WAIT, 0, 0 };
}

/* Does a job, without the lock, and notes that it is done, with it. */
static void run_job(flow *f, job j)
{
    sl_error error = { SL_OK, NULL, "" };
    sl_status st;

    pthread_mutex_unlock(&f->lock);
    if (j.kind == RESAMPLE)
        st = sl_resampler_rows(f->resampler, j.band * BAND_ROWS, rows_of(f, j.band),
                               data_of(f, j.band), f->stride, &error);
    else
        st = encode(f, j.band, j.sink, &error);
    pthread_mutex_lock(&f->lock);
    if (j.kind == RESAMPLE) {
        f->ready[j.band % f->ring] = true;
    } else {
        f->busy[j.sink] = false;
        f->next[j.sink]++;
    }
    if (st != SL_OK && f->status == SL_OK) {
        f->status = st;
        f->error = error;
    }
    pthread_cond_broadcast(&f->change);
}

/* One thread's share of it. */
static void work(void *ctx, size_t index)
{
    flow *f = ctx;

    (void)index;
    pthread_mutex_lock(&f->lock);
    for (;;) {
        const job j = take(f);

        if (j.kind == LEAVE)
            break;
        if (j.kind == WAIT)
            pthread_cond_wait(&f->change, &f->lock);
        else
            run_job(f, j);
    }
    pthread_mutex_unlock(&f->lock);
}

sl_status sl_bands_write(const sl_resampler *resampler, const sl_sink *sinks, size_t count,
                         const sl_bands_params *params, sl_pool *pool, const volatile int *stop,
                         sl_error *err)
{
    const size_t threads = sl_pool_threads(pool);
    flow *f = calloc(1, sizeof *f);
    bool room = f != NULL && count <= SL_SINKS_MOST;
    sl_status st;

    if (room) {
        f->resampler = resampler;
        f->sink = sinks;
        f->sinks = count;
        f->params = *params;
        f->stop = stop;
        f->bands = (params->height + BAND_ROWS - 1) / BAND_ROWS;
        /* One thread resamples and encodes in turn; with more, each has one and two wait. */
        f->ring = threads == 1 ? 1 : threads + 2 < RING_MOST ? threads + 2 : RING_MOST;
        f->ring = f->ring < f->bands ? f->ring : f->bands;
        f->stride = params->width * params->channels * (params->bits / 8);
        f->data = malloc(f->ring * BAND_ROWS * f->stride);
        room = f->data != NULL;
        for (size_t i = 0; i < count && room; i++) {
            f->row[i] = malloc(f->stride);
            room = f->row[i] != NULL;
        }
    }
    if (!room) {
        st = sl_fail(err, SL_ERR_NOMEM, "album", "out of memory");
    } else {
        pthread_mutex_init(&f->lock, NULL);
        pthread_cond_init(&f->change, NULL);
        sl_pool_run(pool, work, f, threads);
        pthread_cond_destroy(&f->change);
        pthread_mutex_destroy(&f->lock);
        st = f->status;
        if (st != SL_OK && err != NULL)
            *err = f->error;
    }
    for (size_t i = 0; f != NULL && i < count && i < SL_SINKS_MOST; i++)
        free(f->row[i]);
    if (f != NULL)
        free(f->data);
    free(f);
    return st;
}
