/*
 * The album as one PDF. Every page goes in with the bytes of its access copy, unless the file must
 * stay below a size: then all pages are encoded again on one rung of a ladder, the first that
 * fits. Which one that will be is reckoned from a few pages, and then seen.
 */
#define _XOPEN_SOURCE 700 /* realpath() */
#include <errno.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "base/error.h"
#include "base/file.h"
#include "base/text.h"
#include "book/pdf.h"
#include "book/smaller.h"

static const double MM_PER_INCH = 25.4;

/* Bytes of an access copy; a JPEG of 65,500 x 65,500 px hardly has more. */
static const size_t JPEG_MOST = (size_t)1 << 30;

/*
 * From little to much smaller. Below quality 80 or so blocks begin to show in sky and skin; fewer
 * pixels look better than still lower quality, so both go down together. Common practice: 150 ppi
 * for reading on a screen, 72 for a glance.
 */
static const struct rung { double ppi; int quality; } ladder[] = {
    { 0, 90 },   { 0, 80 },   { 200, 85 }, { 200, 75 }, { 150, 80 }, { 150, 70 },
    { 120, 70 }, { 100, 65 }, { 85, 60 },  { 72, 55 },  { 72, 40 },
};

enum { RUNGS = sizeof ladder / sizeof *ladder, SAMPLE = 6 };

/* The most that a side of a PDF's page has (ISO 32000-1, annex C). */
static const double PT_MOST = 14400;

/* Of a file beside its JPEGs: objects of one page, and fonts. Measured: 1.1 kB and 15 kB a font. */
static const double PAGE_BYTES = 1500;
static const double FILE_BYTES = 40000;

typedef struct binder {
    const sl_record      *record;
    const sl_book_params *params;
    const sl_keep_events *events;
    const volatile int   *stop;
    const struct rung    *rung;   /* NULL: the bytes as they are */
    bool                  tell;   /* notes about single pages: once, not on every try */
    size_t                assumed;
} binder;

static void say(const binder *b, const char *text)
{
    if (b->events != NULL && b->events->note != NULL)
        b->events->note(b->events->ctx, text);
}

static bool is_stopped(const binder *b)
{
    return b->stop != NULL && *b->stop != 0;
}

/* ---- one page's JPEG ------------------------------------------------------------------------- */

typedef struct leaf {
    void  *jpeg;
    size_t size;
    size_t px[2];
    double mm[2];
} leaf;

static sl_status read_leaf(leaf *out, const sl_record *record, const sl_record_page *page,
                           sl_error *err)
{
    char *path = sl_path_join(record->out_dir, page->access->path);
    sl_status st;

    *out = (leaf){ NULL, 0, { 0, 0 }, { page->page_mm[0], page->page_mm[1] } };
    if (path == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "book", "out of memory");
    st = sl_file_read(&out->jpeg, &out->size, path, JPEG_MOST, err);
    if (st == SL_OK && !sl_pdf_jpeg_size(out->px, out->jpeg, out->size)) {
        free(out->jpeg);
        out->jpeg = NULL;
        st = sl_fail(err, SL_ERR_FORMAT, "book",
                     "%s is no JPEG that a PDF can hold: `squareleaf verify` says if it was changed",
                     path);
    }
    for (int i = 0; i < 2 && st == SL_OK && !(page->page_mm[0] > 0); i++)
        out->mm[i] = (double)out->px[i] / SL_BOOK_ASSUMED_PPI * MM_PER_INCH;
    free(path);
    return st;
}

/* Encodes the leaf again on a rung. */
static sl_status shrink(leaf *l, const struct rung *rung, sl_error *err)
{
    size_t px[2] = { l->px[0], l->px[1] };
    void *jpeg;
    size_t size;
    sl_status st;

    for (int i = 0; i < 2 && rung->ppi > 0; i++) {
        const double wanted = fmax(1, round(l->mm[i] / MM_PER_INCH * rung->ppi));

        px[i] = wanted < (double)px[i] ? (size_t)wanted : px[i];
    }
    st = sl_smaller(&jpeg, &size, l->jpeg, l->size, px, (double)px[0] / l->mm[0] * MM_PER_INCH,
                    rung->quality, err);
    if (st == SL_OK && px[0] == l->px[0] && px[1] == l->px[1] && size >= l->size) {
        free(jpeg);          /* it was smaller before */
        return SL_OK;
    }
    if (st == SL_OK) {
        free(l->jpeg);
        *l = (leaf){ jpeg, size, { px[0], px[1] }, { l->mm[0], l->mm[1] } };
    }
    return st;
}

