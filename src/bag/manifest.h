/* The tag files of a bag: RFC 8493, section 2. */
#ifndef SL_BAG_MANIFEST_H
#define SL_BAG_MANIFEST_H

#include <stdio.h>

#include "squareleaf.h"

/* The two algorithms that every reader of bags must know (RFC 8493, 2.4). */
enum { SL_SUM_256 = 0, SL_SUM_512, SL_SUMS };

/* "sha256", "sha512"; and the digits of each. */
extern const char *const sl_sum_name[SL_SUMS];
extern const size_t sl_sum_digits[SL_SUMS];

/* One line: the sum, two spaces, the path with CR, LF and % percent-encoded (2.1.3). */
void sl_manifest_put(FILE *file, const char *sum, const char *path);

/* What one or more manifests say of a file. */
typedef struct sl_listed {
    char *path;              /* in the bag, decoded */
    char *sum[SL_SUMS];      /* lower case; NULL where that manifest does not have it */
} sl_listed;

typedef struct sl_manifest {
    sl_listed *line;         /* by path, as strcmp() orders */
    size_t     count;
    bool       has[SL_SUMS]; /* manifests that were read */
} sl_manifest;

/* Tells of a line that makes no sense. */
typedef void (*sl_manifest_fault)(void *ctx, const char *why);

/*
 * Adds the lines of one manifest's text. Lines may end in LF, CR or CR LF. A line without a sum of
 * the right length, with a path that leaves the bag, or a path for the second time, is told of and
 * left out.
 */
sl_status sl_manifest_read(sl_manifest *out, const void *text, size_t size, int sum,
                           sl_manifest_fault fault, void *ctx, sl_error *err);

void sl_manifest_clear(sl_manifest *manifest);

/* The line of a path, or NULL. */
const sl_listed *sl_manifest_find(const sl_manifest *manifest, const char *path);

/* The text behind `label:` in a tag file's bytes; free(). NULL when there is none. */
char *sl_tag_value(const void *text, size_t size, const char *label);

#endif
