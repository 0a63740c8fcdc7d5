/*
 * Plans against figures of the trade: common practice divides the px of the picture's tighter
 * side by the inches that it must cover, so each value below can be redone by hand.
 */
#include <string.h>

#include "support/near.h"

#define COUNT(a) (sizeof(a) / sizeof *(a))

static sl_plan plan_of(size_t w, size_t h, double w_in, double h_in, double ppi)
{
    const size_t camera[2] = { w, h };
    const double mm[2] = { w_in * 25.4, h_in * 25.4 };
    sl_plan plan;
    sl_error err = { SL_OK, NULL, "" };

    if (sl_plan_camera(&plan, camera, mm, ppi, &err) != SL_OK)
        fail_msg("%zu x %zu: %s", w, h, err.detail);
    return plan;
}

/* Square pages of 8, 10 and 12 in; the short side in px over 100 % and 90 % of it. */
static void cameras_hold_what_the_trade_says(void **state)
{
    static const struct { size_t w, h; double full[3]; double ninety[3]; } cameras[] = {
        { 4032, 3024, { 378, 302, 252 }, { 340, 272, 227 } },   /* 12 MP, 4:3 */
        { 6000, 4000, { 500, 400, 333 }, { 450, 360, 300 } },   /* 24 MP, 3:2 */
        { 8064, 6048, { 756, 605, 504 }, { 680, 544, 454 } },   /* 48 MP, 4:3 */
        { 9504, 6336, { 792, 634, 528 }, { 713, 570, 475 } },   /* 61 MP, 3:2 */
    };
    static const double sides[3] = { 8, 10, 12 };

    (void)state;
    for (size_t i = 0; i < COUNT(cameras); i++) {
        for (int k = 0; k < 3; k++) {
            const sl_plan flat = plan_of(cameras[i].w, cameras[i].h, sides[k], sides[k], 300);
            const sl_plan tall = plan_of(cameras[i].h, cameras[i].w, sides[k], sides[k], 300);

            assert_near("full", round(flat.native_ppi), cameras[i].full[k], 0);
            assert_near("90 %", round(flat.native_ppi_90), cameras[i].ninety[k], 0);
            assert_near("camera upright", tall.native_ppi, flat.native_ppi, 0);
        }
    }
}

/* px at 300 ppi: ISO 216 A4 and the US print sizes, common practice. */
static void pages_need_these_px(void **state)
{
    static const struct { double w, h; size_t px[2]; } pages[] = {
        { 12, 12, { 3600, 3600 } },  { 8, 10, { 2400, 3000 } }, { 4, 6, { 1200, 1800 } },
        { 8.5, 11, { 2550, 3300 } }, { 210 / 25.4, 297 / 25.4, { 2480, 3508 } },
    };

    (void)state;
    for (size_t i = 0; i < COUNT(pages); i++) {
        const sl_plan p = plan_of(4032, 3024, pages[i].w, pages[i].h, 300);

        assert_int_equal(p.page_px[0], pages[i].px[0]);
        assert_int_equal(p.page_px[1], pages[i].px[1]);
    }
    /* 13.0 MP for 12 x 12 in at 300 ppi, 23.0 at 400, 51.8 at 600: computed */
    assert_near("300", plan_of(4032, 3024, 12, 12, 300).page_mp, 12.96, 1e-12);
    assert_near("400", plan_of(4032, 3024, 12, 12, 400).page_mp, 23.04, 1e-12);
    assert_near("600", plan_of(4032, 3024, 12, 12, 600).page_mp, 51.84, 1e-12);
}

/* Common practice: 3024 px on the short side cover about 10 x 10 in at 300 ppi. */
static void the_largest_page(void **state)
{
    const sl_plan p = plan_of(4032, 3024, 12, 12, 300);

    (void)state;
    assert_near("width", p.largest_mm[0] / 25.4, 10.08, 1e-12);
    assert_near("height", p.largest_mm[1] / 25.4, 10.08, 1e-12);
    assert_near("with table", p.largest_mm_90[0] / 25.4, 9.072, 1e-12);
}

