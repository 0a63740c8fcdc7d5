/* One shot's work in an album's run: what is known before, what came of it. */
#ifndef SL_ALBUM_WORK_H
#define SL_ALBUM_WORK_H

#include <pthread.h>

#include "album/captions.h"
#include "album/corrections.h"
#include "album/folder.h"
#include "album/journal.h"
#include "album/place.h"
#include "base/file.h"
#include "base/sha256.h"
#include "squareleaf.h"

enum { SL_PAGE_NAME = 40, SL_PAGE_LABEL = 24 };

/* Bytes of a shot's file; twice what the largest medium-format cameras write. */
#define SL_WORK_FILE_MOST ((size_t)1 << 30)

typedef struct sl_work {
    const sl_entry *entry;
    char           *shot;    /* name as JSON holds it */
    char            page[SL_PAGE_NAME]; /* "page-0001": of its files */
    char            label[SL_PAGE_LABEL]; /* "0001", "0012a": states of one page share it */
    json_t         *line;    /* its journal line: an earlier run's, later this one's; owned */
    bool            keep;    /* an earlier run's page still stands */
    bool            elsewhere; /* another share's */
    bool            done;    /* `line` is this run's, or is kept */
    const sl_outline *outline; /* found by an earlier pass, or NULL */
    char            sha256[SL_SHA256_HEX]; /* of the shot; "" as long as it is not known */
    const sl_correction *correction; /* what a person said of the page, or NULL */
    const char     *left_out; /* why no page is made of the shot; NULL when one is */
    sl_words        words;   /* for the page's files, from the table and the correction */
    bool            overruled; /* the table won over the correction */
    sl_settings     settings; /* the run's, corrected */
    char            key[SL_SHA256_HEX]; /* of settings, optics, correction and words */
    size_t          memory;  /* bytes that its page in flight may take; a guess */
} sl_work;

/* What all works of a run share. Only `journal` is written to, under `mutex`. */
typedef struct sl_run {
    const char            *shots_dir; /* its real path, as JSON holds it */
    const char            *out_dir;
    const sl_album_params *params;
    const json_t          *skipped;   /* files that were, told by shares; NULL: the folder's */
    const char            *pattern;   /* of pages' names, naming.h */
    const sl_optics       *optics;    /* NULL: guessed shot by shot */
    const char            *optics_note;
    const sl_place        *place;     /* of the pages in their pictures */
    const char            *key;       /* of settings and optics */
    bool                   items_json; /* the caller wants each page's report as text */
    sl_corrections        *corrections; /* refusals are added before and after the pages */
    const sl_captions     *captions;
    const volatile int    *stop;
    sl_context            *context;
    sl_journal            *journal;
    pthread_mutex_t       *mutex;
    const sl_file_id      *shot_id;   /* of all shots: never written */
    size_t                 shot_count;
} sl_run;

/*
 * Does the page of an earlier run still stand: same shot (by place, size and time), same key, its
 * files there? A file that somebody changed since stays as it is.
 */
bool sl_work_stands(const sl_work *work, const sl_run *run);

/* The same but for place, name and time of the shot: it stands if its bytes are the same. */
bool sl_work_may_stand(const sl_work *work, const sl_run *run);

/*
 * Reads the shot, flattens it, writes and journals the page. What is wrong with the shot becomes
 * the line's outcome `failed` and SL_OK; an error is the disk's, the memory's or the stop flag's.
 */
sl_status sl_work_do(sl_work *work, const sl_run *run, sl_error *err);

/* What a journal line says of its page. */
sl_outcome sl_line_outcome(const json_t *line);

/* The failure, or the sentence of the gravest reason; "" when there is none that weighs. */
const char *sl_line_gravest(const json_t *line);

/* Has the line's page gone to another shot? Its name is never given again. */
bool sl_line_retired(const json_t *line);

/*
 * Takes away the files that a line tells of, with or without its small pictures, as far as they
 * are still as we made them and belong to no other page.
 */
void sl_work_remove_files(const json_t *line, bool pictures, const sl_run *run);

/* A file's time of last change, ns. */
json_int_t sl_work_time(const struct stat *st);

#endif
