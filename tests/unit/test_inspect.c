/*
 * Inspect: each figure on pictures whose truth is known, and each reason raised by the fault
 * that it stands for and by nothing else.
 */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "inspect/figures.h"
#include "squareleaf.h"

#define COUNT(a) (sizeof(a) / sizeof(a)[0])

enum { W = 1008, H = 756, SIDE = 630 };

/* A scene: a grey page in the middle of a dark table, its outline, its map. */
typedef struct scene {
    sl_image    *image;
    sl_tone     *tone;
    sl_outline  *outline;
    sl_rectified rectified;
    sl_inspect_params params;
} scene;

static void outline_of(sl_outline *o, const sl_point corner[4])
{
    memset(o, 0, sizeof *o);
    o->found = true;
    o->confidence = 0.5;
    o->sheets = 1;
    o->frame_px = 40;
    for (int i = 0; i < 4; i++) {
        sl_edge *e = &o->edge[i];
        const sl_point a = corner[i];
        const sl_point b = corner[(i + 1) % 4];

        o->corner[i] = a;
        e->count = 100;
        e->support = 1;
        e->paper = 1;
        for (size_t k = 0; k < e->count; k++) {
            const double t = ((double)k + 0.5) / (double)e->count;

            e->point[k] = (sl_edge_point){ { a.x + t * (b.x - a.x), a.y + t * (b.y - a.y) },
                                           0.05, 0.7, 0.5 };
        }
    }
}

static int make_scene(void **state)
{
    scene *s = calloc(1, sizeof *s);
    const double x = (W - SIDE) / 2.0;
    const double y = (H - SIDE) / 2.0;
    const sl_point corner[4] = { { x, y }, { x + SIDE, y }, { x + SIDE, y + SIDE }, { x, y + SIDE } };
    const sl_exif exif = { .orientation = 1, .focal_35mm = 28, .pixel_x = W, .pixel_y = H };
    const sl_optics optics = sl_optics_guess(&exif, W, H);
    sl_rectify_params rectify = sl_rectify_defaults();

    if (s == NULL || (s->outline = malloc(sizeof *s->outline)) == NULL
        || sl_image_new(&s->image, W, H, 3, 8, NULL) != SL_OK
        || sl_tone_new(&s->tone, NULL, 0, NULL) != SL_OK)
        return 1;
    memset(s->image->data, 40, s->image->stride * H);
    for (size_t row = (size_t)y; row < (size_t)y + SIDE; row++)
        memset(s->image->data + row * s->image->stride + 3 * (size_t)x, 200, 3 * SIDE);
    outline_of(s->outline, corner);
    rectify.page_mm[0] = rectify.page_mm[1] = 304.8;
    s->params = sl_inspect_defaults();
    s->params.page_mm[0] = s->params.page_mm[1] = 304.8;
    s->params.min_ppi = 20;
    *state = s;
    return sl_rectify(&s->rectified, s->outline, &optics, &rectify, NULL) == SL_OK ? 0 : 1;
}

static int free_scene(void **state)
{
    scene *s = *state;

    sl_image_free(s->image);
    sl_tone_free(s->tone);
    free(s->outline);
    free(s);
    return 0;
}

/* Nobody who scanned a page is told to move the lamps. */
static void assert_speaks_of_a_scanner(const scene *s)
{
    static const char *const camera[] = { "hotograph", "lamp", "tripod", "Focus", "table", "earer",
                                          "Expose" };
    sl_inspect_params params = s->params;
    sl_inspection r;

    params.source = SL_SOURCE_SCANNER;
    assert_int_equal(sl_inspect(&r, s->image, s->tone, s->outline, &s->rectified, &params, NULL),
                     SL_OK);
    for (size_t i = 0; i < r.reason_count; i++)
        for (size_t k = 0; k < COUNT(camera); k++)
            if (strstr(r.reason[i].text, camera[k]) != NULL)
                fail_msg("of a scan: %s", r.reason[i].text);
}

static sl_inspection inspect(const scene *s)
{
    sl_inspection r;

    assert_speaks_of_a_scanner(s);
    assert_int_equal(sl_inspect(&r, s->image, s->tone, s->outline, &s->rectified, &s->params, NULL),
                     SL_OK);
    return r;
}

static void assert_only(const sl_inspection *r, sl_code code, sl_verdict verdict)
{
    if (r->reason_count != 1 || r->reason[0].code != code)
        fail_msg("%zu reasons, the first %s; wanted %s alone", r->reason_count,
                 r->reason_count > 0 ? sl_code_name(r->reason[0].code) : "-", sl_code_name(code));
    assert_int_equal(r->verdict, verdict);
    assert_true(strlen(r->reason[0].text) > 20);
}

