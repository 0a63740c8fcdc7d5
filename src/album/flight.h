/* Pages in flight: those that are to do, in parallel, within the memory that was granted. */
#ifndef SL_ALBUM_FLIGHT_H
#define SL_ALBUM_FLIGHT_H

#include "album/work.h"

/* What a page may take on its way, of a shot whose file has so many bytes. */
size_t sl_flight_bytes(size_t file);

typedef struct sl_flight {
    const sl_run          *run;
    sl_work               *work;
    size_t                 total;    /* works that become pages */
    const size_t          *due;      /* indices of those that are to do, in order */
    size_t                 due_count;
    const sl_album_events *events;   /* each page is told of in order, those that stand too */
} sl_flight;

/* Does them. What ends the run, SL_ERR_CANCELLED and a full disk, ends it for all pages. */
sl_status sl_flight_pages(const sl_flight *flight, sl_error *err);

#endif
