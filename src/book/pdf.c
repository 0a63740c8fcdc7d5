/*
 * cairo's PDF surface puts a JPEG into the file as it is (DCTDecode) when the image carries it as
 * CAIRO_MIME_TYPE_JPEG; the pixels of that image are then never looked at, nor filled in here.
 * Pango sets the words: direction, joining and fonts as each script needs.
 */
#include "book/pdf.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

#include "base/error.h"
#include "book/pdf_calls.h"

static const char CAPTION_FONT[] = "Sans 11";
static const char SMALL_FONT[] = "Sans 8.5";
static const char MISSING_FONT[] = "Sans 16";

/* Between the caption and the line of date, place and people, pt. */
static const double GAP = 3;

struct sl_pdf {
    sl_pdf_calls     call;
    FILE            *file;
    int              write_errno; /* of the first write that failed */
    cairo_surface_t *surface;
    cairo_t         *cairo;
    PangoFontMap    *fonts;  /* our own: nothing outlives the book */
    PangoContext    *context;
    int              pages;
};

/* ---- the file -------------------------------------------------------------------------------- */

/* Tells cairo of no failure: 1.16 ends its surface after a failed write with memory that it never
   set up. check() tells of it. */
static cairo_status_t put(void *ctx, const unsigned char *data, unsigned length)
{
    sl_pdf *pdf = ctx;

    errno = 0;
    if (pdf->write_errno == 0 && fwrite(data, 1, length, pdf->file) != length)
        pdf->write_errno = errno != 0 ? errno : EIO;
    return CAIRO_STATUS_SUCCESS;
}

/* The first thing that went wrong so far. */
static sl_status check(const sl_pdf *pdf, sl_error *err)
{
    cairo_status_t st = pdf->call.cairo_status(pdf->cairo);

    if (pdf->write_errno != 0)
        return sl_fail_errno(err, pdf->write_errno, "book", "writing");
    if (st == CAIRO_STATUS_SUCCESS)
        st = pdf->call.cairo_surface_status(pdf->surface);
    if (st == CAIRO_STATUS_SUCCESS)
        return SL_OK;
    return sl_fail(err, st == CAIRO_STATUS_NO_MEMORY ? SL_ERR_NOMEM : SL_ERR_IO, "book",
                   "the PDF could not be made: %s", pdf->call.cairo_status_to_string(st));
}

sl_status sl_pdf_new(sl_pdf **out, FILE *file, const char *title, sl_error *err)
{
    sl_pdf *pdf = calloc(1, sizeof *pdf);
    sl_status st;

    if (pdf == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "book", "out of memory");
    if (!sl_pdf_load(&pdf->call)) {
        free(pdf);
        return sl_fail(err, SL_ERR_UNSUPPORTED, "book",
                       "Pango and cairo, which write the PDF, are not there: install them (on "
                       "Debian: apt-get install libpangocairo-1.0-0)");
    }
    pdf->file = file;
    pdf->surface = pdf->call.cairo_pdf_surface_create_for_stream(put, pdf, 72, 72);
    pdf->cairo = pdf->call.cairo_create(pdf->surface);
    pdf->fonts = pdf->call.pango_cairo_font_map_new();
    pdf->context = pdf->call.pango_font_map_create_context(pdf->fonts);
    pdf->call.pango_cairo_update_context(pdf->cairo, pdf->context);
    pdf->call.cairo_pdf_surface_set_metadata(pdf->surface, CAIRO_PDF_METADATA_TITLE, title);
    pdf->call.cairo_pdf_surface_set_metadata(pdf->surface, CAIRO_PDF_METADATA_CREATOR,
                                             "squareleaf " SL_VERSION);
    pdf->call.cairo_pdf_surface_set_metadata(pdf->surface, CAIRO_PDF_METADATA_CREATE_DATE, NULL);
    st = check(pdf, err);
    if (st != SL_OK) {
        sl_pdf_free(pdf);
        return st;
    }
    *out = pdf;
    return SL_OK;
}

void sl_pdf_free(sl_pdf *pdf)
{
    if (pdf != NULL) {
        pdf->call.g_object_unref(pdf->context);
        pdf->call.g_object_unref(pdf->fonts);
        pdf->call.cairo_destroy(pdf->cairo);
        pdf->call.cairo_surface_destroy(pdf->surface);
        free(pdf);
    }
}

sl_status sl_pdf_finish(sl_pdf *pdf, sl_error *err)
{
    pdf->call.cairo_surface_finish(pdf->surface);
    errno = 0;
    if (fflush(pdf->file) != 0 && pdf->write_errno == 0)
        pdf->write_errno = errno != 0 ? errno : EIO;
    return check(pdf, err);
}