/* ---- figures --------------------------------------------------------------------------------- */

static void a_good_page_passes_with_true_figures(void **state)
{
    const sl_inspection r = inspect(*state);

    assert_int_equal(r.reason_count, 0);
    assert_int_equal(r.verdict, SL_PASS);
    /* 630 px on 12 in */
    assert_true(fabs(r.native_ppi.median - SIDE / 12.0) < 0.05);
    assert_true(fabs(r.native_ppi.min - r.native_ppi.median) < 0.2);
    assert_true(r.tilt_deg < 0.5);
    assert_true(fabs(r.frame_share - (double)SIDE * SIDE / (W * H)) < 0.002);
    assert_true(r.evenness > 0.99);
    assert_true(r.glare == 0 && r.clipped == 0);
    assert_true(fabs(r.sharpness - 1) < 1e-9);
}

static void tilt_is_the_angle_of_the_normal(void **state)
{
    static const double degrees[] = { 0, 3, 14, 40 };

    (void)state;
    for (size_t i = 0; i < COUNT(degrees); i++) {
        sl_page_map map = { .rotation = { 0 } };
        const double a = degrees[i] / 57.29577951308232;

        map.rotation[0] = a * 0.6;
        map.rotation[1] = -a * 0.8;
        assert_true(fabs(sl_figure_tilt(&map) - degrees[i]) < 1e-6);
        map.rotation[0] = map.rotation[1] = 0;
        map.rotation[2] = a; /* turning in the picture is no tilt */
        assert_true(fabs(sl_figure_tilt(&map)) < 1e-6);
    }
}

/* Prints of all brightnesses along all sides hide how light the paper is: nothing is told. */
static void evenness_is_not_told_by_prints(void **state)
{
    enum { PRINT = 70 };
    scene *s = *state;
    unsigned seed = 5;

    for (size_t y = 34; y + PRINT < 34 + SIDE; y += PRINT) {
        for (size_t x = 189; x + PRINT < 189 + SIDE; x += PRINT) {
            seed = seed * 1103515245u + 12345u;
            for (size_t row = 0; row < PRINT; row++)
                memset(s->image->data + (y + row) * s->image->stride + 3 * x,
                       (int)(15 + 12 * (seed / 65536 % 16)), 3 * PRINT);
        }
    }
    assert_true(inspect(s).evenness == 1);
}

static void evenness_sees_a_lamp_off_and_not_the_prints(void **state)
{
    scene *s = *state;
    sl_inspection r;

    /* dark prints over the middle do not matter ... */
    for (size_t y = 150; y < 600; y++)
        memset(s->image->data + y * s->image->stride + 3 * 250, 30, 3 * 400);
    r = inspect(s);
    assert_true(r.evenness > 0.97);
    /* ... light that falls to a third from left to right does: 200/255 coded is 0.578 linear,
       124/255 is 0.202 (IEC 61966-2-1) */
    for (size_t y = 0; y < H; y++)
        for (size_t x = 189; x < 189 + SIDE; x++) {
            const double t = ((double)x - 189) / SIDE;
            const double l = 0.578 * pow(0.202 / 0.578, t);

            memset(s->image->data + y * s->image->stride + 3 * x,
                   (int)lround(255 * (1.055 * pow(l, 1 / 2.4) - 0.055)), 3);
        }
    r = inspect(s);
    if (fabs(r.evenness - 0.202 / 0.578) > 0.02)
        fail_msg("evenness %.3f, made with %.3f", r.evenness, 0.202 / 0.578);
    assert_only(&r, SL_CODE_UNEVEN_LIGHT, SL_LOOK);
}

/* ---- reasons --------------------------------------------------------------------------------- */

static void no_page_is_to_be_photographed_again(void **state)
{
    scene *s = *state;
    sl_inspection r;

    s->outline->found = false;
    r = inspect(s);
    assert_only(&r, SL_CODE_NO_PAGE, SL_RESHOOT);
    s->outline->found = true;
    assert_int_equal(sl_inspect(&r, s->image, s->tone, s->outline, NULL, &s->params, NULL), SL_OK);
    assert_only(&r, SL_CODE_NO_PAGE, SL_RESHOOT);
}

/* One weak side is where the stated proportions have it, or it is not; two sides may be off
   together. */
