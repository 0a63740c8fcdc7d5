#include "survey/contact.h"

#include <math.h>
#include <png.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "scenes/canvas.h"

enum {
    LINE_HEIGHT = 14,        /* of text */
    PICTURE_HEIGHT = TILE_HEIGHT - TILE_LINES * LINE_HEIGHT,
    COLUMNS = 5
};

/* ---- a tile ---------------------------------------------------------------------------------- */

static double scale_for(const sl_image *shot)
{
    return fmin((double)TILE_WIDTH / (double)shot->width,
                (double)PICTURE_HEIGHT / (double)shot->height);
}

/* Averages of the shot's px, as coded: good enough to look at. */
static void shrink(survey_tile *out, const sl_image *shot, double scale)
{
    const size_t w = (size_t)(scale * (double)shot->width);
    const size_t h = (size_t)(scale * (double)shot->height);

    for (size_t y = 0; y < h; y++)
        for (size_t x = 0; x < w; x++) {
            const size_t x0 = x * shot->width / w;
            const size_t x1 = (x + 1) * shot->width / w;
            const size_t y0 = y * shot->height / h;
            const size_t y1 = (y + 1) * shot->height / h;
            unsigned long sum[3] = { 0, 0, 0 };

            for (size_t j = y0; j < y1; j++)
                for (size_t i = x0; i < x1; i++)
                    for (size_t c = 0; c < 3; c++)
                        sum[c] += shot->data[j * shot->stride + 3 * i + c];
            for (size_t c = 0; c < 3; c++)
                out->px[y][x][c] = (unsigned char)(sum[c] / ((x1 - x0) * (y1 - y0)));
        }
}

static void draw_line(survey_tile *out, const sl_point *p, size_t count, double scale,
                      const unsigned char colour[3])
{
    for (size_t k = 0; k + 1 < count; k++) {
        const double dx = scale * (p[k + 1].x - p[k].x);
        const double dy = scale * (p[k + 1].y - p[k].y);
        const int steps = (int)fmin(ceil(2 * hypot(dx, dy)) + 1, 4000);

        for (int i = 0; i <= steps; i++) {
            const double x = scale * p[k].x + dx * i / steps;
            const double y = scale * p[k].y + dy * i / steps;

            if (x >= 0 && y >= 0 && x < TILE_WIDTH && y < PICTURE_HEIGHT)
                memcpy(out->px[(size_t)y][(size_t)x], colour, 3);
        }
    }
}

static void write_text(survey_tile *out, const char *const text[TILE_LINES])
{
    const scene_colour ink = { 0, 0, 0 };
    const double height = 8.5;
    scene_canvas canvas = { .width = TILE_WIDTH, .height = TILE_HEIGHT - PICTURE_HEIGHT,
                            .scale = 1 };
    const size_t n = canvas.width * canvas.height;

    canvas.px = malloc(n * sizeof *canvas.px);
    if (canvas.px == NULL)
        return;
    for (size_t i = 0; i < n; i++)
        canvas.px[i] = (scene_colour){ 1, 1, 1 };
    for (int k = 0; k < TILE_LINES; k++)
        scene_draw_caption(&canvas,
                           &(scene_caption){ .text = text[k], .height = height,
                                             .at = { 4 + height / 2 * scene_text_width(text[k]),
                                                     (k + 1) * LINE_HEIGHT - 4 } }, ink, 0);
    for (size_t i = 0; i < n; i++)
        memset(out->px[PICTURE_HEIGHT + i / TILE_WIDTH][i % TILE_WIDTH],
               (int)(255 * sqrtf(scene_clamp(canvas.px[i].r))), 3);
    free(canvas.px);
}

void survey_tile_draw(survey_tile *out, const sl_image *shot, const scene_truth *truth,
                      const survey_answer *answer, const char *const text[TILE_LINES])
{
    static const unsigned char green[3] = { 0, 210, 60 };
    static const unsigned char red[3] = { 255, 30, 20 };
    const double scale = scale_for(shot);

    memset(out, 255, sizeof *out);
    shrink(out, shot, scale);
    for (int e = 0; e < 4 && truth != NULL; e++)
        draw_line(out, truth->edge[e], SCENE_EDGE, scale, green);
    for (int e = 0; e < 4 && answer != NULL; e++)
        draw_line(out, answer->edge[e], answer->edge_points[e], scale, red);
    write_text(out, text);
}

/* ---- the sheet ------------------------------------------------------------------------------- */

sl_status survey_contact_save(const char *path, const survey_tile *tiles, size_t count,
                              sl_error *err)
{
    enum { GAP = 6, STEP_X = TILE_WIDTH + GAP, STEP_Y = TILE_HEIGHT + GAP };
    const size_t columns = count < COLUMNS ? count : COLUMNS;
    const size_t rows = (count + COLUMNS - 1) / COLUMNS;
    const size_t width = columns * STEP_X + GAP;
    const size_t height = rows * STEP_Y + GAP;
    unsigned char *px = malloc(3 * width * height);
    png_image png = { .version = PNG_IMAGE_VERSION, .width = (png_uint_32)width,
                      .height = (png_uint_32)height, .format = PNG_FORMAT_RGB };
    sl_status st = SL_OK;

    if (px == NULL) {
        if (err != NULL)
            *err = (sl_error){ SL_ERR_NOMEM, "survey", "out of memory" };
        return SL_ERR_NOMEM;
    }
    memset(px, 120, 3 * width * height);
    for (size_t n = 0; n < count; n++)
        for (size_t y = 0; y < TILE_HEIGHT; y++)
            memcpy(px + 3 * ((n / COLUMNS * STEP_Y + GAP + y) * width + n % COLUMNS * STEP_X + GAP),
                   tiles[n].px[y], sizeof tiles[n].px[y]);
    if (png_image_write_to_file(&png, path, 0, px, (png_int_32)(3 * width), NULL) == 0) {
        st = SL_ERR_IO;
        if (err != NULL) {
            *err = (sl_error){ st, "survey", "" };
            (void)snprintf(err->detail, sizeof err->detail, "%s: %s", path, png.message);
        }
    }
    free(px);
    return st;
}