/* ---- words ----------------------------------------------------------------------------------- */

/* most  pt; 0: no limit */
static PangoLayout *set_text(const sl_pdf *pdf, const char *text, const char *font, double width,
                             double most)
{
    PangoLayout *layout = pdf->call.pango_layout_new(pdf->context);
    PangoFontDescription *face = pdf->call.pango_font_description_from_string(font);

    pdf->call.pango_layout_set_font_description(layout, face);
    pdf->call.pango_font_description_free(face);
    pdf->call.pango_layout_set_width(layout, pdf->call.pango_units_from_double(width));
    pdf->call.pango_layout_set_wrap(layout, PANGO_WRAP_WORD_CHAR);
    if (most > 0) {
        pdf->call.pango_layout_set_height(layout, pdf->call.pango_units_from_double(most));
        pdf->call.pango_layout_set_ellipsize(layout, PANGO_ELLIPSIZE_END);
    }
    pdf->call.pango_layout_set_text(layout, text, -1);
    return layout;
}

static double height_of(const sl_pdf *pdf, PangoLayout *layout)
{
    PangoRectangle box;

    pdf->call.pango_layout_get_extents(layout, NULL, &box);
    return pdf->call.pango_units_to_double(box.height);
}

/* "about 1934 · Wendlow · Ada, Tom": what is there of it; free(). */
static char *small_line(const sl_words *w)
{
    const char *part[] = { w->date, w->place, w->people };
    size_t room = 1;
    char *line;

    for (size_t i = 0; i < 3; i++)
        room += (part[i] != NULL ? strlen(part[i]) : 0) + sizeof " \xc2\xb7 ";
    line = malloc(room);
    if (line == NULL)
        return NULL;
    line[0] = '\0';
    for (size_t i = 0; i < 3; i++) {
        if (part[i] == NULL || *part[i] == '\0')
            continue;
        if (*line != '\0')
            strcat(line, " \xc2\xb7 ");
        strcat(line, part[i]);
    }
    return line;
}

/* Sets caption and small line from (x, y) down; draws them when `draw`. */
static sl_pdf_words set_words(sl_pdf *pdf, const sl_words *words, double x, double y, double width,
                              double most, bool draw)
{
    char *line = small_line(words);
    const char *text[] = { words->caption, line };
    const char *font[] = { CAPTION_FONT, SMALL_FONT };
    sl_pdf_words told = { 0, false, 0 };

    for (size_t i = 0; i < 2; i++) {
        PangoLayout *layout;

        if (text[i] == NULL || *text[i] == '\0')
            continue;
        told.height += told.height > 0 ? GAP : 0;
        /* the caption leaves room for the line below it */
        layout = set_text(pdf, text[i], font[i], width,
                          i == 0 ? most * 0.7 : most - told.height);
        told.cut = told.cut || pdf->call.pango_layout_is_ellipsized(layout);
        told.unknown += pdf->call.pango_layout_get_unknown_glyphs_count(layout);
        if (draw) {
            pdf->call.cairo_move_to(pdf->cairo, x, y + told.height);
            pdf->call.pango_cairo_show_layout(pdf->cairo, layout);
        }
        told.height += height_of(pdf, layout);
        pdf->call.g_object_unref(layout);
    }
    free(line);
    return told;
}

sl_pdf_words sl_pdf_measure(sl_pdf *pdf, const sl_words *words, double width, double most)
{
    return set_words(pdf, words, 0, 0, width, most, false);
}

/* In the middle of a box. */
static void centre_text(sl_pdf *pdf, const char *text, const char *font, const sl_box *box)
{
    PangoLayout *layout = set_text(pdf, text, font, box->width, 0);

    pdf->call.pango_layout_set_alignment(layout, PANGO_ALIGN_CENTER);
    pdf->call.cairo_move_to(pdf->cairo, box->x,
                            box->y + (box->height - height_of(pdf, layout)) / 2);
    pdf->call.pango_cairo_show_layout(pdf->cairo, layout);
    pdf->call.g_object_unref(layout);
}

/* ---- pages ----------------------------------------------------------------------------------- */

static void forget_copy(void *copy)
{
    free(copy);
}

/* cairo's own limit for images, px a side. */
enum { PX_MOST = 32767 };

