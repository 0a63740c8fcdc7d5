#include "album/guidelines.h"
#include "album/report.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/error.h"
#include "base/text.h"

/* Digits of every number in a report. Fitted parameters are rounded to as many before use. */
enum { DIGITS = 10 };

static const char *const side_names[4] = { "top", "right", "bottom", "left" };
static const char *const model_names[] = { "flat", "lens", "sheet", "patch" };

/* ---- values ---------------------------------------------------------------------------------- */

json_t *sl_json_number(double value)
{
    return isfinite(value) ? json_real(value) : json_null();
}

json_t *sl_json_numbers(const double *value, size_t count)
{
    json_t *list = json_array();

    for (size_t i = 0; i < count; i++)
        json_array_append_new(list, sl_json_number(value[i]));
    return list;
}

static json_t *pair(double a, double b)
{
    return sl_json_numbers((const double[]){ a, b }, 2);
}

json_t *sl_json_points(const sl_point *point, size_t count)
{
    json_t *list = json_array();

    for (size_t i = 0; i < count; i++)
        json_array_append_new(list, pair(point[i].x, point[i].y));
    return list;
}

json_t *sl_report_name(const char *name)
{
    char *shown = sl_text_shown(name);
    json_t *text = shown != NULL ? json_string(shown) : NULL;

    free(shown);
    return text;
}

/* ---- parts of a page's report ---------------------------------------------------------------- */

/* At most `most` points a side, evenly thinned. */
static json_t *edges(const sl_outline *outline, size_t most)
{
    json_t *all = json_object();

    for (int side = 0; side < 4; side++) {
        const sl_edge *edge = &outline->edge[side];
        json_t *list = json_array();

        const size_t count = edge->count < most ? edge->count : most;

        for (size_t i = 0; i < count; i++) {
            const sl_point p = edge->point[i * edge->count / count].at;

            json_array_append_new(list, pair(p.x, p.y));
        }
        json_object_set_new(all, side_names[side], list);
    }
    return all;
}

static json_t *map_params(const sl_page_map *m)
{
    json_t *all = json_object();

    json_object_set_new(all, "page", sl_json_numbers(m->page, 2));
    json_object_set_new(all, "rotation", sl_json_numbers(m->rotation, 3));
    json_object_set_new(all, "translation", sl_json_numbers(m->translation, 3));
    json_object_set_new(all, "focal_px", sl_json_number(m->focal_px));
    json_object_set_new(all, "centre", sl_json_numbers(m->centre, 2));
    json_object_set_new(all, "k1", sl_json_number(m->k1));
    json_object_set_new(all, "k2", sl_json_number(m->k2));
    json_object_set_new(all, "stretch", sl_json_number(m->stretch));
    json_object_set_new(all, "phi", sl_json_number(m->phi));
    json_object_set_new(all, "profile", sl_json_numbers(m->profile, m->profile_count));
    if (m->model == SL_MODEL_PATCH) {
        json_t *patch = json_array();

        for (int side = 0; side < 4; side++)
            json_array_append_new(patch, sl_json_points(m->patch[side], SL_PATCH_NODES));
        json_object_set_new(all, "patch", patch);
    }
    return all;
}

static json_t *grid_points(const sl_page_map *map, unsigned n)
{
    json_t *list = json_array();

    for (unsigned v = 0; v < n; v++) {
        for (unsigned u = 0; u < n; u++) {
            const sl_point p = sl_page_map_point(map, map->page[0] * u / (n - 1),
                                                 map->page[1] * v / (n - 1));

            json_array_append_new(list, pair(p.x, p.y));
        }
    }
    return list;
}

/* Reasons as an array. */
static json_t *reasons_of(const sl_inspection *inspection)
{
    json_t *list = json_array();

    for (size_t i = 0; i < inspection->reason_count; i++) {
        const sl_reason *r = &inspection->reason[i];

        json_array_append_new(list,
                              json_pack("{s:s, s:o, s:o, s:s, s:s, s:s}", "code",
                                        sl_code_name(r->code), "value", sl_json_number(r->value),
                                        "limit", sl_json_number(r->limit), "unit", r->unit,
                                        "weight", sl_verdict_name(r->weight), "text", r->text));
    }
    return list;
}

static void add_map(json_t *all, const sl_page *page)
{
    const sl_rectified *r = &page->rectified;
    const sl_inspection *in = &page->inspection;

    json_object_set_new(all, "model", json_string(model_names[r->map.model]));
    json_object_set_new(all, "params", map_params(&r->map));
    json_object_set_new(all, "page_mm", r->map.has_size ? pair(r->map.page[0], r->map.page[1])
                                                        : json_null());
    json_object_set_new(all, "aspect", sl_json_number(r->aspect));
    json_object_set_new(all, "aspect_sigma", sl_json_number(r->aspect_sigma));
    json_object_set_new(all, "residual_px", sl_json_number(r->residual_px));
    json_object_set_new(all, "residual_mm",
                        r->map.has_size ? sl_json_number(r->residual_mm) : json_null());
    json_object_set_new(all, "inside_error_mm", sl_json_number(r->inside_error_mm));
    json_object_set_new(all, "native_ppi",
                        in->has_ppi ? json_pack("{s:o, s:o, s:o}", "min",
                                                sl_json_number(in->native_ppi.min), "p5",
                                                sl_json_number(in->native_ppi.p5), "median",
                                                sl_json_number(in->native_ppi.median))
                                    : json_null());
    json_object_set_new(all, "written", json_pack("{s:I, s:I, s:o, s:b, s:I, s:o}", "width",
                                                  (json_int_t)page->width, "height",
                                                  (json_int_t)page->height, "ppi",
                                                  page->written_ppi > 0
                                                      ? sl_json_number(page->written_ppi)
                                                      : json_null(),
                                                  "interpolated", page->interpolated,
                                                  "margin_px", (json_int_t)page->margin_px,
                                                  "filled", sl_json_number(page->filled)));
    json_object_set_new(all, "sharpness", sl_json_number(in->sharpness));
    json_object_set_new(all, "glare", sl_json_number(in->glare));
    json_object_set_new(all, "clipped", sl_json_number(in->clipped));
    json_object_set_new(all, "evenness", sl_json_number(in->evenness));
    json_object_set_new(all, "brightest", sl_json_number(in->brightest));
    json_object_set_new(all, "tilt_deg", sl_json_number(in->tilt_deg));
    json_object_set_new(all, "frame_share", sl_json_number(in->frame_share));
    json_object_set_new(all, "guidelines", sl_guidelines(in));
}

