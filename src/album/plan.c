/*
 * What a camera can do for pages of a size, and what to move after a test shot. A page that must
 * be taken in parts is reckoned with the table around it that its outline needs.
 */
#include <math.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>

#include "album/report.h"
#include "base/compiler.h"
#include "base/error.h"
#include "squareleaf.h"

static const double MM_PER_INCH = 25.4;

/* Share of the picture that a page may fill and still show table all round. */
static const double FILL = 0.9;

/* Above this the far side of the page has visibly fewer px; a spirit level does better. */
static const double TILT_DEG = 3;

/* Two equal lamps at 45 degrees reach this; below it prints differ from side to side. */
static const double EVENNESS = 0.75;

/* A page that could be this much larger in the picture is worth a step nearer. */
static const double WORTH_A_STEP = 1.1;

static const char *const side_names[4] = { "top", "right", "bottom", "left" };

/* ---- from sizes alone ------------------------------------------------------------------------ */

/*
 * Shots of `span` inches that cover `length` inches of table with page when each shares
 * `overlap` of its span with the next: n shots cover span * (1 + (n - 1) (1 - overlap)).
 */
static size_t shots_along(double length, double span, double overlap)
{
    /* what lies beyond one shot by less than this is rounding */
    const double slack = 1e-9;
    const double more = (length / span - 1) / (1 - overlap);

    return more > slack ? 1 + (size_t)ceil(more - slack) : 1;
}

sl_status sl_plan_camera(sl_plan *out, const size_t camera[2], const double page_mm[2],
                         double ppi, sl_error *err)
{
    sl_plan p;
    double inch[2];
    double camera_px;
    double samples;

    memset(&p, 0, sizeof p);
    if (camera[0] == 0 || camera[1] == 0 || !(page_mm[0] > 0) || !(page_mm[1] > 0) || !(ppi > 0))
        return sl_fail(err, SL_ERR_ARG, "plan", "%zu x %zu px, %g x %g mm, %g ppi: all must be "
                       "more than 0", camera[0], camera[1], page_mm[0], page_mm[1], ppi);
    inch[0] = page_mm[0] / MM_PER_INCH;
    inch[1] = page_mm[1] / MM_PER_INCH;
    memcpy(p.camera, camera, sizeof p.camera);
    memcpy(p.page_mm, page_mm, sizeof p.page_mm);
    p.ppi = ppi;
    camera_px = (double)camera[0] * (double)camera[1];
    for (int turned = 0; turned < 2; turned++) {
        const double across = inch[turned];
        const double down = inch[1 - turned];
        const double fits = fmin((double)camera[0] / across, (double)camera[1] / down);
        const size_t x = shots_along(across / FILL, (double)camera[0] / ppi, SL_PLAN_OVERLAP);
        const size_t y = shots_along(down / FILL, (double)camera[1] / ppi, SL_PLAN_OVERLAP);

        p.native_ppi = fmax(p.native_ppi, fits);
        if (p.shots_per_page == 0 || x * y < p.shots_per_page) {
            p.shots[0] = x;
            p.shots[1] = y;
            p.shots_per_page = x * y;
        }
    }
    p.native_ppi_90 = FILL * p.native_ppi;
    for (int i = 0; i < 2; i++) {
        p.largest_mm[i] = page_mm[i] * p.native_ppi / ppi;
        p.largest_mm_90[i] = page_mm[i] * p.native_ppi_90 / ppi;
        p.page_px[i] = (size_t)fmax(1, round(inch[i] * ppi));
    }
    p.page_mp = inch[0] * inch[1] * ppi * ppi / 1e6;
    p.camera_mp = camera_px * pow(ppi / p.native_ppi, 2) / 1e6;
    p.camera_mp_90 = camera_px * pow(ppi / p.native_ppi_90, 2) / 1e6;
    samples = 3 * (double)p.page_px[0] * (double)p.page_px[1];
    p.master_bytes = SL_PLAN_MASTER_SHARE * samples;
    p.access_bytes = SL_PLAN_ACCESS_SHARE * samples;
    *out = p;
    return SL_OK;
}