static void proportions_bear_out_a_weak_side(void **state)
{
    static const struct { double stretch, support[2]; bool doubt; } cases[] = {
        { 1.0001, { 0.40, 1.00 }, false }, { 1.0001, { 0.15, 1.00 }, true },
        { 1.0001, { 0.40, 0.40 }, true },  { 1.0010, { 0.40, 1.00 }, true },
        { 1.0010, { 0.60, 1.00 }, false }, { 1.0040, { 0.60, 1.00 }, true },
    };
    scene *s = *state;

    for (size_t i = 0; i < COUNT(cases); i++) {
        sl_inspection r;

        s->rectified.map.stretch = cases[i].stretch;
        s->outline->edge[SL_LEFT].support = cases[i].support[0];
        s->outline->edge[SL_TOP].support = cases[i].support[1];
        r = inspect(s);
        if ((r.verdict == SL_LOOK) != cases[i].doubt)
            fail_msg("case %zu: verdict %d", i, (int)r.verdict);
    }
    s->params.limit[SL_CODE_WEAK_OUTLINE] = 90; /* and no more than there is is asked for */
    s->rectified.map.stretch = 1.004;
    s->outline->edge[SL_LEFT].support = 1;
    s->outline->edge[SL_TOP].support = 1;
    assert_int_equal(inspect(s).verdict, SL_PASS);
    s->params.limit[SL_CODE_WEAK_OUTLINE] = 50;
    s->rectified.map.has_size = false;
    s->rectified.map.stretch = 1;
    s->outline->edge[SL_LEFT].support = 0.4;
    assert_int_equal(inspect(s).verdict, SL_LOOK);
}

static void a_cut_edge_is_named(void **state)
{
    scene *s = *state;
    sl_inspection r;

    s->outline->edge[SL_RIGHT].cut = true;
    r = inspect(s);
    assert_only(&r, SL_CODE_CUT, SL_RESHOOT);
    assert_non_null(strstr(r.reason[0].text, "right edge"));
}

static void outline_doubts_are_looked_at(void **state)
{
    scene *s = *state;
    sl_inspection r;

    s->rectified.map.stretch = 1.001;
    s->outline->edge[SL_LEFT].support = 0.4;
    r = inspect(s);
    assert_only(&r, SL_CODE_WEAK_OUTLINE, SL_LOOK);
    assert_non_null(strstr(r.reason[0].text, "left edge"));
    s->outline->edge[SL_LEFT].support = 1;

    s->outline->confidence = 0.005;
    r = inspect(s);
    assert_only(&r, SL_CODE_RIVAL, SL_LOOK);
    s->outline->confidence = 0.5;

    for (int i = 0; i < 4; i++)
        s->outline->edge[i].paper = 0.5;
    r = inspect(s);
    assert_only(&r, SL_CODE_RIVAL, SL_LOOK);
    assert_non_null(strstr(r.reason[0].text, "paper"));
    for (int i = 0; i < 4; i++)
        s->outline->edge[i].paper = 1;

    s->outline->sheets = 2;
    r = inspect(s);
    assert_only(&r, SL_CODE_SEVERAL_PAGES, SL_LOOK);
    s->outline->sheets = 1;

    s->outline->frame_px = 1;
    r = inspect(s);
    assert_only(&r, SL_CODE_NEAR_FRAME, SL_LOOK);
}

static void a_person_s_outline_is_only_remarked(void **state)
{
    scene *s = *state;
    sl_inspection r;

    s->outline->by_hand = true;
    s->outline->edge[SL_LEFT].support = 0.1;
    s->outline->confidence = 0;
    r = inspect(s);
    assert_only(&r, SL_CODE_HAND_CORRECTED, SL_PASS);
}

static void shape_doubts_are_looked_at(void **state)
{
    scene *s = *state;
    const sl_rectified good = s->rectified;
    sl_inspection r;

    s->rectified.inside_error_mm = 0.31;
    r = inspect(s);
    assert_only(&r, SL_CODE_UNSURE_SHAPE, SL_LOOK);
    s->rectified = good;

    s->rectified.residual_mm = 0.4;
    r = inspect(s);
    assert_only(&r, SL_CODE_UNSURE_SHAPE, SL_LOOK);
    s->rectified = good;

    s->rectified.aspect = 1.021;
    r = inspect(s);
    assert_only(&r, SL_CODE_SIZE_DIFFERS, SL_LOOK);
    assert_non_null(strstr(r.reason[0].text, "1.021"));
    s->rectified = good;

    s->rectified.map.model = SL_MODEL_PATCH;
    s->rectified.patch_mm = 0.2;
    r = inspect(s);
    assert_int_equal(r.reason_count, 0);
    s->rectified.patch_mm = 0.5;
    r = inspect(s);
    assert_only(&r, SL_CODE_PATCH, SL_LOOK);
}

