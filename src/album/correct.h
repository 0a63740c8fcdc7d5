/* What a person said is put into effect: which shots become pages, in what order, and how. */
#ifndef SL_ALBUM_CORRECT_H
#define SL_ALBUM_CORRECT_H

#include "album/work.h"

/*
 * After sl_match_works() and before names are given: finds each work's correction, lets a shot
 * take the page of the one that it replaces, moves works that become no page to the end, and puts
 * the rest in the person's order.
 * count  in: of all works; out: of those that become pages; the others have `left_out`
 * Pages that are given up lose their files; the journal notes it. Corrections for shots that are
 * not here are refused.
 */
sl_status sl_correct_works(sl_work *work, size_t *count, sl_run *run, sl_error *err);

/*
 * Keeps a copy of the corrections as OUT_DIR/corrections.json, as old as the file itself, so that
 * the newest stays the newest. A file of that name that no run wrote is a person's: it is set
 * aside as corrections-1.json.
 */
sl_status sl_correct_keep(const sl_run *run, sl_error *err);

/* With run->key known: words, key and settings of each work. */
sl_status sl_correct_keys(sl_work *work, size_t count, const sl_run *run, sl_error *err);

/*
 * Permutes `index` (0 .. count - 1 on input, in the order by name) into the person's order.
 * sha256  of each shot; NULL or "" where it is not known
 */
sl_status sl_correct_order(size_t *index, const char *const *sha256, size_t count,
                           const sl_corrections *corrections, sl_error *err);

#endif