/* A camera with the px that the plan asks for does reach the wanted ppi. */
static void megapixels_needed_are_enough(void **state)
{
    const sl_plan p = plan_of(4032, 3024, 12, 12, 300);
    const double grow = sqrt(p.camera_mp_90 * 1e6 / (4032.0 * 3024));
    const sl_plan more = plan_of((size_t)ceil(4032 * grow), (size_t)ceil(3024 * grow), 12, 12, 300);

    (void)state;
    if (!(more.native_ppi_90 >= 300 && more.native_ppi_90 < 300.2))
        fail_msg("%.3f ppi", more.native_ppi_90);
    assert_int_equal(more.shots_per_page, 1);
    assert_int_equal(p.shots_per_page, 2);
}

/* The page lies in the frame as it fits best, whichever way its size was written. */
static void oblong_pages_turn_in_the_frame(void **state)
{
    const sl_plan a = plan_of(4032, 3024, 8.5, 11, 300);
    const sl_plan b = plan_of(4032, 3024, 11, 8.5, 300);

    (void)state;
    /* 3024 / 8.5 = 355.8, 4032 / 11 = 366.5: the smaller holds */
    assert_near("letter", a.native_ppi, 3024 / 8.5, 1e-12);
    assert_near("turned", b.native_ppi, a.native_ppi, 0);
    assert_int_equal(a.shots_per_page, b.shots_per_page);
}

/* Whatever is planned in parts covers the page with its table: checked by walking the shots. */
static void parts_cover_the_page(void **state)
{
    (void)state;
    for (double side = 4; side < 40; side += 1.7) {
        const sl_plan p = plan_of(6000, 4000, side, 1.4 * side, 300);
        const double picture[2] = { 20, 4000 / 300.0 };
        double reach[2];

        for (int k = 0; k < 2; k++)
            reach[k] = picture[k] * (1 + (double)(p.shots[k] - 1) * (1 - SL_PLAN_OVERLAP));
        assert_int_equal(p.shots[0] * p.shots[1], p.shots_per_page);
        if (!((0.9 * reach[0] >= side - 1e-6 && 0.9 * reach[1] >= 1.4 * side - 1e-6)
              || (0.9 * reach[1] >= side - 1e-6 && 0.9 * reach[0] >= 1.4 * side - 1e-6)))
            fail_msg("%.1f in: %zu x %zu shots are not enough", side, p.shots[0], p.shots[1]);
        if ((p.shots_per_page == 1) != (p.native_ppi_90 >= 300 - 1e-9))
            fail_msg("%.1f in: %zu shots at %.1f ppi", side, p.shots_per_page, p.native_ppi_90);
    }
}

static void disk_space_follows_the_px(void **state)
{
    const sl_plan p = plan_of(4032, 3024, 12, 12, 300);

    (void)state;
    /* 3600 x 3600 px of 3 bytes: 38.88 MB */
    assert_near("master", p.master_bytes, 38.88e6 * SL_PLAN_MASTER_SHARE, 1e-12);
    assert_near("access", p.access_bytes, 38.88e6 * SL_PLAN_ACCESS_SHARE, 1e-12);
}

static void nothing_is_refused(void **state)
{
    static const struct { size_t camera[2]; double mm[2]; double ppi; } wrong[] = {
        { { 0, 3024 }, { 300, 300 }, 300 },   { { 4032, 0 }, { 300, 300 }, 300 },
        { { 4032, 3024 }, { 0, 300 }, 300 },  { { 4032, 3024 }, { 300, -1 }, 300 },
        { { 4032, 3024 }, { 300, 300 }, 0 },  { { 4032, 3024 }, { NAN, 300 }, 300 },
    };

    (void)state;
    for (size_t i = 0; i < COUNT(wrong); i++) {
        sl_plan plan;
        sl_error err = { SL_OK, NULL, "" };

        memset(&plan, 0x55, sizeof plan);
        assert_int_equal(sl_plan_camera(&plan, wrong[i].camera, wrong[i].mm, wrong[i].ppi, &err),
                         SL_ERR_ARG);
        assert_true(err.detail[0] != '\0');
        assert_int_equal(*(const unsigned char *)&plan, 0x55);
    }
}

