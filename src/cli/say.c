/* Messages about files, whatever their names are. */
#include <ctype.h>
#include <stdio.h>
#include <string.h>

#include "cli/cli.h"

/* A control character breaks the line or steers the terminal; reports show it in the same way. */
const char *shown(shown_text *room, const char *text)
{
    char *out = room->text;
    const char *const end = room->text + sizeof room->text - sizeof "\\xHH";

    for (; *text != '\0' && out < end; text++)
        if (iscntrl((unsigned char)*text))
            out += sprintf(out, "\\x%02X", (unsigned char)*text);
        else
            *out++ = *text;
    *out = '\0';
    return room->text;
}

static bool in_word(char c)
{
    return isalnum((unsigned char)c) || c == '_' || c == '-' || c == '.';
}

/* Does text end with one of the words that a name follows: "there is no folder pages"? */
static bool leads_to_name(const char *text, const char *end)
{
    static const char *const words[] = { " folder ", " in ", " into ", " on ", " of ", " for ",
                                         " at " };

    for (size_t i = 0; i < sizeof words / sizeof *words; i++) {
        const size_t length = strlen(words[i]);

        if ((size_t)(end - text) >= length && memcmp(end - length, words[i], length) == 0)
            return true;
    }
    return false;
}

bool is_named(const char *detail, const char *name)
{
    const size_t length = strlen(name);

    if (length == 0)
        return true;
    /* a folder may be called `pages`, and messages speak of pages */
    for (const char *at = detail; (at = strstr(at, name)) != NULL; at++)
        if (!in_word(at[length]) && (at == detail || leads_to_name(detail, at)))
            return true;
    return false;
}

void complain(const char *name, const sl_error *err)
{
    const char *detail = SHOWN(err->detail);

    /* many errors name the file themselves */
    if (is_named(err->detail, name))
        (void)fprintf(stderr, "squareleaf: %s\n", detail);
    else
        (void)fprintf(stderr, "squareleaf: %s: %s\n", SHOWN(name), detail);
}
