/*
 * What a person said of the pages: corrections.json, as review.html saves it.
 *
 *   {"schema": 1, "kind": "squareleaf corrections", "saved": "2026-03-14T10:02:11Z",  not used
 *    "shots": {"<SHA-256 of the shot, 64 hex digits>": {
 *      "shot": "leaf-3.jpg", "page": "page-0003",   for people and messages; nothing is found by
 *      "size": [4032, 3024],                        them; corners must lie in a shot of that size
 *      "corners": [[x, y], ...],   four, round the page, any start; px of the upright shot, pixel
 *                                  centres at integers, (0,0) the top-left one's
 *      "exact": true,              not refined
 *      "turn": 90,                 0, 90, 180, 270 clockwise; in place of --turn
 *      "page_size": "8x10in",      as --page-size takes it, in place of that
 *      "leave_out": true,          no page is made of this shot
 *      "replaces": "<SHA-256>",    takes that shot's page
 *      "caption": "", "date": "", "place": "", "people": "",
 *      "word": {"says": "accepted" or "refused", "who": "", "when": "", "outline": "<key>"},
 *      "checks": [{"who": "", "when": "", "result": "good" or "bad", "note": ""}, ...]}},
 *    "order": ["<SHA-256>", ...]}   the shots in the album's order; one that is not listed comes
 *                                   behind the one that it follows by name
 *
 * All of an entry's fields may be left out. A field that makes no sense is named and not applied;
 * the rest of its entry is. Fields and entries that this version does not know are left alone.
 */
#ifndef SL_ALBUM_CORRECTIONS_H
#define SL_ALBUM_CORRECTIONS_H

#include <jansson.h>
#include <time.h>

#include "squareleaf.h"

typedef struct sl_correction {
    const char *shot_sha256;
    const char *shot;        /* name as it was when saved; "" unknown, as is `page` */
    const char *page;
    bool        has_corners;
    bool        exact;
    sl_point    corner[4];   /* clockwise */
    bool        has_turn;
    unsigned    turn_deg;
    double      page_mm[2];  /* 0: as the album's */
    bool        leave_out;
    const char *replaces;    /* SHA-256, or NULL */
    sl_words    words;       /* NULL where nothing was said, "" where it was taken back */
    sl_word     word;        /* SL_WORD_NONE, accepted or refused */
    const char *word_outline; /* key of the outline that the word is about; NULL with none */
    json_t     *json;        /* the entry's fields that hold: all strings live in it */
} sl_correction;

/* A correction that is not applied, for people. */
typedef struct sl_refusal {
    char *page;              /* "page-0003", or what else is known of it */
    char *field;             /* "corners", ...; "" for the whole entry */
    char *why;
} sl_refusal;

typedef struct sl_corrections {
    char          *path;     /* of the file; NULL when there is none */
    size_t         older;    /* other files of that kind, which are not read */
    void          *bytes;    /* the file as it is, for the copy in OUT_DIR */
    size_t         size;
    struct timespec mtime;   /* of the file */
    sl_correction *item;     /* by SHA-256, ascending */
    size_t         count;
    sl_refusal    *refusal;
    size_t         refusals;
    json_t        *order;    /* SHA-256s, or NULL */
} sl_corrections;

/*
 * Finds and reads the corrections: `path`, or with NULL the newest of corrections.json and the
 * names that browsers give a second and third download, `corrections (1).json`, beside the shots
 * and in OUT_DIR. None is no error, but with `path`.
 * SL_ERR_ARG for a file that is not of this kind, or that its writer broke.
 */
sl_status sl_corrections_read(sl_corrections *out, const char *path, const char *shots_dir,
                              const char *out_dir, sl_error *err);
void sl_corrections_clear(sl_corrections *corrections);

/* The second half of that: what such a file holds. `name` is for messages. */
sl_status sl_corrections_parse(sl_corrections *out, const char *bytes, size_t size,
                               const char *name, sl_error *err);

/* What was said of a shot; NULL when nothing was. corrections may be NULL. */
const sl_correction *sl_corrections_of(const sl_corrections *corrections,
                                       const char *shot_sha256);

/* Notes one more that is not applied; texts are copied. */
void sl_corrections_refuse(sl_corrections *corrections, const char *page, const char *field,
                           const char *why);

/* The settings for the correction's page; correction may be NULL. */
sl_settings sl_correction_settings(const sl_settings *settings, const sl_correction *correction);

/*
 * The key of a page with this correction: `key` itself where it touches nothing of the page's
 * files; its words are the business of sl_words_key(). correction may be NULL.
 */
sl_status sl_correction_key(char hex[65], const char *key, const sl_correction *correction,
                            sl_error *err);

/*
 * A short name of an outline: its corners as a page's report has them, hashed. A person's word is
 * about one outline, and falls with it.
 */
void sl_correction_outline_key(char hex[65], const json_t *report);

/* Does the word stand, for a page with this report? */
bool sl_correction_word_stands(const sl_correction *correction, const json_t *report);

#endif
