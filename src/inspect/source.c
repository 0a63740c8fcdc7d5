#include "inspect/source.h"

#include <stdio.h>
#include <string.h>

typedef struct phrase {
    const char *camera;
    const char *other;
} phrase;

/* Longer phrases first: what they hold is not looked at again. */
static const phrase scanner[] = {
    { "Photograph it again with a finger's width of table all round",
      "Scan it again with a finger's width of the lid all round" },
    { "leave a finger's width of table next time", "leave a finger's width of the lid next time" },
    { "a plain table of another brightness shows edges better",
      "a lid of another brightness, or plain card behind the page, shows edges better" },
    { "Photograph it again on a plain table of another brightness",
      "Scan it again with plain card of another brightness behind it" },
    { "Photograph it again from straight above", "Scan it again, pressed flat" },
    { "Photograph each page alone", "Scan each page alone" },
    { "a pattern of the table", "a pattern behind the page" },
    { "weigh the corner down and photograph it again", "press it flat and scan it again" },
    { "photograph it flatter and straighter", "scan it pressed flat" },
    { "photograph it flatter", "scan it pressed flat" },
    { "photograph the page again", "scan the page again" },
    { "Focus on the page, use a tripod and a self-timer, and photograph it again",
      "Wipe the glass, press the page flat and scan it again" },
    { "Move the lamps further to the sides and photograph it again",
      "Press the page flat and scan it again" },
    { "Expose less and photograph it again", "Scan it again darker" },
    { "Put two equal lamps at 45 degrees, one on each side",
      "Press the page flat against the glass and scan it again" },
    { "Go nearer, or photograph the page in parts", "Scan it again at a higher resolution" },
};

/* A picture that does not tell. */
static const phrase either[] = {
    { "Photograph it again on a plain table of another brightness",
      "Photograph or scan it again on a plain ground of another brightness" },
};

/* Puts `p->other` in the place of `p->camera`, where that is. */
static void reword(char *text, size_t room, const phrase *p)
{
    char rest[sizeof((sl_reason *)NULL)->text];
    char *at = strstr(text, p->camera);

    if (at == NULL)
        return;
    (void)snprintf(rest, sizeof rest, "%s", at + strlen(p->camera));
    (void)snprintf(at, room - (size_t)(at - text), "%s%s", p->other, rest);
}

void sl_source_reword(sl_inspection *inspection, sl_source source)
{
    const phrase *list = source == SL_SOURCE_SCANNER ? scanner : either;
    const size_t count = source == SL_SOURCE_SCANNER ? sizeof scanner / sizeof *scanner
                                                     : sizeof either / sizeof *either;

    if (source == SL_SOURCE_CAMERA)
        return;
    for (size_t i = 0; i < inspection->reason_count; i++)
        for (size_t k = 0; k < count; k++)
            reword(inspection->reason[i].text, sizeof inspection->reason[i].text, &list[k]);
}