static void soft_pictures_are_looked_at_or_taken_again(void **state)
{
    scene *s = *state;
    sl_inspection r;

    /* one side is enough: a hand moves in one direction */
    for (size_t k = 0; k < s->outline->edge[SL_TOP].count; k++)
        s->outline->edge[SL_TOP].point[k].blur_px = 2.6;
    r = inspect(s);
    assert_only(&r, SL_CODE_SOFT, SL_LOOK);
    for (size_t k = 0; k < s->outline->edge[SL_TOP].count; k++)
        s->outline->edge[SL_TOP].point[k].blur_px = 6;
    r = inspect(s);
    assert_only(&r, SL_CODE_SOFT, SL_RESHOOT);
}

/* A blown spot of `radius` px in the middle; `fade` px wide at its rim. */
static void blow(scene *s, double radius, double fade)
{
    for (int y = 0; y < H; y++)
        for (int x = 0; x < W; x++) {
            const double d = hypot(x - W / 2.0, y - H / 2.0);
            const double v = 200 + 55 * fmin(fmax((radius + fade - d) / fade, 0), 1);

            if (v > 200)
                memset(s->image->data + (size_t)y * s->image->stride + 3 * (size_t)x, (int)v, 3);
        }
}

static void a_reflection_is_glare_and_a_label_is_not(void **state)
{
    scene *s = *state;
    sl_inspection r;

    blow(s, 25, 0.5);        /* ends at once: a white label, 0.5 % of the page */
    r = inspect(s);
    assert_int_equal(r.verdict, SL_PASS);
    assert_true(r.glare == 0);
    blow(s, 25, 30);         /* fades out: a lamp */
    r = inspect(s);
    assert_only(&r, SL_CODE_GLARE, SL_LOOK);
}

static void overexposure_is_said(void **state)
{
    scene *s = *state;
    sl_inspection r;

    for (size_t y = 300; y < 400; y++)
        memset(s->image->data + y * s->image->stride + 3 * 300, 255, 3 * 300);
    r = inspect(s);
    assert_only(&r, SL_CODE_CLIPPED, SL_LOOK);
    assert_true(fabs(r.clipped - 100.0 * 300 / SIDE / SIDE) < 0.005);
}

static void resolution_and_more_images(void **state)
{
    scene *s = *state;
    sl_inspection r;

    s->params.min_ppi = 60;  /* the scene has 52.5 */
    r = inspect(s);
    assert_only(&r, SL_CODE_FEW_PIXELS, SL_LOOK);
    s->params.min_ppi = 20;
    s->params.images = 3;
    r = inspect(s);
    assert_only(&r, SL_CODE_MORE_IMAGES, SL_LOOK);
}

static void gravest_first(void **state)
{
    scene *s = *state;
    sl_inspection r;

    s->rectified.map.stretch = 1.001;
    s->outline->edge[SL_LEFT].support = 0.4;
    s->params.images = 2;
    s->outline->edge[SL_BOTTOM].cut = true;
    r = inspect(s);
    assert_int_equal(r.reason_count, 3);
    assert_int_equal(r.reason[0].code, SL_CODE_CUT);
    assert_int_equal(r.verdict, SL_RESHOOT);
}

static void every_code_has_a_name_of_its_own(void **state)
{
    (void)state;
    for (int a = 0; a < SL_CODE_COUNT; a++) {
        assert_true(strlen(sl_code_name((sl_code)a)) > 2);
        for (int b = 0; b < a; b++)
            assert_string_not_equal(sl_code_name((sl_code)a), sl_code_name((sl_code)b));
    }
    assert_string_equal(sl_code_name(SL_CODE_COUNT), "");
}

/* ---- beyond the edge ------------------------------------------------------------------------- */

/* A rectangle of one colour, in mm of the page. */
static void paint(const scene *s, double u0, double v0, double u1, double v1,
                  const unsigned char rgb[3])
{
    const double px = SIDE / 304.8;
    const double x = (W - SIDE) / 2.0;
    const double y = (H - SIDE) / 2.0;

    for (size_t row = (size_t)(y + v0 * px); row < (size_t)(y + v1 * px); row++)
        for (size_t col = (size_t)(x + u0 * px); col < (size_t)(x + u1 * px); col++)
            memcpy(s->image->data + row * s->image->stride + 3 * col, rgb, 3);
}