static sl_status draw_image(sl_pdf *pdf, const sl_box *box, const sl_pdf_page *page, sl_error *err)
{
    cairo_surface_t *image;
    unsigned char *copy;
    cairo_status_t st = CAIRO_STATUS_NO_MEMORY;

    if (page->px[0] > PX_MOST || page->px[1] > PX_MOST)
        return sl_fail(err, SL_ERR_LIMIT, "book",
                       "page %s has %zu x %zu px, and a book takes %d: make its access copy smaller "
                       "with --access-pixels",
                       page->label, page->px[0], page->px[1], PX_MOST);
    image = pdf->call.cairo_image_surface_create(CAIRO_FORMAT_RGB24, (int)page->px[0],
                                                 (int)page->px[1]);
    copy = malloc(page->jpeg_size);
    if (copy != NULL) {
        memcpy(copy, page->jpeg, page->jpeg_size);
        st = pdf->call.cairo_surface_set_mime_data(image, CAIRO_MIME_TYPE_JPEG, copy,
                                                   page->jpeg_size, forget_copy, copy);
        if (st != CAIRO_STATUS_SUCCESS)
            free(copy);
    }
    if (st == CAIRO_STATUS_SUCCESS) {
        pdf->call.cairo_save(pdf->cairo);
        pdf->call.cairo_translate(pdf->cairo, box->x, box->y);
        pdf->call.cairo_scale(pdf->cairo, box->width / (double)page->px[0],
                              box->height / (double)page->px[1]);
        pdf->call.cairo_set_source_surface(pdf->cairo, image, 0, 0);
        pdf->call.cairo_paint(pdf->cairo);
        pdf->call.cairo_restore(pdf->cairo);
    }
    pdf->call.cairo_surface_destroy(image);
    if (st != CAIRO_STATUS_SUCCESS)
        return sl_fail(err, SL_ERR_NOMEM, "book", "no memory for page %s", page->label);
    return SL_OK;
}

/* A grey frame, and what is missing in it. */
static void draw_missing(sl_pdf *pdf, const sl_box *box, const char *text)
{
    const double inset = box->width * 0.1;
    const sl_box inner = { box->x + inset, box->y, box->width - 2 * inset, box->height };

    pdf->call.cairo_set_source_rgb(pdf->cairo, 0.6, 0.6, 0.6);
    pdf->call.cairo_set_line_width(pdf->cairo, 1);
    pdf->call.cairo_rectangle(pdf->cairo, box->x + 6, box->y + 6, box->width - 12,
                              box->height - 12);
    pdf->call.cairo_stroke(pdf->cairo);
    pdf->call.cairo_set_source_rgb(pdf->cairo, 0, 0, 0);
    centre_text(pdf, text, MISSING_FONT, &inner);
}

static void add_bookmark(sl_pdf *pdf, const char *text)
{
    char place[40];

    (void)snprintf(place, sizeof place, "page=%d pos=[0 0]", pdf->pages);
    (void)pdf->call.cairo_pdf_surface_add_outline(pdf->surface, CAIRO_PDF_OUTLINE_ROOT, text,
                                                  place, 0);
}

sl_status sl_pdf_add(sl_pdf *pdf, const sl_layout *layout, const sl_pdf_page *page, sl_error *err)
{
    sl_status st = SL_OK;

    pdf->call.cairo_pdf_surface_set_size(pdf->surface, layout->width, layout->height);
    pdf->call.cairo_pdf_surface_set_page_label(pdf->surface, page->label);
    pdf->pages++;
    if (page->jpeg != NULL)
        st = draw_image(pdf, &layout->page, page, err);
    else
        draw_missing(pdf, &layout->page, page->missing);
    pdf->call.cairo_set_source_rgb(pdf->cairo, 0, 0, 0);
    if (page->words != NULL && layout->words.height > 0)
        (void)set_words(pdf, page->words, layout->words.x, layout->words.y, layout->words.width,
                        layout->words.height, true);
    if (page->note != NULL && layout->note.height > 0)
        centre_text(pdf, page->note, SMALL_FONT, &layout->note);
    if (page->bookmark != NULL)
        add_bookmark(pdf, page->bookmark);
    pdf->call.cairo_show_page(pdf->cairo);
    return st == SL_OK ? check(pdf, err) : st;
}

bool sl_pdf_jpeg_size(size_t px[2], const void *jpeg, size_t size)
{
    const unsigned char *p = jpeg;
    size_t at = 2;

    if (size < 4 || p[0] != 0xff || p[1] != 0xd8)
        return false;
    while (at + 10 <= size && p[at] == 0xff) {
        const unsigned marker = p[at + 1];
        const size_t length = (size_t)p[at + 2] << 8 | p[at + 3];

        /* SOF0 to SOF2: baseline, extended, progressive, Huffman coded */
        if (marker >= 0xc0 && marker <= 0xc2) {
            px[1] = (size_t)p[at + 5] << 8 | p[at + 6];
            px[0] = (size_t)p[at + 7] << 8 | p[at + 8];
            return px[0] > 0 && px[1] > 0 && (p[at + 9] == 1 || p[at + 9] == 3);
        }
        at += 2 + length;
    }
    return false;
}
