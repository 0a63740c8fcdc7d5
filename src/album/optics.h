/* The album's camera and lens: read, or solved over a few pages before the first is written. */
#ifndef SL_ALBUM_OPTICS_H
#define SL_ALBUM_OPTICS_H

#include "album/work.h"

typedef struct sl_album_optics {
    sl_optics   optics;
    bool        used;        /* false: each page is fitted with what its own tags say */
    sl_place    place;       /* where the pages lie, frozen in the same file */
    char        note[200];   /* one sentence for people and the report */
    sl_outline *found[SL_OPTICS_PAGES]; /* outlines that the solving found, for the second pass */
    size_t      index[SL_OPTICS_PAGES]; /* of the works that they belong to */
    size_t      count;
} sl_album_optics;

/*
 * From params->optics, else OUT_DIR/optics.json, else solved from at most SL_OPTICS_PAGES shots
 * spread over the album and then frozen in OUT_DIR/optics.json. Optics that the album cannot
 * support are not used, and the note says why. Errors are those of reading and writing the file.
 */
sl_status sl_album_optics_get(sl_album_optics *out, const sl_folder *folder,
                              const sl_album_params *params, const char *out_dir,
                              sl_context *context, const volatile int *stop, sl_error *err);
/*
 * The same as far as it is known without solving; else not used, with a note. Writes nothing.
 */
sl_status sl_album_optics_known(sl_album_optics *out, const sl_album_params *params,
                                const char *out_dir, sl_error *err);
void sl_album_optics_clear(sl_album_optics *optics);

/* The outline found for a work, or NULL. */
const sl_outline *sl_album_optics_outline(const sl_album_optics *optics, size_t work);

#endif
