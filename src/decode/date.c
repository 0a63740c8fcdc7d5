/*
 * When a shot was taken, from its file's head and tags alone: a folder is put in order without
 * decoding a picture. Of a JPEG (T.81, B.1.1.4) and a PNG (eXIf chunk) the segments are passed
 * over by their lengths, of a TIFF structure (TIFF 6.0, section 2) only two directories are read:
 * IFD 0 points to Exif's (tag 34665), which holds DateTimeOriginal (36867; CIPA DC-008).
 */
#include <stdlib.h>
#include <string.h>

#include "decode/decode.h"
#include "decode/exif.h"

enum {
    TAG_EXIF = 34665,
    TAG_DATE = 36867,
    ENTRY = 12,
    DATE = 19,
    ENTRIES_MOST = 1000,     /* cameras write fewer than 100 */
    SEGMENTS_MOST = 4096     /* a chain that is longer is no photograph's */
};

/* A stretch of a file: a TIFF structure begins at `base`. */
typedef struct source {
    FILE *file;
    long  base;
    bool  big_endian;
} source;

static bool read_at(FILE *file, long at, void *to, size_t count)
{
    return at >= 0 && fseek(file, at, SEEK_SET) == 0 && fread(to, 1, count, file) == count;
}

static uint32_t whole(const unsigned char *b, int bytes, bool big_endian)
{
    uint32_t sum = 0;

    for (int i = 0; i < bytes; i++)
        sum = sum << 8 | b[big_endian ? i : bytes - 1 - i];
    return sum;
}

/* The entry of a tag in the directory at `at`, from the structure's start. */
static bool find_entry(unsigned char entry[ENTRY], const source *s, uint32_t at, unsigned tag)
{
    unsigned char count[2];
    uint32_t entries;

    if (at > INT32_MAX || !read_at(s->file, s->base + (long)at, count, sizeof count))
        return false;
    entries = whole(count, 2, s->big_endian);
    for (uint32_t i = 0; i < entries && i < ENTRIES_MOST; i++) {
        if (fread(entry, 1, ENTRY, s->file) != ENTRY)
            return false;
        if (whole(entry, 2, s->big_endian) == tag)
            return true;
    }
    return false;
}

static void date_of_tiff(char date[20], FILE *file, long base)
{
    enum { ASCII = 2 };
    source s = { file, base, false };
    unsigned char head[8];
    unsigned char entry[ENTRY];
    unsigned char text[DATE];
    uint32_t at;

    if (!read_at(file, base, head, sizeof head)
        || (memcmp(head, "II*\0", 4) != 0 && memcmp(head, "MM\0*", 4) != 0))
        return;
    s.big_endian = head[0] == 'M';
    if (!find_entry(entry, &s, whole(head + 4, 4, s.big_endian), TAG_EXIF)
        || !find_entry(entry, &s, whole(entry + 8, 4, s.big_endian), TAG_DATE)
        || whole(entry + 2, 2, s.big_endian) != ASCII
        || whole(entry + 4, 4, s.big_endian) < DATE)
        return;
    at = whole(entry + 8, 4, s.big_endian);
    if (at <= INT32_MAX && read_at(file, base + (long)at, text, sizeof text))
        sl_exif_date(date, text, sizeof text);
}

/* Segments up to the picture's data. Only the first APP1 that holds Exif counts. */
static void date_of_jpeg(char date[20], FILE *file)
{
    enum { APP1 = 0xE1, SOS = 0xDA, HEAD = 10 };
    long at = 2;

    for (int i = 0; i < SEGMENTS_MOST; i++) {
        unsigned char b[HEAD];

        if (!read_at(file, at, b, 4) || b[0] != 0xFF || b[1] == SOS)
            return;
        if (b[1] == 0xFF) {  /* a filling byte */
            at++;
            continue;
        }
        if (b[1] == APP1 && read_at(file, at, b, HEAD) && memcmp(b + 4, "Exif\0\0", 6) == 0) {
            date_of_tiff(date, file, at + HEAD);
            return;
        }
        at += 2 + (long)whole(b + 2, 2, true);
    }
}

static void date_of_png(char date[20], FILE *file)
{
    enum { SIGNATURE = 8, FRAME = 12, SPAN_MOST = INT32_MAX };
    long at = SIGNATURE;

    for (;;) {
        unsigned char b[8];
        uint32_t length;

        if (!read_at(file, at, b, sizeof b) || memcmp(b + 4, "IEND", 4) == 0)
            return;
        if (memcmp(b + 4, "eXIf", 4) == 0) {
            date_of_tiff(date, file, at + 8);
            return;
        }
        length = whole(b, 4, true);
        if (length > (uint32_t)(SPAN_MOST - FRAME) || at > SPAN_MOST - FRAME - (long)length)
            return;
        at += FRAME + (long)length;
    }
}

#if defined(SL_HEIF)
/* Its tags may be anywhere: the file is read whole, its picture is not decoded. */
static void date_of_heif(char date[20], FILE *file)
{
    sl_decode_job job = { .limits = sl_decode_defaults(), .tags_only = true };
    sl_shot shot = { .images = 1 };
    unsigned char *bytes = NULL;
    long size;

    if (fseek(file, 0, SEEK_END) != 0 || (size = ftell(file)) <= 0
        || (size_t)size > job.limits.max_memory)
        return;
    bytes = malloc((size_t)size);
    job.bytes = bytes;
    job.size = (size_t)size;
    if (bytes != NULL && read_at(file, 0, bytes, job.size)
        && sl_decode_heif(&shot, &job, NULL) == SL_OK)
        memcpy(date, shot.exif.date, sizeof shot.exif.date);
    free(bytes);
}
#endif

void sl_shot_date(char date[20], FILE *file)
{
    unsigned char head[16] = { 0 };

    date[0] = '\0';
    rewind(file);
    switch (sl_format_sniff(head, fread(head, 1, sizeof head, file))) {
    case SL_FORMAT_JPEG:
        date_of_jpeg(date, file);
        break;
    case SL_FORMAT_PNG:
        date_of_png(date, file);
        break;
    case SL_FORMAT_TIFF:
        date_of_tiff(date, file, 0);
        break;
    case SL_FORMAT_HEIF:
#if defined(SL_HEIF)
        date_of_heif(date, file);
#endif
        break;
    case SL_FORMAT_UNKNOWN:
        break;
    }
}
