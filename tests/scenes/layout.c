/* What a family glues to a page, by lot. */
#include "scenes/canvas.h"
#include "scenes/maths.h"
#include "scenes/scene.h"

static const double DEGREE = 0.017453292519943295;

enum { WORDS = 3 };

/* An invented family, and places that no map has: some words for each motif of pictures.c. */
static const char *const CAPTIONS[SCENE_MOTIFS][WORDS] = {
    { "Lake Merrowin, June 1934", "The Wren and the Teal", "Evening on the lake" },
    { "The Ostrander-Vale house", "Home again", "The new roof, 1938" },
    { "Regatta, Port Tammerel", "Skerrow Point", "Low tide at the light" },
    { "Kites on Hollen Down", "A windy Easter", "Three of them flew" },
    { "Aunt Tilda's orchard", "Apples for all", "Picking, October 1937" },
    { "Nora's 7th birthday", "Mother's cake", "Five candles" },
    { "Up at the Kessel hut", "First snow, 1941", "Three days' walk" },
    { "The 4:15 to Orrenvale", "The old viaduct", "On our way" },
    { "From the garden", "Grandmother's asters", "Table 9, first prize" }
};

#define COUNT(array) (sizeof(array) / sizeof(array)[0])

/* ---- a page ---------------------------------------------------------------------------------- */

/* A print with, if there is room and luck, a caption under it. cell: left, top, right, bottom. */
static void fill_cell(scene_sheet *sheet, scene_chance *chance, const double cell[4],
                      double colour)
{
    static const double aspects[] = { 1.5, 1.333, 1.25, 1.0, 0.75, 0.667 };
    const double w = cell[2] - cell[0] - 4;
    const double h = cell[3] - cell[1] - 11;
    const double aspect = aspects[scene_below(chance, COUNT(aspects))];
    const double turn = scene_between(chance, -2.5, 2.5) * DEGREE;
    const double grown = 1 + fabs(sin(turn)) * larger(aspect, 1 / aspect); /* of its bounding box */
    const double width = smaller(w, h * aspect) / grown * scene_between(chance, 0.82, 0.98);
    const double spare[2] = { (w - grown * width) / 2, (h - grown * width / aspect) / 2 };
    const unsigned motif = scene_below(chance, SCENE_MOTIFS);
    const char *text = CAPTIONS[motif][scene_below(chance, WORDS)];
    const double letter = scene_between(chance, 3.6, 4.6);
    const double half = scene_text_width(text) * letter / 2;
    const bool patterned = sheet->paper == PAPER_FLORAL || sheet->paper == PAPER_STRIPED
                           || sheet->paper == PAPER_DOTTED || sheet->paper == PAPER_CHECKED;
    const bool written = scene_below(chance, 5) > 0;
    scene_print *p = &sheet->print[sheet->prints++];

    *p = (scene_print){ .size = { width, width / aspect }, .turn = turn,
                        .motif = motif, .seed = scene_below(chance, 100000), .colour = colour };
    if (scene_below(chance, 4) > 0)
        p->border = smaller(scene_between(chance, 2.5, 5), 0.08 * smaller(width, width / aspect));
    p->deckle = p->border > 0 && colour < 0.5 && scene_below(chance, 3) == 0;
    p->mounts = scene_below(chance, 4) == 0;
    p->centre[0] = (cell[0] + cell[2]) / 2 + scene_between(chance, -spare[0], spare[0]);
    p->centre[1] = cell[1] + h / 2 + scene_between(chance, -spare[1], spare[1]);
    if (written && 2 * half < w && sheet->captions < SCENE_CAPTIONS)
        sheet->caption[sheet->captions++] = (scene_caption){
            .text = text,
            .at = { smaller(larger(p->centre[0], cell[0] + half + 2), cell[2] - half - 2),
                    p->centre[1] + grown * width / aspect / 2 + letter + 4 },
            .height = letter, .turn = scene_between(chance, -0.6, 0.6) * DEGREE,
            .label = patterned
        };
}

void scene_lay_out(scene_sheet *sheet, scene_chance *chance, unsigned most, bool edge)
{
    static const unsigned layouts[][2] = { { 1, 1 }, { 2, 1 }, { 1, 2 }, { 2, 2 }, { 2, 2 },
                                           { 3, 2 }, { 2, 3 }, { 3, 3 } };
    const double inset = scene_between(chance, 8, 16)
                         + (sheet->frame_mm > 0 ? sheet->frame_mm : 0)
                         + (sheet->holes > 0 ? 8 : 0);
    const double colours[] = { 0.05, 0.5, 0.95 };
    const double colour = colours[scene_below(chance, COUNT(colours))];
    unsigned n = scene_below(chance, COUNT(layouts));
    const double *mm = sheet->mm;

    while (n > 0 && layouts[n][0] * layouts[n][1] > most)
        n--;
    sheet->prints = sheet->captions = 0;
    for (unsigned j = 0; j < layouts[n][1]; j++)
        for (unsigned i = 0; i < layouts[n][0]; i++) {
            const double w = (mm[0] - 2 * inset) / layouts[n][0];
            const double h = (mm[1] - 2 * inset) / layouts[n][1];
            const double cell[4] = { inset + i * w, inset + j * h, inset + (i + 1) * w,
                                     inset + (j + 1) * h };

            if (i + j == 0 || scene_below(chance, 8) > 0)
                fill_cell(sheet, chance, cell, colour);
        }
    if (edge && sheet->prints > 0) {
        /* its left side flush with the page's */
        sheet->print[0].turn = 0;
        sheet->print[0].centre[0] = sheet->print[0].size[0] / 2;
    }
}
