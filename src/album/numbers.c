/*
 * What the geometry of a page was made of, as numbers that anyone may see: a family can send them
 * with a bug report and keep the picture. 17 significant digits bring every double back exactly
 * (IEEE 754-2019, table 9.2); what is not finite is null and comes back as NaN, which the fit
 * leaves out either way.
 */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include <jansson.h>

#include "album/chain.h"
#include "album/report.h"
#include "album/save.h"
#include "base/error.h"

enum { DIGITS = 17, FIGURES = 5 };  /* of a number; of an edge point */

/* Twenty times what 1024 edge points take. */
static const size_t FILE_MOST = (size_t)4 << 20;

static const char kind[] = "squareleaf numbers";

static const char *const side_names[4] = { "top", "right", "bottom", "left" };

/* ---- writing --------------------------------------------------------------------------------- */

static json_t *write_edge(const sl_edge *edge)
{
    json_t *points = json_array();

    for (size_t i = 0; i < edge->count; i++) {
        const sl_edge_point *p = &edge->point[i];
        const double figures[FIGURES] = { p->at.x, p->at.y, p->sigma_px, p->blur_px, p->contrast };

        json_array_append_new(points, sl_json_numbers(figures, FIGURES));
    }
    return json_pack("{s:o, s:o, s:o, s:b, s:o}", "support", sl_json_number(edge->support),
                     "spread_px", sl_json_number(edge->spread_px), "paper",
                     sl_json_number(edge->paper), "cut", edge->cut, "points", points);
}

static json_t *write_outline(const sl_outline *o)
{
    json_t *all = json_pack("{s:b, s:b, s:I, s:o, s:o, s:o, s:o}", "found", o->found, "by_hand",
                            o->by_hand, "sheets", (json_int_t)o->sheets, "confidence",
                            sl_json_number(o->confidence), "frame_px",
                            sl_json_number(o->frame_px), "corners", sl_json_points(o->corner, 4),
                            "rival", sl_json_points(o->rival, 4));

    for (int side = 0; side < 4; side++)
        json_object_set_new(all, side_names[side], write_edge(&o->edge[side]));
    return all;
}

static json_t *write_settings(const sl_settings *s)
{
    json_t *limits = json_object();

    for (int code = 0; code < SL_CODE_COUNT; code++)
        json_object_set_new(limits, sl_code_name((sl_code)code), sl_json_number(s->limit[code]));
    return json_pack("{s:o, s:o, s:b, s:o, s:o, s:b, s:o}", "page_mm",
                     sl_json_numbers(s->page_mm, 2), "ppi", sl_json_number(s->ppi),
                     "no_upsample", s->no_upsample, "min_ppi", sl_json_number(s->min_ppi),
                     "margin_mm", sl_json_number(s->margin_mm), "whole_frame", s->whole_frame,
                     "limits", limits);
}

sl_status sl_page_numbers(const sl_page *page, const char *path, const char *shot_path,
                          bool force, sl_error *err)
{
    const sl_shot *shot = page->shot;
    json_t *all;
    char *text = NULL;
    size_t length;
    sl_part part = { NULL, NULL, NULL };
    sl_status st;

    all = json_pack("{s:i, s:s, s:s, s:o, s:s, s:I, s:I, s:I, s:f, s:f, s:o, s:o, s:o}", "schema",
                    1, "kind", kind, "program", SL_VERSION, "shot", sl_report_name(page->shot_name),
                    "sha256", page->shot_sha256, "width", (json_int_t)shot->image->width, "height",
                    (json_int_t)shot->image->height, "images", (json_int_t)shot->images, "focal_mm",
                    shot->exif.focal_mm, "focal_35mm", shot->exif.focal_35mm,
                    "settings", write_settings(&page->settings), "optics",
                    sl_report_optics(&page->optics), "outline", write_outline(page->outline));
    if (all != NULL)
        text = json_dumps(all, JSON_REAL_PRECISION(DIGITS) | JSON_INDENT(1));
    json_decref(all);
    if (text == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "numbers", "out of memory");
    length = strlen(text);
    text[length] = '\n';     /* in the place of the final NUL: the file ends with a whole line */
    st = sl_save_open(&part, path, shot_path, force, err);
    if (st == SL_OK)
        st = sl_part_save(&part, text, length + 1, err);
    free(text);
    return st;
}

/* ---- reading --------------------------------------------------------------------------------- */

/* Where to and from: the first thing that is wrong sets `wrong` and all later reads do nothing. */
typedef struct reader {
    const char *wrong;       /* the key's name; NULL while all is well */
} reader;

static const json_t *get(reader *r, const json_t *from, const char *key)
{
    const json_t *value = json_object_get(from, key);

    if (value == NULL && r->wrong == NULL)
        r->wrong = key;
    return value;
}