/* ---- from a test shot ------------------------------------------------------------------------ */

static void say(sl_advice *advice, const char *text, ...) SL_PRINTF(2, 3);

static void say(sl_advice *advice, const char *text, ...)
{
    va_list args;

    if (advice->count == SL_ADVICE_MAX)
        return;
    va_start(args, text);
    (void)vsnprintf(advice->text[advice->count++], sizeof advice->text[0], text, args);
    va_end(args);
}

/* How much larger the page could be in the picture, in the direction that it lies. */
static double room_to_grow(const sl_page *page)
{
    const sl_point *c = page->outline->corner;
    double low[2] = { c[0].x, c[0].y };
    double high[2] = { c[0].x, c[0].y };

    for (int i = 1; i < 4; i++) {
        low[0] = fmin(low[0], c[i].x);
        low[1] = fmin(low[1], c[i].y);
        high[0] = fmax(high[0], c[i].x);
        high[1] = fmax(high[1], c[i].y);
    }
    return FILL * fmin((double)page->shot->image->width / (high[0] - low[0]),
                       (double)page->shot->image->height / (high[1] - low[1]));
}

/* Resolution and how the page fills the frame: one sentence at most. */
static void advise_distance(sl_advice *advice, const sl_page *page)
{
    const sl_inspection *in = &page->inspection;
    const double wanted = page->settings.ppi;
    const double room = room_to_grow(page);
    const double has = in->has_ppi ? in->native_ppi.p5 : 0;

    if (in->has_ppi && has < wanted) {
        if (room * has >= wanted)
            say(advice,
                "The shot holds %.0f ppi of the page where %.0f are wanted. Move the camera nearer, "
                "to about %.0f %% of its present distance.",
                has, wanted, 100 * has / wanted);
        else if (room > WORTH_A_STEP)
            say(advice,
                "The shot holds %.0f ppi where %.0f are wanted. Move nearer, to about %.0f %% of the "
                "present distance: that gives %.0f ppi; for more use a larger picture or several "
                "shots a page.",
                has, wanted, 100 / room, room * has);
        else
            say(advice,
                "The shot holds %.0f ppi where %.0f are wanted, and there is no room to go nearer. For "
                "more use a camera with more pixels, or photograph each page in overlapping parts.",
                has, wanted);
    } else if (!in->has_ppi && room > WORTH_A_STEP) {
        say(advice,
            "The page takes only %.0f %% of the picture. Move the camera nearer, to about %.0f %% "
            "of its present distance.",
            100 * in->frame_share, 100 / room);
    }
}

/* px along a side: the farther a side, the smaller it looks. */
static void advise_tilt(sl_advice *advice, const sl_page *page)
{
    const sl_point *c = page->outline->corner;
    int farthest = 0;
    double least = 2;

    if (page->inspection.tilt_deg <= TILT_DEG)
        return;
    for (int i = 0; i < 4; i++) {
        const int j = (i + 2) % 4;
        const sl_point a = c[i];
        const sl_point b = c[(i + 1) % 4];
        const sl_point p = c[j];
        const sl_point q = c[(j + 1) % 4];
        const double share = hypot(b.x - a.x, b.y - a.y) / hypot(q.x - p.x, q.y - p.y);

        if (share < least) {
            least = share;
            farthest = i;
        }
    }
    say(advice,
        "The camera looks at the page %.1f degrees aslant; the page's %s edge is farthest away. "
        "Move the camera towards that edge and point it straight down: use a spirit level.",
        page->inspection.tilt_deg, side_names[farthest]);
}

static void advise_light(sl_advice *advice, const sl_page *page)
{
    const double evenness = page->inspection.evenness;

    if (evenness < EVENNESS && 100 * evenness >= page->settings.limit[SL_CODE_UNEVEN_LIGHT])
        say(advice,
            "The darkest part of the page gets %.0f %% of the light of the brightest. Move the lamps "
            "further away, both equally far and at 45 degrees.",
            100 * evenness);
}