/* How the shot's colours were taken. */
static json_t *colour_profile(const sl_page *page)
{
    const char *name = page->profile.name;
    char text[128];

    if (page->shot->image->data == NULL)
        return json_null();
    switch (page->profile.kind) {
    case SL_PROFILE_NONE:
        return json_string("none, taken as sRGB");
    case SL_PROFILE_BROKEN:
        return json_string("embedded, but of no use: taken as sRGB");
    case SL_PROFILE_INKS:
        (void)snprintf(text, sizeof text, "CMYK, turned into sRGB by the shot's profile: %s",
                       name);
        break;
    case SL_PROFILE_SRGB:
    case SL_PROFILE_OTHER:
    default:
        (void)snprintf(text, sizeof text, "embedded: %s", name);
        break;
    }
    return json_string(text);
}

json_t *sl_report_page(const sl_page *page, unsigned grid, size_t edge_points)
{
    static const char *const of_a_map[] = { "model", "params", "page_mm", "aspect", "residual_px",
                                            "residual_mm", "inside_error_mm", "native_ppi" };
    const sl_outline *o = page->outline;
    json_t *all = json_object();

    json_object_set_new(all, "schema", json_integer(1));
    if (json_object_set_new(all, "shot", sl_report_name(page->shot_name)) != 0) {
        json_decref(all);
        return NULL;
    }
    json_object_set_new(all, "sha256", json_string(page->shot_sha256));
    json_object_set_new(all, "width", json_integer((json_int_t)page->shot->image->width));
    json_object_set_new(all, "height", json_integer((json_int_t)page->shot->image->height));
    json_object_set_new(all, "verdict", json_string(sl_verdict_name(page->inspection.verdict)));
    json_object_set_new(all, "reasons", reasons_of(&page->inspection));
    json_object_set_new(all, "corners", o->found ? sl_json_points(o->corner, 4) : json_null());
    json_object_set_new(all, "confidence", sl_json_number(o->confidence));
    if (page->has_map) {
        add_map(all, page);
    } else {
        for (size_t i = 0; i < sizeof of_a_map / sizeof *of_a_map; i++)
            json_object_set_new(all, of_a_map[i], json_null());
    }
    json_object_set_new(all, "colour_profile",
                        colour_profile(page));
    json_object_set_new(all, "optics", sl_report_optics(&page->optics));
    json_object_set_new(all, "edges", o->found ? edges(o, edge_points) : json_null());
    if (grid > 1 && page->has_map)
        json_object_set_new(all, "grid", grid_points(&page->rectified.map, grid));
    return all;
}

json_t *sl_report_optics(const sl_optics *optics)
{
    json_t *all = json_object();

    json_object_set_new(all, "width", json_integer((json_int_t)optics->width));
    json_object_set_new(all, "height", json_integer((json_int_t)optics->height));
    json_object_set_new(all, "focal_px", sl_json_number(optics->focal_px));
    json_object_set_new(all, "ln_focal_sigma", sl_json_number(optics->ln_focal_sigma));
    json_object_set_new(all, "centre", pair(optics->centre_x, optics->centre_y));
    json_object_set_new(all, "centre_sigma", sl_json_number(optics->centre_sigma));
    json_object_set_new(all, "k1", sl_json_number(optics->k1));
    json_object_set_new(all, "k2", sl_json_number(optics->k2));
    json_object_set_new(all, "k1_sigma", sl_json_number(optics->k1_sigma));
    json_object_set_new(all, "k2_sigma", sl_json_number(optics->k2_sigma));
    json_object_set_new(all, "from_album", json_boolean(optics->from_album));
    return all;
}

char *sl_report_text(const json_t *value, unsigned indent)
{
    char *text = json_dumps(value, JSON_REAL_PRECISION(DIGITS) | JSON_INDENT(indent));
    char *line;
    size_t length;

    if (text == NULL)
        return NULL;
    length = strlen(text);
    line = realloc(text, length + 2);
    if (line == NULL) {
        free(text);
        return NULL;
    }
    line[length] = '\n';
    line[length + 1] = '\0';
    return line;
}

sl_status sl_page_json(char **out, const sl_page *page, unsigned grid, unsigned indent,
                       sl_error *err)
{
    json_t *report = sl_report_page(page, grid, SL_EDGE_POINTS);
    char *text = report != NULL ? sl_report_text(report, indent) : NULL;

    json_decref(report);
    if (text == NULL)
        return sl_fail(err, SL_ERR_NOMEM, "report", "out of memory");
    *out = text;
    return SL_OK;
}

const char *sl_json_text(const json_t *object, const char *key)
{
    const char *text = json_string_value(json_object_get(object, key));

    return text != NULL ? text : "";
}
