/*
 * Faults of the whole album, each found in the figures of all its pages and said once; what most
 * pages have in common is then no reason to look at each of them.
 */
#ifndef SL_ALBUM_FAULTS_H
#define SL_ALBUM_FAULTS_H

#include <jansson.h>

#include "squareleaf.h"

/*
 * More or fewer pages than `expect`; nothing when that is 0. States of one page are one, and a page
 * that was taken away is none.
 */
void sl_fault_page_count(json_t *faults, const json_t *lines, const char *out_dir,
                         size_t expect);

/*
 * The stated size against what most pages measure, and each page's proportions against the
 * album's: design, section 7.
 */
void sl_fault_size(json_t *faults, json_t *lines, const sl_settings *settings);

/* Most shots are underexposed, not sharp, unevenly lit, or hold few pixels. */
void sl_fault_light(json_t *faults, json_t *lines);

#endif
