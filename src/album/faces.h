/* Likenesses of many pages, and which of them are so alike that they show one page. */
#ifndef SL_ALBUM_FACES_H
#define SL_ALBUM_FACES_H

#include <stdbool.h>
#include <stddef.h>

#include "base/pool.h"

typedef struct sl_faces sl_faces;

/* Room for so many; NULL when out of memory. */
sl_faces *sl_faces_new(size_t most);
void sl_faces_free(sl_faces *faces);

/* Adds a likeness, likeness.h; false for text that is none. */
bool sl_faces_add(sl_faces *faces, const char *likeness);

typedef void (*sl_face_pair)(void *ctx, size_t a, size_t b, double alike);

/*
 * Tells of every pair a < b (by the order of adding) that shows one page, whichever way about, by b
 * and then by a.
 * limit  least correlation, 0 .. 1
 * pool   whose threads seek; may be NULL
 * False when out of memory.
 */
bool sl_faces_pairs(sl_faces *faces, double limit, sl_pool *pool, sl_face_pair found, void *ctx);

#endif