static double to_number(reader *r, const json_t *value, const char *key)
{
    if (json_is_number(value))
        return json_number_value(value);
    if (!json_is_null(value) && r->wrong == NULL)
        r->wrong = key;
    return NAN;
}

static double get_number(reader *r, const json_t *from, const char *key)
{
    return to_number(r, get(r, from, key), key);
}

static bool get_bool(reader *r, const json_t *from, const char *key)
{
    const json_t *value = get(r, from, key);

    if (!json_is_boolean(value) && r->wrong == NULL)
        r->wrong = key;
    return json_is_true(value);
}

static size_t get_size(reader *r, const json_t *from, const char *key, json_int_t least,
                       json_int_t most)
{
    const json_t *value = get(r, from, key);
    const json_int_t n = json_integer_value(value);

    if ((!json_is_integer(value) || n < least || n > most) && r->wrong == NULL)
        r->wrong = key;
    return r->wrong == NULL ? (size_t)n : 0;
}

static const char *get_text(reader *r, const json_t *from, const char *key)
{
    const char *text = json_string_value(get(r, from, key));

    if (text == NULL && r->wrong == NULL)
        r->wrong = key;
    return text != NULL ? text : "";
}

static void to_numbers(reader *r, double *out, size_t count, const json_t *list, const char *key)
{
    if (json_array_size(list) != count && r->wrong == NULL)
        r->wrong = key;
    for (size_t i = 0; i < count && r->wrong == NULL; i++)
        out[i] = to_number(r, json_array_get(list, i), key);
}

static void get_corners(reader *r, sl_point corner[4], const json_t *from, const char *key)
{
    const json_t *list = get(r, from, key);

    if (json_array_size(list) != 4 && r->wrong == NULL)
        r->wrong = key;
    for (size_t i = 0; i < 4 && r->wrong == NULL; i++) {
        double xy[2] = { 0, 0 };

        to_numbers(r, xy, 2, json_array_get(list, i), key);
        corner[i] = (sl_point){ xy[0], xy[1] };
    }
}

static void read_edge(reader *r, sl_edge *edge, const json_t *from)
{
    const json_t *points = get(r, from, "points");

    edge->support = get_number(r, from, "support");
    edge->spread_px = get_number(r, from, "spread_px");
    edge->paper = get_number(r, from, "paper");
    edge->cut = get_bool(r, from, "cut");
    if ((!json_is_array(points) || json_array_size(points) > SL_EDGE_POINTS) && r->wrong == NULL)
        r->wrong = "points";
    for (size_t i = 0; r->wrong == NULL && i < json_array_size(points); i++) {
        double f[FIGURES] = { 0 };

        to_numbers(r, f, FIGURES, json_array_get(points, i), "points");
        edge->point[i] = (sl_edge_point){ { f[0], f[1] }, f[2], f[3], f[4] };
        edge->count = i + 1;
    }
}

static void read_outline(reader *r, sl_outline *o, const json_t *from)
{
    o->found = get_bool(r, from, "found");
    o->by_hand = get_bool(r, from, "by_hand");
    o->sheets = (unsigned)get_size(r, from, "sheets", 0, 1000000);
    o->confidence = get_number(r, from, "confidence");
    o->frame_px = get_number(r, from, "frame_px");
    get_corners(r, o->corner, from, "corners");
    get_corners(r, o->rival, from, "rival");
    for (int i = 0; i < 4; i++)
        if (r->wrong == NULL && !(isfinite(o->corner[i].x) && isfinite(o->corner[i].y)))
            r->wrong = "corners";
    for (int side = 0; side < 4; side++)
        read_edge(r, &o->edge[side], get(r, from, side_names[side]));
}

static void read_settings(reader *r, sl_settings *s, const json_t *from)
{
    const json_t *limits = get(r, from, "limits");

    to_numbers(r, s->page_mm, 2, get(r, from, "page_mm"), "page_mm");
    s->ppi = get_number(r, from, "ppi");
    s->no_upsample = get_bool(r, from, "no_upsample");
    s->min_ppi = get_number(r, from, "min_ppi");
    s->margin_mm = get_number(r, from, "margin_mm");
    s->whole_frame = get_bool(r, from, "whole_frame");
    for (int code = 0; code < SL_CODE_COUNT; code++)
        s->limit[code] = get_number(r, limits, sl_code_name((sl_code)code));
    /* what the rest of the chain takes for granted; NaN fails */
    if (r->wrong == NULL
        && !(s->ppi >= 1 && s->ppi <= 1e5 && s->margin_mm >= 0 && s->margin_mm <= 1e4
             && s->page_mm[0] >= 0 && s->page_mm[0] < 1e4 && s->page_mm[1] >= 0
             && s->page_mm[1] < 1e4))
        r->wrong = "settings";
}

