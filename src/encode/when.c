/*
 * A page's date as a person wrote it: what of it is a date that programs can use.
 *
 * ISO 8601 dates of a day, a month or a year are taken as they are. "about 1934" and its kin
 * ("c. 1934", "1934?", EDTF's "1934~") give the year, and stay in words too. Anything else stays
 * in words alone: better no date than a wrong one.
 */
#include <stdio.h>
#include <string.h>
#include <strings.h>

#include "encode/encode.h"

static bool digits(const char *text, size_t count, unsigned *value)
{
    *value = 0;
    for (size_t i = 0; i < count; i++) {
        if (text[i] < '0' || text[i] > '9')
            return false;
        *value = *value * 10 + (unsigned)(text[i] - '0');
    }
    return true;
}

static unsigned days_in(unsigned year, unsigned month)
{
    static const unsigned char days[] = { 31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31 };
    const bool leap = (year % 4 == 0 && year % 100 != 0) || year % 400 == 0;

    return days[month - 1] + (month == 2 && leap ? 1u : 0u);
}

/* "1934", "1934-07", "1934-07-02", and no more. */
static bool is_iso(const char *text, size_t length)
{
    unsigned year;
    unsigned month = 1;
    unsigned day = 1;

    if ((length != 4 && length != 7 && length != 10) || !digits(text, 4, &year) || year == 0)
        return false;
    if (length > 4 && (text[4] != '-' || !digits(text + 5, 2, &month) || month < 1 || month > 12))
        return false;
    return length <= 7
           || (text[7] == '-' && digits(text + 8, 2, &day) && day >= 1
               && day <= days_in(year, month));
}

/* Past a word that says "about", and blanks. */
static const char *after_about(const char *text)
{
    static const char *const words[] = { "about", "around", "approximately", "approx.", "circa",
                                         "ca.", "ca", "c.", "c", "~" };

    for (size_t i = 0; i < sizeof words / sizeof *words; i++) {
        const size_t n = strlen(words[i]);

        if (strncasecmp(text, words[i], n) == 0
            && (text[n] == ' ' || (text[n] >= '0' && text[n] <= '9'))) {
            text += n;
            break;
        }
    }
    return text + strspn(text, " ");
}

sl_when sl_when_read(const char *text)
{
    sl_when when = { "", false };
    const char *start;
    size_t length;

    if (!sl_said(text))
        return when;
    text += strspn(text, " ");
    length = strlen(text);
    while (length > 0 && text[length - 1] == ' ')
        length--;
    if (is_iso(text, length)) {
        memcpy(when.iso, text, length);
        when.exact = true;
        return when;
    }
    start = after_about(text);
    length -= (size_t)(start - text);
    if (length > 1 && (start[length - 1] == '?' || start[length - 1] == '~'))
        length--;
    if (is_iso(start, length))
        memcpy(when.iso, start, length);
    return when;
}

void sl_description(sl_bytes *out, const sl_page_info *info)
{
    const sl_words *w = &info->words;
    const bool dated = sl_said(w->date) && !sl_when_read(w->date).exact;

    if (sl_said(w->caption))
        sl_bytes_text(out, w->caption);
    if (dated && sl_said(w->caption)) {
        sl_bytes_text(out, " (");
        sl_bytes_text(out, w->date);
        sl_bytes_text(out, ")");
    } else if (dated) {
        sl_bytes_text(out, w->date);
    }
    if (out->size > 0)
        sl_bytes_add(out, "", 1);
}

bool sl_original_date(char to[20], const sl_page_info *info)
{
    const sl_when when = sl_when_read(info->words.date);

    if (!when.exact || strlen(when.iso) != 10)
        return false;
    (void)snprintf(to, 20, "%.4s:%.2s:%.2s 00:00:00", when.iso, when.iso + 5, when.iso + 8);
    return true;
}
