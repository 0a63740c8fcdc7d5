/* What a page's files are called: a pattern, filled in, within archive practice. */
#ifndef SL_ALBUM_NAMING_H
#define SL_ALBUM_NAMING_H

#include "squareleaf.h"

/*
 * A name and its ending are at most 32 characters, of a-z 0-9 - _ alone: common practice of
 * archives, for names that every disk, web server and catalogue takes as they are.
 */
enum { SL_NAME_MOST = 28 };

/* Of what is called by no pattern: a page without a state is "page-0012". */
#define SL_NAME_PATTERN "page-{page}-{state}"

/*
 * A shot's name in its parts. Two shots that differ in their states alone show one page: the state
 * is what stands behind the last "--" and begins with a letter, as in leaf-12--flap-open.jpg.
 */
typedef struct sl_shot_parts {
    const char *stem;        /* within the shot's name; no NUL behind it */
    size_t      stem_length;
    const char *state;       /* as stem; length 0: none */
    size_t      state_length;
} sl_shot_parts;

/* Length of a shot's name without its ending; a dot that it begins with begins none. */
size_t sl_shot_bare(const char *shot);

sl_shot_parts sl_shot_parts_of(const char *shot);

/* Do both shots show one page? */
bool sl_shot_same_page(const char *a, const char *b);

/*
 * Text in the characters that names have: lower case, letters without their marks, all else a
 * dash, no two dashes side by side and none at an end. Truncated where it does not fit.
 * length  bytes of `text`, UTF-8; what is none becomes dashes
 * Returns the length that it would have had.
 */
size_t sl_name_tame(char *out, size_t room, const char *text, size_t length);

/*
 * Is the pattern one? {album}, {shot}, {page}, {state} and text; SL_ERR_ARG says what is wrong.
 */
sl_status sl_name_check(const char *pattern, sl_error *err);

/*
 * A checked pattern with the album's name in place of {album}, as it is remembered; free().
 * NULL when out of memory.
 */
char *sl_name_of_album(const char *pattern, const char *album);

/*
 * The name of a page.
 * out    SL_NAME_MOST + 1 characters
 * label  what stands for {page}: "0012a"
 * shot   its file's name, for {shot} (without ending; its state with it) and {state}. What stands
 *        before an empty part goes with it: "page-{page}-{state}" is "page-0012" without a state
 * SL_ERR_ARG, naming the shot, when the name is too long or empty.
 */
sl_status sl_name_fill(char *out, const char *pattern, const char *label, const char *shot,
                       sl_error *err);

#endif
