#include "album/seal.h"

#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "album/ours.h"
#include "base/error.h"
#include "base/file.h"

/* ---- the sum of a tree ----------------------------------------------------------------------- */

enum { BLOCK = 1 << 16 };

/* A chain: each block begins with the sum of the one before. */
typedef struct chain {
    size_t        used;
    unsigned char block[BLOCK];
} chain;

static void close_block(chain *c)
{
    char hex[SL_SHA256_HEX];

    sl_sha256(hex, c->block, c->used);
    memcpy(c->block, hex, sizeof hex);
    c->used = sizeof hex;
}

static void add(chain *c, const void *data, size_t size)
{
    const unsigned char *bytes = data;

    while (size > 0) {
        const size_t room = sizeof c->block - c->used;
        const size_t n = size < room ? size : room;

        memcpy(c->block + c->used, bytes, n);
        c->used += n;
        bytes += n;
        size -= n;
        if (c->used == sizeof c->block)
            close_block(c);
    }
}

/* What kind of value, and a number: its value or how much of it follows. */
static void add_head(chain *c, int kind, uint64_t number)
{
    unsigned char head[1 + sizeof number];

    head[0] = (unsigned char)kind;
    memcpy(head + 1, &number, sizeof number);
    add(c, head, sizeof head);
}

static void add_value(chain *c, const json_t *value)
{
    const int kind = value != NULL ? (int)json_typeof(value) : -1;
    const double real = json_real_value(value);
    const char *key;
    json_t *item;
    uint64_t bits;
    size_t i;

    switch (kind) {
    case JSON_OBJECT:
        add_head(c, kind, json_object_size(value));
        json_object_foreach((json_t *)value, key, item) {
            add(c, key, strlen(key) + 1);
            add_value(c, item);
        }
        return;
    case JSON_ARRAY:
        add_head(c, kind, json_array_size(value));
        json_array_foreach(value, i, item)
            add_value(c, item);
        return;
    case JSON_STRING:
        add_head(c, kind, json_string_length(value));
        add(c, json_string_value(value), json_string_length(value));
        return;
    case JSON_INTEGER:
        add_head(c, kind, (uint64_t)json_integer_value(value));
        return;
    case JSON_REAL:
        memcpy(&bits, &real, sizeof bits);
        add_head(c, kind, bits);
        return;
    default:
        add_head(c, kind, 0); /* true, false, null, nothing */
        return;
    }
}

void sl_seal_of(char hex[SL_SHA256_HEX], const json_t *tree)
{
    chain c;

    c.used = 0;
    add_value(&c, tree);
    sl_sha256(hex, c.block, c.used);
}

/* ---- files ----------------------------------------------------------------------------------- */

bool sl_seal_stands(const sl_run *run, const char *rest, const char *of)
{
    char *path = sl_path_join(run->out_dir, rest);
    char sha256[SL_SHA256_HEX];
    const char *was = NULL;

    if (path != NULL && sl_ours_sum(sha256, run, rest, path) == SL_OK)
        was = sl_journal_made_of(run->journal, rest, sha256);
    free(path);
    return was != NULL && strcmp(was, of) == 0;
}

static sl_status note(const sl_run *run, const char *rest, const char *of, const char *text,
                      FILE *file, sl_error *err)
{
    const size_t size = strlen(text);
    char sha256[SL_SHA256_HEX];

    sl_sha256(sha256, text, size);
    return sl_journal_add(run->journal,
                          json_pack("{s:[{s:s, s:s, s:s, s:I, s:o}]}", "files", "path", rest,
                                    "sha256", sha256, "of", of, "size", (json_int_t)size, "mtime",
                                    sl_ours_time(file)),
                          err);
}

sl_status sl_seal_write(const sl_run *run, const char *rest, const char *of, const char *text,
                        sl_error *err)
{
    char *path = sl_path_join(run->out_dir, rest);
    sl_part part;
    sl_status st;

    if (path == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "report", "out of memory");
    st = sl_part_open(&part, path, run->shot_id, run->shot_count, err);
    free(path);
    if (st != SL_OK)
        return st;
    st = sl_part_write(&part, text, strlen(text), err);
    if (st == SL_OK)
        st = note(run, rest, of, text, part.file, err);
    if (st == SL_OK)
        return sl_part_commit(&part, err);
    sl_part_abort(&part);
    return st;
}