/* The scene's table in another colour. */
static void lay_on(const scene *s, const unsigned char table[3])
{
    for (size_t y = 0; y < H; y++)
        for (size_t x = 0; x < W; x++)
            if (s->image->data[y * s->image->stride + 3 * x] == 40)
                memcpy(s->image->data + y * s->image->stride + 3 * x, table, 3);
}

static void a_ribbon_across_the_edge_is_told_with_its_reach(void **state)
{
    static const unsigned char red[3] = { 150, 30, 40 };
    sl_inspection r;

    paint(*state, 270, 100, 324.8, 112, red);
    r = inspect(*state);
    assert_only(&r, SL_CODE_STICKS_OUT, SL_LOOK);
    assert_true(fabs(r.reason[0].value - 20) < 1.5);
    assert_non_null(strstr(r.reason[0].text, "right edge"));
}

/* A letter of the page's own colour, pulled out of its envelope over the bottom edge. */
static void a_letter_of_the_papers_colour_is_told_too(void **state)
{
    static const unsigned char paper[3] = { 200, 200, 200 };
    sl_inspection r;

    paint(*state, 60, 290, 130, 314.8, paper);
    r = inspect(*state);
    assert_only(&r, SL_CODE_STICKS_OUT, SL_LOOK);
    assert_true(fabs(r.reason[0].value - 10) < 1.5);
}

/* Pulled straight out from under the page, which is seen all along it. */
static void a_letter_beside_the_edge_is_told_too(void **state)
{
    static const unsigned char letter[3] = { 230, 200, 60 };
    sl_inspection r;

    paint(*state, 304.8, 80, 330, 230, letter);
    r = inspect(*state);
    assert_only(&r, SL_CODE_STICKS_OUT, SL_LOOK);
    assert_true(fabs(r.reason[0].value - 25) < 1.5);
}

/* A letter is too long for a petal: another rare colour beside it, as of its own shadow, changes
   nothing. */
static void a_letter_in_two_colours_is_no_motif(void **state)
{
    static const unsigned char letter[3] = { 230, 200, 60 };
    static const unsigned char shadow[3] = { 120, 60, 20 };
    sl_inspection r;

    paint(*state, 304.8, 80, 330, 200, letter);
    paint(*state, 304.8, 200, 330, 206, shadow);
    r = inspect(*state);
    assert_only(&r, SL_CODE_STICKS_OUT, SL_LOOK);
}

/*
 * On a grey table more light looks like a lighter grey paper: but that fades, and a letter ends. Light
 * 1.4 times the table's lies along the side, up to 30 mm out, with a soft end and with a sharp one.
 */
static void a_letter_that_could_be_light_is_told_by_its_end(void **state)
{
    static const unsigned char grey[3] = { 120, 120, 120 };
    static const unsigned char lighter[3] = { 168, 168, 168 };
    sl_inspection r;

    lay_on(*state, grey);
    for (int mm = 0; mm < 60; mm++) {
        const unsigned char fading = (unsigned char)(168 - 48 * mm / 60);
        const unsigned char lit[3] = { fading, fading, fading };

        paint(*state, 304.8 + mm, 50, 305.8 + mm, 230, lit);
    }
    r = inspect(*state);
    assert_int_equal(r.verdict, SL_PASS);
    paint(*state, 304.8, 50, 334.8, 230, lighter);
    paint(*state, 334.8, 50, 365, 230, grey);
    r = inspect(*state);
    assert_only(&r, SL_CODE_STICKS_OUT, SL_LOOK);
    assert_true(fabs(r.reason[0].value - 30) < 1.5);
}

/* A lamp in a clear strip that holds the page: 0.08 of linear light more on the table and on the
   page, codes by IEC 61966-2-1. A grey ribbon from under the page adds it to the table alone. */
static void a_clear_strip_does_not_stick_out(void **state)
{
    static const unsigned char on_table[3] = { 90, 90, 90 };
    static const unsigned char on_page[3] = { 212, 212, 212 };
    sl_inspection r;

    paint(*state, 304.8, 100, 324.8, 112, on_table);
    r = inspect(*state);
    assert_only(&r, SL_CODE_STICKS_OUT, SL_LOOK);
    assert_true(fabs(r.reason[0].value - 20) < 1.5);
    paint(*state, 270, 100, 304.8, 112, on_page);
    r = inspect(*state);
    assert_int_equal(r.verdict, SL_PASS);
}

