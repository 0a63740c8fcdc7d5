#include "base/text.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* Length of the character at p, 0 when it is none. RFC 3629, section 4. */
static size_t character(const unsigned char *p)
{
    static const struct {
        unsigned char first;     /* bytes from here on ... */
        unsigned char length;
        unsigned char low;       /* ... and the second byte's range */
        unsigned char high;
    } forms[] = {
        { 0xf5, 0, 0, 0 },       { 0xf4, 4, 0x80, 0x8f }, { 0xf1, 4, 0x80, 0xbf },
        { 0xf0, 4, 0x90, 0xbf }, { 0xee, 3, 0x80, 0xbf }, { 0xed, 3, 0x80, 0x9f },
        { 0xe1, 3, 0x80, 0xbf }, { 0xe0, 3, 0xa0, 0xbf }, { 0xc2, 2, 0x80, 0xbf },
        { 0x80, 0, 0, 0 },       { 0x00, 1, 0, 0 },
    };
    size_t k = 0;

    while (p[0] < forms[k].first)
        k++;
    if (forms[k].length >= 2 && (p[1] < forms[k].low || p[1] > forms[k].high))
        return 0;
    for (size_t i = 2; i < forms[k].length; i++)
        if (p[i] < 0x80 || p[i] > 0xbf)
            return 0;
    return forms[k].length;
}

bool sl_text_is_utf8(const char *text)
{
    const unsigned char *p = (const unsigned char *)text;
    size_t n;

    for (; *p != '\0'; p += n) {
        n = character(p);
        if (n == 0)
            return false;
    }
    return true;
}

char *sl_text_shown(const char *name)
{
    const bool utf8 = sl_text_is_utf8(name);
    char *shown = malloc(4 * strlen(name) + 1);
    char *out = shown;

    if (shown == NULL)
        return NULL;
    for (const unsigned char *p = (const unsigned char *)name; *p != '\0'; p++) {
        if (*p == '\\')
            out += sprintf(out, "\\\\");
        else if (*p < 0x20 || *p == 0x7f || (*p >= 0x80 && !utf8))
            out += sprintf(out, "\\x%02X", *p);
        else
            *out++ = (char)*p;
    }
    *out = '\0';
    return shown;
}

static int digit(char c)
{
    return c >= '0' && c <= '9' ? c - '0' : c >= 'A' && c <= 'F' ? c - 'A' + 10 : -1;
}

char *sl_text_name(const char *shown)
{
    char *name = malloc(strlen(shown) + 1);
    char *out = name;

    if (name == NULL)
        return NULL;
    while (*shown != '\0') {
        if (shown[0] == '\\' && shown[1] == '\\') {
            *out++ = '\\';
            shown += 2;
        } else if (shown[0] == '\\' && shown[1] == 'x' && digit(shown[2]) >= 0
                   && digit(shown[3]) >= 0) {
            *out++ = (char)(digit(shown[2]) * 16 + digit(shown[3]));
            shown += 4;
        } else {
            *out++ = *shown++;
        }
    }
    *out = '\0';
    return name;
}