/* ---- one page of the book -------------------------------------------------------------------- */

static const char *why_missing(sl_gap gap)
{
    switch (gap) {
    case SL_GAP_RESHOOT:
        return "is to be photographed again";
    case SL_GAP_REFUSED:
        return "was refused by the person who looked at it";
    case SL_GAP_FAILED:
        return "could not be made from its shot";
    case SL_GAP_NOT_MADE:
        return "has not been made yet";
    case SL_GAP_NO_FILE:
    case SL_GAP_NONE:
    default:
        return "has lost one of its files";
    }
}

static void note_words(const binder *b, const sl_record_page *page, const sl_pdf_words *told)
{
    char text[200];

    if (!b->tell)
        return;
    if (told->unknown > 0) {
        (void)snprintf(text, sizeof text,
                       "page %s: no installed font has %d of the letters of its words: install a "
                       "font for that script and make the book again",
                       page->label, told->unknown);
        say(b, text);
    }
    if (told->cut) {
        (void)snprintf(text, sizeof text, "page %s: its words are too long for the sheet and are "
                                          "cut with ...", page->label);
        say(b, text);
    }
}

/* A copy that XML and PDF can hold: control characters in words become spaces. */
static void soften(char out[300], const char *text)
{
    size_t n = 0;

    for (; *text != '\0' && n < 299; text++, n++)
        out[n] = (unsigned char)*text < 0x20 || *text == 0x7f ? ' ' : *text;
    out[n] = '\0';
    while (n > 0 && !sl_text_is_utf8(out))
        out[--n] = '\0';     /* cut inside a character */
}

static sl_status add_page(sl_pdf *pdf, sl_book *told, const binder *b, const sl_record_page *page,
                          const leaf *l, sl_error *err)
{
    const sl_book_params *params = b->params;
    const bool whole = l->jpeg != NULL;
    sl_pdf_words words = { 0, false, 0 };
    char bookmark[300];
    char missing[400];
    char note[120];
    sl_layout layout;

    if (params->captions_below && whole) {
        words = sl_pdf_measure(pdf, &page->words, sl_layout_words_width(l->mm, params->paper),
                               sl_layout_words_most(l->mm, params->paper));
        note_words(b, page, &words);
    }
    layout = sl_layout_of(l->mm, params->paper, words.height);
    if (layout.width > PT_MOST || layout.height > PT_MOST)
        return sl_fail(err, SL_ERR_LIMIT, "book",
                       "page %s is longer than the 200 inches that a PDF can have: give --paper",
                       page->label);
    if (page->words.caption != NULL)
        soften(bookmark, page->words.caption);
    else
        (void)snprintf(bookmark, sizeof bookmark, "Page %s%s", page->label,
                       whole ? "" : " (missing)");
    (void)snprintf(note, sizeof note, "Page %s, %.0f %% of its own size", page->label,
                   100 * layout.scale);
    (void)snprintf(missing, sizeof missing, "Page %s is missing.\nIt %s.", page->label,
                   why_missing(page->gap));
    if (whole) {
        told->scale[0] = told->scale[0] > 0 ? fmin(told->scale[0], layout.scale) : layout.scale;
        told->scale[1] = fmax(told->scale[1], layout.scale);
    }
    return sl_pdf_add(pdf, &layout,
                      &(sl_pdf_page){ .label = page->label,
                                      .bookmark = bookmark,
                                      .jpeg = l->jpeg,
                                      .jpeg_size = l->size,
                                      .px = { l->px[0], l->px[1] },
                                      .missing = missing,
                                      .words = words.height > 0 ? &page->words : NULL,
                                      .note = whole && params->paper != SL_PAPER_OWN ? note
                                                                                     : NULL },
                      err);
}

/* ---- the whole book -------------------------------------------------------------------------- */

/* OUT_DIR's own name; free(). */
static char *own_title(const sl_record *record)
{
    char *real = realpath(record->out_dir, NULL);
    const char *slash = real != NULL ? strrchr(real, '/') : NULL;
    char *title = sl_text_shown(slash != NULL && slash[1] != '\0' ? slash + 1 : "Album");

    free(real);
    return title;
}

