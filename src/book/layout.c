/*
 * On its own paper the sheet is the page, and a band below it holds the words. On a4 or letter
 * the sheet lies as the page does, upright or across; what the margins, the words and the line for
 * the scale leave is the page's, as large as it will go, but never larger than it is.
 */
#include "book/layout.h"

static const double PT_PER_MM = 72 / 25.4;

/* Common practice: desktop printers leave 4 to 6 mm white; a hand holds a sheet by 10 mm. */
static const double MARGIN = 10 * 72 / 25.4;

/* Around the words in their band, and the line for the scale: 8 pt text and room above it. */
static const double PADDING = 8;
static const double NOTE = 14;

/* Words get at most this share of a sheet of paper, and of the page's height on its own. */
static const double WORDS_SHARE = 0.4;

/* ISO 216; ANSI/ASME Y14.1 for letter. Upright. */
static const double papers_mm[][2] = { { 0, 0 }, { 210, 297 }, { 215.9, 279.4 } };

static void sheet_of(double sheet[2], const double page_mm[2], sl_paper paper)
{
    const bool across = page_mm[0] > page_mm[1];

    sheet[0] = papers_mm[paper][across] * PT_PER_MM;
    sheet[1] = papers_mm[paper][!across] * PT_PER_MM;
}

double sl_layout_words_width(const double page_mm[2], sl_paper paper)
{
    double sheet[2];

    if (paper == SL_PAPER_OWN)
        return page_mm[0] * PT_PER_MM - 2 * PADDING;
    sheet_of(sheet, page_mm, paper);
    return sheet[0] - 2 * MARGIN;
}

double sl_layout_words_most(const double page_mm[2], sl_paper paper)
{
    double sheet[2] = { 0, page_mm[1] * PT_PER_MM };

    if (paper != SL_PAPER_OWN)
        sheet_of(sheet, page_mm, paper);
    return sheet[1] * WORDS_SHARE;
}

static sl_layout on_its_own(const double page_mm[2], double words)
{
    const double w = page_mm[0] * PT_PER_MM;
    const double h = page_mm[1] * PT_PER_MM;
    const double band = words > 0 ? words + 2 * PADDING : 0;

    return (sl_layout){ .width = w,
                        .height = h + band,
                        .page = { 0, 0, w, h },
                        .words = { PADDING, h + PADDING, w - 2 * PADDING, words },
                        .scale = 1 };
}

sl_layout sl_layout_of(const double page_mm[2], sl_paper paper, double words)
{
    const double band = words > 0 ? words + PADDING : 0;
    double sheet[2];
    double room[2];
    double w;
    double h;
    double x;
    double y;
    double scale = 1;

    if (paper == SL_PAPER_OWN)
        return on_its_own(page_mm, words);
    sheet_of(sheet, page_mm, paper);
    room[0] = sheet[0] - 2 * MARGIN;
    room[1] = sheet[1] - 2 * MARGIN - band - NOTE;
    for (int i = 0; i < 2; i++) {
        const double fits = room[i] / (page_mm[i] * PT_PER_MM);

        scale = fits < scale ? fits : scale;
    }
    w = page_mm[0] * PT_PER_MM * scale;
    h = page_mm[1] * PT_PER_MM * scale;
    x = (sheet[0] - w) / 2;
    y = MARGIN + (room[1] - h) / 2;
    return (sl_layout){ .width = sheet[0],
                        .height = sheet[1],
                        .page = { x, y, w, h },
                        .words = { MARGIN, y + h + PADDING, room[0], words },
                        .note = { MARGIN, sheet[1] - MARGIN - NOTE, room[0], NOTE },
                        .scale = scale };
}