/* The code of what lies under a clear film that mirrors `shine` of linear light. Polyester has an
   index of 1.64 (PET, biaxial mean; polymer handbooks): by Fresnel's equations each face mirrors
   (0.64 / 2.64)^2 = 0.059, and the two let (1 - R) / (1 + R) = 0.89 through (Hecht, Optics). */
static unsigned char under_film(unsigned char code, double shine)
{
    const double v = code / 255.0;
    const double light = 0.89 * (v <= 0.04045 ? v / 12.92 : pow((v + 0.055) / 1.055, 2.4)) + shine;

    return (unsigned char)lround(
        255 * (light <= 0.0031308 ? 12.92 * light : 1.055 * pow(light, 1 / 2.4) - 0.055));
}

/* On wood, where what film takes away has a colour. Its lamp's colour, on paper beside the page and
   not on the page, is a letter's. */
static void a_strip_of_film_on_wood_does_not_stick_out(void **state)
{
    static const unsigned char wood[3] = { 149, 109, 70 };
    const unsigned char on_wood[3] = { under_film(149, 0.11), under_film(109, 0.11),
                                       under_film(70, 0.11) };
    const unsigned char on_page[3] = { under_film(200, 0.11), under_film(200, 0.11),
                                       under_film(200, 0.11) };
    sl_inspection r;

    lay_on(*state, wood);
    paint(*state, 304.8, 100, 324.8, 112, on_wood);
    paint(*state, 270, 100, 304.8, 112, on_page);
    r = inspect(*state);
    assert_int_equal(r.verdict, SL_PASS);
}

/* Patches in a black frame, a finger's width from the page: no paper of a letter's. */
static void a_colour_target_does_not_stick_out(void **state)
{
    static const unsigned char table[3] = { 220, 222, 224 };
    static const unsigned char frame[3] = { 22, 22, 24 };
    static const unsigned char patch[4][3] = {
        { 115, 82, 68 }, { 98, 122, 157 }, { 160, 160, 160 }, { 214, 126, 44 }
    };
    sl_inspection r;

    lay_on(*state, table);
    paint(*state, 304.8, 90, 345, 200, frame);
    for (int k = 0; k < 4; k++)
        paint(*state, 308.8, 93 + 27 * k, 345, 117 + 27 * k, patch[k]);
    r = inspect(*state);
    assert_int_equal(r.verdict, SL_PASS);
}

/* Its paper grows light along the side, as the light falls into the gutter. */
static void a_facing_page_does_not_stick_out(void **state)
{
    sl_inspection r;

    for (int k = 0; k < 302; k++) {
        const unsigned char code = (unsigned char)(100 + k / 12);
        const unsigned char paper[3] = { code, (unsigned char)(code - 10),
                                         (unsigned char)(code - 30) };

        paint(*state, 304.8, 1 + k, 325, 2 + k, paper);
    }
    r = inspect(*state);
    assert_int_equal(r.verdict, SL_PASS);
}

/* A print glued to the edge, as dark as the table; a ruler with its marks that touches the page. */
static void what_ends_at_the_edge_does_not_stick_out(void **state)
{
    static const unsigned char table[3] = { 40, 40, 40 };
    static const unsigned char ruler[3] = { 230, 200, 60 };
    sl_inspection r;

    paint(*state, 40, 0, 120, 60, table);
    paint(*state, 304.8, 80, 330, 230, ruler);
    for (int k = 0; k < 150; k += 5)
        paint(*state, 304.8, 80.5 + k, 311, 81.5 + k, table);
    r = inspect(*state);
    assert_int_equal(r.verdict, SL_PASS);
}

/* A chequered cloth: its colours are the table's, wherever they meet the page. */
static void a_cloth_in_the_papers_colour_does_not_stick_out(void **state)
{
    static const unsigned char check[3] = { 200, 200, 200 };
    sl_inspection r;

    for (int k = 0; k < 8; k++) {
        paint(*state, 304.8, 10 + 38 * k, 322, 29 + 38 * k, check);
        paint(*state, 10 + 38 * k, -18, 29 + 38 * k, 0, check);
    }
    r = inspect(*state);
    for (size_t i = 0; i < r.reason_count; i++)
        assert_int_not_equal(r.reason[i].code, SL_CODE_STICKS_OUT);
}