sl_advice sl_plan_advice(const sl_page *page)
{
    const sl_inspection *in = &page->inspection;
    sl_advice advice;

    memset(&advice, 0, sizeof advice);
    for (size_t i = 0; i < in->reason_count; i++)
        if (in->reason[i].weight != SL_PASS && in->reason[i].code != SL_CODE_FEW_PIXELS)
            say(&advice, "%s", in->reason[i].text);
    if (page->has_map) {
        advise_distance(&advice, page);
        advise_tilt(&advice, page);
        advise_light(&advice, page);
    }
    return advice;
}

/* ---- as JSON --------------------------------------------------------------------------------- */

static json_t *shot_of(const sl_page *page)
{
    const sl_inspection *in = &page->inspection;
    const sl_advice advice = sl_plan_advice(page);
    json_t *shot = json_object();
    json_t *texts = json_array();

    json_object_set_new(shot, "name", sl_report_name(page->shot_name));
    json_object_set_new(shot, "page_found", json_boolean(page->has_map));
    json_object_set_new(shot, "verdict", json_string(sl_verdict_name(in->verdict)));
    if (page->has_map) {
        json_object_set_new(shot, "frame_share", json_real(in->frame_share));
        json_object_set_new(shot, "native_ppi",
                            in->has_ppi ? json_real(in->native_ppi.p5) : json_null());
        json_object_set_new(shot, "tilt_deg", json_real(in->tilt_deg));
        json_object_set_new(shot, "evenness", json_real(in->evenness));
        json_object_set_new(shot, "glare", json_real(in->glare));
        json_object_set_new(shot, "sharpness", json_real(in->sharpness));
    }
    for (size_t i = 0; i < advice.count; i++)
        json_array_append_new(texts, json_string(advice.text[i]));
    json_object_set_new(shot, "advice", texts);
    return shot;
}

sl_status sl_plan_json(char **out, const sl_plan *plan, unsigned pages, const sl_page *page,
                       sl_error *err)
{
    json_t *all = json_pack(
        "{s:i, s:[I,I], s:[f,f], s:f, s:{s:f, s:f}, s:{s:[f,f], s:[f,f]}, s:[I,I],"
        " s:{s:f, s:f, s:f}, s:{s:[I,I], s:I, s:f}, s:{s:I, s:f, s:f, s:f, s:f}}",
        "schema", 1, "camera", (json_int_t)plan->camera[0], (json_int_t)plan->camera[1],
        "page_mm", plan->page_mm[0], plan->page_mm[1], "ppi", plan->ppi,
        "native_ppi", "fill_100", plan->native_ppi, "fill_90", plan->native_ppi_90,
        "largest_page_mm", "fill_100", plan->largest_mm[0], plan->largest_mm[1], "fill_90",
        plan->largest_mm_90[0], plan->largest_mm_90[1],
        "page_px", (json_int_t)plan->page_px[0], (json_int_t)plan->page_px[1],
        "megapixels", "page", plan->page_mp, "camera_fill_100", plan->camera_mp,
        "camera_fill_90", plan->camera_mp_90,
        "shots", "along", (json_int_t)plan->shots[0], (json_int_t)plan->shots[1], "per_page",
        (json_int_t)plan->shots_per_page, "overlap", SL_PLAN_OVERLAP,
        "disk", "pages", (json_int_t)pages, "master_bytes", pages * plan->master_bytes,
        "access_bytes", pages * plan->access_bytes, "master_share", SL_PLAN_MASTER_SHARE,
        "access_share", SL_PLAN_ACCESS_SHARE);
    char *text = NULL;

    if (all != NULL && page != NULL)
        json_object_set_new(all, "shot", shot_of(page));
    if (all != NULL)
        text = sl_report_text(all, 0);
    json_decref(all);
    if (text == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "plan", "out of memory");
    *out = text;
    return SL_OK;
}
