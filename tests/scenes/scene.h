/*
 * Made photographs of album pages, with exact truth: for the demo, for tests and for surveys of
 * the page finding. This code knows nothing of the code that finds pages; it has its own sheet,
 * camera, light and pictures. Of squareleaf it takes sl_image, sl_point and sl_error only.
 *
 *   scene (plain values, no files, no clock) -> scene_render()   -> 8-bit sRGB -> JPEG with Exif
 *                                            -> scene_truth_of() -> JSON
 *
 * Conventions as in squareleaf.h: shot px, x right, y down, (0,0) the centre of the top-left px;
 * page mm, (0,0) the page's top-left corner; angles in radians. Table mm are those of the page of
 * truth lying flat, with (0,0) at its middle.
 *
 * Equal scenes give equal bytes on one machine; on another, libm's last digit may differ.
 */
#ifndef SCENES_SCENE_H
#define SCENES_SCENE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "squareleaf.h"

/* ---- what lies there ----------------------------------------------------------------------- */

typedef enum scene_paper {
    PAPER_WHITE, PAPER_CREAM, PAPER_KRAFT, PAPER_BLACK, PAPER_BLUE, PAPER_FLORAL, PAPER_GREY,
    PAPER_ROSE, PAPER_STRIPED, PAPER_DOTTED, PAPER_CHECKED, PAPER_COUNT
} scene_paper;

typedef enum scene_table {
    TABLE_GREY, TABLE_WOOD, TABLE_CHECKED, TABLE_FELT, TABLE_WHITE, TABLE_BLACK, TABLE_WALNUT,
    TABLE_LINEN, TABLE_STRIPED, TABLE_STONE, TABLE_CUTTING_MAT, TABLE_FLORAL,
    TABLE_LID_WHITE, TABLE_LID_BLACK, TABLE_COUNT
} scene_table;

/* How a sheet bends: its slope theta along the arc length t = 0..1 across its rulings. */
typedef enum scene_bend {
    BEND_FLAT,
    BEND_BOW,                /* one arch */
    BEND_S,                  /* up, down, up */
    BEND_SPINE,              /* steep at t = 0, as out of a binding, flat further on */
    BEND_WAVE,               /* one and a half waves */
    BEND_CORNER              /* flat, but the end at t = 1 rises */
} scene_bend;

enum { SCENE_PRINTS = 9, SCENE_CAPTIONS = 9, SCENE_SHEETS = 3, SCENE_CLUTTER = 6,
       SCENE_MOTIFS = 9 };

/* A drawn picture glued to the page. */
typedef struct scene_print {
    double   centre[2];      /* mm */
    double   size[2];        /* mm, its white border included */
    double   turn;
    double   border;         /* mm of white round it; 0: none */
    unsigned motif;          /* modulo SCENE_MOTIFS; the list is in prints.c */
    unsigned seed;
    double   colour;         /* 0 black and white, 0.5 faded, 1 full colour */
    bool     deckle;         /* cut in waves */
    bool     mounts;         /* held by paper corners */
} scene_print;

typedef struct scene_caption {
    const char *text;        /* letters, digits, .,:!'- */
    double      at[2];       /* mm, the middle of its base line */
    double      height;      /* mm of a capital */
    double      turn;
    bool        label;       /* on a strip of white paper */
} scene_caption;

typedef struct scene_sheet {
    double        mm[2];
    double        place[2];  /* of its middle on the table; the first sheet's is (0,0) */
    double        turn;      /* on the table; the first sheet's is 0 (the camera rolls) */
    scene_paper   paper;
    double        rounded_mm; /* radius of its corners */
    double        scallop_mm; /* depth of the waves that its sides are cut in, half of it on either
                                side of the straight line; 0: straight */
    double        scallop_pitch_mm;
    double        fray_mm;   /* depth of its sides' fraying, likewise */
    unsigned      holes;     /* punched along its left side */
    double        frame_mm;  /* a printed frame of the page's own proportions, its inset at the
                                top; 0: none */
    double        aged;      /* 0..1: browned towards its sides */

    /* Paper bends but does not stretch: a profile of unit speed, swept along straight rulings.
       `across` is the direction, from u towards v, in which the profile runs: 0 bends the page
       from left to right, pi/2 from top to bottom; of a lifted corner it points there. */
    scene_bend    bend;
    double        bend_rad;  /* greatest slope; negative: hollow */
    double        across;
    double        lift_mm;   /* BEND_CORNER: length of the part that rises */

    scene_print   print[SCENE_PRINTS]; /* later ones lie over earlier ones */
    size_t        prints;
    scene_caption caption[SCENE_CAPTIONS];
    size_t        captions;
    unsigned      seed;
} scene_sheet;

