/*
 * Made photographs of album pages, with exact truth: for the demo, for tests and for surveys of
 * the page finding. This code knows nothing of the code that finds pages; it has its own camera,
 * its own sheet, its own light.
 *
 * Conventions as in squareleaf.h: shot px, x right, y down, (0,0) the centre of the top-left px;
 * page mm, (0,0) the page's top-left corner.
 */
#ifndef SCENES_SCENE_H
#define SCENES_SCENE_H

#include "squareleaf.h"

typedef enum scene_paper {
    PAPER_WHITE, PAPER_CREAM, PAPER_KRAFT, PAPER_BLACK, PAPER_BLUE, PAPER_FLORAL
} scene_paper;

typedef enum scene_table {
    TABLE_GREY, TABLE_WOOD, TABLE_CHECKED, TABLE_FELT, TABLE_WHITE
} scene_table;

typedef enum scene_bend { BEND_FLAT, BEND_BOW, BEND_S, BEND_SPINE } scene_bend;

enum { SCENE_PRINTS = 6 };

/* A drawn picture glued to the page. */
typedef struct scene_print {
    double   centre[2];      /* mm */
    double   size[2];        /* mm, its white border included */
    double   turn;           /* radians */
    double   border;         /* mm of white round it; 0: none */
    unsigned motif;          /* lake, house, harbour, kite, orchard, cake: modulo 6 */
    unsigned seed;
    double   colour;         /* 0 black and white, 1 full colour */
} scene_print;

typedef struct scene {
    double      page_mm[2];
    scene_paper paper;
    scene_table table;
    scene_print print[SCENE_PRINTS];
    size_t      prints;
    const char *caption[2];  /* lower case letters, digits, commas; NULL for none */
    double      rounded_mm;  /* radius of the page's corners */

    /* the sheet: slope theta(s) along s in 0..1 across the rulings, swept along them */
    scene_bend  bend;
    double      bend_rad;    /* greatest slope */
    bool        rulings_level; /* rulings run along u (the page bends from top to bottom) */

    /* the camera; px and radians */
    size_t      width;
    size_t      height;
    double      focal_px;
    double      pitch;
    double      yaw;
    double      roll;
    double      fill;        /* share of the frame's shorter side that the page's longer takes */
    double      shift_mm[2]; /* of the page's middle from the optical axis */
    double      k1;
    double      k2;

    /* light, in linear values */
    double      lamp[2];     /* strength of the left and the right lamp; 1 and 1 are even */
    double      exposure;
    double      cast[3];     /* colour of the light */
    double      shadow;      /* depth of the page's shadow on the table, 0..1 */
    double      shadow_mm[2]; /* where it falls */
    double      glare;       /* strength of a reflection; 0: none */
    double      glare_mm[2]; /* its place on the page */
    double      blur_px;     /* sigma */
    double      noise;       /* sigma at white */
    double      lower_mm;    /* the album's lower sheets peep out this far; 0: none */

    uint64_t    seed;
} scene;

/* A good tripod shot of a white 12 x 12 in page on a grey table, 12 Mpx, 28 mm equivalent. */
scene scene_default(void);

enum { SCENE_EDGE = 41, SCENE_GRID = 33 };

typedef struct scene_truth {
    sl_point corner[4];      /* clockwise from the page's top-left */
    sl_point edge[4][SCENE_EDGE]; /* clockwise, corners included */
    sl_point grid[SCENE_GRID][SCENE_GRID]; /* [v][u], both ends included */
} scene_truth;

/* Where a page point lies in the shot, exactly. */
sl_point scene_point(const scene *s, double u_mm, double v_mm);

void scene_find_truth(scene_truth *out, const scene *s);

/*
 * The photograph: 8-bit sRGB. The caller frees it with sl_image_free().
 * SL_ERR_NOMEM, or SL_ERR_ARG when the page turns its back to the camera.
 */
sl_status scene_render(sl_image **out, const scene *s, sl_error *err);

typedef struct scene_exif {
    double      focal_35mm;  /* 0: no tag */
    const char *date;        /* "YYYY:MM:DD HH:MM:SS" or NULL */
    const char *make;
    const char *model;
} scene_exif;

/* JPEG at quality 92, 4:2:0 as cameras write it, with Exif. */
sl_status scene_save_jpeg(const char *path, const sl_image *image, const scene_exif *exif,
                          sl_error *err);

/* The truth beside it, as JSON. */
sl_status scene_save_truth(const char *path, const scene *s, sl_error *err);

#endif
