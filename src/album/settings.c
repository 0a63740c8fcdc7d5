/* Settings as JSON: what report, keys and later runs are told of them. */
#include <math.h>
#include <string.h>

#include "album/report.h"

static const char *const formats[] = { "none", "jpeg", "png", "tiff", "heif" };
static const char *const colours[] = { "keep", "srgb" };
static const char *const compressions[] = { "deflate", "lzw", "none" };

/* Those that are not the default. */
static json_t *limits(const sl_settings *s)
{
    const sl_inspect_params defaults = sl_inspect_defaults();
    json_t *all = json_object();

    for (int code = 0; code < SL_CODE_COUNT; code++)
        if (s->limit[code] < defaults.limit[code] || s->limit[code] > defaults.limit[code])
            json_object_set_new(all, sl_code_name((sl_code)code), json_real(s->limit[code]));
    return all;
}

json_t *sl_report_settings(const sl_settings *s)
{
    json_t *all = json_object();

    json_object_set_new(all, "page_mm",
                        s->page_mm[0] > 0 ? sl_json_numbers(s->page_mm, 2) : json_null());
    json_object_set_new(all, "ppi", json_real(s->ppi));
    json_object_set_new(all, "no_upsample", json_boolean(s->no_upsample));
    json_object_set_new(all, "min_ppi", json_real(s->min_ppi > 0 ? s->min_ppi : s->ppi / 2));
    json_object_set_new(all, "margin_mm", json_real(s->margin_mm));
    json_object_set_new(all, "turn", json_integer(s->turn_deg));
    json_object_set_new(all, "ignore_orientation", json_boolean(s->decode.orientation == 1));
    json_object_set_new(all, "whole_frame", json_boolean(s->whole_frame));
    json_object_set_new(all, "corners",
                        s->has_corners ? sl_json_points(s->corners, 4) : json_null());
    json_object_set_new(all, "exact", json_boolean(s->exact));
    json_object_set_new(all, "master", json_string(formats[s->master]));
    json_object_set_new(all, "access", json_string(formats[s->access]));
    if (s->access_pixels > 0) /* left out otherwise: keys of earlier runs stay what they were */
        json_object_set_new(all, "access_pixels", json_integer((json_int_t)s->access_pixels));
    json_object_set_new(all, "quality", json_integer(s->quality));
    json_object_set_new(all, "bits", s->bits != 0 ? json_integer(s->bits) : json_null());
    json_object_set_new(all, "compress", json_string(compressions[s->compression]));
    json_object_set_new(all, "colour", json_string(colours[s->colour]));
    json_object_set_new(all, "keep_location", json_boolean(s->keep_location));
    json_object_set_new(all, "limits", limits(s));
    return all;
}

/* ---- the other way --------------------------------------------------------------------------- */

static void read_number(double *out, const json_t *from, const char *key, double least, double most)
{
    const json_t *value = json_object_get(from, key);
    const double v = json_number_value(value);

    if (json_is_number(value) && v >= least && v <= most)
        *out = v;
}

static unsigned read_whole(unsigned was, const json_t *from, const char *key, unsigned most)
{
    double v = was;

    read_number(&v, from, key, 0, most);
    return (unsigned)v;
}

static bool read_bool(bool was, const json_t *from, const char *key)
{
    const json_t *value = json_object_get(from, key);

    return json_is_boolean(value) ? json_is_true(value) : was;
}

/* Place of a word in a list; `was` when it is not there. */
static int read_word(int was, const json_t *from, const char *key, const char *const *words,
                     int count)
{
    const char *word = json_string_value(json_object_get(from, key));

    for (int i = 0; word != NULL && i < count; i++)
        if (strcmp(word, words[i]) == 0)
            return i;
    return was;
}

static void read_page_size(double page_mm[2], const json_t *from)
{
    const json_t *list = json_object_get(from, "page_mm");
    const double w = json_number_value(json_array_get(list, 0));
    const double h = json_number_value(json_array_get(list, 1));

    if (w > 0 && h > 0 && w < 1e4 && h < 1e4) {
        page_mm[0] = w;
        page_mm[1] = h;
    }
}

static void read_corners(sl_settings *s, const json_t *from)
{
    const json_t *list = json_object_get(from, "corners");

    if (json_array_size(list) != 4)
        return;
    s->has_corners = true;
    for (size_t i = 0; i < 4; i++) {
        const json_t *xy = json_array_get(list, i);

        s->corners[i].x = json_number_value(json_array_get(xy, 0));
        s->corners[i].y = json_number_value(json_array_get(xy, 1));
    }
}

void sl_report_read_settings(sl_settings *s, const json_t *from)
{
    const unsigned bits = read_whole(s->bits, from, "bits", 16);
    const unsigned turn = read_whole(s->turn_deg, from, "turn", 270);

    read_page_size(s->page_mm, from);
    read_number(&s->ppi, from, "ppi", 1, 4800);
    s->no_upsample = read_bool(s->no_upsample, from, "no_upsample");
    read_number(&s->min_ppi, from, "min_ppi", 0, 4800);
    read_number(&s->margin_mm, from, "margin_mm", 0, 200);
    s->turn_deg = turn % 90 == 0 ? turn : s->turn_deg;
    if (read_bool(s->decode.orientation == 1, from, "ignore_orientation"))
        s->decode.orientation = 1;
    s->whole_frame = read_bool(s->whole_frame, from, "whole_frame");
    read_corners(s, from);
    s->exact = read_bool(s->exact, from, "exact");
    s->master = (sl_format)read_word((int)s->master, from, "master", formats, 4);
    s->access = (sl_format)read_word((int)s->access, from, "access", formats, 2);
    s->quality = (int)read_whole((unsigned)s->quality, from, "quality", 100);
    s->access_pixels = read_whole((unsigned)s->access_pixels, from, "access_pixels", 65500);
    s->bits = bits == 8 || bits == 16 ? bits : s->bits;
    s->compression = (sl_compression)read_word((int)s->compression, from, "compress",
                                               compressions, 3);
    s->colour = (sl_colour_policy)read_word((int)s->colour, from, "colour", colours, 2);
    s->keep_location = read_bool(s->keep_location, from, "keep_location");
    for (int code = 0; code < SL_CODE_COUNT; code++)
        read_number(&s->limit[code], json_object_get(from, "limits"), sl_code_name((sl_code)code),
                    0, HUGE_VAL);
}
