/* Names as text: what JSON, a manifest and a terminal can hold, and back to the bytes. */
#ifndef SL_BASE_TEXT_H
#define SL_BASE_TEXT_H

#include <stdbool.h>

/* Well-formed UTF-8 (RFC 3629): no overlong forms, no surrogates, at most U+10FFFF. */
bool sl_text_is_utf8(const char *text);

/*
 * The name as reports and messages show it: control characters, and in a name that is no UTF-8
 * every byte from 0x80 on, become \xHH, a backslash two: so no two names become one. Owned by the
 * caller, free(); NULL when out of memory.
 */
char *sl_text_shown(const char *name);

/* The bytes of a shown name: sl_text_shown() undone. Owned by the caller; NULL as above. */
char *sl_text_name(const char *shown);

#endif
