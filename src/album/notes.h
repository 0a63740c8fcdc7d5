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

#endif