/* All pages into `file`, on the binder's rung. *told is filled but for the bytes. */
static sl_status bind(sl_book *told, binder *b, FILE *file, sl_error *err)
{
    static const double a4[2] = { 210, 297 };
    const sl_record *record = b->record;
    char *own = own_title(record);
    double mm[2] = { a4[0], a4[1] };
    sl_pdf *pdf = NULL;
    sl_status st;

    *told = (sl_book){ .pages = record->pages };
    b->assumed = 0;
    st = own != NULL ? sl_pdf_new(&pdf, file, b->params->title != NULL ? b->params->title : own,
                                  err)
                     : sl_fail(err, SL_ERR_NOMEM, "book", "out of memory");
    /* a missing page is as large as the nearest one before it, or else the first whole one */
    for (size_t i = 0; i < record->pages; i++)
        if (record->page[i].gap == SL_GAP_NONE && record->page[i].page_mm[0] > 0) {
            memcpy(mm, record->page[i].page_mm, sizeof mm);
            break;
        }
    for (size_t i = 0; i < record->pages && st == SL_OK; i++) {
        const sl_record_page *page = &record->page[i];
        leaf l = { NULL, 0, { 0, 0 }, { mm[0], mm[1] } };

        if (is_stopped(b))
            st = sl_fail(err, SL_ERR_CANCELLED, "book", "stopped");
        if (st == SL_OK && page->gap == SL_GAP_NONE) {
            st = read_leaf(&l, record, page, err);
            if (st == SL_OK && b->rung != NULL)
                st = shrink(&l, b->rung, err);
            b->assumed += !(page->page_mm[0] > 0);
            memcpy(mm, l.mm, sizeof mm);
        } else {
            told->gaps++;
        }
        if (st == SL_OK)
            st = add_page(pdf, told, b, page, &l, err);
        free(l.jpeg);
        if (st == SL_OK && b->events != NULL && b->events->progress != NULL)
            b->events->progress(b->events->ctx, (double)(i + 1), (double)record->pages);
    }
    if (st == SL_OK)
        st = sl_pdf_finish(pdf, err);
    sl_pdf_free(pdf);
    free(own);
    b->tell = false;
    if (st == SL_OK) {
        const long end = fseek(file, 0, SEEK_END) == 0 ? ftell(file) : -1;

        if (end < 0)
            return sl_fail_errno(err, errno, "book", "the PDF");
        told->bytes = (double)end;
    }
    return st;
}

/* ---- below a size ---------------------------------------------------------------------------- */

/* Bytes that the book will have on a rung, from a few of its pages. */
static sl_status reckon(double *bytes, const binder *b, const struct rung *rung, sl_error *err)
{
    const sl_record *record = b->record;
    const size_t whole = record->pages - record->gaps;
    const size_t step = whole > SAMPLE ? whole / SAMPLE : 1;
    double sum = 0;
    size_t seen = 0;
    size_t taken = 0;
    sl_status st = SL_OK;

    for (size_t i = 0; i < record->pages && st == SL_OK; i++) {
        leaf l;

        if (record->page[i].gap != SL_GAP_NONE || seen++ % step != 0)
            continue;
        if (is_stopped(b))
            return sl_fail(err, SL_ERR_CANCELLED, "book", "stopped");
        st = read_leaf(&l, record, &record->page[i], err);
        if (st == SL_OK)
            st = shrink(&l, rung, err);
        if (st == SL_OK) {
            sum += (double)l.size;
            taken++;
        }
        free(l.jpeg);
    }
    if (st == SL_OK)
        *bytes = FILE_BYTES + PAGE_BYTES * (double)record->pages
                 + (taken > 0 ? sum / (double)taken * (double)whole : 0);
    return st;
}

/* The first rung that a few pages promise will do, by halving. */
static sl_status choose_rung(size_t *out, const binder *b, sl_error *err)
{
    size_t low = 0;
    size_t high = RUNGS - 1; /* the last is tried whatever is reckoned */

    while (low < high) {
        const size_t middle = (low + high) / 2;
        double bytes = 0;
        const sl_status st = reckon(&bytes, b, &ladder[middle], err);

        if (st != SL_OK)
            return st;
        if (bytes <= b->params->max_bytes)
            high = middle;
        else
            low = middle + 1;
    }
    *out = low;
    return SL_OK;
}

/* What the unchanged copies have together. */
static double bytes_as_they_are(const sl_record *record)
{
    double sum = 0;

    for (size_t i = 0; i < record->pages; i++)
        if (record->page[i].gap == SL_GAP_NONE)
            sum += (double)record->page[i].access->size;
    return sum;
}

static sl_status start_over(FILE *file, sl_error *err)
{
    rewind(file);
    if (fflush(file) != 0 || ftruncate(fileno(file), 0) != 0)
        return sl_fail_errno(err, errno, "book", "the PDF");
    return SL_OK;
}

