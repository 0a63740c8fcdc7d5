/* What was written of each page, from the table and from corrections: one set of words a page. */
#ifndef SL_ALBUM_WORDS_H
#define SL_ALBUM_WORDS_H

#include "album/work.h"

/* Gives each work its words. A filled-in cell of the table wins over corrections. */
void sl_words_give(sl_work *work, size_t count, const sl_run *run);

/* The page's key with its words: `key` itself where there are none. */
sl_status sl_words_key(char hex[SL_SHA256_HEX], const char *key, const sl_words *words,
                       sl_error *err);

/* {"caption", "date", "place", "people"}, those that there are; NULL when there are none. */
json_t *sl_words_json(const sl_words *words);

/* Says which table was read, where it wins, and which of its rows are about no page. */
void sl_words_notes(const sl_work *work, size_t count, const sl_run *run,
                    const sl_album_events *events);

#endif