/* Right across under the page, and out on two sides. */
static void a_letter_under_the_whole_page_is_told_too(void **state)
{
    static const unsigned char letter[3] = { 230, 200, 60 };
    sl_inspection r;

    paint(*state, 80, -14, 230, 0, letter);
    paint(*state, 80, 304.8, 230, 325, letter);
    r = inspect(*state);
    assert_only(&r, SL_CODE_STICKS_OUT, SL_LOOK);
    assert_true(fabs(r.reason[0].value - 20) < 1.5);
}

/* Along most of what surrounds the page: the table is what is seen further out. */
static void a_letter_under_most_of_the_page_is_told_too(void **state)
{
    static const unsigned char letter[3] = { 230, 200, 60 };
    sl_inspection r;

    paint(*state, -14, -14, 0, 318.8, letter);
    paint(*state, 0, -14, 190, 0, letter);
    paint(*state, 0, 304.8, 190, 318.8, letter);
    r = inspect(*state);
    assert_only(&r, SL_CODE_STICKS_OUT, SL_LOOK);
    assert_true(fabs(r.reason[0].value - 14) < 1.5);
}

/* A beanbag that holds a corner lies on the page and on its edge, lit more on the one side. */
static void a_weight_on_a_corner_does_not_stick_out(void **state)
{
    sl_inspection r;

    for (int k = 0; k < 60; k++) {
        const int light = k < 20 ? 2 * k : 40;
        const unsigned char lit[3] = { (unsigned char)(46 + light), (unsigned char)(58 + light),
                                       (unsigned char)(92 + light) };

        paint(*state, 258 + k, -12, 259 + k, 28, lit);
    }
    r = inspect(*state);
    for (size_t i = 0; i < r.reason_count; i++)
        assert_int_not_equal(r.reason[i].code, SL_CODE_STICKS_OUT);
}

/* The table of a scene made a cutting mat: rules a cm apart, that run a little aslant. */
static void lay_on_mat(const scene *s)
{
    static const unsigned char mat[3] = { 47, 107, 86 };
    static const unsigned char rule[3] = { 120, 150, 120 };
    const double px = SIDE / 304.8;

    for (size_t y = 0; y < H; y++) {
        for (size_t x = 0; x < W; x++) {
            unsigned char *at = s->image->data + y * s->image->stride + 3 * x;
            const double u = ((double)x + 0.12 * (double)y) / px;
            const double v = ((double)y - 0.12 * (double)x) / px + 200;

            if (at[0] == 40)
                memcpy(at, fmod(u, 10) < 0.5 || fmod(v, 10) < 0.5 ? rule : mat, 3);
        }
    }
}

/* Six codes from the mat's green, no more than its grain; but the rules end at it. */
static void a_ribbon_of_the_mats_colour_is_told(void **state)
{
    static const unsigned char ribbon[3] = { 41, 99, 78 };
    sl_inspection r;

    lay_on_mat(*state);
    r = inspect(*state);
    assert_int_equal(r.verdict, SL_PASS);
    paint(*state, 304.8, 100, 334.8, 110, ribbon);
    r = inspect(*state);
    assert_only(&r, SL_CODE_STICKS_OUT, SL_LOOK);
    assert_true(fabs(r.reason[0].value - 30) < 3);
    assert_non_null(strstr(r.reason[0].text, "right edge"));
}

/* Felt has a grain, and a ribbon of its green none. */
static void a_ribbon_on_felt_is_told(void **state)
{
    static const unsigned char ribbon[3] = { 35, 75, 64 };
    const scene *s = *state;
    uint32_t lot = 7;
    sl_inspection r;

    for (size_t y = 0; y < H; y += 4) {
        for (size_t x = 0; x < W; x += 4) {
            int grain;

            lot = lot * 1664525u + 1013904223u;
            grain = (int)(lot >> 28) - 8;
            for (size_t k = 0; k < 16; k++) {
                unsigned char *at = s->image->data + (y + k / 4) * s->image->stride
                                    + 3 * (x + k % 4);
                const unsigned char felt[3] = { (unsigned char)(36 + grain / 2),
                                                (unsigned char)(54 + grain),
                                                (unsigned char)(44 + grain / 2) };

                if (at[0] == 40)
                    memcpy(at, felt, 3);
            }
        }
    }
    r = inspect(s);
    assert_int_equal(r.verdict, SL_PASS);
    paint(s, 120, -14, 129, 0, ribbon);
    paint(s, 122, 304.8, 131, 325, ribbon);
    r = inspect(s);
    assert_only(&r, SL_CODE_STICKS_OUT, SL_LOOK);
}