static void read_optics(reader *r, sl_optics *o, const json_t *from)
{
    double centre[2] = { 0, 0 };

    o->width = get_size(r, from, "width", 1, 1000000);
    o->height = get_size(r, from, "height", 1, 1000000);
    o->focal_px = get_number(r, from, "focal_px");
    o->ln_focal_sigma = get_number(r, from, "ln_focal_sigma");
    to_numbers(r, centre, 2, get(r, from, "centre"), "centre");
    o->centre_x = centre[0];
    o->centre_y = centre[1];
    o->centre_sigma = get_number(r, from, "centre_sigma");
    o->k1 = get_number(r, from, "k1");
    o->k2 = get_number(r, from, "k2");
    o->k1_sigma = get_number(r, from, "k1_sigma");
    o->k2_sigma = get_number(r, from, "k2_sigma");
    o->from_album = get_bool(r, from, "from_album");
    if (r->wrong == NULL && !(o->focal_px > 0 && o->ln_focal_sigma > 0 && o->centre_sigma > 0
                              && o->k1_sigma > 0 && o->k2_sigma > 0))
        r->wrong = "optics";
}

/* A page that holds what a shot would have left in it, but for the pixels. */
static sl_status new_page(sl_page **out, const char *name, sl_error *err)
{
    sl_page *page = calloc(1, sizeof *page);

    if (page != NULL) {
        page->shot_name = strdup(name);
        page->outline = calloc(1, sizeof *page->outline);
        page->shot = calloc(1, sizeof *page->shot);
        if (page->shot != NULL)
            page->shot->image = calloc(1, sizeof *page->shot->image);
    }
    if (page == NULL || page->shot_name == NULL || page->outline == NULL || page->shot == NULL
        || page->shot->image == NULL) {
        sl_page_free(page);
        return sl_fail(err, SL_ERR_NOMEM, "numbers", "out of memory");
    }
    *out = page;
    return SL_OK;
}

static sl_status read_page(sl_page **out, const json_t *all, const char *path, sl_error *err)
{
    reader r = { NULL };
    sl_page *page = NULL;
    const char *sha256;
    sl_status st;

    if (strcmp(get_text(&r, all, "kind"), kind) != 0 || get_size(&r, all, "schema", 1, 1) != 1)
        return sl_fail(err, SL_ERR_FORMAT, "numbers",
                       "%s is not a file of numbers that this version wrote with --numbers", path);
    st = new_page(&page, get_text(&r, all, "shot"), err);
    if (st != SL_OK)
        return st;
    sha256 = get_text(&r, all, "sha256");
    (void)snprintf(page->shot_sha256, sizeof page->shot_sha256, "%s", sha256);
    page->settings = sl_settings_defaults();
    page->shot->images = get_size(&r, all, "images", 0, 1000000000);
    page->shot->exif.focal_mm = get_number(&r, all, "focal_mm");
    page->shot->exif.focal_35mm = get_number(&r, all, "focal_35mm");
    page->shot->image->width = get_size(&r, all, "width", 1, 1000000);
    page->shot->image->height = get_size(&r, all, "height", 1, 1000000);
    read_settings(&r, &page->settings, get(&r, all, "settings"));
    read_optics(&r, &page->optics, get(&r, all, "optics"));
    read_outline(&r, page->outline, get(&r, all, "outline"));
    if (r.wrong != NULL) {
        sl_page_free(page);
        return sl_fail(err, SL_ERR_FORMAT, "numbers", "%s: '%s' is missing or wrong", path,
                       r.wrong);
    }
    *out = page;
    return SL_OK;
}

sl_status sl_page_replay(sl_page **out, const char *path, sl_error *err)
{
    void *bytes = NULL;
    size_t size = 0;
    json_error_t why;
    json_t *all;
    sl_page *page = NULL;
    sl_status st = sl_file_read(&bytes, &size, path, FILE_MOST, err);

    if (st != SL_OK)
        return st;
    all = json_loadb(bytes != NULL ? bytes : "", size, JSON_REJECT_DUPLICATES, &why);
    free(bytes);
    if (all == NULL)
        return sl_fail(err, SL_ERR_FORMAT, "numbers",
                       "%s is not a file of numbers that --numbers wrote, or is damaged (line %d: "
                       "%.100s)", path, why.line, why.text);
    st = read_page(&page, all, path, err);
    json_decref(all);
    if (st == SL_OK)
        st = sl_page_judge(page, err);
    if (st != SL_OK) {
        sl_page_free(page);
        return st;
    }
    *out = page;
    return SL_OK;
}
