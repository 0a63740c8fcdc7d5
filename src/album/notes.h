/* What a person should know before the first page of a run that is not the first. */
#ifndef SL_ALBUM_NOTES_H
#define SL_ALBUM_NOTES_H

#include "album/work.h"

/*
 * Says, a sentence each: which pages are done again because settings or optics differ, which
 * were made by another version and stay, which have files that somebody changed since, which stay
 * though their shot is gone.
 */
void sl_notes_say(const sl_work *work, size_t count, const sl_run *run,
                  const sl_album_events *events);

/*
 * Says which corrections are taken, which pages are done again for them, which shots become no
 * page, and what is not applied.
 * all  works, those that become no page included: they are behind the first `count`
 */
void sl_notes_corrections(const sl_work *work, size_t count, size_t all, const sl_run *run,
                          const sl_album_events *events);

/* Names the corrections that are not applied, from the given one on. */
void sl_notes_refusals(size_t from, const sl_run *run, const sl_album_events *events);

#endif