/* Stone has such places all about: flecks as dark and as large as a ribbon's end. */
static void flecks_of_stone_do_not_stick_out(void **state)
{
    static const unsigned char fleck[3] = { 28, 28, 28 };
    sl_inspection r;

    for (int k = 0; k < 9; k++) {
        const double at = 15 + 31 * k + 3 * (k % 3);

        paint(*state, 304.8, at, 315 + k, at + 7, fleck);
        paint(*state, -12 - k, at, 0, at + 7, fleck);
        paint(*state, at, 304.8, at + 7, 316 + k, fleck);
        paint(*state, at, -12 - k, at + 7, 0, fleck);
    }
    r = inspect(*state);
    assert_int_equal(r.verdict, SL_PASS);
}

/* A flowered cloth. One red petal meets the page: it is the cloth's when there are others. */
static void a_petal_that_meets_the_page_does_not_stick_out(void **state)
{
    static const unsigned char leaf[3] = { 60, 90, 50 };
    static const unsigned char red[3] = { 170, 50, 60 };
    sl_inspection r;

    for (int k = 0; k < 9; k++) {
        const double at = 15 + 31 * k + 3 * (k % 3);

        paint(*state, 304.8, at, 315, at + 9, leaf);
        paint(*state, -12, at, 0, at + 9, leaf);
        paint(*state, at, 304.8, at + 9, 316, leaf);
        paint(*state, at, -12, at + 9, 0, leaf);
    }
    paint(*state, 304.8, 130.5, 315.5, 137.5, red);
    r = inspect(*state);
    assert_only(&r, SL_CODE_STICKS_OUT, SL_LOOK);
    for (int k = 0; k < 9; k++) {
        paint(*state, -20, 12 + 31 * k, -14, 20 + 31 * k, red);
        paint(*state, 12 + 31 * k, 318, 20 + 31 * k, 324, red);
    }
    r = inspect(*state);
    assert_int_equal(r.verdict, SL_PASS);
}

#define SCENE_TEST(f) cmocka_unit_test_setup_teardown(f, make_scene, free_scene)

int main(void)
{
    const struct CMUnitTest tests[] = {
        SCENE_TEST(a_good_page_passes_with_true_figures),
        cmocka_unit_test(tilt_is_the_angle_of_the_normal),
        SCENE_TEST(evenness_sees_a_lamp_off_and_not_the_prints),
        SCENE_TEST(evenness_is_not_told_by_prints),
        SCENE_TEST(no_page_is_to_be_photographed_again),
        SCENE_TEST(proportions_bear_out_a_weak_side),
        SCENE_TEST(a_cut_edge_is_named),
        SCENE_TEST(outline_doubts_are_looked_at),
        SCENE_TEST(a_person_s_outline_is_only_remarked),
        SCENE_TEST(shape_doubts_are_looked_at),
        SCENE_TEST(soft_pictures_are_looked_at_or_taken_again),
        SCENE_TEST(a_reflection_is_glare_and_a_label_is_not),
        SCENE_TEST(overexposure_is_said),
        SCENE_TEST(resolution_and_more_images),
        SCENE_TEST(gravest_first),
        SCENE_TEST(a_ribbon_across_the_edge_is_told_with_its_reach),
        SCENE_TEST(a_letter_of_the_papers_colour_is_told_too),
        SCENE_TEST(a_letter_beside_the_edge_is_told_too),
        SCENE_TEST(a_letter_in_two_colours_is_no_motif),
        SCENE_TEST(a_letter_that_could_be_light_is_told_by_its_end),
        SCENE_TEST(a_letter_under_the_whole_page_is_told_too),
        SCENE_TEST(a_letter_under_most_of_the_page_is_told_too),
        SCENE_TEST(a_weight_on_a_corner_does_not_stick_out),
        SCENE_TEST(a_ribbon_of_the_mats_colour_is_told),
        SCENE_TEST(flecks_of_stone_do_not_stick_out),
        SCENE_TEST(a_petal_that_meets_the_page_does_not_stick_out),
        SCENE_TEST(a_clear_strip_does_not_stick_out),
        SCENE_TEST(a_strip_of_film_on_wood_does_not_stick_out),
        SCENE_TEST(a_colour_target_does_not_stick_out),
        SCENE_TEST(a_facing_page_does_not_stick_out),
        SCENE_TEST(a_ribbon_on_felt_is_told),
        SCENE_TEST(what_ends_at_the_edge_does_not_stick_out),
        SCENE_TEST(a_cloth_in_the_papers_colour_does_not_stick_out),
        cmocka_unit_test(every_code_has_a_name_of_its_own),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