typedef enum scene_thing {
    THING_RULER, THING_PENCIL, THING_COIN, THING_PAPER, THING_PRINT, THING_CUP, THING_BOARD,
    THING_TARGET
} scene_thing;

/* Something on the table, under the pages. */
typedef struct scene_clutter {
    scene_thing kind;
    double      place[2];    /* table mm */
    double      turn;
    double      size;        /* 1: as usual */
    unsigned    seed;
    double      mm[2];       /* THING_BOARD: width and height */
} scene_clutter;

typedef enum scene_weight {
    WEIGHT_NONE, WEIGHT_BAG, WEIGHT_STONE, WEIGHT_FINGER, WEIGHT_HAND, WEIGHT_GLOVE
} scene_weight;

/* ---- scene ----------------------------------------------------------------------------------- */

typedef struct scene {
    /* The first sheet is the page of truth and lies on top. With `sheets` 0 there is no page;
       sheet[0].mm then still sets the camera's distance. */
    scene_sheet   sheet[SCENE_SHEETS];
    size_t        sheets;

    unsigned      lower;     /* the album's lower sheets that peep out from under the page ... */
    double        lower_mm[2]; /* ... and how much further each one lies, page mm */
    double        lower_grow_mm; /* by which each lies out on the left and on the right besides */
    double        thick_mm;  /* of the album under the page */
    double        tab_mm;    /* a ribbon from under the page hangs out this far; 0: none */
    double        tab_at[2]; /* where it leaves the page, page mm: on one of the sides */
    scene_weight  weight;    /* held down by this */
    double        weight_at[2]; /* page mm */
    unsigned      strips;    /* clear strips across the page that hold it down, 0..4: near the
                                top, the bottom, the left and the right ... */
    double        strip_mm[2]; /* ... their width, and how far from the side */
    double        sleeve_mm; /* it lies in a sleeve of clear plastic, so much larger all round;
                                0: it does not */
    double        sleeve_turn;
    double        gloss;     /* of strips and sleeve: strength of what they reflect */

    scene_table   table;
    double        table_turn; /* of its pattern ... */
    double        table_at[2]; /* ... and where the pattern begins, table mm */
    scene_clutter clutter[SCENE_CLUTTER];
    size_t        clutters;

    /* camera */
    size_t        width;     /* px */
    size_t        height;
    double        focal_35mm; /* 35 mm equivalent by the diagonal: f = it * diagonal / 43.27 */
    double        centre_px[2]; /* of the principal point off the middle of the frame */
    double        pitch;     /* about x, yaw about y, roll about z: R = Rz Rx Ry */
    double        yaw;
    double        roll;
    double        fill;      /* share of the frame's shorter side that the page's longer takes */
    double        shift_mm[2]; /* of the page's middle from the optical axis */
    double        k1;        /* x_d = x (1 + k1 r^2 + k2 r^4), in units of f (Brown 1971) */
    double        k2;

    /* light, in linear values */
    double        lamp[2];   /* power of the left and the right lamp; 1 and 1: as planned */
    double        ambient;   /* share of the light that comes from everywhere, 0..1 */
    double        shadow;    /* depth of the sheets' shadows: 1 as the lamps make them, 0 none */
    double        lamp_back; /* how far behind the page's middle they stand, of its longer side */
    double        lamp_size; /* radius over distance: half the angle of a penumbra */
    double        exposure;  /* 1: white paper just below the top code */
    double        cast[3];   /* colour of the light */
    double        bar;       /* depth of a shadow thrown across page and table, 0: none ... */
    double        bar_at;    /* ... mm right of the page's middle */
    double        bar_turn;
    double        bar_soft_mm;
    double        glare;     /* strength of a reflection; 0: none */
    double        glare_mm[2]; /* its place on the page */
    double        glare_size; /* mm, sigma */
    double        vignetting; /* share lost in the corners, 0..1 */

    /* lens and sensor */
    double        blur_px;   /* sigma */
    double        motion_px; /* length of a blur by movement ... */
    double        motion_turn; /* ... and its direction */
    double        shot_noise; /* sigma at white, linear; grows with the root of the light */
    double        read_noise; /* sigma in the dark, linear */
    uint64_t      seed;
} scene;

