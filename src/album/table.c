#include "album/table.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "album/csv.h"
#include "album/said.h"

/* Names and sentences, which may hold a shot's name: never a formula. */
static void put_text(FILE *out, const char *text)
{
    sl_csv_put_text(out, text, ',', false);
}

static void put_field(FILE *out, const char *text, bool last)
{
    sl_csv_put(out, text, ',', last);
}

static void put_figure(FILE *out, const json_t *object, const char *key, double scale)
{
    const json_t *value = json_object_get(object, key);
    char text[40] = "";

    if (json_is_number(value)) {
        (void)snprintf(text, sizeof text, "%.6g", scale * json_number_value(value));
        for (char *p = text; *p != '\0'; p++)
            if (*p == ',')
                *p = '.';    /* a decimal comma of the locale would be a separator */
    }
    put_field(out, text, false);
}

static void put_truth(FILE *out, const json_t *object, const char *key)
{
    const json_t *value = json_object_get(object, key);

    put_field(out, json_is_boolean(value) ? (json_is_true(value) ? "yes" : "no") : "", false);
}

static void put_row(FILE *out, const json_t *line, sl_word word)
{
    const json_t *r = json_object_get(line, "report");
    const json_t *written = json_object_get(r, "written");
    const json_t *guide = json_object_get(r, "guidelines");

    put_text(out, json_string_value(json_object_get(line, "page")));
    put_text(out, json_string_value(json_object_get(line, "shot")));
    put_field(out, sl_outcome_name(sl_line_outcome(line)), false);
    put_figure(out, json_object_get(r, "native_ppi"), "p5", 1);
    put_figure(out, written, "ppi", 1);
    put_figure(out, written, "width", 1);
    put_figure(out, written, "height", 1);
    put_figure(out, r, "inside_error_mm", 1);
    put_figure(out, r, "aspect", 1);
    put_figure(out, r, "tilt_deg", 1);
    put_figure(out, r, "sharpness", 1);
    put_figure(out, r, "evenness", 100);
    put_figure(out, r, "glare", 100);
    put_figure(out, r, "clipped", 100);
    put_text(out, sl_line_gravest(line));
    put_truth(out, guide, "reaches_300_ppi");
    put_truth(out, guide, "reaches_400_ppi");
    put_figure(out, guide, "resolution_stars", 1);
    put_figure(out, guide, "illuminance_non_uniformity_percent", 1);
    put_figure(out, guide, "non_uniformity_stars", 1);
    put_field(out, word == SL_WORD_ACCEPTED ? "accepted" : word == SL_WORD_REFUSED ? "refused" : "",
              true);
}

char *sl_table_text(const json_t *lines, const sl_corrections *corrections)
{
    static const char head[] = "page,shot,outcome,native_ppi,written_ppi,width_px,height_px,"
                               "inside_error_mm,aspect,tilt_deg,sharpness,evenness_percent,"
                               "glare_percent,clipped_percent,reason,reaches_300_ppi,"
                               "reaches_400_ppi,resolution_stars,"
                               "illuminance_non_uniformity_percent,non_uniformity_stars,word\r\n";
    char *text = NULL;
    size_t size = 0;
    FILE *out = open_memstream(&text, &size);
    size_t i;
    const json_t *line;
    bool whole;

    if (out == NULL)
        return NULL;
    (void)fputs(head, out);
    json_array_foreach(lines, i, line)
        put_row(out, line, sl_said_of(line, sl_corrections_of(corrections,
                                                              json_string_value(json_object_get(
                                                                  line, "sha256")))));
    whole = ferror(out) == 0;
    if (fclose(out) != 0 || !whole) {
        free(text);
        return NULL;
    }
    return text;
}
