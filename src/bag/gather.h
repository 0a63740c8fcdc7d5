/* What goes into a bag, and from where. */
#ifndef SL_BAG_GATHER_H
#define SL_BAG_GATHER_H

#include "bag/carry.h"
#include "squareleaf.h"

typedef struct sl_gathered_file {
    char       *from;
    char       *path;        /* in the bag: "data/..." */
    const char *sha256;      /* that it must have; NULL unknown. The record's */
    bool        is_shot;
    bool        left_out;    /* found to be another file while it was copied */
    sl_carried  carried;     /* once it is copied */
} sl_gathered_file;

/* A shot that cannot be had. */
typedef struct sl_lost_shot {
    const char *name;        /* as reports show it */
    const char *page;
    const char *why;         /* static */
} sl_lost_shot;

typedef struct sl_gathered {
    sl_gathered_file *file;  /* by path in the bag, as strcmp() orders */
    size_t            count;
    sl_lost_shot     *lost;
    size_t            lost_count;
    double            bytes;
} sl_gathered;

/* What is no plain file in OUT_DIR is left out, and told of. */
sl_status sl_gather(sl_gathered *out, const sl_record *record, const sl_bag_params *params,
                    const sl_keep_events *events, sl_error *err);
void sl_gathered_clear(sl_gathered *gathered);

/*
 * The path of a page's shot: where it was, or in shots_dir under its name. NULL when it was never
 * known. Owned by the caller. SL_ERR_NOMEM.
 */
sl_status sl_gather_shot(char **out, const sl_record_page *page, const char *shots_dir,
                         sl_error *err);

#endif
