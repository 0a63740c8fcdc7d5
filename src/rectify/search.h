/* The candidates for a page's map: several models from several starts, fitted robustly. */
#ifndef SL_RECTIFY_SEARCH_H
#define SL_RECTIFY_SEARCH_H

#include "rectify/fit.h"
#include "rectify/seen.h"

/* A fitted map and how well it explains the outline. */
typedef struct sl_candidate {
    sl_page_map map;
    sl_fit_prior prior;
    sl_fit_free freedom;
    double cost;             /* bounded, priors included, in units of the noise squared */
    double scale;            /* robust residual over the expected noise, at least 1 */
    double hang;             /* neighbouring blocks whose residuals move as one, at least 1 */
} sl_candidate;

/* For 2 page orientations 4 rulings, bent either way. */
enum { SL_STARTS_MAX = 2 * 8, SL_FINISHED_MAX = 12 };

typedef struct sl_search {
    /* in */
    sl_seen seen;
    const sl_optics *optics;
    const sl_rectify_params *params;
    sl_fit_work *work;
    /* candidates on thinned points */
    sl_candidate start[SL_STARTS_MAX];
    size_t starts;
    /* the best of them on block means, each with its blocks */
    sl_candidate end[SL_FINISHED_MAX];
    sl_fit_point block[SL_FINISHED_MAX][SL_FIT_POINTS];
    size_t blocks[SL_FINISHED_MAX];
    size_t ends;
} sl_search;

/* SL_ERR_DEGENERATE when nothing could be fitted; else at least one end. */
sl_status sl_search_run(sl_search *search, sl_error *err);

/* The simplest model that explains the outline about as well as any: an index into end. */
size_t sl_search_choose(const sl_search *search);

/*
 * Blocks of the outline that the model leaves unexplained: long runs that the robust fit gave
 * up, not the odd tab, hole or rounded corner. marked[i] tells of block i; returns how many.
 */
size_t sl_search_unexplained(bool *marked, const sl_fit_point *block, size_t count);

/* Tukey's weights from off / sigma at their robust scale. */
void sl_search_reweigh(sl_fit_point *point, size_t count);

#endif
