/* Faults of the whole album, each found in the figures of all its pages and said once. */
#ifndef SL_ALBUM_FAULTS_H
#define SL_ALBUM_FAULTS_H

#include <jansson.h>
#include <stdbool.h>
#include <stddef.h>

#include "base/compiler.h"

/* Adds a fault; without a figure `unit` is "". */
void sl_fault_add(json_t *faults, const char *code, double value, double limit, const char *unit,
                  const char *text, ...) SL_PRINTF(6, 7);

/* More or fewer pages than `expect`; nothing when that is 0. */
void sl_fault_page_count(json_t *faults, const json_t *lines, size_t expect);

#endif
