/* What a person said of the pages, as the report tells it. */
#ifndef SL_ALBUM_SAID_H
#define SL_ALBUM_SAID_H

#include "album/work.h"

/* A person's word on the page of a journal line, as far as it still stands. */
sl_word sl_said_of(const json_t *line, const sl_correction *correction);

/* The outcome that counts: an accepted page is as good as passed, a refused one as reshoot. */
sl_outcome sl_said_outcome(sl_outcome outcome, sl_word said);

/*
 * Adds to a page of report.json: "outline_key", which a word must name; "word" where one stands;
 * "checks"; and "correction", the whole entry.
 */
void sl_said_add(json_t *page, const json_t *line, const sl_corrections *corrections);

/* Refuses the words that are about another outline than their page now has. */
void sl_said_refuse(const json_t *lines, sl_corrections *corrections);

/* The lines in the person's order; owned by the caller, who gives `lines` up. NULL: no memory. */
json_t *sl_said_order(json_t *lines, const sl_run *run);

/* Adds works that become no page to the list of skipped files. */
void sl_said_left_out(json_t *skipped, const sl_work *work, size_t count);

/* Of report.json: which file was taken, and what of it is not applied; null without one. */
json_t *sl_said_corrections(const sl_run *run);

#endif
