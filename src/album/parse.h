/* Lines of the journal, as JSON: what json_loads() gives, in a part of the time. */
#ifndef SL_ALBUM_PARSE_H
#define SL_ALBUM_PARSE_H

#include <jansson.h>

/* NULL for text that is no JSON, or when out of memory. The text is as before afterwards. */
json_t *sl_parse_line(char *text);

#endif