/* ---- advice ---------------------------------------------------------------------------------- */

/* A page that a shot could have had: in the middle of the frame, without a fault. */
typedef struct made {
    sl_page    page;
    sl_shot    shot;
    sl_image   image;
    sl_outline outline;
} made;

static void make(made *m, double x0, double y0, double x1, double y1)
{
    memset(m, 0, sizeof *m);
    m->image.width = 4000;
    m->image.height = 3000;
    m->shot.image = &m->image;
    m->page.shot = &m->shot;
    m->page.outline = &m->outline;
    m->outline.corner[0] = (sl_point){ x0, y0 };
    m->outline.corner[1] = (sl_point){ x1, y0 };
    m->outline.corner[2] = (sl_point){ x1, y1 };
    m->outline.corner[3] = (sl_point){ x0, y1 };
    m->page.has_map = true;
    m->page.settings = sl_settings_defaults();
    m->page.inspection.has_ppi = true;
    m->page.inspection.native_ppi.p5 = 320;
    m->page.inspection.evenness = 0.95;
    m->page.inspection.tilt_deg = 1;
}

static void expect_advice(const made *m, size_t count, const char *word)
{
    const sl_advice a = sl_plan_advice(&m->page);
    bool said = word == NULL;

    for (size_t i = 0; i < a.count; i++)
        said = said || strstr(a.text[i], word) != NULL;
    if (a.count != count || !said)
        fail_msg("%zu sentences, first '%s'; expected %zu with '%s'", a.count,
                 a.count > 0 ? a.text[0] : "", count, word != NULL ? word : "");
}

static void advice_fits_the_shortfall(void **state)
{
    made m;

    (void)state;
    make(&m, 700, 200, 3300, 2800);
    expect_advice(&m, 0, NULL);
    /* the page is small in the frame: 150 ppi becomes 300 at half the distance */
    make(&m, 1400, 900, 2600, 2100);
    m.page.inspection.native_ppi.p5 = 150;
    expect_advice(&m, 1, "nearer, to about 50 %");
    /* nearer helps, but is not enough: 0.9 * 3000 / 2000 = 1.35 times 150 ppi */
    make(&m, 1000, 500, 3000, 2500);
    m.page.inspection.native_ppi.p5 = 150;
    expect_advice(&m, 1, "gives 202 ppi");
    make(&m, 700, 150, 3400, 2850);
    m.page.inspection.native_ppi.p5 = 250;
    expect_advice(&m, 1, "overlapping parts");
    make(&m, 700, 200, 3300, 2800);
    m.outline.corner[1].y += 40; /* the right side looks shorter than the left one */
    m.outline.corner[2].y -= 40;
    m.page.inspection.tilt_deg = 5;
    expect_advice(&m, 1, "right edge is farthest");
    make(&m, 700, 200, 3300, 2800);
    m.page.inspection.evenness = 0.6;
    expect_advice(&m, 1, "60 % of the light");
    m.page.inspection.reason[0] = (sl_reason){ .code = SL_CODE_SOFT, .weight = SL_LOOK,
                                               .text = "Not sharp." };
    m.page.inspection.reason[1] = (sl_reason){ .code = SL_CODE_FEW_PIXELS, .weight = SL_LOOK,
                                               .text = "Few." };
    m.page.inspection.reason[2] = (sl_reason){ .code = SL_CODE_HAND_CORRECTED, .weight = SL_PASS,
                                               .text = "By hand." };
    m.page.inspection.reason_count = 3;
    expect_advice(&m, 2, "Not sharp.");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(cameras_hold_what_the_trade_says),
        cmocka_unit_test(pages_need_these_px),
        cmocka_unit_test(the_largest_page),
        cmocka_unit_test(megapixels_needed_are_enough),
        cmocka_unit_test(oblong_pages_turn_in_the_frame),
        cmocka_unit_test(parts_cover_the_page),
        cmocka_unit_test(disk_space_follows_the_px),
        cmocka_unit_test(nothing_is_refused),
        cmocka_unit_test(advice_fits_the_shortfall),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
