/* Near misses of words. */
#ifndef SL_CLI_NEAR_H
#define SL_CLI_NEAR_H

#include <stddef.h>

/* Letters to put in, take out or change to make one word of the other; 32 for longer words. */
size_t edit_distance(const char *a, const char *b);

#endif
