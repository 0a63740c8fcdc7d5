/*
 * XMP (ISO 16684-1) as RDF/XML: where the page comes from and what its resolution means. The
 * properties under urn:squareleaf:page:1 are ours; xmpMM and stRef are the standard's own.
 */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/utf8.h"
#include "encode/encode.h"

/* An XML character of UTF-8 at p, which ends in a NUL: its length, or 0. */
static size_t character(const unsigned char *p)
{
    const size_t n = sl_utf8_length(p, strnlen((const char *)p, 4));

    /* U+FFFE and U+FFFF are none */
    return n == 3 && p[0] == 0xef && p[1] == 0xbf && p[2] >= 0xbe ? 0 : n;
}

/*
 * Text as XML character data. What XML cannot hold (control characters, bytes that are no UTF-8)
 * becomes %XX, as in a file's address. Names stay readable: a '%' of their own is left alone,
 * for the hash beside the name says which file it is.
 */
static void put_escaped(sl_bytes *out, const char *text)
{
    const unsigned char *p = (const unsigned char *)text;

    while (*p != '\0') {
        const size_t n = character(p);

        if (n == 0 || *p < 0x20 || *p == 0x7f) {
            char hex[4];

            (void)snprintf(hex, sizeof hex, "%%%02X", *p);
            sl_bytes_text(out, hex);
            p++;
            continue;
        }
        switch (*p) {
        case '&':
            sl_bytes_text(out, "&amp;");
            break;
        case '<':
            sl_bytes_text(out, "&lt;");
            break;
        case '>':
            sl_bytes_text(out, "&gt;");
            break;
        case '"':
            sl_bytes_text(out, "&quot;");
            break;
        default:
            sl_bytes_add(out, p, n);
            break;
        }
        p += n;
    }
}

static void put_attribute(sl_bytes *out, const char *name, const char *value)
{
    sl_bytes_text(out, "\n    ");
    sl_bytes_text(out, name);
    sl_bytes_text(out, "=\"");
    put_escaped(out, value);
    sl_bytes_text(out, "\"");
}

/* Hundredths of a ppi without idle zeros; a decimal point in every locale. */
static void put_ppi(sl_bytes *out, const char *name, double ppi)
{
    char text[32];
    const long n = (long)(ppi * 100 + 0.5);

    if (n % 100 == 0)
        (void)snprintf(text, sizeof text, "%ld", n / 100);
    else if (n % 10 == 0)
        (void)snprintf(text, sizeof text, "%ld.%ld", n / 100, n % 100 / 10);
    else
        (void)snprintf(text, sizeof text, "%ld.%02ld", n / 100, n % 100);
    put_attribute(out, name, text);
}

static void put_element(sl_bytes *out, const char *name, const char *head, const char *value)
{
    sl_bytes_text(out, "    <");
    sl_bytes_text(out, name);
    sl_bytes_text(out, ">");
    sl_bytes_text(out, head);
    put_escaped(out, value);
    sl_bytes_text(out, "</");
    sl_bytes_text(out, name);
    sl_bytes_text(out, ">\n");
}

/* A list of one or more texts: dc:description in one language, names in a bag. */
static void put_list(sl_bytes *out, const char *name, const char *kind, const char *attribute,
                     const char *items)
{
    sl_bytes_text(out, "   <");
    sl_bytes_text(out, name);
    sl_bytes_text(out, "><rdf:");
    sl_bytes_text(out, kind);
    sl_bytes_text(out, ">");
    for (const char *end; *items != '\0'; items = end) {
        const bool alone = attribute[0] != '\0'; /* then ';' divides nothing */
        size_t length = alone ? strlen(items) : strcspn(items, ";");
        char *item;

        end = items + length + (items[length] == ';');
        for (; length > 0 && *items == ' '; length--)
            items++;
        while (length > 0 && items[length - 1] == ' ')
            length--;
        if (length == 0)
            continue;
        item = strndup(items, length);
        if (item == NULL) {
            out->failed = true;
            return;
        }
        sl_bytes_text(out, "<rdf:li");
        sl_bytes_text(out, attribute);
        sl_bytes_text(out, ">");
        put_escaped(out, item);
        sl_bytes_text(out, "</rdf:li>");
        free(item);
    }
    sl_bytes_text(out, "</rdf:");
    sl_bytes_text(out, kind);
    sl_bytes_text(out, "></");
    sl_bytes_text(out, name);
    sl_bytes_text(out, ">\n");
}

/*
 * The page is an object that the picture shows: its date in words has a field of its own there,
 * AOCircaDateCreated, which photoshop:DateCreated has not.
 */
