/* Shots as cameras write them, and the truth beside them. */
#include <errno.h>
#include <setjmp.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <jpeglib.h>

#include "scenes/scene.h"

static sl_status fail(sl_error *err, const char *path)
{
    if (err != NULL) {
        err->status = SL_ERR_IO;
        err->stage = "scene";
        (void)snprintf(err->detail, sizeof err->detail, "%s: %s", path, strerror(errno));
    }
    return SL_ERR_IO;
}

/* ---- Exif ------------------------------------------------------------------------------------ */

typedef struct block {
    unsigned char data[1024];
    size_t        size;
} block;

/* Little-endian, as many cameras write it. */
static void put(block *b, unsigned long value, int bytes)
{
    for (int i = 0; i < bytes; i++)
        b->data[b->size++] = (unsigned char)(value >> (8 * i));
}

static void put_text(block *values, unsigned tag, const char *text, block *dir, size_t base)
{
    put(dir, tag, 2);
    put(dir, 2, 2);
    put(dir, strlen(text) + 1, 4);
    put(dir, base + values->size, 4);
    memcpy(values->data + values->size, text, strlen(text) + 1);
    values->size += strlen(text) + 1;
    values->size += values->size % 2;
}

/* IFD0 (make, model, Exif pointer) and the Exif directory: CIPA DC-008. */
static void make_exif(block *out, const sl_image *image, const scene_exif *exif)
{
    const unsigned n0 = 3;
    const unsigned n1 = 2u + (exif->date != NULL) + (exif->focal_35mm > 0);
    const size_t ifd0 = 8;
    const size_t ifd1 = ifd0 + 2 + 12 * n0 + 4;
    const size_t values_at = ifd1 + 2 + 12 * n1 + 4;
    block dir = { { 0 }, 0 };
    block values = { { 0 }, 0 };

    put(&dir, n0, 2);
    put_text(&values, 0x010f, exif->make != NULL ? exif->make : "Pennock", &dir, values_at);
    put_text(&values, 0x0110, exif->model != NULL ? exif->model : "Pennock P4", &dir, values_at);
    put(&dir, 0x8769, 2);
    put(&dir, 4, 2);
    put(&dir, 1, 4);
    put(&dir, ifd1, 4);
    put(&dir, 0, 4);

    put(&dir, n1, 2);
    if (exif->date != NULL)
        put_text(&values, 0x9003, exif->date, &dir, values_at);
    for (int k = 0; k < 2; k++) {
        put(&dir, k == 0 ? 0xa002 : 0xa003, 2);
        put(&dir, 4, 2);
        put(&dir, 1, 4);
        put(&dir, k == 0 ? image->width : image->height, 4);
    }
    if (exif->focal_35mm > 0) {
        put(&dir, 0xa405, 2);
        put(&dir, 3, 2);
        put(&dir, 1, 4);
        put(&dir, (unsigned long)(exif->focal_35mm + 0.5), 4);
    }
    put(&dir, 0, 4);

    memcpy(out->data, "Exif\0\0II*\0\x08\0\0\0", 14);
    out->size = 14;
    memcpy(out->data + out->size, dir.data, dir.size);
    out->size += dir.size;
    memcpy(out->data + out->size, values.data, values.size);
    out->size += values.size;
}

/* ---- JPEG ------------------------------------------------------------------------------------ */

typedef struct trap {
    struct jpeg_error_mgr base;
    jmp_buf               jump;
} trap;

static void leave(j_common_ptr c)
{
    longjmp(((trap *)(void *)c->err)->jump, 1);
}

static bool write_jpeg(FILE *file, const sl_image *image, const block *exif)
{
    struct jpeg_compress_struct c;
    trap t;

    c.err = jpeg_std_error(&t.base);
    t.base.error_exit = leave;
    if (setjmp(t.jump) != 0) {
        jpeg_destroy_compress(&c);
        return false;
    }
    jpeg_create_compress(&c);
    jpeg_stdio_dest(&c, file);
    c.image_width = (JDIMENSION)image->width;
    c.image_height = (JDIMENSION)image->height;
    c.input_components = 3;
    c.in_color_space = JCS_RGB;
    jpeg_set_defaults(&c);
    jpeg_set_quality(&c, 92, TRUE);
    c.write_JFIF_header = FALSE;
    jpeg_start_compress(&c, TRUE);
    jpeg_write_marker(&c, JPEG_APP0 + 1, exif->data, (unsigned)exif->size);
    for (size_t y = 0; y < image->height; y++) {
        JSAMPROW row = image->data + y * image->stride;

        (void)jpeg_write_scanlines(&c, &row, 1);
    }
    jpeg_finish_compress(&c);
    jpeg_destroy_compress(&c);
    return true;
}

sl_status scene_save_jpeg(const char *path, const sl_image *image, const scene_exif *exif,
                          sl_error *err)
{
    FILE *file = fopen(path, "wb");
    block b = { { 0 }, 0 };
    bool ok;

    if (file == NULL)
        return fail(err, path);
    make_exif(&b, image, exif);
    ok = write_jpeg(file, image, &b);
    if (fclose(file) != 0 || !ok)
        return fail(err, path);
    return SL_OK;
}

/* ---- truth ----------------------------------------------------------------------------------- */

static void print_points(FILE *out, const sl_point *p, size_t count)
{
    (void)fputc('[', out);
    for (size_t i = 0; i < count; i++)
        (void)fprintf(out, "%s[%.6f, %.6f]", i > 0 ? ", " : "", p[i].x, p[i].y);
    (void)fputc(']', out);
}

sl_status scene_save_truth(const char *path, const scene *s, sl_error *err)
{
    static const char *const side[4] = { "top", "right", "bottom", "left" };
    scene_truth *t = malloc(sizeof *t);
    FILE *file = fopen(path, "w");

    if (t == NULL || file == NULL) {
        if (file != NULL)
            (void)fclose(file);
        free(t);
        return fail(err, path);
    }
    scene_find_truth(t, s);
    (void)fprintf(file, "{\"page_mm\": [%.6f, %.6f], \"focal_px\": %.6f, \"corners_px\": ",
                  s->page_mm[0], s->page_mm[1], s->focal_px);
    print_points(file, t->corner, 4);
    (void)fputs(", \"edges_px\": {", file);
    for (int k = 0; k < 4; k++) {
        (void)fprintf(file, "%s\"%s\": ", k > 0 ? ", " : "", side[k]);
        print_points(file, t->edge[k], SCENE_EDGE);
    }
    (void)fputs("}, \"grid_px\": ", file);
    print_points(file, t->grid[0], SCENE_GRID * SCENE_GRID);
    (void)fprintf(file, ", \"scene\": {\"k1\": %.6f, \"k2\": %.6f, \"pitch\": %.6f, \"yaw\": %.6f, "
                        "\"roll\": %.6f}}\n",
                  s->k1, s->k2, s->pitch, s->yaw, s->roll);
    free(t);
    return fclose(file) == 0 ? SL_OK : fail(err, path);
}