static sl_status bind_below(sl_book *told, binder *b, FILE *file, sl_error *err)
{
    size_t rung = 0;
    sl_status st = choose_rung(&rung, b, err);

    for (; st == SL_OK; rung++) {
        b->rung = &ladder[rung];
        st = start_over(file, err);
        if (st == SL_OK)
            st = bind(told, b, file, err);
        if (st != SL_OK || told->bytes <= b->params->max_bytes)
            break;
        if (rung + 1 == RUNGS)
            return sl_fail(err, SL_ERR_LIMIT, "book",
                           "even at %.0f ppi these %zu pages take %.0f kB: allow more with "
                           "--max-bytes",
                           ladder[rung].ppi, told->pages, told->bytes / 1e3);
    }
    told->reencoded = true;
    told->quality = ladder[rung].quality;
    told->ppi = ladder[rung].ppi;
    return st;
}

/* ---- what is asked for ----------------------------------------------------------------------- */

static sl_status judge(const sl_record *record, const char *path, const sl_book_params *params,
                       sl_error *err)
{
    sl_file_id there;
    const bool exists = sl_file_identify(&there, path);

    if (record->pages == 0)
        return sl_fail(err, SL_ERR_NO_SHOTS, "book", "%s has no pages yet: run album first",
                       record->out_dir);
    if (record->gaps > 0 && !params->incomplete)
        return sl_fail(err, SL_ERR_INCOMPLETE, "book", "%zu of %zu pages are missing",
                       record->gaps, record->pages);
    for (size_t i = 0; i < record->pages; i++) {
        const sl_record_page *page = &record->page[i];

        if (page->gap == SL_GAP_NONE && page->access == NULL)
            return sl_fail(err, SL_ERR_INCOMPLETE, "book",
                           "page %s has no access copy, and the book is made of those: run album "
                           "again with --access jpeg",
                           page->label);
        for (size_t k = 0; exists && k < page->files; k++) {
            char *file = sl_path_join(record->out_dir, page->file[k].path);
            sl_file_id id;
            const bool same = file != NULL && sl_file_identify(&id, file)
                              && id.device == there.device && id.inode == there.inode;

            free(file);
            if (same)
                return sl_fail(err, SL_ERR_EXISTS, "book",
                               "%s is one of the album's pages: give another name", path);
        }
    }
    return SL_OK;
}

/* The shots that can be seen: never written. */
static sl_status shots_of(sl_file_id **out, size_t *count, const sl_record *record, sl_error *err)
{
    sl_file_id *id = calloc(record->pages + 1, sizeof *id);

    if (id == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "book", "out of memory");
    *count = 0;
    for (size_t i = 0; i < record->pages; i++)
        if (record->page[i].shot_path != NULL
            && sl_file_identify(&id[*count], record->page[i].shot_path))
            (*count)++;
    *out = id;
    return SL_OK;
}

static void say_assumed(const binder *b)
{
    char text[200];

    if (b->assumed == 0)
        return;
    (void)snprintf(text, sizeof text,
                   "%zu page%s without a known size: taken as %.0f pixels per inch; run album with "
                   "--page-size for the true size",
                   b->assumed, b->assumed == 1 ? " is" : "s are", SL_BOOK_ASSUMED_PPI);
    say(b, text);
}

sl_status sl_book_write(sl_book *out, const sl_record *record, const char *path,
                        const sl_book_params *params, const sl_keep_events *events,
                        const volatile int *stop, sl_error *err)
{
    binder b = { record, params, events, stop, NULL, true, 0 };
    sl_book told;
    sl_file_id *shot = NULL;
    size_t shots = 0;
    sl_part part = { NULL, NULL, NULL };
    sl_status st = judge(record, path, params, err);

    if (st == SL_OK)
        st = shots_of(&shot, &shots, record, err);
    if (st == SL_OK)
        st = sl_part_open_named(&part, path, params->force, shot, shots, err);
    if (st == SL_OK && params->max_bytes > 0 && bytes_as_they_are(record) > params->max_bytes) {
        st = bind_below(&told, &b, part.file, err);
    } else if (st == SL_OK) {
        st = bind(&told, &b, part.file, err);
        if (st == SL_OK && params->max_bytes > 0 && told.bytes > params->max_bytes)
            st = bind_below(&told, &b, part.file, err);
    }
    if (st == SL_OK)
        st = sl_part_commit(&part, err);
    else
        sl_part_abort(&part);
    free(shot);
    if (st == SL_OK) {
        say_assumed(&b);
        *out = told;
    }
    return st;
}