static void put_words(sl_bytes *out, const sl_page_info *info)
{
    const sl_words *w = &info->words;
    sl_bytes text = { NULL, 0, 0, false };

    sl_description(&text, info);
    out->failed = out->failed || text.failed;
    if (text.size > 0)
        put_list(out, "dc:description", "Alt", " xml:lang=\"x-default\"", (const char *)text.data);
    sl_bytes_free(&text);
    if (sl_said(w->people))
        put_list(out, "Iptc4xmpExt:PersonInImage", "Bag", "", w->people);
    if (sl_said(w->date) && !sl_when_read(w->date).exact) {
        sl_bytes_text(out, "   <Iptc4xmpExt:ArtworkOrObject><rdf:Bag><rdf:li "
                           "rdf:parseType=\"Resource\">\n");
        put_element(out, "Iptc4xmpExt:AOCircaDateCreated", "", w->date);
        sl_bytes_text(out, "   </rdf:li></rdf:Bag></Iptc4xmpExt:ArtworkOrObject>\n");
    }
}

/* "2026-03-14T10:02:11" from Exif's "2026:03:14 10:02:11". */
static void put_moment(sl_bytes *out, const char *name, const char *exif)
{
    char iso[20];

    if (strlen(exif) != sizeof iso - 1)
        return;
    memcpy(iso, exif, sizeof iso);
    iso[4] = iso[7] = '-';
    iso[10] = 'T';
    put_attribute(out, name, iso);
}

/* XMP's form of a coordinate (ISO 16684-1, annex D): degrees, minutes with a fraction, N or S. */
static void put_coordinate(sl_bytes *out, const char *name, double degrees, const char *signs)
{
    const double size = degrees < 0 ? -degrees : degrees;
    const long whole = (long)(size * 6e7 + 0.5); /* millionths of a minute */
    char text[40];

    (void)snprintf(text, sizeof text, "%ld,%ld.%06ld%c", whole / 60000000,
                   whole % 60000000 / 1000000, whole % 1000000, signs[degrees < 0]);
    put_attribute(out, name, text);
}

void sl_xmp_write(sl_bytes *out, const sl_page_info *info)
{
    static const char head[] =
        "<?xpacket begin=\"\xef\xbb\xbf\" id=\"W5M0MpCehiHzreSzNTczkc9d\"?>\n"
        "<x:xmpmeta xmlns:x=\"adobe:ns:meta/\">\n"
        " <rdf:RDF xmlns:rdf=\"http://www.w3.org/1999/02/22-rdf-syntax-ns#\">\n"
        "  <rdf:Description rdf:about=\"\"\n"
        "    xmlns:dc=\"http://purl.org/dc/elements/1.1/\"\n"
        "    xmlns:xmp=\"http://ns.adobe.com/xap/1.0/\"\n"
        "    xmlns:xmpMM=\"http://ns.adobe.com/xap/1.0/mm/\"\n"
        "    xmlns:stRef=\"http://ns.adobe.com/xap/1.0/sType/ResourceRef#\"\n"
        "    xmlns:photoshop=\"http://ns.adobe.com/photoshop/1.0/\"\n"
        "    xmlns:exif=\"http://ns.adobe.com/exif/1.0/\"\n"
        "    xmlns:Iptc4xmpCore=\"http://iptc.org/std/Iptc4xmpCore/1.0/xmlns/\"\n"
        "    xmlns:Iptc4xmpExt=\"http://iptc.org/std/Iptc4xmpExt/2008-02-29/\"\n"
        "    xmlns:sl=\"urn:squareleaf:page:1\"";
    static const char tail[] = "  </rdf:Description>\n"
                               " </rdf:RDF>\n"
                               "</x:xmpmeta>\n"
                               "<?xpacket end=\"r\"?>";

    const sl_when when = sl_when_read(info->words.date);

    sl_bytes_text(out, head);
    put_attribute(out, "xmp:CreatorTool", SL_SOFTWARE);
    if (sl_said(info->shot_name))
        put_attribute(out, "dc:source", info->shot_name);
    if (sl_said(info->date))
        put_moment(out, "xmp:CreateDate", info->date);
    if (when.iso[0] != '\0')
        put_attribute(out, "photoshop:DateCreated", when.iso);
    if (sl_said(info->words.place))
        put_attribute(out, "Iptc4xmpCore:Location", info->words.place);
    if (info->has_position) {
        put_coordinate(out, "exif:GPSLatitude", info->latitude_deg, "NS");
        put_coordinate(out, "exif:GPSLongitude", info->longitude_deg, "EW");
    }
    if (info->ppi > 0)
        put_ppi(out, "sl:writtenPpi", info->ppi);
    if (info->native_ppi > 0) {
        put_ppi(out, "sl:nativePpi", info->native_ppi);
        put_attribute(out, "sl:interpolated", info->interpolated ? "yes" : "no");
    }
    sl_bytes_text(out, ">\n");
    put_words(out, info);
    if (sl_said(info->shot_name) || sl_said(info->shot_sha256)) {
        sl_bytes_text(out, "   <xmpMM:DerivedFrom rdf:parseType=\"Resource\">\n");
        if (sl_said(info->shot_name))
            put_element(out, "stRef:filePath", "", info->shot_name);
        if (sl_said(info->shot_sha256))
            put_element(out, "stRef:documentID", "sha256:", info->shot_sha256);
        sl_bytes_text(out, "   </xmpMM:DerivedFrom>\n");
    }
    sl_bytes_text(out, tail);
}
