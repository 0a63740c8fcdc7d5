/* A PDF, page after page, through cairo and Pango: known to this folder's pdf.c only. */
#ifndef SL_BOOK_PDF_H
#define SL_BOOK_PDF_H

#include "book/layout.h"
#include "squareleaf.h"

typedef struct sl_pdf sl_pdf;

/*
 * Begins a PDF in `file`, which stays the caller's. No date is written: the same pages and fonts
 * give the same bytes.
 * title  UTF-8
 */
sl_status sl_pdf_new(sl_pdf **out, FILE *file, const char *title, sl_error *err);
void sl_pdf_free(sl_pdf *pdf);

/* What came of setting words. */
typedef struct sl_pdf_words {
    double height;           /* pt, at most `most`; 0: there are none */
    bool   cut;              /* they did not fit in `most` */
    int    unknown;          /* letters that no installed font has */
} sl_pdf_words;

sl_pdf_words sl_pdf_measure(sl_pdf *pdf, const sl_words *words, double width, double most);

typedef struct sl_pdf_page {
    const char     *label;    /* "12a" */
    const char     *bookmark; /* NULL: none */
    const void     *jpeg;     /* goes in as it is; NULL: a blank page with `missing` on it */
    size_t          jpeg_size;
    size_t          px[2];    /* of the JPEG */
    const char     *missing;  /* UTF-8 */
    const sl_words *words;    /* set in layout->words; NULL: none */
    const char     *note;     /* set in layout->note; NULL: none */
} sl_pdf_page;

sl_status sl_pdf_add(sl_pdf *pdf, const sl_layout *layout, const sl_pdf_page *page, sl_error *err);

/* Completes the file; SL_ERR_SPACE when the disk is full. */
sl_status sl_pdf_finish(sl_pdf *pdf, sl_error *err);

/*
 * Width and height in a JPEG's frame header (ITU-T T.81, B.2.2), 1 or 3 components a pixel. False
 * for anything else.
 */
bool sl_pdf_jpeg_size(size_t px[2], const void *jpeg, size_t size);

#endif