/* An 12 x 12 in sheet of white paper, flat and bare. */
scene_sheet scene_sheet_default(void);

/* A good tripod shot of it on a grey table: 12 Mpx, 28 mm equivalent, two even lamps. */
scene scene_default(void);

/* ---- chance ---------------------------------------------------------------------------------- */

/* SplitMix64 (Steele, Lea & Flood, OOPSLA 2014). */
typedef struct scene_chance { uint64_t state; } scene_chance;

uint64_t scene_bits(scene_chance *chance);
double scene_between(scene_chance *chance, double low, double high);
unsigned scene_below(scene_chance *chance, unsigned limit);

/*
 * Fills a sheet with 1..`most` prints (at most SCENE_PRINTS), a little askew, and captions of an
 * invented family where there is room for them. Nothing overlaps unless `edge`, with which one
 * print is glued to the very edge of the page.
 */
void scene_lay_out(scene_sheet *sheet, scene_chance *chance, unsigned most, bool edge);

/* ---- truth ----------------------------------------------------------------------------------- */

enum { SCENE_EDGE = 41, SCENE_GRID = 33 };

typedef struct scene_truth {
    sl_point corner[4];      /* shot px, clockwise from the page's top-left; of rounded corners
                                where the sides would meet */
    sl_point edge[4][SCENE_EDGE]; /* top, right, bottom, left; clockwise, corners included */
    sl_point grid[SCENE_GRID][SCENE_GRID]; /* [v][u], both ends included */
    double   focal_px;
    double   inside;         /* share of the outline (by its 164 points) inside the frame */
} scene_truth;

/* Of the first sheet. SL_ERR_ARG when a part of it faces away from the camera, SL_ERR_NOMEM. */
sl_status scene_truth_of(scene_truth *out, const scene *s, sl_error *err);

/* A page of its own shape in space: page mm to table mm and mm above the table's plane. */
sl_status scene_sheet_points(double (*xyz)[3], const scene_sheet *sheet, const sl_point *uv,
                             size_t count, sl_error *err);

/* ---- photograph ------------------------------------------------------------------------------ */

/*
 * The photograph: 8-bit sRGB. The caller frees it with sl_image_free().
 * SL_ERR_ARG when the scene's values make no picture, SL_ERR_NOMEM.
 */
sl_status scene_render(sl_image **out, const scene *s, sl_error *err);

typedef struct scene_exif {
    double      focal_35mm;  /* 0: no tag */
    const char *date;        /* "YYYY:MM:DD HH:MM:SS", NULL: no tag; so are the others */
    const char *make;
    const char *model;
    unsigned    orientation; /* 1..8; the stored pixels are turned so that it is true. 0: no tag */
    int         quality;     /* 1..100; 0: 92 */
    bool        full_colour; /* 4:4:4; else 4:2:0, as cameras write it */
} scene_exif;

/* JPEG with Exif (CIPA DC-008), without JFIF, as cameras write it. SL_ERR_IO, SL_ERR_NOMEM. */
sl_status scene_save_jpeg(const char *path, const sl_image *image, const scene_exif *exif,
                          sl_error *err);

/* The truth beside it, as JSON: page_mm, corners_px, edges_px, grid_px, focal_px, scene. With no
   page, page_mm is null and there are no points. */
sl_status scene_save_truth(const char *path, const scene *s, sl_error *err);

#endif
